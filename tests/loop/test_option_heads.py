"""Heads of many options at one flow equal those of the scalar path, one by one."""

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_worlds import label_curve, point_curve

from optimizer.loop.graph import Element
from optimizer.loop.operating import element_head_m
from optimizer.loop.option_heads import CurveAtSpeed, Heads
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve

KINEMATIC_M2S = 0.9e-6
FLOWS_M3S = (0.0, 1e-7, 5e-5, 3e-4, 2e-3)

Option = tuple[Loss, CurveAtSpeed | None]


def options(seed: int, number: int) -> list[Option]:
    """Random options: bare losses, hoses (some in a coil, some alike), pumps of both kinds of curve (some alike)."""
    rng = random.Random(seed)
    runs = [
        Run(
            bore_m=rng.uniform(0.008, 0.03),
            length_m=rng.uniform(0.2, 4.0),
            roughness_m=rng.choice([0.0, 1e-5]),
            factor=rng.choice([1.0, 1.6]),
            coil_m=rng.choice([float("inf"), 0.25]),
        )
        for _ in range(3)
    ]
    curves: list[PumpCurve] = [label_curve(rng.uniform(1, 3), rng.uniform(500, 3000), rng.uniform(1, 3)) for _ in range(2)]
    curves += [point_curve(rng.uniform(1, 3), rng.uniform(500, 3000)) for _ in range(2)]
    made: list[Option] = []
    for _ in range(number):
        what = rng.choice(["bare", "hose", "pump"])
        loss = Loss(
            lift_m=rng.choice([0.0, 0.1]),
            linear=rng.uniform(0.0, 100.0),
            quadratic=rng.uniform(0.0, 1e7),
            run=rng.choice(runs) if what == "hose" else None,
        )
        made.append((loss, (rng.choice(curves), rng.choice([1.0, 0.9])) if what == "pump" else None))
    return made


def scalar(option: Option, flow_m3s: float) -> float:
    """The head that one option takes, by the scalar path."""
    loss, pumped = option
    curve, speed = pumped or (None, 1.0)
    return element_head_m(Element(place="", label="", loss=loss, curve=curve, speed=speed), flow_m3s, KINEMATIC_M2S)


def heads(made: list[Option]) -> Heads:
    """The same options as arrays."""
    return Heads.of([loss for loss, _ in made], [pumped for _, pumped in made], KINEMATIC_M2S)


@settings(max_examples=40)
@given(st.integers(0, 2**32 - 1), st.integers(1, 25), st.sampled_from(FLOWS_M3S))
def test_the_head_of_every_option_is_that_of_the_scalar_path(seed: int, number: int, flow_m3s: float) -> None:
    """Shared runs and curves are evaluated once and must reach every option that has them."""
    made = options(seed, number)
    assert heads(made).at(flow_m3s) == pytest.approx([scalar(option, flow_m3s) for option in made], rel=1e-11, abs=1e-13)


@settings(max_examples=40)
@given(st.integers(0, 2**32 - 1), st.lists(st.integers(0, 9), max_size=12), st.sampled_from(FLOWS_M3S))
def test_some_of_the_options_in_any_order_have_their_own_heads(seed: int, rows: list[int], flow_m3s: float) -> None:
    """An option may be taken more than once, or none at all."""
    made = options(seed, 10)
    whole = heads(made)
    assert whole.rows(rows).at(flow_m3s).tolist() == pytest.approx(whole.at(flow_m3s)[rows].tolist(), rel=1e-12, abs=1e-15)


def test_evaluating_leaves_the_arrays_as_they_were() -> None:
    """Many flows are asked of the same arrays."""
    whole = heads(options(3, 12))
    before = whole.at(2e-4)
    whole.at(1e-4)
    assert whole.at(2e-4).tolist() == before.tolist()
    assert np.isfinite(before).all()


def test_only_pump_curves_can_be_evaluated() -> None:
    """A stray object is an error, not a wrong number."""
    with pytest.raises(TypeError, match="only pump curves"):
        Heads.of([Loss()], ["pump"], KINEMATIC_M2S)  # type: ignore[list-item]


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=25)
def test_every_head_rises_with_the_flow(seed: int) -> None:
    """Losses rise, pump heads fall: both count upwards here, which is what makes the search exact."""
    whole = heads(options(seed, 12))
    rising = [whole.at(flow) for flow in np.linspace(0.0, 1.5e-3, 40)]
    assert (np.diff(rising, axis=0) >= -1e-12).all()
