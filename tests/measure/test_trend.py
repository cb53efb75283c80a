"""The trend of a log: against numpy's own fit of a line, by simulation, and by looking day by day."""

import math

import numpy as np
import pytest

from optimizer.measure.trend import MOST_DAYS, Reading, Trend, fitted, missed

DAYS = (0.0, 9.0, 20.0, 34.0, 50.0)


def readings_of(run: int, days: tuple[float, ...], logs: np.ndarray, relative: float) -> list[Reading]:
    """Fills of one run."""
    return [Reading(run=run, day=d, log_flow=float(y), relative=relative) for d, y in zip(days, logs, strict=True)]


def test_one_run_is_a_straight_line_of_numpy() -> None:
    """`numpy.polyfit` with weights 1/u gives the same line; with cov="unscaled" the covariance that the uncertainties make."""
    rng = np.random.default_rng(3)
    logs = -9.2 - 0.004 * np.array(DAYS) + rng.normal(0.0, 1e-4, len(DAYS))
    (slope, level), covariance = np.polyfit(DAYS, logs, 1, w=np.full(len(DAYS), 1.0 / 0.02), cov="unscaled")
    found = fitted(readings_of(0, DAYS, logs, 0.02), 0)
    assert found is not None
    assert (found.level, found.slope) == pytest.approx((level, slope), rel=1e-9)
    assert found.covariance[0, 0] == pytest.approx(covariance[1, 1])
    assert found.covariance[1, 1] == pytest.approx(covariance[0, 0])
    assert found.covariance[0, 1] == pytest.approx(covariance[0, 1])
    # Student, 3 degrees of freedom, P90: 1.638 (printed tables, from memory)
    assert found.factor == pytest.approx(1.638, abs=5e-4)


def test_scatter_beyond_the_uncertainties_widens_the_band() -> None:
    """`numpy.polyfit` with cov=True scales the covariance by chi2 over the degrees of freedom, as Birge does."""
    logs = -9.2 - 0.004 * np.array(DAYS) + np.array([0.05, -0.06, 0.04, 0.06, -0.05])
    _, covariance = np.polyfit(DAYS, logs, 1, w=np.full(len(DAYS), 1.0 / 0.01), cov=True)
    found = fitted(readings_of(0, DAYS, logs, 0.01), 0)
    assert found is not None
    assert found.covariance[1, 1] == pytest.approx(covariance[0, 0])


def test_runs_share_a_slope_and_keep_their_levels() -> None:
    """By least squares with a column for each run, written out here."""
    rng = np.random.default_rng(5)
    one = readings_of(0, DAYS, -9.0 - 0.005 * np.array(DAYS) + rng.normal(0.0, 0.003, 5), 0.01)
    other = readings_of(1, (3.0, 12.0), np.array([-9.1, -9.14]), 0.02)
    matrix = np.array([[1.0 - r.run, float(r.run), r.day] for r in [*one, *other]])
    values = np.array([r.log_flow for r in [*one, *other]])
    weights = np.diag([1.0 / r.relative**2 for r in [*one, *other]])
    normal = matrix.T @ weights @ matrix
    wanted = np.linalg.solve(normal, matrix.T @ weights @ values)
    for run in (0, 1):
        found = fitted([*other, *one], run)
        assert found is not None
        assert (found.level, found.slope) == pytest.approx((wanted[run], wanted[2]), rel=1e-9)


def test_without_two_days_there_is_no_trend() -> None:
    same = readings_of(0, (4.0, 4.0, 4.0), np.array([-9.0, -9.01, -9.0]), 0.01)
    assert fitted(same, 0) is None
    assert fitted([], 0) is None
    assert fitted(readings_of(1, DAYS, np.full(5, -9.0), 0.01), 0) is None
    # a run of one day borrows the slope of another
    borrowed = fitted([*same, *readings_of(1, DAYS, -9.0 - 0.01 * np.array(DAYS), 0.01)], 0)
    assert borrowed is not None and borrowed.slope == pytest.approx(-0.01)


@pytest.mark.parametrize("scatter", [1.0, 2.5])
def test_bands_hold_the_truth_at_least_as_often_as_they_say(scatter: float) -> None:
    """400 simulated logs, scattered as stated and two and a half times more: the band of the fall holds it in 80 % or more (three
    standard errors below), and so does the span of days for the day on which the flow is truly missed."""
    rng = np.random.default_rng(11)
    slope, level, target = -0.006, math.log(1.1e-4), math.log(0.7e-4)
    truly = (target - level) / slope
    held_slope, held_day = [], []
    for _ in range(400):
        logs = level + slope * np.array(DAYS) + rng.normal(0.0, 0.02 * scatter, len(DAYS))
        found = fitted(readings_of(0, DAYS, logs, 0.02), 0)
        assert found is not None
        held_slope.append(abs(found.slope - slope) <= found.slope_half)
        due = missed(found, math.exp(target), 0.0)
        held_day.append(due.earliest - 1.0 <= truly <= due.latest)
    assert np.mean(held_slope) > 0.8 - 3.0 * math.sqrt(0.8 * 0.2 / 400)
    assert np.mean(held_day) > 0.8 - 3.0 * math.sqrt(0.8 * 0.2 / 400)


def test_the_day_is_the_first_one_below() -> None:
    """Day by day from the law itself."""
    found = Trend(level=math.log(1e-4), slope=-0.01, covariance=np.zeros((2, 2)), factor=1.28)
    due = missed(found, 0.8e-4, 5.0)
    naive = next(day for day in range(5, 1000) if 1e-4 * math.exp(-0.01 * day) < 0.8e-4)
    assert due.likely == due.earliest == due.latest == naive
    assert missed(found, 1.2e-4, 5.0).likely == 5.0


def test_what_never_falls_is_never_missed() -> None:
    flat = Trend(level=0.0, slope=0.0, covariance=np.diag([0.0, 1e-8]), factor=1.28)
    due = missed(flat, math.exp(-0.1), 0.0)
    assert math.isinf(due.likely) and math.isinf(due.latest)
    # 1.28 standard deviations of 1e-4 a day fall by 0.1 after 781 days
    assert due.earliest == math.ceil(0.1 / 1.28e-4)
    assert due.earliest < MOST_DAYS


def test_the_mark_of_the_container_widens_the_days() -> None:
    found = Trend(level=0.0, slope=-0.01, covariance=np.zeros((2, 2)), factor=1.28)
    due = missed(found, math.exp(-0.505), 0.0, 0.05)
    assert (due.earliest, due.likely, due.latest) == (math.ceil(50.5 - 6.4), 51.0, math.ceil(50.5 + 6.4))
