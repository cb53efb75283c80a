"""The operating point of one loop, against a network solver and an independent Darcy solver, and by its laws.

Small pump loop: both ends under the same water level, head 2.5 m - 1.44e7 Q2 (free flow 1500 l/h), suction hose 16 mm, 1.5 m,
sum of K 3.28, return hose 12.5 mm, 1.8 m, sum of K 2.5, each K on its own bore; roughness 1.5 um, kinematic
viscosity 1.021933e-6 m2/s.
Its flows: EPANET 2.2 engine via wntr 1.5.0 where named, else an independent Darcy-Weisbach solver.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.operating import OperatingPoint, element_head_m, operating_point, pump_head_m, run_head_m
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve
from optimizer.physics.water import GRAVITY_MS2

LITRE_PER_HOUR = 1e-3 / 3600.0
KINEMATIC_M2S = 1.021933e-6
CURVE = PumpCurve(flows_m3s=(0.0, 1500.0 * LITRE_PER_HOUR), heads_m=(2.5, 0.0), shape=2.0)
PUMP = Element(place="pump", label="pump", loss=Loss(), curve=CURVE)


def velocity_heads(k: float, bore_m: float) -> float:
    """K v2/2g as a coefficient on Q2, written out."""
    return k / (2.0 * GRAVITY_MS2 * (math.pi * bore_m**2 / 4.0) ** 2)


def hose(name: str, bore_mm: float, length_m: float, k: float) -> Element:
    """A hose with its fittings as one sum of K on its own bore."""
    run = Run(bore_m=bore_mm / 1e3, length_m=length_m, roughness_m=1.5e-6)
    return Element(place=name, label=name, loss=Loss(quadratic=velocity_heads(k, bore_mm / 1e3), run=run))


SUCTION, RETURN = hose("suction", 16.0, 1.5, 3.28), hose("return", 12.5, 1.8, 2.5)


def point(*elements: Element) -> OperatingPoint:
    """The operating point of elements in series."""
    return operating_point(loop_graph(elements), KINEMATIC_M2S)


def litres(*elements: Element) -> float:
    """The flow of elements in series, in l/h."""
    return point(*elements).flow_m3s / LITRE_PER_HOUR


def test_the_small_loop_flows_as_in_an_established_network_solver() -> None:
    """EPANET 2.2 engine via wntr 1.5.0: 875.63 l/h; independent solver with Churchill's factor: 875.246 l/h."""
    assert litres(SUCTION, PUMP, RETURN) == pytest.approx(875.63, rel=3e-3)
    assert litres(SUCTION, PUMP, RETURN) == pytest.approx(875.246, rel=1e-4)


def test_the_heads_on_both_sides_of_the_pump_are_those_of_the_network_solver() -> None:
    """EPANET 2.2 engine via wntr 1.5.0, against the water level: -0.42903 m before the pump, 1.21904 m after it."""
    found = point(SUCTION, PUMP, RETURN)
    assert -element_head_m(SUCTION, found.flow_m3s, KINEMATIC_M2S) == pytest.approx(-0.42903, rel=3e-3)
    assert element_head_m(RETURN, found.flow_m3s, KINEMATIC_M2S) == pytest.approx(1.21904, rel=3e-3)
    assert found.head_m == pytest.approx(1.64857, rel=3e-3), "independent solver"


def test_a_rise_of_the_outlet_of_30_cm_costs_flow() -> None:
    """Independent Darcy solver: 818.802 l/h."""
    raised = replace(RETURN, loss=replace(RETURN.loss, lift_m=0.30))
    assert litres(SUCTION, PUMP, raised) == pytest.approx(818.802, rel=3e-3)


def test_at_five_sixths_of_its_speed_a_pump_delivers_slightly_less_than_five_sixths() -> None:
    """60 Hz figures on 50 Hz mains. Independent Darcy solver: 723.357 l/h at 1.15473 m, 0.8263 of the flow at full speed."""
    slow = point(SUCTION, replace(PUMP, speed=5.0 / 6.0), RETURN)
    assert slow.flow_m3s / LITRE_PER_HOUR == pytest.approx(723.357, rel=3e-3)
    assert slow.head_m == pytest.approx(1.15473, rel=3e-3)
    assert slow.flow_m3s / point(SUCTION, PUMP, RETURN).flow_m3s == pytest.approx(0.8263, rel=1e-3)


def test_two_pumps_in_series_add_their_heads() -> None:
    """Independent Darcy solver: 1076.066 l/h at 2.42685 m."""
    both = point(SUCTION, PUMP, replace(PUMP, label="second"), RETURN)
    assert both.flow_m3s / LITRE_PER_HOUR == pytest.approx(1076.066, rel=3e-3)
    assert both.head_m == pytest.approx(2.42685, rel=3e-3)


@pytest.mark.parametrize(
    ("linear", "quadratic", "expected_l_h", "media_head_m"),
    [(0.969949, 892.299, 1047.312, 0.36e-3), (96.9949, 8922.99, 1041.335, 28.8e-3)],
    ids=["clean", "permeability / 100"],
)
def test_a_bed_of_foam_costs_next_to_nothing_clean_and_little_at_a_hundredth_of_its_permeability(
    linear: float, quadratic: float, expected_l_h: float, media_head_m: float
) -> None:
    """Closed quadratic by hand: sum of K 12 on 16 mm, foam 0.04 m2 x 0.05 m of K 1.2e-7 m2 and c_F 0.097 (Forchheimer)."""
    bends = Element(place="bends", label="bends", loss=Loss(quadratic=velocity_heads(12.0, 0.016)))
    foam = Element(place="foam", label="foam", loss=Loss(linear=linear, quadratic=quadratic))
    found = point(bends, foam, PUMP)
    assert found.flow_m3s / LITRE_PER_HOUR == pytest.approx(expected_l_h, rel=3e-3)
    assert element_head_m(foam, found.flow_m3s, KINEMATIC_M2S) == pytest.approx(media_head_m, rel=0.02)
    by_hand = _closed_quadratic(velocity_heads(12.0, 0.016) + quadratic, linear)
    assert found.flow_m3s == pytest.approx(by_hand, rel=1e-12)


