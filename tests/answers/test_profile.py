"""The pressure profile of an answer agrees with the limit that the search enforces, closes at the outlet, and says its margin."""

import math
from dataclasses import replace

import pytest
from small_worlds import LITRE_PER_HOUR, hose, label_curve, large_world, pump, tail, world

from optimizer.answers.profile import profile
from optimizer.answers.question import stands_now
from optimizer.answers.rows import Standing, standing
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.parts import Hose, Kind
from optimizer.model.results import PressureProfile
from optimizer.model.rig import Rig
from optimizer.physics.water import Water, density_kgm3
from optimizer.search.best import Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

NOTHING = Catalog(parts={}, products=())


def water_of(rig: Rig) -> Water:
    """The water of a rig."""
    return Water(temperature_c=rig.tank.temperature_c, salinity_gkg=rig.tank.salinity_gkg)


def of(rig: Rig, stands: Standing) -> PressureProfile:
    """The profile of a loop that flows."""
    found = profile("row", rig, water_of(rig), stands)
    assert found is not None
    return found


def best_of(rig: Rig, catalog: Catalog) -> Standing | None:
    """The best bundle as it stands, held where a ceiling holds it."""
    seeker = Seeker(build(choices(rig, catalog, rig.limits)))
    found = seeker.most_flow().found
    if found is None:
        return None
    joints = [seeker.problem.joint(row) for row in found.bundle.path.joints]
    held = (found.flow_m3s, found.delivered.held_by) if found.delivered.held_by else None
    return standing(rig, water_of(rig), seeker.options_of(found.bundle), joints, found.bundle.price, held)


@pytest.mark.parametrize("chunk", range(4))
def test_the_pump_inlet_of_the_profile_is_the_one_the_search_limits(chunk: int) -> None:
    """Random worlds with adapters, films, throttles and lifts; the way ends at the pressure outside, so the energy closes."""
    adapters, throttled = 0, 0
    for seed in range(chunk * 12, chunk * 12 + 12):
        rig, catalog = large_world(seed) if seed % 4 == 3 else world(seed)
        for stands in (stands_now(rig, NOTHING), best_of(rig, catalog)):
            if stands is None or stands.flow_m3s == 0.0:
                continue
            found = of(rig, stands)
            inlet = [point for point in found.points if point.suction][-1]
            assert (inlet.place, inlet.end) == ("pump", "inlet")
            assert inlet.head_m == pytest.approx(stands.inlet_head_m, abs=1e-9)
            height = stands.options[-1].height_m
            assert found.points[-1].head_m == pytest.approx(max(-height, 0.0), abs=1e-9), (seed, stands.held_by)
            assert found.lowest.head_m == min(point.head_m for point in found.points if point.suction)
            adapters += sum(": " in point.place for point in found.points)
            throttled += bool(stands.held_by)
    assert adapters > 0
    assert chunk != 0 or throttled > 0


def test_pressures_in_pascal_are_heads_of_the_tank_water() -> None:
    """p = rho g h with the density of IAPWS (fresh water of 25 degC: 997.05 kg/m3), g = 9.80665 m/s2."""
    rig, _ = world(1)
    found = of(rig, stands_now(rig, NOTHING))
    for point in found.points:
        assert point.pressure_pa == pytest.approx(997.048 * 9.80665 * point.head_m, rel=1e-4)
    sea = replace(rig, tank=replace(rig.tank, salinity_gkg=35.0))
    heavy = of(sea, stands_now(sea, NOTHING)).points[2]
    assert heavy.pressure_pa == pytest.approx(float(density_kgm3(25.0, 35.0)) * 9.80665 * heavy.head_m, rel=1e-12)


def deepened(rig: Rig, kind: str, depth_m: float) -> Rig:
    """The rig with one kind of part at another depth."""
    places = tuple(replace(p, depth_m=depth_m) if p.kind == kind else p for p in rig.positions)
    return replace(rig, positions=places)


