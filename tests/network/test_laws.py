"""The law of one link: its head as the independent scalar path has it, its slope as a difference quotient of that
head."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from network.laws import ElementLaw, Fluid, run_head_m

from optimizer.loop.graph import Element
from optimizer.loop.operating import element_head_m
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve

WATER = Fluid(kinematic_m2s=0.913148e-6)
RUN = Run(bore_m=0.016, length_m=2.0, roughness_m=1.5e-6)
LOSS = Loss(lift_m=0.1, linear=30.0, quadratic=5e6, run=RUN)
LABEL = PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(2.5, 0.0), shape=2.0)
POINTS = PumpCurve(flows_m3s=(0.0, 2e-4, 3e-4, 4e-4), heads_m=(2.0, 1.6, 1.0, 0.0))
CURVES = st.sampled_from([None, LABEL, POINTS])
RUNS = st.sampled_from([None, RUN, replace(RUN, coil_m=0.3, factor=2.0)])


def law(curve: PumpCurve | None, run: Run | None) -> ElementLaw:
    """An element with every kind of loss, a pump's curve or none."""
    element = Element(place="part", label="part", loss=replace(LOSS, run=run), curve=curve, speed=0.9)
    return ElementLaw(element=element, fluid=WATER)


@given(CURVES, RUNS, st.floats(-1e-3, 1e-3))
def test_heads_are_those_of_the_scalar_path(curve: PumpCurve | None, run: Run | None, flow: float) -> None:
    """`operating.element_head_m`, which knows Churchill's factor only."""
    one = law(curve, run)
    assert one.head_m(flow) == pytest.approx(element_head_m(one.element, flow, WATER.kinematic_m2s), rel=1e-9, abs=1e-12)


@given(CURVES, RUNS, st.floats(1e-5, 1e-3), st.sampled_from([1.0, -1.0]))
def test_slopes_are_those_of_the_head(curve: PumpCurve | None, run: Run | None, size: float, sign: float) -> None:
    """Central difference, wider than the law's own."""
    one, flow, step = law(curve, run), sign * size, 1e-4 * size
    quotient = (one.head_m(flow + step) - one.head_m(flow - step)) / (2.0 * step)
    assert one.slope(flow) == pytest.approx(quotient, rel=2e-3)


def test_creeping_flow_in_a_hose_is_laminar() -> None:
    """Hagen and Poiseuille: h = 128 nu L Q / (pi g D4), from nothing on."""
    by_hand = 128.0 * WATER.kinematic_m2s * RUN.length_m / (math.pi * WATER.gravity_ms2 * RUN.bore_m**4)
    for flow in (0.0, 1e-300, 1e-12, -1e-9, 1e-6):
        assert run_head_m(RUN, flow, WATER) == pytest.approx(by_hand * flow, rel=1e-9)
    assert law(None, RUN).slope(0.0) == pytest.approx(by_hand + LOSS.linear, rel=1e-9)
