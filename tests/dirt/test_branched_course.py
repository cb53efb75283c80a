"""Loops with branches over time: against a naive daily walk of the rig itself, the scalar solvers, and laws of symmetry."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from branched_worlds import branched_world
from dirt_cases import fed, floss, foam, rings, setup, slots, sponge, steel
from network.branched import branched_graph
from network.solver import solve_network
from separable import arrival_of, separable_courses

from optimizer.answers.question import stands_now
from optimizer.answers.rows import Standing
from optimizer.dirt.course import Course, course
from optimizer.dirt.course_readings import misses, rises
from optimizer.dirt.laws import VOIDAGE
from optimizer.dirt.stages import stages_of
from optimizer.loop.operating import element_head_m
from optimizer.loop.standing import Fork, Joint, Stand, StandingLoop, Tee, standing_loop
from optimizer.loop.terms import change_quadratic
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.losses import TeeShape
from optimizer.model.parts import Device, Guard
from optimizer.model.rig import Position, Rig
from optimizer.model.state import State

WIDE = TeeShape(run_bore_m=20.0, branch_bore_m=20.0)
"""A tee that loses nothing."""

FEED_KG, DEBRIS_KG, DAYS = 8e-3, 0.4e-3, 12
DAILY = fed(FEED_KG * 1e3, DEBRIS_KG * 1e3)


@cache
def worlds() -> dict[str, tuple[Rig, ...]]:
    """Random rigs whose branches are there, two by each kind of place, that flow."""
    found: dict[str, list[Rig]] = {}
    for seed in range(60):
        rig = branched_world(seed)[0]
        place = next(position for position in rig.positions if position.branches)
        if place.branches[1].installed and len(found.setdefault(place.name, [])) < 2:
            found[place.name].append(rig)
    return {name: tuple(rigs) for name, rigs in found.items()}


def stands(rig: Rig) -> Standing:
    """The rig as it is, solved by the scalar path of the verdict."""
    return stands_now(rig, Catalog(parts={}, products=()))


def followed(rig: Rig, days: float = DAYS) -> Course:
    """The course of a rig from as it is."""
    now = stands(rig)
    return course(standing_loop(rig, now.options, now.joints), DAILY, days)


def every_place(rig: Rig, change: object) -> Rig:
    """A rig with a function of a position put to all that hold a part."""

    def each(position: Position) -> Position:
        if not position.branches:
            return change(position)  # type: ignore[operator, no-any-return]
        inner = tuple(replace(b, positions=tuple(each(p) for p in b.positions)) for b in position.branches)
        return replace(position, branches=inner)

    return replace(rig, positions=tuple(each(position) for position in rig.positions))


def guards_of(rig: Rig) -> list[Position]:
    return [position for position in rig.every_position if position.kind == "guard" and position.installed is not None]


def naive(rig: Rig, days: int, slices: int = 200, classes: int = 2000) -> list[tuple[float, tuple[float, ...]]]:
    """Total and branch flows, day by day: dirt in size classes one by one, media in slices, the rig solved as it stands.

    Sizes of debris are exponential with a mean of 1.2 mm (`SCRAP`); a class is stopped by every guard whose openings are smaller,
    and by the face of the medium where its pores are. Solids tear at a guard that is finer than they are.
    """
    sizes = -1.2e-3 * np.log(1.0 - (np.arange(classes) + 0.5) / classes)
    soft = 0.2e-3 * np.log(1.0 - (np.arange(classes) + 0.5) / classes) ** 2
    guards, held, cake = guards_of(rig), np.zeros(slices), 0.0
    medium = rig.trays[0].medium
    assert medium is not None
    first = [1.0 - position.state.blocked / 0.98 for position in guards]
    on_guard, found = np.zeros(len(guards)), []
    for day in range(days + 1):
        blocked = [0.98 * (1.0 - f * math.exp(-_covered(g, kg) / 0.98)) for f, g, kg in zip(first, guards, on_guard, strict=True)]
        now = stands(_dirtied(rig, day, {g.name: b for g, b in zip(guards, blocked, strict=True)}, held, cake))
        branches = now.branch_flows[0][1]
        found.append((now.flow_m3s, branches))
        shares = np.array(branches) / now.flow_m3s if len(guards) > 1 else np.array([1.0])
        turnover = now.flow_m3s * 3600.0 / rig.tank.net_m3
        depth = 2e-3 / math.sqrt(medium.permeability_m2) * rig.canister.tray_height_m / slices
        left = np.cumprod(np.exp(-depth * (1.0 - held)))
        kept = np.concatenate(([1.0], left[:-1])) - left
        stopped = np.array([sizes > g.installed.opening_m for g in guards])  # type: ignore[union-attr]
        by_guard = shares[:, None] * stopped
        in_media = (shares[:, None] * ~stopped).sum(axis=0)
        pore = 3.0 * math.sqrt(medium.permeability_m2)
        in_depth = in_media * np.where(sizes > pore, 1.0, kept.sum())
        through = DEBRIS_KG / classes * turnover / (0.5 + turnover * (by_guard.sum(axis=0) + in_depth))
        whole = [(soft > pore) & (soft <= g.installed.opening_m) for g in guards]  # type: ignore[union-attr]
        caked = float((shares[:, None] * whole).sum(axis=0).mean())
        solids = 0.25 * FEED_KG * (1.0 - caked) * turnover / (0.5 + turnover * kept.sum())
        on_guard += (by_guard * through).sum(axis=1)
        landed = 0.25 * FEED_KG * caked * turnover / (0.5 + turnover) + (in_media * through)[sizes > pore].sum()
        cake += landed * 0.0125 / rig.canister.tray_area_m2
        in_media = np.where(sizes > pore, 0.0, in_media)
        pores = VOIDAGE[medium.form] * rig.canister.tray_volume_m3 / slices
        held = np.minimum(held + (solids + (in_media * through).sum()) * kept * 0.0125 / (0.8 * pores), 1.0)
    return found


def _covered(position: Position, kg: float) -> float:
    guard = position.installed
    assert isinstance(guard, Guard)
    return kg * 5.0 / (guard.face_area_m2 * guard.open_fraction)


def _dirtied(rig: Rig, day: int, blocked: dict[str, float], held: np.ndarray, cake_m: float) -> Rig:
    film, fouled = 0.8e-3 * (1.0 - math.exp(-day / 60.0)), 0.1 * (1.0 - math.exp(-day / 90.0))
    states = {"hose": State(film_m=film), "fitting": State(film_m=film), "pump": State(fouled=fouled)}

    def dirty(position: Position) -> Position:
        state = State(blocked=blocked[position.name]) if position.name in blocked else states.get(position.kind, State())
        return replace(position, state=state)

    filled = 1.0 - float(np.mean((1.0 - 0.8 * held) ** -3.0)) ** (-1.0 / 3.0)
    return replace(every_place(rig, dirty), trays=(replace(rig.trays[0], state=State(filled=filled, cake_m=cake_m)),))


@pytest.mark.parametrize("where", ["intakes", "uv", "outlets"])
@pytest.mark.parametrize("which", [0, 1])
def test_a_naive_daily_walk_of_the_rig_gives_the_same_flows(where: str, which: int) -> None:
    """Independent: nothing of `dirt/` but the share of voids by form; flows by the scalar solver of the verdict."""
    rig = every_place(worlds()[where][which], lambda p: p if p.kind == "guard" else replace(p, state=State()))
    rig = replace(rig, trays=tuple(replace(tray, state=State()) for tray in rig.trays))
    found = followed(rig)
    for day, (total, branches) in enumerate(naive(rig, DAYS)):
        assert found.flow_m3s[day] == pytest.approx(total, rel=3e-3)
        assert found.branches_m3s[day, 0] == pytest.approx(branches, rel=6e-3, abs=3e-3 * total)
        assert found.branches_m3s[day, 0].sum() == pytest.approx(found.flow_m3s[day], rel=1e-12)


@pytest.mark.parametrize("where", ["intakes", "uv", "outlets"])
def test_every_day_is_solved_as_a_network_too(where: str) -> None:
    """`solve_network` knows branches and tees as edges of a graph and shares no code with the batch; it knows no throttles."""
    rig = every_place(worlds()[where][0], lambda p: replace(p, state=State()))
    found = followed(rig, 40.0)
    nu = found.loop.water.kinematic_m2s
    for day in (0, 17, 40):
        graph = branched_graph(found.elements(day))
        flows = solve_network(graph, nu).flow_m3s
        pump = next(edge for edge, data in graph.edges.items() if data["element"].curve is not None)
        assert found.own_m3s[day] == pytest.approx(flows[pump], rel=1e-6)
        for n in range(2):
            edge = next(edge for edge, data in graph.edges.items() if data.get("branch") == n)
            assert found.branches_m3s[day, 0, n] == pytest.approx(flows[edge], rel=1e-5, abs=1e-9)


def paired(guards: tuple[Guard, Guard], blocked: tuple[float, float] = (0.0, 0.0), shut: int | None = None) -> StandingLoop:
    """The loop of `dirt_cases`, with a guard on a hose in each of two branches in front of the suction hose, joined by a tee that
    loses nothing; ``shut``: a branch that lets nothing through."""
    plain = setup([foam(20), rings(), floss()], guards[0], blocked[0])
    hose = plain.stands[1]
    legs: list[Stand] = []
    for n, (guard, share) in enumerate(zip(guards, blocked, strict=True)):
        place = replace(plain.stands[0].position, name=f"intake {n}", installed=guard)
        legs.append(Stand(position=place, part=guard, state=State(blocked=share)))
        legs.append(replace(hose, position=replace(hose.position, name=f"leg {n}"), joint=Joint()))
    step = change_quadratic(0.012, 0.016)
    fork = Fork(
        place="intakes",
        names=("one", "two"),
        parts=((0, 2), (2, 4)),
        steps=tuple(1e30 if n == shut else step for n in range(2)),  # type: ignore[arg-type]
        meeting=Tee(shape=WIDE),
    )
    return replace(plain, stands=(*legs, replace(hose, joint=Joint()), *plain.stands[2:]), forks=(fork,))


@pytest.mark.parametrize("guard", [slots(), sponge()])
def test_branches_that_are_alike_stay_alike(guard: Guard) -> None:
    found = course(paired((guard, guard)), DAILY, 40.0)
    assert found.branches_m3s[:, 0, 0] == pytest.approx(found.branches_m3s[:, 0, 1], rel=1e-6)
    assert found.guards_blocked[:, 0] == pytest.approx(found.guards_blocked[:, 1], rel=1e-6)
    assert found.guards_blocked[-1, 0] > 0.05


def test_two_guards_last_longer_than_one() -> None:
    """Each has half of the debris and half of the flow."""
    two = course(paired((steel(), steel())), DAILY, 20.0)
    one = course(paired((steel(), steel()), shut=1), DAILY, 20.0)
    assert two.blocked[-1] < one.blocked[-1]
    assert two.flow_m3s[-1] > 1.1 * one.flow_m3s[-1]


@pytest.mark.parametrize("shut", [0, 1])
@pytest.mark.parametrize("guards", [(slots(), steel()), (sponge(), slots()), (steel(), sponge())])
def test_with_a_branch_shut_it_is_the_series_loop(guards: tuple[Guard, Guard], shut: int) -> None:
    """Whichever of a coarse and a fine guard is shut; the series loop is walked by `course.py`'s own way."""
    both = paired(guards, (0.1, 0.2), shut)
    kept = 2 * (1 - shut)
    series = (
        both.stands[kept],
        replace(both.stands[kept + 1], joint=Joint(quadratic=both.forks[0].steps[1 - shut])),
        *both.stands[4:],
    )
    alone = course(replace(both, stands=series, forks=()), DAILY, 30.0)
    found = course(both, DAILY, 30.0)
    assert found.flow_m3s == pytest.approx(alone.flow_m3s, rel=1e-7)
    assert found.guards_blocked[:, 1 - shut] == pytest.approx(alone.blocked, rel=1e-7)
    assert found.guards_blocked[:, shut] == pytest.approx(np.full(31, (0.1, 0.2)[shut]), rel=1e-6)
    assert found.filled == pytest.approx(alone.filled, rel=1e-7)
    assert found.cakes_m == pytest.approx(alone.cakes_m, rel=1e-7)


