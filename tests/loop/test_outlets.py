"""Many outlets on one loop at once, against the scalar operating point of each."""

import math
import random

import numpy as np
import pytest

from optimizer.loop.element_loops import flows_with
from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.operating import operating_point
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve

KINEMATIC_M2S = 0.9e-6


def random_loop(seed: int) -> list[Element]:
    """A pump by label or by points, hoses straight and coiled, and losses."""
    chance = random.Random(seed)
    most, head = chance.uniform(1e-4, 8e-4), chance.uniform(0.8, 3.0)
    points = PumpCurve(flows_m3s=(0.0, 0.4 * most, 0.75 * most, most), heads_m=(head, 0.85 * head, 0.5 * head, 0.0))
    label = PumpCurve(flows_m3s=(0.0, most), heads_m=(head, 0.0), shape=chance.uniform(1.0, 3.0))
    curve = chance.choice([points, label])
    hoses = [
        Run(
            bore_m=chance.choice([0.009, 0.012, 0.016, 0.019]),
            length_m=chance.uniform(0.3, 3.0),
            roughness_m=1.5e-6,
            factor=chance.choice([1.0, 2.0]),
            coil_m=chance.choice([math.inf, 0.3]),
        )
        for _ in range(chance.randint(0, 3))
    ]
    rest = Loss(lift_m=chance.choice([0.0, 0.1]), linear=chance.uniform(0.0, 100.0), quadratic=chance.uniform(0.0, 1e7))
    elements = [Element(place="pump", label="pump", loss=Loss(), curve=curve, speed=chance.uniform(0.7, 1.2))]
    elements += [Element(place="hose", label="hose", loss=Loss(run=run)) for run in hoses]
    return [*elements, Element(place="rest", label="rest", loss=rest)]


@pytest.mark.parametrize("seed", range(40))
def test_every_outlet_flows_as_when_it_is_solved_alone(seed: int) -> None:
    """The scalar path shares no evaluation with the batch."""
    elements = random_loop(seed)
    quadratics = np.array([0.0, *np.geomspace(1e3, 1e12, 19)])
    found = flows_with(elements, quadratics, KINEMATIC_M2S)
    for quadratic, flow in zip(quadratics, found, strict=True):
        outlet = Element(place="outlet", label="outlet", loss=Loss(quadratic=float(quadratic)))
        alone = operating_point(loop_graph([*elements, outlet]), KINEMATIC_M2S)
        assert flow == pytest.approx(alone.flow_m3s, rel=1e-9)
    assert (np.diff(found) < 0.0).all(), "more loss never flows more"


def test_a_pump_that_cannot_lift_the_water_moves_none() -> None:
    """Lift of 2 m against 1 m of head at no flow."""
    curve = PumpCurve(flows_m3s=(0.0, 1e-4), heads_m=(1.0, 0.0), shape=2.0)
    pump = Element(place="pump", label="pump", loss=Loss(lift_m=2.0), curve=curve)
    assert flows_with([pump], np.array([1e6, 1e7]), KINEMATIC_M2S).tolist() == [0.0, 0.0]


def test_a_loop_without_a_pump_is_refused() -> None:
    with pytest.raises(ValueError, match="exactly one pump"):
        flows_with([Element(place="rest", label="rest", loss=Loss())], np.array([1e6]), KINEMATIC_M2S)
