"""Operating points of many loops at once, against `scipy.optimize.elementwise.find_root` on the same residual."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import elementwise

from benchmarks.clock import in_turn
from benchmarks.conftest import Report
from optimizer.loop.batch import CONVERGED, Loops, solve
from optimizer.physics.hose import friction_head_m
from optimizer.physics.pumps import label_head_m

Reals = NDArray[np.float64]

KINEMATIC_M2S = 0.893e-6
RELATIVE = 1e-12
RUNS = 2


def loops(number: int, seed: int) -> Loops:
    """Loops of a canister filter with two hose runs each: 12 to 25 mm hose, pumps of 0.8 to 4 m."""
    rng = np.random.default_rng(seed)
    head = rng.uniform(0.8, 4.0, number)
    shape = (number, RUNS)
    return Loops(
        lift_m=rng.uniform(0.0, 0.1, number),
        linear=rng.uniform(0.0, 600.0, number),
        quadratic=10.0 ** rng.uniform(6.0, 7.7, number),
        run_bore_m=rng.choice([0.012, 0.016, 0.019, 0.025], shape),
        run_length_m=rng.uniform(0.5, 4.0, shape),
        run_roughness_m=rng.choice([1.5e-6, 6e-6, 1e-5], shape),
        run_factor=rng.choice([1.0, 2.0], shape),
        max_head_m=head,
        max_flow_m3s=head * rng.uniform(400.0, 1000.0, number) / 3.6e6,
        shape=rng.uniform(1.3, 2.5, number),
        kinematic_m2s=KINEMATIC_M2S,
    )


def residual_m(flow: Reals, lift: Reals, linear: Reals, quadratic: Reals, *rest: Reals) -> Reals:
    """The residual of `Loops`, with every column an argument of its own, as the general finder wants it."""
    total = lift + linear * flow + quadratic * flow * flow - label_head_m(flow, *rest[-3:])
    for run in range(RUNS):
        bore, length, roughness, factor = rest[4 * run : 4 * run + 4]
        total = total + friction_head_m(flow, bore, length, roughness, KINEMATIC_M2S, factor)
    return np.asarray(total)


def columns(some: Loops) -> tuple[Reals, ...]:
    """The arguments of ``residual_m``."""
    runs = (some.run_bore_m, some.run_length_m, some.run_roughness_m, some.run_factor)
    per_run = [column[:, run] for run in range(RUNS) for column in runs]
    return (some.lift_m, some.linear, some.quadratic, *per_run, some.max_head_m, some.max_flow_m3s, some.shape)


@pytest.mark.parametrize("number", [1_000, 100_000])
def test_batch_against_find_root(benchmark: Any, report: Report, number: int) -> None:
    """Both find the same flows to the same accuracy; time per loop."""
    some = loops(number, seed=3)
    arguments = columns(some)
    bracket = (np.zeros(number), some.max_flow_m3s)
    tolerances = {"xrtol": RELATIVE, "xatol": 0.0, "frtol": 0.0, "fatol": 0.0}

    def general() -> Any:
        return elementwise.find_root(residual_m, bracket, args=arguments, tolerances=tolerances)

    repeats = 15 if number < 10_000 else 4
    theirs, ours = in_turn(general, lambda: solve(some, RELATIVE), repeats=repeats)
    solved, found = benchmark.pedantic(lambda: solve(some, RELATIVE), rounds=3), general()
    each = [f"{1e6 * times.least / number:.3g} us" for times in (theirs, ours)]
    remark = f"{' / '.join(each)} a loop, at most {solved.evaluations} evaluations"
    report(f"find_root / batch solve, {number:,} loops", theirs, ours, "at least 1", remark)
    assert bool((solved.status == CONVERGED).all())
    assert bool(found.success.all())
    np.testing.assert_allclose(solved.flow_m3s, found.x, rtol=10 * RELATIVE)
    for flow in (solved.flow_m3s, found.x):
        assert float(np.abs(residual_m(flow, *arguments) / some.max_head_m).max()) < 1e-10
