"""Days until something is missed, what clogs first, averages: against finer courses, plain formulas and the pressure profile."""

import math
from dataclasses import replace

import numpy as np
import pytest
from dirt_cases import LITRE_PER_HOUR, TAIL, fed, floss, foam, rings, setup, sponge, steel

from optimizer.dirt.course import course
from optimizer.dirt.course_readings import days_until_flow, first_below, inlet_heads_m, mean_flow_m3s, misses, rises
from optimizer.loop.operating import element_head_m
from optimizer.loop.profile import Stretch, stations
from optimizer.model.limits import Limits
from optimizer.model.parts import Device, Guard, Outlet

FREE = Limits().without(*Limits().binding)
FLOSSY = setup([foam(20), rings(), floss(0.1)])
HEATER = Device(
    id="heater",
    name="heater",
    inlet=TAIL,
    outlet=TAIL,
    quadratic=1e6,
    flow_min_m3s=350 * LITRE_PER_HOUR,
    flow_max_m3s=640 * LITRE_PER_HOUR,
)


def test_margins_run_straight_between_days() -> None:
    days = np.array([0.0, 2.0, 4.0, 6.0])
    assert first_below(days, np.array([1.0, 0.5, -0.5, -1.0])) == 3.0
    assert first_below(days, np.array([-0.1, 1.0, 1.0, 1.0])) == 0.0
    assert first_below(days, np.array([1.0, 0.0, 1.0, 0.0])) == math.inf
    assert first_below(days, np.array([1.0, 0.0, -1.0, 0.0])) == 2.0


@pytest.mark.parametrize("share", [0.95, 0.8, 0.6])
def test_days_until_a_flow_by_a_brute_force_daily_loop(share: float) -> None:
    """Naive: walk a course of small steps until the flow is too low."""
    found, fine = (course(FLOSSY, fed(8.0), 90.0, step_days=step) for step in (1.0, 0.1))
    least = share * found.flow_m3s[0]
    day = next(float(day) for day, flow in zip(fine.days, fine.flow_m3s, strict=True) if flow < least)
    assert days_until_flow(found, least) == pytest.approx(day, abs=0.6)
    [target] = misses(found, FREE, target_m3s=least)
    assert (target.name, target.day) == ("target", days_until_flow(found, least))


def test_what_is_missed_comes_in_order_of_time() -> None:
    loop = setup([foam(20), rings(), floss(0.1)], sponge(), device=HEATER)
    found = course(loop, fed(), 90.0)
    limits = replace(FREE, device_windows=True, flow_min_m3s=0.9 * found.flow_m3s[0], flow_max_m3s=1e-2, inlet_head_m=-5.0)
    missed = misses(found, limits, target_m3s=0.8 * found.flow_m3s[0])
    days = [miss.day for miss in missed]
    assert days == sorted(days)
    by_name = {miss.name: miss for miss in missed}
    assert by_name["flow_min_m3s"].day < by_name["target"].day < 90.0
    assert by_name["flow_max_m3s"].day == by_name["inlet_head_m"].day == math.inf
    assert by_name["device_windows"].place == "device"
    assert misses(found, FREE) == ()


def test_a_window_is_watched_from_both_sides() -> None:
    """Above the upper bound on the clean day: missed at once; below the lower one later; in between for ever."""
    high = course(setup([foam(20)], device=HEATER), fed(), 5.0)
    held = course(setup([foam(20), floss(0.1)], device=HEATER, ceiling_m3s=600 * LITRE_PER_HOUR), fed(10.0), 90.0)
    windows = replace(FREE, device_windows=True)
    assert high.flow_m3s[0] > HEATER.flow_max_m3s
    assert misses(high, windows)[0].day == 0.0
    day = misses(held, windows)[0].day
    assert 0.0 < day < 90.0
    assert float(np.interp(day, held.days, held.flow_m3s)) == pytest.approx(HEATER.flow_min_m3s, rel=1e-9)


