"""The next test: expected variances against posteriors that are worked out for simulated outcomes."""

import math
from dataclasses import replace

import numpy as np
import pytest
from grids import THREE, Datum, Grid, log_flow, three
from how_many import some_of
from measuring_worlds import Truth, rig_of

from optimizer.bands.draws import Factors, draw
from optimizer.bands.priors import PRIORS
from optimizer.measure.calibrate import Posterior, calibrate
from optimizer.measure.fill_loop import loop_during_fill
from optimizer.measure.fills import USUAL
from optimizer.measure.next_test import TESTS, next_tests, planned_seen, variance_after
from optimizer.measure.observations import FlowObservation, Observation, PowerObservation, seen_fill
from optimizer.model.fill import TimedFill
from optimizer.report.diagnose_text import most_worth_words
from optimizer.report.measures import system

FIRST = [Datum(math.log(2.2e-4), 0.02)]


@pytest.mark.parametrize(
    "test", [Datum(0.0, 0.02, guard=False), Datum(0.0, 0.02, lift_m=0.5), Datum(0.0, 0.2, guard=False), Datum(0.0, 0.02)]
)
@pytest.mark.parametrize("target", [(True, 0.0), (False, 0.0)])
def test_expected_variances_are_those_of_simulated_outcomes(test: Datum, target: tuple[bool, float]) -> None:
    """By brute force: truths are drawn from the grid posterior after a first fill, the test is simulated, and the grid posterior
    with both is worked out anew. The share of the variance that is left in the mean is what was to be expected."""
    known = calibrate([datum.seen() for datum in FIRST], THREE, three().candidate.unknowns)
    _, slopes = known.log_flow(three(*target))
    expected = variance_after(known, slopes, test.seen("test"))
    rng, grid = np.random.default_rng(2), Grid.of(FIRST, points=41)
    variances = []
    for row in rng.choice(grid.z.shape[1], 50, p=grid.weights):
        read = float(log_flow(grid.z[:, row], test.guard, test.lift_m)) + test.relative * rng.standard_normal()
        after = Grid.of([*FIRST, replace(test, log_value=read)], points=41)
        variances.append(after.mean_and_variance(log_flow(after.z, *target))[1])
    before = grid.mean_and_variance(log_flow(grid.z, *target))[1]
    left = expected / float(slopes @ known.covariance @ slopes)
    assert left == pytest.approx(float(np.mean(variances)) / before, rel=0.1, abs=0.01)


def simulated(
    posterior: Posterior, seen: list[FlowObservation], test: Observation, target: object, rng: np.random.Generator, times: int
) -> float:
    """Mean variance of the target's logarithm over outcomes of a test, each of them calibrated anew."""
    whole = posterior.knowing(test.unknowns)
    draws = whole.applied(draw(whole.unknowns, max(times, 2), int(rng.integers(1000))))
    expected = test.log_expected(Factors(draws, PRIORS))
    variances = []
    for n in range(times):
        off = draws.normals[n, whole.column[next(u for u in whole.unknowns if u.part == test.mark)]] if test.mark else 0.0
        read = float(expected[n]) + test.mark_relative * off + test.relative * rng.standard_normal()
        after = calibrate([*seen, replace(test, log_value=read)], also=whole.unknowns)  # type: ignore[type-var]
        _, slopes = after.log_flow(target)  # type: ignore[arg-type]
        variances.append(float(slopes @ after.covariance @ slopes))
    return float(np.mean(variances))


