"""The jets of an answer: they carry the flow, obey Torricelli, and are as even as manifold theory has them."""

import math
from dataclasses import replace

import pytest
from small_worlds import bar, mouth, tail, world

from optimizer.answers.jets import jets
from optimizer.answers.question import stands_now
from optimizer.loop.terms import bar_of
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Outlet
from optimizer.model.rig import Rig
from optimizer.model.state import State

NOTHING = Catalog(parts={}, products=())

# First and last hole in l/h of a 16 mm bar at 30 mm pitch, Cd 0.62, 800 l/h: march without, then with full regain of the velocity
# head, friction as EPANET has it; 12 x 4 mm without regain was solved again by EPANET with emitters (equal within 2e-5 m).
MARCHES = [
    (12, 3, (66.98, 66.53), (65.73, 67.20)),
    (12, 4, (67.65, 66.25), (63.69, 68.39)),
    (20, 4, (42.81, 38.87), (35.87, 42.62)),
    (24, 5, (42.08, 29.76), (24.14, 40.75)),
]
Pair = tuple[float, float]


def with_outlet(outlet: Outlet, film_m: float = 0.0) -> Rig:
    """A small world that ends with an outlet, 2 cm under water."""
    rig, _ = world(1)
    inlet = next(p.installed for p in rig.positions if p.kind == "outlet")
    assert isinstance(inlet, Outlet)
    last = replace(
        rig.positions[-1],
        installed=replace(outlet, inlet=inlet.inlet),
        height_m=-0.02,
        adjusts=(),
        state=State(film_m=film_m),
    )
    return replace(rig, positions=(*rig.positions[:-1], last))


@pytest.mark.parametrize("film_m", [0.0, 0.3e-3])
def test_the_jets_carry_all_the_flow(film_m: float) -> None:
    """Continuity: speeds times areas of the open holes add up to the delivered flow."""
    rig = with_outlet(bar("B", tail(16, 12), 14, 3.0), film_m)
    stands = stands_now(rig, NOTHING)
    found = next(jets("now", stands), None)
    assert found is not None
    assert found.hole_m == pytest.approx(3e-3 - 2.0 * film_m)
    assert len(found.speeds_ms) == found.holes == 14
    area = math.pi / 4.0 * (3e-3 - 2.0 * film_m) ** 2
    assert sum(found.speeds_ms) * area == pytest.approx(stands.flow_m3s, rel=1e-12)


@pytest.mark.parametrize(("holes", "hole_mm", "without", "full"), MARCHES)
def test_first_and_last_jet_differ_by_as_much_as_some_regain_lets_them(
    holes: int, hole_mm: float, without: Pair, full: Pair
) -> None:
    """Marches along a spray bar (see above); the share of regain in a bar is from 0.5 to 0.9 (from memory), so in between."""
    made = replace(bar("B", tail(16, 12), holes, hole_mm), bar_bore_m=0.016, pitch_m=0.03)
    found = next(jets("now", stands_now(with_outlet(made), NOTHING)), None)
    assert found is not None
    assert full[0] / full[1] < found.speeds_ms[0] / found.speeds_ms[-1] < without[0] / without[1]
    assert found.evenness > full[0] / full[1]
    assert found.evenness == pytest.approx(min(found.speeds_ms) / max(found.speeds_ms), rel=1e-12)


def test_a_jet_of_a_wide_bar_is_torricelli_times_the_discharge_coefficient() -> None:
    """v = Cd sqrt(2 g h) (Torricelli), h the head in the bar above the water outside; with a bore of 60 mm nothing else acts."""
    wide = replace(bar("B", tail(16, 12), 10, 3.0), bar_bore_m=0.06)
    rig = with_outlet(wide)
    stands = stands_now(rig, NOTHING)
    found = next(jets("now", stands), None)
    assert found is not None
    option = stands.options[-1]
    assert isinstance(option.part, Outlet)
    head = bar_of(option.part, option.state).gauge_quadratic_s2m5 * stands.flow_m3s**2
    assert head > 0.05
    for speed in found.speeds_ms:
        assert speed == pytest.approx(0.62 * math.sqrt(2.0 * 9.80665 * head), rel=2e-3)


def test_an_outlet_without_holes_has_no_jets() -> None:
    rig = with_outlet(mouth("M", tail(16, 12), 16.0))
    assert not list(jets("now", stands_now(rig, NOTHING)))