def test_a_deeper_pump_gains_its_depth_and_a_slower_flow_gains_too() -> None:
    """The flow does not hang on the depth under water, so the pressure at the inlet rises by just as much."""
    rig, _ = world(1)
    stands = stands_now(rig, NOTHING)
    depth = rig.positions[rig.index(Kind.PUMP)].depth_m
    lower = deepened(rig, Kind.PUMP, depth + 0.5)
    gained = of(lower, stands_now(lower, NOTHING)).joint.head_m - of(rig, stands).joint.head_m
    assert 0.0 < gained <= 0.5 + 1e-9, "the pump or another joint is the least"
    held = standing(rig, water_of(rig), stands.options, stands.joints, 0, (0.5 * stands.own_m3s, "flow_max_m3s"))
    slow, fast = of(rig, held), of(rig, stands)
    for calm, quick in zip(slow.points, fast.points, strict=True):
        if calm.suction and calm.level_m < 0.0:
            assert calm.head_m > quick.head_m
    assert slow.lowest.head_m > fast.lowest.head_m


def test_a_pump_too_high_draws_air_there_and_the_margin_is_negative() -> None:
    """With the pump 2 cm below the water all that is lost on the way is missing."""
    rig = deepened(world(1)[0], Kind.PUMP, 0.02)
    stands = stands_now(rig, NOTHING)
    found = of(rig, stands)
    assert stands.inlet_head_m < 0.0
    assert found.joint.head_m == pytest.approx(stands.inlet_head_m)
    assert (found.joint.place, found.joint.end) == ("pump", "inlet")


def test_the_hose_margin_is_the_least_pressure_in_a_hose_below_the_water_line() -> None:
    """By hand: the outlet of the suction hose stands 1.2 m down, less all that guard, joint and hose took, less v2/2g."""
    rig, _ = world(1)
    stands = stands_now(rig, NOTHING)
    found = of(rig, stands)
    run = stands.elements[2].loss.run
    assert run is not None
    assert isinstance(stands.options[1].part, Hose)
    speed = stands.flow_m3s / (math.pi * run.bore_m**2 / 4.0)
    assert found.hose is not None
    assert (found.hose.place, found.hose.end) == ("suction", "outlet")
    assert found.hose.head_m == pytest.approx(1.2 - sum(stands.heads_m[:3]) - speed**2 / (2.0 * 9.80665), abs=1e-12)


def test_a_canister_before_the_pump_bears_its_depth_and_one_behind_it_the_head_at_no_flow_as_well() -> None:
    """By hand: 1.2 m of depth; 1.2 m + 1.5 m x 0.9^2 with a pump of 1.5 m at 0.9 of its speed in front."""
    rig, _ = world(1)
    rig = replace(rig, limits=Limits(), positions=tuple(replace(p, adjusts=()) for p in rig.positions))
    body = replace(rig.canister, rating_m=3.0, outlet=tail(16, 12), inlet=tail(16, 12))
    motor = pump("motor", tail(16, 12), tail(16, 12), label_curve(1.5, 1200.0))
    by_kind = {p.kind: p for p in rig.positions}
    canister = replace(by_kind[Kind.CANISTER], installed=body, depth_m=1.2)
    driver = replace(by_kind[Kind.PUMP], installed=motor, depth_m=1.0, state=replace(by_kind[Kind.PUMP].state, fouled=0.1))
    link = replace(by_kind[Kind.HOSE], name="link", installed=hose("link", 16), length_m=0.3)
    first, last = rig.positions[0], rig.positions[-1]
    ends = (replace(first, installed=replace(first.installed, outlet=tail(16, 12))),)
    out = (replace(last, installed=replace(last.installed, inlet=tail(16, 12))),)
    suction, back = replace(link, name="suction", length_m=1.5), replace(link, name="return", length_m=1.5)
    pulled = replace(rig, positions=(*ends, suction, canister, link, driver, back, *out))
    pushed = replace(rig, positions=(*ends, suction, driver, link, canister, back, *out))
    before, behind = (of(each, stands_now(each, NOTHING)) for each in (pulled, pushed))
    assert before.canister_shut_m == pytest.approx(1.2)
    assert before.canister_margin_m == pytest.approx(1.8)
    assert behind.canister_shut_m == pytest.approx(1.2 + 1.5 * 0.81)
    assert behind.canister_margin_m == pytest.approx(3.0 - 1.2 - 1.5 * 0.81)
    assert before.canister_m < 1.2 < behind.canister_m < behind.canister_shut_m
    free = replace(rig, positions=tuple(replace(p, installed=replace(body, rating_m=math.inf)) if p is canister else p
                                        for p in pulled.positions))  # fmt: skip
    assert of(free, stands_now(free, NOTHING)).canister_margin_m == math.inf


