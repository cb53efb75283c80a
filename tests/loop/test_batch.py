"""Many loops at once: equal to the scalar operating point on random loops, with a status for each."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from optimizer.loop.batch import BAD_INPUT, CONVERGED, NO_FLOW, Loops, Solved, solve
from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.operating import operating_point
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve

KINEMATIC_M2S = 0.9e-6
SINGLE = {
    "lift_m": 0.1,
    "linear": 30.0,
    "quadratic": 5e6,
    "max_head_m": 2.0,
    "max_flow_m3s": 4e-4,
    "shape": 2.0,
}
RUNS = {"run_bore_m": 0.016, "run_length_m": 1.5, "run_roughness_m": 1.5e-6, "run_factor": 1.0}


def loops(number: int = 1, runs: int = 2, **columns: Any) -> Loops:
    """Loops alike but for the columns given."""
    values: dict[str, NDArray[np.float64]] = {name: np.full(number, value) for name, value in SINGLE.items()}
    values |= {name: np.full((number, runs), value) for name, value in RUNS.items()}
    values |= {name: np.asarray(value, dtype=float) for name, value in columns.items()}
    return Loops(kinematic_m2s=KINEMATIC_M2S, **values)


def scalar_flow(many: Loops, row: int) -> float:
    """The flow of one of the loops by the scalar path."""
    curve = PumpCurve(
        flows_m3s=(0.0, float(many.max_flow_m3s[row])), heads_m=(float(many.max_head_m[row]), 0.0), shape=float(many.shape[row])
    )
    elements = [
        Element(place="pump", label="pump", loss=Loss(), curve=curve),
        Element(
            place="rest",
            label="rest",
            loss=Loss(lift_m=float(many.lift_m[row]), linear=float(many.linear[row]), quadratic=float(many.quadratic[row])),
        ),
    ]
    for k in range(many.run_bore_m.shape[1]):
        run = Run(
            bore_m=float(many.run_bore_m[row, k]),
            length_m=float(many.run_length_m[row, k]),
            roughness_m=float(many.run_roughness_m[row, k]),
            factor=float(many.run_factor[row, k]),
        )
        elements.append(Element(place=f"run {k}", label="run", loss=Loss(run=run)))
    return operating_point(loop_graph(elements), KINEMATIC_M2S).flow_m3s


def random_loops(seed: int, number: int) -> Loops:
    """Loops from trickling to roaring, with runs that are not there, rough and ribbed ones."""
    rng = np.random.default_rng(seed)
    shape = (number, 3)
    return Loops(
        lift_m=rng.choice([0.0, 0.05, 0.5, 1.9], number),
        linear=rng.choice([0.0, 1.0, 100.0, 1e4], number),
        quadratic=10.0 ** rng.uniform(3.0, 9.5, number),
        run_bore_m=rng.uniform(0.006, 0.03, shape),
        run_length_m=rng.uniform(0.1, 4.0, shape) * (rng.random(shape) < 0.8),
        run_roughness_m=rng.choice([0.0, 1.5e-6, 1e-4], shape),
        run_factor=rng.choice([1.0, 1.6], shape),
        max_head_m=rng.uniform(0.5, 5.0, number),
        max_flow_m3s=10.0 ** rng.uniform(-4.5, -2.8, number),
        shape=rng.uniform(1.0, 3.0, number),
        kinematic_m2s=KINEMATIC_M2S,
    )


@settings(max_examples=25)
@given(st.integers(0, 2**32 - 1))
def test_a_batch_finds_the_operating_point_of_every_loop(seed: int) -> None:
    """Against the scalar path, which shares neither the steps nor the evaluation, to 1e-9 of the flow."""
    many = random_loops(seed, 20)
    solved = solve(many)
    for row in range(20):
        expected = scalar_flow(many, row)
        assert solved.status[row] == (NO_FLOW if expected == 0.0 else CONVERGED)
        assert solved.flow_m3s[row] == pytest.approx(expected, rel=1e-9)


def test_the_residual_vanishes_for_every_one_of_ten_thousand_loops() -> None:
    """Nothing is left unsolved, also where friction jumps between laminar and turbulent flow."""
    many = random_loops(1, 10_000)
    solved = solve(many)
    flowing = solved.status == CONVERGED
    assert set(np.unique(solved.status)) <= {CONVERGED, NO_FLOW}
    assert np.abs(many.rows(np.flatnonzero(flowing)).residual_m(solved.flow_m3s[flowing])).max() < 1e-9


def test_loops_do_not_disturb_each_other() -> None:
    """Alone or in company, in any order: the same flow to the last digits."""
    many = random_loops(7, 50)
    together = solve(many).flow_m3s
    order = np.random.default_rng(0).permutation(50)
    assert solve(many.rows(order)).flow_m3s.tolist() == together[order].tolist()
    assert solve(many.rows(np.array([3]))).flow_m3s[0] == together[3]


@pytest.mark.parametrize("name", [*SINGLE, *RUNS])
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, -1.0])
def test_a_number_that_cannot_be_spoils_only_its_own_loop(name: str, value: float) -> None:
    """NaN, infinite and negative numbers give NaN and "bad input"; the neighbours are solved; nothing is raised."""
    column = np.full((3, 2), RUNS[name]) if name in RUNS else np.full(3, SINGLE[name])
    column[(1, 0) if name in RUNS else 1] = value
    solved = solve(loops(3, **{name: column}))
    assert solved.status.tolist() == [CONVERGED, BAD_INPUT, CONVERGED]
    assert math.isnan(solved.flow_m3s[1])
    assert solved.flow_m3s[0] == solved.flow_m3s[2] > 0.0


@pytest.mark.parametrize("name", ["max_head_m", "max_flow_m3s", "shape", "run_bore_m"])
def test_a_pump_or_a_hose_of_no_size_is_bad_input(name: str) -> None:
    """A curve that does not fall, a bore of nothing."""
    column = np.zeros((1, 2)) if name in RUNS else np.zeros(1)
    assert solve(loops(**{name: column})).status.tolist() == [BAD_INPUT]


def test_a_pump_that_cannot_lift_the_water_gives_no_flow() -> None:
    """Lift as high as the greatest head, or higher; just below, it flows."""
    solved = solve(loops(3, lift_m=[2.0, 2.5, 1.999]))
    assert solved.status.tolist() == [NO_FLOW, NO_FLOW, CONVERGED]
    assert solved.flow_m3s[:2].tolist() == [0.0, 0.0]
    assert solved.flow_m3s[2] > 0.0


def test_no_loops_and_no_runs_are_no_problem() -> None:
    """An empty batch; a batch without a hose."""
    empty = loops().rows(np.array([], dtype=np.intp))
    assert solve(empty) == Solved(flow_m3s=pytest.approx([]), status=pytest.approx([]), evaluations=0)  # type: ignore[arg-type]
    bare = solve(loops(1, 0, lift_m=[0.0], linear=[0.0], quadratic=[2.0 / 4e-4**2]))
    assert bare.flow_m3s[0] == pytest.approx(4e-4 / math.sqrt(2.0), rel=1e-12), "by hand: half the head for each"


@given(st.integers(0, 2**32 - 1), st.sampled_from(["lift_m", "linear", "quadratic", "run_length_m", "run_factor"]))
@settings(max_examples=25)
def test_more_loss_never_raises_a_flow(seed: int, name: str) -> None:
    """Term by term."""
    many = random_loops(seed, 20)
    columns = {field: getattr(many, field) for field in (*SINGLE, *RUNS)}
    columns[name] = columns[name] * 1.3 + 1e-3
    more = Loops(kinematic_m2s=KINEMATIC_M2S, **columns)
    assert (solve(more).flow_m3s <= solve(many).flow_m3s * (1 + 1e-11)).all()


def test_the_flow_tends_to_the_free_flow_when_losses_vanish() -> None:
    """The label's greatest flow is the flow at no head."""
    solved = solve(loops(4, 0, lift_m=np.zeros(4), linear=np.zeros(4), quadratic=[1e5, 1e3, 1e1, 0.0]))
    assert (np.diff(solved.flow_m3s) > 0.0).all()
    assert solved.flow_m3s[-1] == pytest.approx(4e-4, rel=1e-10)