@pytest.mark.parametrize("guards", [(slots(), steel()), (sponge(), slots()), (steel(), sponge())])
def test_what_is_fed_is_on_the_guards_in_the_trays_or_left(guards: tuple[Guard, Guard]) -> None:
    """Made from days and feeding; caught from what layers hold at the end; left step by step."""
    ledger = course(paired(guards), DAILY, 50.0).ledger
    assert ledger is not None
    assert ledger.made_kg == pytest.approx(50.0 * (0.25 * FEED_KG + DEBRIS_KG))
    assert sum(ledger.guards_kg) + sum(ledger.trays_kg) + ledger.left_kg == pytest.approx(ledger.made_kg, rel=1e-9)
    assert min(*ledger.guards_kg, ledger.left_kg, *ledger.trays_kg) > 0.0


def test_a_guard_that_clogs_gives_its_water_to_the_other() -> None:
    """A fine guard beside a coarse one: its share falls from day to day, and each stage says which of the two it is."""
    found = course(paired((steel(), slots(60.0))), DAILY, 15.0)
    share = found.branches_m3s[:, 0, 0] / found.flow_m3s
    assert (np.diff(share) < 0.0).all()
    first, second = stages_of(found)[:2]
    assert (first.place, second.place) == ("intake 0", "intake 1")
    assert first.cost[-1] > second.cost[-1] > 0.0
    assert (first.dirt, second.dirt) == tuple(found.guards_blocked[-1])