def test_speed_in_front_of_a_guard_that_blocks() -> None:
    """By hand: flow over what is open of the face; a guard that blocks quickens the water although there is less of it."""
    found = course(setup([foam(20)], steel()), fed(3.0, 0.2), 20.0)
    guard = found.loop.guards[0][1]
    assert isinstance(guard, Guard)
    speeds = found.flow_m3s / (guard.face_area_m2 * (1.0 - found.blocked))
    limit = 2.0 * float(speeds[0])
    [miss] = misses(found, replace(FREE, guard_speed_ms=limit))
    before = int(np.flatnonzero(speeds > limit)[0]) - 1
    assert (miss.name, miss.place) == ("guard_speed_ms", "intake")
    assert found.days[before] <= miss.day <= found.days[before + 1]


def test_jets_are_fastest_on_the_clean_day() -> None:
    """By hand: flow over the area of the mouth. Less water makes slower jets, so what keeps the limit when clean keeps it."""
    found = course(setup([foam(20)]), fed(3.0), 20.0)
    outlet = found.loop.stands[-1].part
    assert isinstance(outlet, Outlet)
    clean = float(found.flow_m3s[0]) / (np.pi * outlet.hole_m**2 / 4.0)
    assert outlet.form == "open" and found.flow_m3s[-1] < found.flow_m3s[0]
    assert [miss.day for miss in misses(found, replace(FREE, jet_speed_ms=1.001 * clean))] == [np.inf]
    [miss] = misses(found, replace(FREE, jet_speed_ms=0.999 * clean))
    assert (miss.name, miss.place, miss.day) == ("jet_speed_ms", found.loop.stands[-1].position.name, 0.0)


def test_pressure_at_the_inlet_of_the_pump() -> None:
    """The energy equation station by station (`loop/profile.py`), with the pump's depth as the level of its inlet."""
    found = course(setup([foam(20), floss(0.1)], sponge(40.0)), fed(8.0, 0.3), 60.0, step_days=5.0)
    heads = inlet_heads_m(found)
    for day in (0, 4, 12):
        flow = float(found.flow_m3s[day])
        elements = found.elements(day)
        here = next(n for n, e in enumerate(elements) if e.curve is not None)
        way = [Stretch(place=e.place, loss_m=element_head_m(e, flow, found.loop.water.kinematic_m2s)) for e in elements[:here]]
        inlet = stations([*way, Stretch(place="pump", loss_m=0.0, inlet_bore_m=0.012, level_m=-0.9)], flow)[2 * here]
        assert inlet.end == "inlet"
        assert heads[day] == pytest.approx(inlet.head_m, abs=1e-9)
    lowest = int(np.argmin(heads))
    [miss] = misses(found, replace(FREE, inlet_head_m=float(heads[lowest]) + 1e-6))
    assert float(np.interp(miss.day, found.days, heads)) == pytest.approx(float(heads[lowest]), abs=2e-6)


def test_what_clogs_first() -> None:
    """Packed floss before foam and rings; a fine guard in rank plants before any medium."""
    assert rises(course(FLOSSY, fed(), 60.0))[0].place == "canister, tray 3"
    planted = course(setup([foam(20), rings(), floss()], steel()), fed(3.0, 0.2), 20.0)
    assert rises(planted)[0].place == "intake"


def test_shares_are_of_all_losses() -> None:
    """All shares add up to one on both days, and all heads (lift counted apart) to what the pump gives."""
    found = course(setup([foam(20), floss()], lift_m=0.1), fed(), 40.0)
    places = rises(found)
    assert sum(rise.first_share for rise in places) == pytest.approx(1.0)
    assert sum(rise.later_share for rise in places) == pytest.approx(1.0)
    pump = next(e for e in found.elements(len(found.days) - 1) if e.curve is not None)
    given = -element_head_m(pump, float(found.flow_m3s[-1]), found.loop.water.kinematic_m2s)
    assert sum(rise.later_m for rise in places) + 0.1 == pytest.approx(given, rel=1e-8)
    assert [rise.risen for rise in places] == sorted((rise.risen for rise in places), reverse=True)


def test_mean_flow_is_that_of_finer_days() -> None:
    coarse, fine = (mean_flow_m3s(course(FLOSSY, fed(), 60.0, step_days=step)) for step in (1.0, 0.1))
    assert coarse == pytest.approx(fine, rel=5e-3)
    once = course(FLOSSY, fed(), 0.0)
    assert mean_flow_m3s(once) == once.flow_m3s[0]