@pytest.mark.parametrize("seed", [0, 1, 3, 5, 8])
def test_the_ranking_of_random_rigs_is_that_of_simulated_outcomes(seed: int) -> None:
    """After one fill as it is, about the flow of the clean loop: every test's expected variance within a quarter, and no test
    that simulation finds clearly better than the one ranked first."""
    rng, rig = np.random.default_rng(seed), rig_of(seed)
    fill = Truth.drawn(rig, rng).timed(rng, [((), 0.0)])[0]
    seen, target = [seen_fill(rig, fill)], loop_during_fill(rig, ("clean",))
    posterior = calibrate(seen, also=target.candidate.unknowns)
    found = next_tests(rig, posterior, target, container=fill)
    _, slopes = posterior.log_flow(target)
    before = float(slopes @ posterior.covariance @ slopes)
    plans = {test.name: planned_seen(rig, test, posterior, fill, USUAL) for test in TESTS}
    left = {name: simulated(posterior, seen, plan, target, rng, 12) / before for name, plan in plans.items()}
    for line in found.tests:
        assert 1.0 - line.shrink == pytest.approx(left[line.name], rel=0.25, abs=0.02)
    assert left[found.tests[0].name] <= 1.2 * min(left.values()) + 0.02


def test_shrinks_are_shares_and_come_in_order() -> None:
    for seed in some_of(range(12), 2):
        rig = rig_of(seed)
        found = next_tests(rig, calibrate([]), loop_during_fill(rig))
        shrinks = [line.shrink for line in found.tests]
        assert np.all(np.diff(shrinks) <= 0.01)
        assert all(0.0 <= shrink < 1.0 for shrink in shrinks)
        assert {line.name for line in found.tests} == {test.name for test in TESTS}
        for line in found.tests:
            ratio = math.log(line.band.p90_m3s / line.band.p10_m3s) / math.log(found.band.p90_m3s / found.band.p10_m3s)
            assert ratio**2 == pytest.approx(1.0 - line.shrink, abs=1e-9)


def test_before_any_fill_the_fill_as_it_is_tells_most_of_the_flow_as_it_is() -> None:
    """Nothing tells more about a number than measuring that number (fills that tell as much take longer)."""
    for seed in some_of(range(12), 2):
        rig = rig_of(seed)
        position = rig.positions[-1]
        sunk = replace(rig, positions=(*rig.positions[:-1], replace(position, height_m=-0.02)))
        assert next_tests(sunk, calibrate([]), loop_during_fill(sunk)).tests[0].name == "fill as it is"


def test_the_blocked_guard_asks_for_the_guard_off() -> None:
    """A guard about 90 % shut, and a fill as it is: what would a clean guard give? The guard off tells."""
    rig = rig_of(1)
    assert rig.positions[0].state.blocked == 0.9
    fill = TimedFill(volume_m3=0.01, seconds=(105.0, 106.0, 105.5))
    seen = seen_fill(rig, fill)
    found = next_tests(rig, calibrate([seen]), loop_during_fill(rig, ("clean",)), container=fill)
    assert found.tests[0].name == "guard off" and found.tests[0].shrink > 0.9
    told = most_worth_words(found.tests, system("metric"))
    assert told.startswith("Most worth doing: guard off (8 minutes, mess: wet arm);")
    assert "nobody is drawn in" in told and "RCD" in told


def test_a_flow_that_a_throttle_holds_needs_no_test() -> None:
    rig = rig_of(1)
    loop = loop_during_fill(rig)
    held = replace(loop, candidate=replace(loop.candidate, ceiling_m3s=1e-6))
    found = next_tests(rig, calibrate([]), held)
    assert [line.shrink for line in found.tests] == [0.0] * len(TESTS)
    told = most_worth_words(found.tests, system("metric"))
    assert told == "No cheap test would tell much more about the delivered flow."


def test_watts_tell_of_the_pump_and_of_where_it_stands_on_its_curve() -> None:
    rig = rig_of(1)
    watts = next(test for test in TESTS if test.state is None)
    plan = planned_seen(rig, watts, calibrate([]), None, USUAL)
    assert isinstance(plan, PowerObservation) and plan.pump.part == "own-pump"
    power = {unknown.prior for unknown in plan.unknowns if unknown.part == "own-pump"}
    assert power >= {"label power", "shut-off power", "label head", "label flow"}
    assert set(plan.unknowns) >= set(loop_during_fill(rig).candidate.unknowns)


def test_every_test_says_what_it_costs() -> None:
    for test in TESTS:
        assert test.minutes > 0 and test.mess and test.how.endswith(".")