def test_places_in_branches_add_up_to_what_all_places_lose() -> None:
    """Energy: head by head of the elements, those of branches by the scalar split."""
    for where in ("intakes", "uv", "outlets"):
        found = followed(every_place(worlds()[where][1], lambda p: replace(p, height_m=min(p.height_m, 0.0))), 10.0)
        flow, nu = float(found.flow_m3s[-1]), found.loop.water.kinematic_m2s
        lost = sum(element_head_m(e, flow, nu) for e in found.elements(10) if e.curve is None)
        assert sum(rise.later_m for rise in rises(found)) == pytest.approx(lost, rel=1e-6)


def test_windows_and_guard_speeds_go_by_the_flow_of_the_branch() -> None:
    """The first day below, read off the branch's own flow; a limit between the speeds of both guards is missed by one of them."""
    rig = worlds()["uv"][0]
    unit = next(p.installed for p in rig.every_position if isinstance(p.installed, Device))
    now = stands(rig)
    clean = standing_loop(rig, now.options, now.joints).cleaned()
    walk = course(clean, DAILY, 30.0)
    flows = walk.branches_m3s[:, 0, 0]
    placed = tuple(
        replace(one, part=replace(unit, flow_min_m3s=float(flows[20]), flow_max_m3s=1.0)) if one.part is unit else one
        for one in clean.stands
    )
    least = course(replace(clean, stands=placed), DAILY, 30.0)
    (miss,) = (miss for miss in misses(least, Limits(device_windows=True)) if miss.name == "device_windows")
    assert (miss.place, miss.day) == ("unit", pytest.approx(20.0, abs=1e-3))
    two = course(paired((steel(), slots(60.0))), DAILY, 3.0)
    speeds = two.branches_m3s[0, 0] / [17.5e-4, 60e-4]
    found = misses(two, Limits(guard_speed_ms=float(speeds.mean())))
    assert {miss.place: miss.day == 0.0 for miss in found if miss.name == "guard_speed_ms"} == {
        "intake 0": speeds[0] > speeds[1],
        "intake 1": speeds[1] > speeds[0],
    }


def test_states_apart_from_each_other_are_for_series_only() -> None:
    both = paired((steel(), steel()))
    with pytest.raises(ValueError, match="series"):
        separable_courses([both], arrival_of(setup([foam(20)]), DAILY), [1.0])
    with pytest.raises(ValueError, match="two guards"):
        replace(both, stands=both.stands[1:])
