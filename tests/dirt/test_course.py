"""A course against independent ways to the same numbers: a naive march, the scalar operating point, the ledger, smaller steps."""

import math
from collections.abc import Callable
from dataclasses import asdict, replace
from itertools import pairwise

import numpy as np
import pytest
from dirt_cases import LITRE_PER_HOUR, fed, floss, foam, pump, rings, setup, slots, sponge, steel
from hypothesis import given, settings
from hypothesis import strategies as st
from separable import arrival_of, separable_courses

from optimizer.dirt.after import Arrival, trays_after
from optimizer.dirt.course import Course, course, courses
from optimizer.dirt.course_readings import days_until_flow
from optimizer.dirt.laws import VOIDAGE, Laws
from optimizer.loop.graph import loop_graph
from optimizer.loop.operating import operating_point
from optimizer.loop.standing import StandingLoop
from optimizer.model.parts import Guard
from optimizer.model.rig import Tray
from optimizer.model.state import State

LAWS = Laws()
CASES = {
    "foam and floss": setup([foam(20), rings(), floss()]),
    "packed floss": setup([foam(20), rings(), floss(0.1)]),
    "steel guard": setup([foam(20), rings(), foam(30)], steel()),
    "sponge guard": setup([foam(20), None, foam(30)], sponge(), turning=pump(points=True)),
    "dirty start": setup([foam(20), floss()], blocked=0.4, filled=(0.3, 0.4), film_m=2e-4, cakes_m=(1e-3, 4e-3)),
    "dirty sponge": setup([foam(20), floss()], sponge(), blocked=0.3, filled=(0.95, 0.2), guard_cake_m=5e-4),
    "throttled": setup([foam(10), foam(30)], ceiling_m3s=400 * LITRE_PER_HOUR),
}
NAMES = list(CASES)


def scalar_m3s(found: Course, day: int) -> float:
    """Flow of one day by the scalar path."""
    own = operating_point(loop_graph(found.elements(day)), found.loop.water.kinematic_m2s).flow_m3s
    return min(own, found.loop.ceiling_m3s)


@pytest.mark.parametrize("name", NAMES)
def test_every_day_is_the_operating_point_of_its_own_loop(name: str) -> None:
    """The bracketing scalar solver shares no code with the batch."""
    found = course(CASES[name], fed(), 40.0, step_days=4.0)
    for day in range(len(found.days)):
        assert found.flow_m3s[day] == pytest.approx(scalar_m3s(found, day), rel=1e-8)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_fed_is_caught_or_left(name: str) -> None:
    """Made from the days and the feeding; caught from what the layers hold at the end; left from what passed, step by step."""
    daily = fed(5.0, 0.2)
    found = course(CASES[name], daily, 60.0)
    ledger = found.ledger
    assert ledger is not None
    assert ledger.made_kg == pytest.approx(60.0 * (0.25 * 5e-3 + 0.2e-3))
    assert sum(ledger.guards_kg) + sum(ledger.trays_kg) + ledger.left_kg == pytest.approx(ledger.made_kg, rel=1e-9)
    assert min(*ledger.guards_kg, ledger.left_kg, *ledger.trays_kg) >= 0.0
    assert ledger.left_kg > 0.02 * ledger.made_kg


def dirtied(loop: StandingLoop, day: float, covered: float, held: list[np.ndarray], cakes: list[float]) -> StandingLoop:
    """A loop on a day of the naive march, every state by hand."""
    new = {
        "guard": State(blocked=0.98 * (1.0 - math.exp(-covered / 0.98))),
        "hose": State(film_m=0.8e-3 * (1.0 - math.exp(-day / 60.0))),
        "pump": State(fouled=0.1 * (1.0 - math.exp(-day / 90.0))),
    }
    filled = [1.0 - float(np.mean((1.0 - 0.8 * s) ** -3.0)) ** (-1.0 / 3.0) for s in held]
    states = [State(filled=f, cake_m=cake) for f, cake in zip(filled, cakes, strict=True)]
    trays = tuple(Tray(medium=t.medium, state=state) for t, state in zip(loop.trays, states, strict=True))
    return replace(loop, stands=tuple(replace(p, state=new.get(p.position.kind, p.state)) for p in loop.stands), trays=trays)


def caught(loop: StandingLoop, held: list[np.ndarray]) -> list[np.ndarray]:
    """Share of what enters the stack that every slice of every medium keeps, by marching through the slices."""
    found, mass = [], 1.0
    for tray, s in zip(loop.trays, held, strict=True):
        assert tray.medium is not None
        depth = 2e-3 / math.sqrt(tray.medium.permeability_m2) * loop.canister.tray_height_m / len(s)
        left = mass * np.cumprod(np.exp(-depth * (1.0 - s)))
        found.append(np.concatenate(([mass], left[:-1])) - left)
        mass = float(left[-1])
    return found


