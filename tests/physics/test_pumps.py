"""Pumps against SciPy's interpolator, published examples, re-solved loops and the laws that must hold."""

from collections.abc import Callable
from math import pi

import numpy as np
import pytest
from fluids.pump import speed_synchronous
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from optimizer.physics.fittings import quadratic_coefficient
from optimizer.physics.hose import friction_head_m
from optimizer.physics.pumps import (
    END_FALL,
    SPEED_RANGE,
    label_head_m,
    mains_ratio,
    monotone_slopes,
    points_head_m,
    stack_points,
    stacked_head_m,
)
from optimizer.physics.validity import outside

LITRE_PER_HOUR = 1e-3 / 3600.0
MAX_HEAD, MAX_FLOW = 2.5, 1500 * LITRE_PER_HOUR

STEPS = st.lists(st.tuples(st.floats(1e-3, 1.0), st.floats(1e-3, 1.0)), min_size=1, max_size=9)


def curve(steps: list[tuple[float, float]]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """A pump curve from no flow, with the given rises of flow and falls of head."""
    wide, deep = np.array(steps).T
    flows = np.concatenate(([0.0], np.cumsum(wide)))
    return flows, np.sum(deep) - np.concatenate(([0.0], np.cumsum(deep)))


CURVES = st.builds(curve, STEPS)


def label(flow: float) -> float:
    return float(label_head_m(flow, MAX_HEAD, MAX_FLOW, 2.0))


def loop_loss_m(flow: float) -> float:
    """A loop of 1.5 m of 16 mm suction with K 3.28 and 1.8 m of 12.5 mm return with K 2.5."""
    suction = float(friction_head_m(flow, 0.016, 1.5, 1.5e-6, 1.021933e-6))
    back = float(friction_head_m(flow, 0.0125, 1.8, 1.5e-6, 1.021933e-6))
    minor = float(quadratic_coefficient(3.28, 0.016) + quadratic_coefficient(2.5, 0.0125))
    return suction + back + minor * flow * abs(flow)


def operating_flow(head: Callable[[float], float], lift_m: float = 0.0) -> float:
    return float(brentq(lambda q: head(q) - loop_loss_m(q) - lift_m, 0.0, 2.0 * MAX_FLOW, xtol=1e-12))


def in_series(flow: float) -> float:
    return 2.0 * label(flow)


def in_parallel(flow: float) -> float:
    return label(flow / 2.0)


def on_less_speed(flow: float) -> float:
    ratio = float(mains_ratio(60.0, 50.0))
    return label(flow / ratio) * ratio * ratio


# The same loops solved by EPANET's friction formula: arrangement, l/h and head in m. Churchill's friction is within
# 0.1 % of flow and 0.2 % of head.
@pytest.mark.parametrize(
    ("head", "lift", "flow_lh", "head_m"),
    [
        (label, 0.0, 875.378, 1.64857),
        (in_series, 0.0, 1076.066, 2.42685),
        (in_parallel, 0.0, 1023.457, 2.20904),
        (on_less_speed, 0.0, 723.357, 1.15473),
        (label, 0.30, 818.802, None),
    ],
)
def test_loops_meet_the_printed_values(head: Callable[[float], float], lift: float, flow_lh: float, head_m: float | None) -> None:
    flow = operating_flow(head, lift)
    assert flow / LITRE_PER_HOUR == pytest.approx(flow_lh, rel=1e-3)
    if head_m is not None:
        assert head(flow) == pytest.approx(head_m, rel=2e-3)


def test_single_loop_with_churchill_friction() -> None:
    # The same loop solved with the friction factor of the `fluids` library.
    assert operating_flow(label) / LITRE_PER_HOUR == pytest.approx(875.246, abs=0.01)


def test_less_speed_loses_a_little_more_than_its_ratio() -> None:
    # Friction rises as the Reynolds number falls: 0.8263, below 5/6.
    assert operating_flow(on_less_speed) / operating_flow(label) == pytest.approx(0.8263, abs=2e-4)


def test_label_curve_meets_a_closed_form() -> None:
    # By hand: a = 1.44e7 s2/m5 and K = 12 on 16 mm (R = 1.513460e7): Q = sqrt(H0 / (a + R)).
    assert pytest.approx(1.4400e7) == MAX_HEAD / MAX_FLOW**2
    loop = 12.0 / (2.0 * 9.80665 * (pi / 4.0 * 0.016**2) ** 2)
    assert loop == pytest.approx(1.513460e7, rel=1e-4)
    flow = (MAX_HEAD / (1.44e7 + 1.513460e7)) ** 0.5
    assert flow / LITRE_PER_HOUR == pytest.approx(1047.387, abs=1e-3)
    assert label(flow) == pytest.approx(1.28109, abs=1e-5)


def test_label_curve_is_the_one_point_curve_of_epanet() -> None:
    # `wntr` get_head_curve_coefficients for the EPANET tutorial pump, 1000 gpm and 200 ft: 81.28 m, r = 5105.049.
    gpm, foot = 3.785411784e-3 / 60.0, 0.3048
    shut_off, free = 4.0 / 3.0 * 200 * foot, 2000 * gpm
    assert shut_off == pytest.approx(81.28, abs=0.005)
    assert label_head_m(1000 * gpm, shut_off, free, 2.0) == pytest.approx(200 * foot)
    for flow in (0.02, 0.1, 0.2):
        assert label_head_m(flow, shut_off, free, 2.0) == pytest.approx(81.28 - 5105.049 * flow**2, rel=1e-4)


@given(flow=st.floats(-2.0, 4.0), step=st.floats(1e-3, 1.0), shape=st.floats(1.0, 4.0))
def test_label_curve_falls_everywhere(flow: float, step: float, shape: float) -> None:
    here, there = (label_head_m(q * MAX_FLOW, MAX_HEAD, MAX_FLOW, shape) for q in (flow, flow + step))
    assert there <= here
    if abs(flow) > 0.01:
        assert there < here


@given(shape=st.floats(0.5, 4.0))
def test_label_curve_has_the_labels_ends(shape: float) -> None:
    assert label_head_m(0.0, MAX_HEAD, MAX_FLOW, shape) == MAX_HEAD
    assert label_head_m(MAX_FLOW, MAX_HEAD, MAX_FLOW, shape) == 0.0
    assert label_head_m(1.5 * MAX_FLOW, MAX_HEAD, MAX_FLOW, shape) < 0.0


@given(points=CURVES)
def test_points_curve_is_scipys(points: tuple[NDArray[np.float64], NDArray[np.float64]]) -> None:
    flows, heads = points
    slopes = monotone_slopes(flows, heads)
    scipy_curve = PchipInterpolator(flows, heads)
    scale = float(np.ptp(heads) / np.min(np.diff(flows)))
    assert slopes == pytest.approx(scipy_curve(flows, 1), rel=1e-9, abs=1e-9 * scale)
    at = np.linspace(0.0, flows[-1], 57)
    assert points_head_m(at, flows, heads, slopes) == pytest.approx(scipy_curve(at), rel=1e-9, abs=1e-9)


@given(heads=st.lists(st.floats(-5.0, 5.0), min_size=3, max_size=8), seed=st.integers(0, 99))
def test_slopes_are_scipys_for_any_points(heads: list[float], seed: int) -> None:
    flows = np.cumsum(np.random.default_rng(seed).uniform(0.1, 2.0, len(heads)))
    rounded = np.round(heads, 3)
    assert monotone_slopes(flows, rounded) == pytest.approx(PchipInterpolator(flows, rounded)(flows, 1), abs=1e-9)


@given(points=CURVES, low=st.floats(-0.5, 2.0), step=st.floats(1e-4, 1.0))
def test_points_curve_falls_everywhere(points: tuple[NDArray[np.float64], NDArray[np.float64]], low: float, step: float) -> None:
    flows, heads = points
    slopes = monotone_slopes(flows, heads)
    here, there = (points_head_m(q * flows[-1], flows, heads, slopes) for q in (low, low + step))
    assert there <= here + 1e-12
    if low >= 1.0:
        assert here - there >= 0.999 * END_FALL * step * np.ptp(heads)


@given(points=CURVES)
def test_points_curve_passes_its_points_and_goes_on(
    points: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> None:
    flows, heads = points
    slopes = monotone_slopes(flows, heads)
    assert np.all(slopes <= 0.0)
    assert points_head_m(flows, flows, heads, slopes) == pytest.approx(heads, abs=1e-9)
    beyond = points_head_m(flows[-1] + np.array([0.1, 0.2, 0.3]), flows, heads, slopes)
    assert np.diff(beyond, n=2) == pytest.approx([0.0], abs=1e-9)


@given(curves=st.lists(CURVES, min_size=1, max_size=5), share=st.floats(-0.5, 2.0))
def test_stacked_pumps_are_each_their_own(curves: list[tuple[NDArray[np.float64], NDArray[np.float64]]], share: float) -> None:
    stack = stack_points([(flows.tolist(), heads.tolist()) for flows, heads in curves])
    own = np.array([share * flows[-1] for flows, _ in curves])
    each = [
        float(points_head_m(float(q), flows, heads, monotone_slopes(flows, heads)))
        for q, (flows, heads) in zip(own, curves, strict=True)
    ]
    assert stacked_head_m(own, *stack) == pytest.approx(each, abs=1e-9)
    at_one = [float(points_head_m(0.7, *(c[0], c[1], monotone_slopes(*c)))) for c in curves]
    assert stacked_head_m(0.7, *stack) == pytest.approx(at_one, abs=1e-9)


def test_no_pumps_make_an_empty_stack() -> None:
    assert stacked_head_m(0.1, *stack_points([])).shape == (0,)


@pytest.mark.parametrize(("flows", "heads"), [([0.0], [1.0]), ([0.0, 0.0], [1.0, 0.0]), ([0.0, 1.0, 0.5], [3, 2, 1])])
def test_bad_points_are_refused(flows: list[float], heads: list[float]) -> None:
    with pytest.raises(ValueError, match="rise from point to point"):
        monotone_slopes(flows, heads)


def test_points_of_a_label_curve_meet_the_label_curve() -> None:
    # Eight points of a parabola: the cubic through them is nowhere further than 0.3 % of the shut-off head.
    flows = np.linspace(0.0, MAX_FLOW, 8)
    heads = np.asarray(label_head_m(flows, MAX_HEAD, MAX_FLOW, 2.0))
    at = np.linspace(0.0, MAX_FLOW, 200)
    made = points_head_m(at, flows, heads, monotone_slopes(flows, heads))
    assert made == pytest.approx(label_head_m(at, MAX_HEAD, MAX_FLOW, 2.0), abs=0.003 * MAX_HEAD)


@pytest.mark.parametrize(
    ("label_hz", "mains_hz", "ratios"),
    [(60, 50, (0.83333, 0.69444, 0.57870)), (50, 60, (1.2, 1.44, 1.728))],
)
def test_mains_change_speed_head_and_power(label_hz: float, mains_hz: float, ratios: tuple[float, ...]) -> None:
    # Affinity laws by hand; synchronous speed 120 f / poles from `fluids`.
    ratio = mains_ratio(label_hz, mains_hz)
    assert (ratio, ratio**2, ratio**3) == pytest.approx(ratios, abs=5e-6)
    assert ratio == pytest.approx(speed_synchronous(mains_hz) / speed_synchronous(label_hz))
    assert not outside(SPEED_RANGE, ratio)


def test_synchronous_speeds() -> None:
    # `fluids` speed_synchronous: 3000 rpm at 50 Hz, so 3600 at 60.
    assert speed_synchronous(50.0) * mains_ratio(50.0, 60.0) == pytest.approx(3600.0)


def test_equal_pumps_in_series_and_parallel() -> None:
    # Textbook rules: series doubles shut-off head and a, parallel quarters a.
    q = 0.6 * MAX_FLOW
    assert in_series(q) == pytest.approx(5.0 - 2.0 * 1.44e7 * q * q)
    assert in_parallel(q) == pytest.approx(2.5 - 1.44e7 / 4.0 * q * q)