def _closed_quadratic(quadratic: float, linear: float) -> float:
    whole = quadratic + 2.5 / (1500.0 * LITRE_PER_HOUR) ** 2
    return (-linear + math.sqrt(linear**2 + 4.0 * whole * 2.5)) / (2.0 * whole)


def test_the_order_of_elements_in_series_does_not_change_the_flow() -> None:
    """Heads add up whatever their order."""
    valve = Element(place="valve", label="valve", loss=Loss(lift_m=0.1, linear=20.0, quadratic=4e6))
    flows = [litres(*order) for order in itertools.permutations([SUCTION, PUMP, RETURN, valve])]
    assert flows == pytest.approx([flows[0]] * len(flows), rel=1e-11)


def test_without_any_loss_the_flow_is_the_free_flow_of_the_label() -> None:
    """Greatest flow is the flow at no head."""
    flows = [litres(PUMP, Element(place="loss", label="loss", loss=Loss(quadratic=q))) for q in (1e4, 1e2, 1.0, 0.0)]
    assert flows == sorted(flows)
    assert flows[-1] == pytest.approx(1500.0, rel=1e-9)


def test_a_pump_that_cannot_lift_the_water_gives_no_flow() -> None:
    """Greatest head is the head at no flow: an outlet as high as that is dry."""
    for lift_m in (2.5, 3.0):
        dry = Element(place="outlet", label="outlet", loss=Loss(lift_m=lift_m))
        assert point(SUCTION, PUMP, dry) == OperatingPoint(flow_m3s=0.0, head_m=0.0, status="no flow")
    wet = Element(place="outlet", label="outlet", loss=Loss(lift_m=2.499))
    assert point(SUCTION, PUMP, wet).status == "flows"


def test_a_loop_without_a_pump_is_refused() -> None:
    """Nothing moves the water."""
    with pytest.raises(ValueError, match="a loop without a pump has no operating point"):
        point(SUCTION, RETURN)


def test_a_pump_through_points_has_the_heads_of_its_points() -> None:
    """A measured curve goes through what was measured, and scales with the speed by the affinity laws."""
    curve = PumpCurve(flows_m3s=(0.0, 2e-4, 3e-4, 4e-4), heads_m=(2.0, 1.6, 1.0, 0.0))
    for flow, head in zip(curve.flows_m3s, curve.heads_m, strict=True):
        assert pump_head_m(curve, 1.0, flow) == pytest.approx(head, abs=1e-12)
        assert pump_head_m(curve, 0.8, 0.8 * flow) == pytest.approx(0.64 * head, abs=1e-12)


def test_still_water_rubs_nowhere() -> None:
    """No division by a Reynolds number of nought."""
    assert run_head_m(Run(bore_m=0.016, length_m=2.0, roughness_m=0.0), 0.0, KINEMATIC_M2S) == 0.0


def test_a_run_that_lies_in_a_coil_loses_more_than_a_straight_one() -> None:
    """White (1929) and Ito (1959): curvature raises friction in laminar and turbulent flow."""
    straight = Run(bore_m=0.016, length_m=2.0, roughness_m=0.0)
    for litres_per_hour in (40.0, 400.0, 1500.0):
        flow = litres_per_hour * LITRE_PER_HOUR
        coiled = run_head_m(replace(straight, coil_m=0.3), flow, KINEMATIC_M2S)
        assert coiled > 1.01 * run_head_m(straight, flow, KINEMATIC_M2S)


LOSSES = st.builds(
    Loss,
    lift_m=st.floats(0.0, 1.0),
    linear=st.floats(0.0, 2e3),
    quadratic=st.floats(1e4, 1e9),
    run=st.none() | st.builds(Run, bore_m=st.floats(0.008, 0.03), length_m=st.floats(0.1, 5.0), roughness_m=st.floats(0.0, 1e-4)),
)


def _ring(losses: Sequence[Loss]) -> list[Element]:
    return [PUMP, *(Element(place="part", label="part", loss=loss) for loss in losses)]


@given(st.lists(LOSSES, min_size=1, max_size=3), LOSSES)
def test_more_loss_never_raises_the_flow(losses: list[Loss], more: Loss) -> None:
    """The law that the whole search rests on."""
    assert point(*_ring([*losses, more])).flow_m3s <= point(*_ring(losses)).flow_m3s * (1 + 1e-12)


@given(st.lists(LOSSES, min_size=1, max_size=3))
def test_at_the_operating_point_the_heads_round_the_loop_add_up_to_nothing(losses: list[Loss]) -> None:
    """Energy: what the pump puts in, the parts take out."""
    ring = _ring(losses)
    found = point(*ring)
    assume(found.status == "flows")
    left = sum(element_head_m(element, found.flow_m3s, KINEMATIC_M2S) for element in ring)
    assert left == pytest.approx(0.0, abs=1e-9)
    assert found.head_m == pytest.approx(pump_head_m(CURVE, 1.0, found.flow_m3s), rel=1e-12)