def strained(loop: StandingLoop, coarser: Callable[[float], float]) -> list[float]:
    """Share of some dirt that each face keeps: what is coarser than its pores, three roots of the permeability, and finer than
    all openings before it."""
    passes, found = coarser(loop.guards[0][1].opening_m), []
    for tray in loop.trays:
        assert tray.medium is not None
        stops = coarser(3.0 * math.sqrt(tray.medium.permeability_m2))
        found.append(max(stops - passes, 0.0))
        passes = max(passes, stops)
    return found


def marched(loop: StandingLoop, feed_kg: float, debris_kg: float, days: int, inner: int = 8, slices: int = 60) -> list[float]:
    """Daily flows of a loop with a screen guard, written down naively: slices of media, small steps of time, scalar operating
    points."""
    guard = loop.guards[0][1]
    assert isinstance(guard, Guard)
    held, covered, flows, cakes = [np.zeros(slices) for _ in loop.trays], 0.0, [], [0.0] * len(loop.trays)
    soft = strained(loop, lambda size: math.exp(-math.sqrt(size / 0.2e-3)))
    hard = strained(loop, lambda size: math.exp(-size / 1.2e-3))
    stops = math.exp(-guard.opening_m / 1.2e-3)
    for step in range(days * inner + 1):
        today = course(dirtied(loop, step / inner, covered, held, cakes), fed(0.0, 0.0), 0.0)
        flows.append(scalar_m3s(today, 0))
        turnover = flows[-1] * 3600.0 / loop.net_m3
        through = caught(loop, held)
        kept = float(sum(each.sum() for each in through))
        rest = feed_kg * 0.25 * (1.0 - sum(soft)) + (1.0 - stops - sum(hard)) * debris_kg
        entered = rest / inner * turnover / (0.5 + turnover * kept)
        lands = [0.25 * feed_kg * s + debris_kg * h for s, h in zip(soft, hard, strict=True)]
        wet = 0.0125 / loop.canister.tray_area_m2 / inner * turnover / (0.5 + turnover)
        cakes = [cake + kg * wet for cake, kg in zip(cakes, lands, strict=True)]
        covered += stops * debris_kg / inner * turnover / (0.5 + turnover) * 5.0 / (guard.face_area_m2 * guard.open_fraction)
        for tray, s, catch in zip(loop.trays, held, through, strict=True):
            assert tray.medium is not None
            pores = VOIDAGE[tray.medium.form] * loop.canister.tray_volume_m3 / slices
            s += entered * catch * 0.0125 / (0.8 * pores)
            np.minimum(s, 1.0, out=s)
    return flows[::inner]


@pytest.mark.parametrize("name", ["foam and floss", "packed floss", "steel guard"])
def test_a_naive_daily_loop_gives_the_same_flows(name: str) -> None:
    """Naive computation with slices and small steps against closed-form layers and steps of a quarter of a day."""
    days = 40
    naive = marched(CASES[name], 4e-3, 0.06e-3, days)
    found = course(CASES[name], fed(4.0, 0.06), days, step_days=0.25)
    assert found.flow_m3s[::4] == pytest.approx(naive, rel=4e-3)
    for least in (0.9 * naive[0], 0.8 * naive[0], 0.5 * naive[0]):
        day = next((n for n, flow in enumerate(naive) if flow < least), None)
        reached = days_until_flow(found, least)
        assert reached == math.inf if day is None else day - 1.1 <= reached <= day + 0.1


@pytest.mark.parametrize("name", NAMES)
def test_halving_the_step_halves_the_error(name: str) -> None:
    """Explicit Euler is of first order; steps of a day are within 1 % of the flow, and it is known from what side they err."""
    daily = fed(6.0, 0.1)
    last = [float(course(CASES[name], daily, 48.0, step_days=step).flow_m3s[-1]) for step in (2.0, 1.0, 0.5, 0.25, 0.125)]
    gaps = [abs(a - b) for a, b in pairwise(last)]
    assert abs(last[1] - last[-1]) < 0.01 * last[-1]
    if gaps[0] > 1e-9 * last[0]:
        assert all(1.6 < a / b < 2.5 for a, b in pairwise(gaps))