def test_without_flow_there_is_no_profile() -> None:
    """An outlet 9 m up is above any pump of the worlds."""
    rig, _ = world(1)
    high = replace(rig, positions=(*rig.positions[:-1], replace(rig.positions[-1], height_m=9.0, adjusts=())))
    stands = stands_now(high, NOTHING)
    assert stands.flow_m3s < LITRE_PER_HOUR
    assert profile("now", high, water_of(high), stands) is None


def test_at_the_rim_the_pressure_is_less_by_all_that_the_hose_climbs() -> None:
    """By hand: no depth, less the losses of guard, joint and so much of the hose as it climbs, less v2/2g, less the 10 cm."""
    rig = replace(world(1)[0], rim_m=0.1)
    stands = stands_now(rig, NOTHING)
    found = of(rig, stands)
    run = stands.elements[2].loss.run
    assert run is not None
    speed = stands.flow_m3s / (math.pi * run.bore_m**2 / 4.0)
    length_m = next(p.length_m for p in rig.positions if p.name == "suction")
    lost = sum(stands.heads_m[:2]) + stands.heads_m[2] * 0.1 / length_m
    (crest,) = [point for point in found.points if point.end == "rim" and point.suction]
    assert (crest.place, crest.level_m, found.rim_m) == ("suction", 0.1, 0.1)
    assert crest.head_m == pytest.approx(-lost - speed**2 / (2.0 * 9.80665) - 0.1, abs=1e-12)
    assert found.lowest == crest
    assert found.hose == crest
    assert found.joint.end != "rim", "no joint hangs at the rim"


def test_a_rim_moves_nothing_but_what_hangs_there_and_air_comes_in_behind_it() -> None:
    """Pump, canister and outlet are where they were; all between the rim and the pump is outside the tank."""
    for seed in range(0, 12, 3):
        rig, _ = world(seed)
        stands = stands_now(rig, NOTHING)
        plain, over = of(rig, stands), of(replace(rig, rim_m=0.05), stands)
        there = {(p.place, p.end): p.head_m for p in over.points}
        for point in plain.points:
            if point.level_m in (0.0, -rig.positions[rig.index(Kind.PUMP)].depth_m):
                assert there[point.place, point.end] == pytest.approx(point.head_m, abs=1e-9)
        assert [p.end for p in over.points].count("rim") == 1 + (stands.options[-1].height_m < 0.05)
        crest = next(n for n, p in enumerate(over.points) if p.end == "rim")
        pump = max(n for n, p in enumerate(over.points) if p.suction)
        assert all(point.in_air for point in over.points[crest : pump + 1])
        assert not any(point.in_air for point in over.points[:crest])


def test_a_hose_does_not_come_down_to_an_outlet_above_the_rim() -> None:
    """A trickle outlet 30 cm up: only the suction hose has a crest."""
    rig, _ = world(1)
    high = replace(rig, rim_m=0.05, positions=(*rig.positions[:-1], replace(rig.positions[-1], height_m=0.3, adjusts=())))
    found = of(high, stands_now(high, NOTHING))
    assert [(p.end, p.suction) for p in found.points if p.end == "rim"] == [("rim", True)]