def test_at_a_held_flow_the_closed_form_in_time_is_met() -> None:
    """Turnover held, a screen that stops nothing: steps must go to the exact t = (k G / n + caught(G)) / P, at first order."""
    held = CASES["throttled"]
    intake = held.stands[0]
    assert isinstance(intake.part, Guard)
    wide = replace(intake, part=replace(intake.part, opening_m=1.0))  # stops nothing and tears nothing
    held = replace(held, stands=(wide, *held.stands[1:]))
    daily = replace(fed(4.0, 0.0), debris_kg_day=0.0)
    arrival = arrival_of(held, daily, flow_m3s=held.ceiling_m3s)
    exact = [state.filled for state in trays_after(held.canister, held.trays, 30.0, arrival)]
    errors = []
    for step in (1.0, 0.5, 0.25):
        found = course(held, daily, 30.0, step_days=step)
        assert (found.flow_m3s == held.ceiling_m3s).all()
        errors.append(float(np.abs(found.filled[-1] - exact).max()))
    assert errors[0] < 5e-3
    assert all(1.8 < a / b < 2.2 for a, b in pairwise(errors))


def test_bundles_side_by_side_are_as_alone() -> None:
    """Stacks of one, two and three trays, screens and sponges, labels and points."""
    together = courses(list(CASES.values()), fed(), 12.0)
    for one, name in zip(together, NAMES, strict=True):
        alone = course(CASES[name], fed(), 12.0)
        assert one.flow_m3s == pytest.approx(alone.flow_m3s, rel=1e-9)
        assert one.blocked == pytest.approx(alone.blocked, rel=1e-9)
        assert one.filled == pytest.approx(alone.filled, rel=1e-9)
        assert one.cakes_m == pytest.approx(alone.cakes_m, rel=1e-9)


def test_separable_courses_of_many_bundles_and_days_are_as_alone() -> None:
    arrival = arrival_of(CASES["foam and floss"], fed())
    together = separable_courses(list(CASES.values()), arrival, [60.0, 0.0, 7.0])
    for one, name in zip(together, NAMES, strict=True):
        for n, day in enumerate((60.0, 0.0, 7.0)):
            alone = separable_courses([CASES[name]], arrival, [day])[0]
            assert one.flow_m3s[n] == pytest.approx(alone.flow_m3s[0], rel=1e-9)
            assert one.filled[n] == pytest.approx(alone.filled[0], rel=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_a_high_turnover_and_parts_that_leave_all_to_each_other_bound_the_flow_from_below(name: str) -> None:
    """More turnover brings more dirt; a wall behind which nothing is caught sees it all. So this reference is safe for any bundle
    that never flows faster."""
    daily = fed(8.0, 0.1)
    coupled = course(CASES[name], daily, 60.0, step_days=0.25)
    safe = replace(arrival_of(CASES[name], daily, flow_m3s=float(coupled.flow_m3s.max())), stack_share=0.0)
    apart = separable_courses([CASES[name]], safe, coupled.days.tolist())[0]
    assert (apart.flow_m3s <= coupled.flow_m3s * (1.0 + 1e-3)).all()


@pytest.mark.parametrize("name", NAMES)
def test_the_first_day_is_as_it_was_left(name: str) -> None:
    found = course(CASES[name], fed(), 5.0)
    for state, one in zip(found.states(0), CASES[name].stands, strict=True):
        assert asdict(state) == pytest.approx(asdict(one.state), abs=1e-12)
    for share, tray in zip(found.filled[0], CASES[name].trays, strict=True):
        assert share == pytest.approx(tray.state.filled, abs=1e-9)
    assert found.cakes_m[0].tolist() == [tray.state.cake_m for tray in CASES[name].trays]


@settings(max_examples=25, deadline=None)
@given(
    name=st.sampled_from(NAMES),
    feed=st.floats(0.0, 40.0),
    debris=st.floats(0.0, 2.0),
    clogging=st.sampled_from(["cubic", "doubling", "proportional", "kozeny"]),
    covering=st.sampled_from(["overlap", "side by side"]),
)
def test_flow_never_rises_and_more_load_never_helps(name: str, feed: float, debris: float, clogging: str, covering: str) -> None:
    laws = Laws(clogging=clogging, covering=covering)
    arrival = arrival_of(CASES[name], fed(feed, debris), laws, flow_m3s=2e-4)
    more = replace(arrival, solids_kg_day=1.5 * arrival.solids_kg_day, debris_kg_day=1.5 * arrival.debris_kg_day)
    days = [0.0, 10.0, 60.0, 400.0]
    flows, less = (separable_courses([CASES[name]], each, days, laws)[0].flow_m3s for each in (arrival, more))
    assert (np.diff(flows) <= 1e-9 * flows[0]).all()
    assert (less <= flows * (1.0 + 1e-9)).all()
    coupled = course(CASES[name], fed(feed, debris), 60.0, laws, step_days=3.0)
    assert (np.diff(coupled.flow_m3s) <= 1e-9 * coupled.flow_m3s[0]).all()
    assert (coupled.flow_m3s > 0.0).all()


def test_ten_years_without_cleaning_stay_sane() -> None:
    """States below their bounds, and some water still flows."""
    for name in NAMES:
        found = course(CASES[name], fed(30.0, 1.0), 3650.0, step_days=50.0)
        assert np.isfinite(found.flow_m3s).all()
        assert found.flow_m3s[-1] > 0.0
        assert found.blocked.max() < 0.999
        assert found.filled.max() < 0.96


def test_a_loop_that_stands_still_catches_nothing() -> None:
    """An outlet above what the pump can lift."""
    still = setup([foam(20)], lift_m=3.0)
    found = course(still, fed(), 20.0)
    assert (found.flow_m3s == 0.0).all()
    assert (found.filled == 0.0).all()
    assert (found.blocked == 0.0).all()
    assert separable_courses([still], arrival_of(still, fed()), [20.0])[0].filled.max() == 0.0


def test_a_fine_guard_fails_as_a_cliff_and_a_large_one_does_not() -> None:
    """Common practice, no published source, illustrative: 7 cm2 of 0.8 mm openings, blocked within five days in rank plants;
    660 l/h clean, 617 at 80 %, 476 at 92 % blocked; six times the area still gives all at day 14. 200 l, at least 2.8 an hour."""
    media, turning, heavy = [foam(20), rings(), foam(30)], pump(1.6, 1200.0), fed(3.0, 0.15)
    small, large = (
        course(setup(media, guard, turning=turning, ceiling_m3s=660 * LITRE_PER_HOUR), heavy, 14.0, step_days=0.25)
        for guard in (steel(), sponge())
    )
    share = small.flow_m3s / small.flow_m3s[0]
    at_80, at_92 = (int(np.flatnonzero(small.blocked >= blocked)[0]) for blocked in (0.8, 0.92))
    assert 2.0 < small.days[at_80] < small.days[at_92] < 8.0
    assert share[at_80] > 0.85
    assert share[at_92] < 0.85
    assert 1.0 - share[at_92] > 2.0 * (1.0 - share[at_80])
    least = 2.8 * 0.2 / 3600.0
    assert small.flow_m3s[-1] < least < large.flow_m3s[-1]
    assert large.flow_m3s[-1] > 0.95 * large.flow_m3s[0]


def test_floss_clogs_first_and_coarse_foam_buys_time() -> None:
    """Common practice, no published source: clean foam of any grade costs next to nothing; on the last day the coarse one is
    ahead, and floss far behind."""
    stacks = {"coarse": [foam(10), rings()], "fine": [foam(45), rings()], "floss": [floss(0.08), rings()]}
    found = {name: course(setup(media), fed(8.0, 0.0), 60.0) for name, media in stacks.items()}
    first = {name: each.flow_m3s[0] for name, each in found.items()}
    last = {name: each.flow_m3s[-1] for name, each in found.items()}
    assert abs(first["coarse"] / first["fine"] - 1.0) < 0.01
    assert last["coarse"] > last["fine"] > last["floss"]
    assert last["floss"] / first["floss"] < 0.7


def test_coarse_before_fine_lasts_longer() -> None:
    """Common practice, no published source: the order of a stack decides how long it runs; clean, both orders flow alike."""
    right, wrong = ([foam(20), foam(45), floss(0.06)], [floss(0.06), foam(45), foam(20)])
    one, other = (course(setup(media), fed(8.0, 0.0), 60.0) for media in (right, wrong))
    assert one.flow_m3s[0] == pytest.approx(other.flow_m3s[0])
    assert one.flow_m3s[-1] > 1.03 * other.flow_m3s[-1]


def test_times_that_cannot_be_are_refused() -> None:
    for days, step in ((-1.0, 1.0), (1e6, 1.0), (10.0, 0.0), (math.nan, 1.0)):
        with pytest.raises(ValueError, match="days"):
            course(CASES["throttled"], fed(), days, step_days=step)
    with pytest.raises(ValueError, match="negative"):
        Arrival(solids_kg_day=-1.0, debris_kg_day=0.0, turnover_1h=1.0, stack_share=0.5)
    assert course(CASES["throttled"], fed(), 2.5).days.tolist() == [0.0, 1.0, 2.0, 2.5]


def test_a_slotted_strainer_blocks_more_slowly_than_a_fine_one() -> None:
    """Same open area, same debris: what slots let pass ends in the media."""
    coarse, fine = (course(setup([foam(20), floss()], guard), fed(3.0, 0.06), 10.0) for guard in (slots(17.5), steel()))
    assert coarse.blocked[-1] < 0.5 * fine.blocked[-1]
    (in_coarse, in_fine) = (sum(each.ledger.trays_kg) for each in (coarse, fine) if each.ledger is not None)
    assert in_coarse > in_fine
