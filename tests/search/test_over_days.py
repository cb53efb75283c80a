"""The last day decides: the search over an interval against a full listing, every bundle of it followed day by day.

The listing compares nothing and bounds nothing. Its bundles are followed by `dirt/course.py`, part by part (that is held against
naive steps of its own in `tests/dirt/test_course.py`), and limits are looked at on every day.
"""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from enumeration import Laid, Way, affordable, number_of_bundles
from how_many import some_of
from small_worlds import medium, world

from optimizer.bands.fitted import FittedParts
from optimizer.bands.priors import PRIORS
from optimizer.dirt.course import Course, course, courses
from optimizer.dirt.course_readings import misses
from optimizer.dirt.daily import Daily, daily_of
from optimizer.dirt.held import held
from optimizer.dirt.loads import Loads
from optimizer.loop.operating import element_head_m
from optimizer.loop.standing import standing_loop
from optimizer.loop.terms import velocity_quadratic
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.limits import Limits
from optimizer.model.load import Load
from optimizer.model.options import Chain, Option
from optimizer.model.parts import Guard, Medium
from optimizer.model.rig import Rig, Tray
from optimizer.model.state import State
from optimizer.search import over_days, rounds
from optimizer.search.ageing import Interval
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.layers import build
from optimizer.search.least_dirt import STEP_DAYS
from optimizer.search.over_days import LAST, MEAN, Judged, OverDays, Verdict, least_flows
from optimizer.search.rounds import Corridor

WORLDS = 120
SIZE = 100
"""Bundles of a world at most, before media count by how long they last."""

CHUNK = 10
CHUNKS = some_of(range(WORLDS // CHUNK), 2)
MOST = 300
"""A world of more bundles is not listed."""


@dataclass(frozen=True)
class Followed:
    """One bundle of the listing: what it costs, delivers and needs."""

    price: int
    noise_dba: float
    clean_m3s: float
    mean_m3s: float
    last_m3s: float
    throttled: bool
    free: bool

    def value_m3s(self, by: str) -> float:
        """What it is judged by."""
        return self.mean_m3s if by == MEAN else self.last_m3s

    @property
    def holds(self) -> bool:
        """True when its flow can be held, or need not be."""
        return self.throttled or self.free


def chains(joints: Sequence[Way | Chain]) -> list[Chain]:
    """The joints of the listing, as a standing loop takes them."""
    return [each if isinstance(each, Chain) else Chain((), (), each.quadratic, 0, (), each.items) for each in joints]


FITTED = 500
"""Worlds from this number on are those of ``seed - FITTED`` with factors for what is installed, as fills would show them."""


def by_random_factors(rig: Rig, rng: random.Random) -> Rig:
    """A rig whose parts and media lose otherwise than is stated, installed ones each by itself, others by what their kind has in
    common (joints too have factors, but the listing has none)."""
    parts = [position.installed for position in rig.positions if position.installed is not None]
    names = [part.id for part in parts] + [tray.medium.id for tray in rig.trays if tray.medium is not None]
    spread = {prior: 0.03 if "bore" in prior else 0.4 for prior in PRIORS}
    factors = {(prior, name): math.exp(rng.gauss(0.0, wide)) for prior, wide in spread.items() for name in names}
    commons = {prior: math.exp(rng.gauss(0.0, wide)) for prior, wide in spread.items() if not prior.startswith("fitting")}
    return replace(rig, fitted=FittedParts(factors, commons))


def dressed(seed: int) -> tuple[Rig, Catalog]:
    """A small world in which cakes matter: in two of three every other guard is a sponge, and one medium of the catalog floss."""
    rig, catalog = world(seed, SIZE)
    if seed % 3 == 0:
        return rig, catalog
    parts, guards = dict(catalog.parts), 0
    for name, part in catalog.parts.items():
        if isinstance(part, Guard):
            guards += 1
            if guards % 2:
                parts[name] = replace(part, form="sponge", opening_m=0.8e-3, open_fraction=0.9, pores_ppi=30.0, thickness_m=0.02)
        elif isinstance(part, Medium) and not any(isinstance(p, Medium) and p.form == "fibre" for p in parts.values()):
            parts[name] = replace(part, form="fibre", permeability_m2=4e-9, inertial_1m=1200.0)
    return rig, replace(catalog, parts=parts)


@cache
def asked(seed: int) -> tuple[Choices, Daily, float]:
    """A small world, dressed, heavily fed, and an interval of two days: as much dirt as in weeks of usual feeding."""
    rng = random.Random(1000 + seed)
    rig, catalog = dressed(seed % FITTED)
    if seed >= FITTED:
        rig = by_random_factors(rig, random.Random(seed))
    feed = rng.uniform(0.05, 0.3) * (0.4 if seed % 3 else 1.0)  # sponges and floss choke on so much
    load = Load(feed_kg_day=feed, protein_share=0.45, debris_kg_day=rng.choice([0.0, 0.5e-3, 4e-3]))
    menu = choices(replace(rig, load=load), catalog, rig.limits, lasting=True)
    return menu, daily_of(menu.rig), rng.choice([1.5, 2.0])


def without_dirt(menu: Choices) -> Choices:
    """The rule of the first day, written out anew: whatever a clean can take away is not there."""

    def dirt(state: State) -> float:
        return state.blocked + state.filled + state.cake_m + state.film_m + state.fouled

    options = tuple(
        tuple(o for o in some if dirt(o.state) == 0.0 and sum(dirt(fill.state) for fill in o.fills if fill.medium) == 0.0)
        for some in menu.options
    )
    return replace(menu, options=options)


def searched(seed: int, by: str = LAST, days: float | None = None, clean_m3s: float = 0.0) -> OverDays:
    """The search over a world's interval, of bundles that deliver so much on the first day."""
    menu, daily, usual = asked(seed)
    dearest = math.inf if menu.limits.budget is None else float(menu.limits.budget)
    interval = Interval(days=usual if days is None else days, daily=daily)
    clean = choices(menu.rig, catalog_of(seed), menu.limits, lasting=True, starts_clean=True)
    return OverDays(Seeker(build(clean, dearest)), interval, by, clean_m3s)


def ceiling(menu: Choices, laid: Laid, run: Course, day: int) -> float:
    """The greatest flow that windows, limits, guard and pump inlet allow on a day, from the elements one by one."""
    limits, rig = menu.limits, menu.rig
    top = min(
        [float(run.own_m3s[day]), limits.flow_max_m3s, *(option.flow_max_m3s for option in laid.options if not _is_guard(option))]
    )
    guard = run.loop.guards[0][1]
    if isinstance(guard, Guard) and math.isfinite(limits.guard_speed_ms):
        top = min(top, limits.guard_speed_ms * guard.face_area_m2 * (1.0 - float(run.blocked[day])))
    if math.isinf(limits.inlet_head_m):
        return top
    elements = run.elements(day)
    pump = next(n for n, element in enumerate(elements) if element.curve is not None)

    def missing(flow: float) -> float:
        lost = sum(element_head_m(element, flow, menu.water.kinematic_m2s) for element in elements[:pump])
        speed_head = velocity_quadratic(elements[pump].inlet_bore_m) * flow * flow
        return lost + speed_head + limits.inlet_head_m - rig.positions[rig.index("pump")].depth_m

    low, high = 0.0, top
    if missing(top) <= 0.0:
        return top
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if missing(middle) > 0.0 else (middle, high)
    return low


def _is_guard(option: object) -> bool:
    return isinstance(getattr(option, "part", None), Guard)


@cache
def listing(seed: int) -> tuple[Followed, ...]:
    """Every affordable bundle of a world that starts clean and meets the limits on all days."""
    menu, daily, days = asked(seed)
    bundles = affordable(without_dirt(menu))
    if not bundles:
        return ()
    wide = [standing_loop(menu.rig, laid.options, chains(laid.joints)) for laid in bundles]
    clean = [ceiling(menu, laid, run, 0) for laid, run in zip(bundles, courses(wide, daily, 0.0), strict=True)]
    held = [replace(setup, ceiling_m3s=top) for setup, top in zip(wide, clean, strict=True)]
    runs = courses(held, daily, days)
    return tuple(one for each in zip(bundles, clean, runs, strict=True) if (one := _followed(menu, *each)) is not None)


def _followed(menu: Choices, laid: Laid, clean: float, run: Course) -> Followed | None:
    delivered = [min(float(run.flow_m3s[day]), ceiling(menu, laid, run, day)) for day in range(len(run.days))]
    last = delivered[-1]
    least = max(menu.limits.flow_min_m3s, 1e-9, *(option.flow_min_m3s for option in laid.options))
    if last < least * (1 - 1e-9):
        return None
    pieces = [(b - a) * (p + q) / 2 for a, b, p, q in zip(run.days, run.days[1:], delivered, delivered[1:], strict=False)]
    pump = menu.rig.index("pump")
    return Followed(
        price=laid.price,
        noise_dba=laid.options[pump].noise_dba,
        clean_m3s=delivered[0],
        mean_m3s=float(sum(pieces) / run.days[-1]),
        last_m3s=last,
        throttled=any(option.throttles for option in laid.options[pump + 1 :]),
        free=all(own <= flow * (1 + 1e-9) for own, flow in zip(run.own_m3s.tolist(), delivered, strict=True)),
    )


def preferred(able: Sequence[Followed], by: str) -> Followed | None:
    """The cheapest, then the quietest, then one with a throttle, then the best."""
    return min(able, key=lambda one: (one.price, one.noise_dba, not one.throttled, -one.value_m3s(by)), default=None)


def most_listed(seed: int, by: str = LAST) -> Followed | None:
    """Of the listed that can be held to their flow, and deliver the most of these to the resolution, the preferred one."""
    able = [one for one in listing(seed) if one.holds]
    most = max((one.value_m3s(by) for one in able), default=0.0)
    return preferred([one for one in able if one.value_m3s(by) >= most - RESOLUTION_M3S], by)


def assert_same(verdict: Verdict, listed: Followed | None, by: str = LAST) -> None:
    """The search and the listing agree in price, flow and noise."""
    assert verdict.status == "proved"
    assert (verdict.found is None) == (listed is None)
    if verdict.found is not None and listed is not None:
        found: Judged = verdict.found
        assert found.price == listed.price
        assert found.value_m3s == pytest.approx(listed.value_m3s(by), rel=1e-7)
        assert found.last_m3s == pytest.approx(listed.last_m3s, rel=1e-7)
        assert found.noise_dba == listed.noise_dba


def some(chunk: int) -> list[int]:
    """The worlds of a chunk that can be listed."""
    return [seed for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK) if number_of_bundles(without_dirt(asked(seed)[0])) <= MOST]


@pytest.mark.parametrize("chunk", CHUNKS)
def test_the_best_by_the_last_day_is_that_of_the_listing(chunk: int) -> None:
    for seed in some(chunk):
        assert_same(searched(seed).most_flow(), most_listed(seed))


def test_the_listing_has_enough_to_decide() -> None:
    """Five of six worlds are listed; half of all have an answer."""
    tried = len(CHUNKS) * CHUNK
    seeds = [seed for chunk in CHUNKS for seed in some(chunk)]
    assert len(seeds) >= tried * 5 / 6
    assert sum(most_listed(seed) is not None for seed in seeds) >= tried / 2


@pytest.mark.parametrize("chunk", range(FITTED // CHUNK, FITTED // CHUNK + 2))
def test_what_fills_say_of_installed_parts_counts_on_every_day(chunk: int) -> None:
    """The same listing, with the factors in it part by part; its clean day is that of a search that knows nothing of dirt."""
    for seed in some(chunk):
        assert_same(searched(seed).most_flow(), most_listed(seed))
    assert any(listing(seed) != listing(seed - FITTED) for seed in some(chunk))


@pytest.mark.parametrize("chunk", CHUNKS[::2])
def test_the_best_by_the_mean_is_that_of_the_listing(chunk: int) -> None:
    for seed in some(chunk):
        assert_same(searched(seed, MEAN).most_flow(), most_listed(seed, MEAN), MEAN)


@pytest.mark.parametrize("chunk", CHUNKS[1::2])
def test_the_cheapest_meets_its_target_on_the_last_day(chunk: int) -> None:
    """The cheapest, then quietest bundle of the listing that delivers a share of the most on the last day."""
    for seed in some(chunk):
        every = listing(seed)
        if not every:
            continue
        target = 0.8 * max(one.last_m3s for one in every)
        menu = asked(seed)[0]
        able = [one for one in every if one.last_m3s >= max(target, menu.limits.flow_min_m3s) * (1 - 1e-12)]
        first = preferred([one for one in able if one.holds], LAST)
        assert_same(searched(seed).least_price(target), first)


@pytest.mark.parametrize("chunk", CHUNKS[::2])
def test_a_target_of_the_clean_day_holds_beside_that_of_the_last(chunk: int) -> None:
    """Of the listed that have both: the one with most on the last day, and the cheapest. Without its target the search is the one
    that it was."""
    for seed in some(chunk):
        wanted, able = most_when_clean(seed)
        if not able:
            continue
        most = max(one.last_m3s for one in able)
        over = searched(seed, clean_m3s=wanted)
        assert_same(over.most_flow(), best_of(able))
        target = 0.8 * most
        cheap = preferred([one for one in able if one.last_m3s >= max(target, asked(seed)[0].limits.flow_min_m3s)], LAST)
        assert_same(over.least_price(target), cheap)
        assert_same(over.without_clean_target().most_flow(), most_listed(seed))


def most_when_clean(seed: int) -> tuple[float, list[Followed]]:
    """The most that anything listed delivers on the first day, and all that do."""
    held = [one for one in listing(seed) if one.holds]
    wanted = max((one.clean_m3s for one in held), default=0.0) * (1 - 1e-7)
    return wanted, [one for one in held if one.clean_m3s >= wanted]


def best_of(able: Sequence[Followed]) -> Followed | None:
    """The preferred of those that deliver most on the last day."""
    most = max(one.last_m3s for one in able)
    return preferred([one for one in able if one.last_m3s >= most - RESOLUTION_M3S], LAST)


def test_now_and_then_the_target_of_the_clean_day_decides() -> None:
    """Most on the first day is not always most on the last."""
    seeds = [seed for chunk in CHUNKS[::2] for seed in some(chunk) if most_when_clean(seed)[1]]
    assert any(best_of(most_when_clean(seed)[1]) != most_listed(seed) for seed in seeds)


@pytest.mark.parametrize("seed", [*range(0, 40, 4), *range(FITTED, FITTED + 20, 4)])
def test_without_time_it_is_the_plain_best(seed: int) -> None:
    """An interval of no days, against the search of the clean day, which knows nothing of dirt."""
    menu = asked(seed)[0]
    plain = Seeker(build(without_dirt(choices(menu.rig, catalog_of(seed), menu.limits)))).most_flow().found
    found = searched(seed, days=0.0).most_flow().found
    assert (found is None) == (plain is None)
    if found is not None and plain is not None:
        assert found.price == plain.bundle.price
        assert found.last_m3s == pytest.approx(plain.flow_m3s, abs=1.001 * RESOLUTION_M3S)


def catalog_of(seed: int) -> Catalog:
    """The catalog of a world."""
    return dressed(seed % FITTED)[1]


@pytest.mark.parametrize("seed", range(1, 40, 6))
def test_waiting_longer_never_gives_more(seed: int) -> None:
    """Dirt only grows: the best of a longer interval has no more flow on its last day."""
    flows = []
    for days in (0.0, 1.0, 2.0, 4.0):
        found = searched(seed, days=days).most_flow().found
        flows.append(0.0 if found is None else found.last_m3s)
    assert all(later <= sooner + RESOLUTION_M3S for sooner, later in zip(flows, flows[1:], strict=False))


def test_no_answer_relies_on_dirt() -> None:
    """Whoever begins an interval cleans. In worlds where dirt behind the pump would throttle, the best used to keep it."""
    for seed in (1, 10, 16, 20, 28, 32, 36):
        menu, daily, days = asked(seed)
        kept = OverDays(Seeker(build(menu)), Interval(days=days, daily=daily)).most_flow()
        over = searched(seed)
        clean = over.most_flow()
        assert kept.bundle is not None and any(is_dirty(option) for option in over_options(menu, kept))
        if clean.bundle is not None:
            assert not any(is_dirty(option) for option in over.seeker.options_of(clean.bundle))


def over_options(menu: Choices, verdict: Verdict) -> list[Option]:
    """The options of an answer by the choices it was found in."""
    problem = build(menu)
    assert verdict.bundle is not None
    return [problem.option(flat) for flat in verdict.bundle.path.options]


def is_dirty(option: Option) -> bool:
    """True for what a clean would change."""
    trays = any(fill.medium is not None and not fill.state.is_clean for fill in option.fills)
    return trays or (option.part is not None and not option.state.is_clean)


def test_what_is_said_of_limits_is_what_the_search_kept() -> None:
    """The course that rows, windows and misses are read off, part by part, has the flows of the search on every day, and within
    the interval nothing is missed; with a throttle open it would be."""
    closed = 0
    for seed in some_of(range(60), 3):
        menu, daily, days = asked(seed)
        if number_of_bundles(without_dirt(menu)) > MOST:
            continue
        over = searched(seed)
        for one in [] if over.most_flow().found is None else over.known.values():
            if not (one.fits and one.holds):
                continue
            options = [over.problem.option(flat) for flat in one.path.options]
            joints = [over.problem.joint(flat) for flat in one.path.joints]
            top = one.clean_m3s if one.clean_own_m3s > one.clean_m3s * (1 + 1e-9) else math.inf
            run = course(standing_loop(menu.rig, options, chains(joints), top), daily, days)
            shut = held(run, menu.limits)
            assert np.allclose(shut.flow_m3s, over.flows[one.path.options, one.path.joints], rtol=1e-7)
            assert not [miss for miss in misses(shut, menu.limits) if math.isfinite(miss.day)]
            closed += any(math.isfinite(miss.day) for miss in misses(run, menu.limits))
    assert closed > 3


def test_the_bound_of_a_bundle_is_below_its_true_loss() -> None:
    """At its own flow of the last day a bundle has no head left, so the sum of its least losses must not be above 0."""
    checked = 0
    for seed in (*range(40), *range(FITTED, FITTED + 20)):
        over = searched(seed)
        over.most_flow()
        fillings = np.arange(over.least.media.stop - over.least.media.start)
        for one in over.known.values():
            flow, rows = one.last_m3s, list(one.path.options)
            if flow >= one.last_own_m3s * (1 - 1e-9) and flow > 1e-9:
                least = over.least.losses(one.path.options[over.ageing.guard], over.last, flow, over.seeker.all, fillings)
                joints = float(over.problem.joint_quadratic[list(one.path.joints)].sum())
                assert float(least[rows].sum()) + joints * flow**2 < 1e-7
                checked += 1
    assert checked > 50


def test_a_bundle_passes_all_cuts_of_its_own_mean_and_promises_no_less() -> None:
    """At a level that is its own mean, no bundle that counts is left out by a cut or by what its own flows could come to."""
    checked = close = 0
    for seed in some_of(range(60), 2):
        over, last = searched(seed, MEAN), searched(seed)
        if over.most_flow().found is None:
            continue
        last.most_flow()
        known = {**last.known, **over.known}.values()
        for one in [each for each in known if each.fits and each.price <= over.seeker.budget]:
            guard, level = one.path.options[over.ageing.guard], one.mean_m3s * (1 - 1e-9)
            asked = over._cuts(guard, over.seeker.all, level)
            assert asked.cuts
            assert over._still([one.path], guard, asked.cuts, over.seeker.all) == [one.path]
            (promising,) = over._promising([one.path], guard, asked, over.seeker.all)
            assert -promising.loss >= level or not asked.level_m3s
            checked += 1
            close += asked.level_m3s > 0.0 and -promising.loss < 1.1 * level
    assert checked > 40
    assert close > 20


@pytest.mark.parametrize("seed", range(20))
def test_least_flows_are_those_of_flows_that_only_fall(seed: int) -> None:
    """Each least flow is had by a course that reaches the level, and none of many random courses has less; where even the tops do
    not reach it, the first says so."""
    rng = random.Random(seed)
    tops = sorted((rng.uniform(0.5, 1.0) for _ in range(5)), reverse=True)
    shares = [rng.random() for _ in range(5)]
    shares = [share / sum(shares) for share in shares]
    most = sum(share * top for share, top in zip(shares, tops, strict=True))
    level = most * rng.uniform(0.7, 1.0)
    least = least_flows(tops, shares, level)
    for n, flow in enumerate(least):
        run = [top if day < n else min(top, flow) for day, top in enumerate(tops)]
        reached = sum(share * each for share, each in zip(shares, run, strict=True))
        assert reached == pytest.approx(level) if flow else reached >= level
    for _ in range(300):
        run, high = [], 1.0
        for top in tops:
            high = min(high, top) * rng.uniform(0.7, 1.0) ** rng.choice([0, 0, 1])
            run.append(high)
        if sum(share * each for share, each in zip(shares, run, strict=True)) >= level:
            assert all(each >= flow - 1e-12 for each, flow in zip(run, least, strict=True))
    assert least_flows(tops, shares, 1.01 * most)[0] > tops[0]


def test_without_time_the_mean_is_the_flow_of_the_day() -> None:
    """An interval of no days has a mean too."""
    for seed in (0, 4, 8):
        found, last = searched(seed, MEAN, days=0.0).most_flow().found, searched(seed, days=0.0).most_flow().found
        assert (found is None) == (last is None)
        assert found is None or last is None or found.path == last.path


def test_dirt_gathered_in_long_steps_is_no_more_than_day_by_day() -> None:
    """The bound walks through an interval in a few steps; against a step a day at the same turnover, with every filling and guard
    of some worlds, a sponge or a screen, and media that fill up on the way."""
    full = 0.0
    for seed in (1, 2, 4, 21):
        over = searched(seed, days=45.0)
        trays = over.least.trays
        for row in over.least.guards:
            option, interval = over.problem.option(row), over.ageing.interval
            guard, count = option.part, over.least.media.stop - over.least.media.start
            assert isinstance(guard, Guard)
            daily = replace(interval.daily, solids_kg_day=interval.daily.solids_kg_day / 20.0)
            long, short = (Loads([guard] * count, [option.state] * count, trays.layers, daily, interval.laws) for _ in range(2))
            for loads, steps in ((long, math.ceil(45.0 / STEP_DAYS)), (short, 45)):
                for _ in range(steps):
                    loads.step(45.0 / steps, np.full(count, 4.0))
            for some, every in ((long.guard_states(), short.guard_states()), (long.tray_states(), short.tray_states())):
                assert (some <= every * (1.0 + 1e-9) + 1e-15).all()
            full = max(full, float(short.tray_states()[0].max()))
    assert full > 0.3


def test_a_list_made_pump_by_pump_leaves_nothing_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same answers when every list is taken for a crowded one."""
    monkeypatch.setattr(over_days, "FEW_LABELS", 0)
    for seed in range(0, 12, 2):
        assert_same(searched(seed).most_flow(), most_listed(seed))
    assert_same(searched(4, MEAN).most_flow(), most_listed(4, MEAN), MEAN)


def test_partial_paths_made_piece_by_piece_are_the_same_list(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where one step leads to very many partial paths they are made and looked at in pieces: the same bundles in the same order,
    with and without comparing them."""
    over = searched(35)
    seeker, budget = over.seeker, float(over.seeker.budget)
    weights = over.exact.weights(over.floor, seeker.all)
    corridor = Corridor(0.0, budget, 50.0, over.exact.suction(over.floor))
    whole = [over.exact.rounds.front(weights, corridor, every=every) for every in (False, True)]
    assert len(whole[1]) > 100
    for most in (1, 7, 50):
        monkeypatch.setattr(rounds, "MOST_AT_ONCE", most)
        assert [over.exact.rounds.front(weights, corridor, every=every) for every in (False, True)] == whole


def test_media_that_differ_in_how_long_they_last_are_told_apart() -> None:
    """Foam has voids of 0.97, granules of 0.43 (`VOIDAGE`, sources there), so foam of the same permeability holds twice the dirt.
    The granules here are a little wider, so they win on the clean day; at one price foam wins by the last."""
    rig, _ = world(3, SIZE)
    dense, foam = medium("dense", 2e-9, True, 0.0), medium("foam", 3e-8, True, 0.0)
    granules = replace(medium("granules", 3.2e-8, True, 0.0), form="granules")
    offers = tuple(
        Product(id=each.id, price=500, lines=(Line(part_id=each.id, amount_m3=rig.canister.tray_volume_m3 * len(rig.trays)),))
        for each in (foam, granules)
    )
    catalog = Catalog(parts={each.id: each for each in (foam, granules)}, products=offers, name="media", currency="EUR")
    limits = Limits(budget=500, inlet_head_m=-math.inf, device_windows=False)
    fed = Load(feed_kg_day=0.02, protein_share=0.45, debris_kg_day=0.0)
    rig = replace(rig, trays=tuple(Tray(medium=dense) for _ in rig.trays), limits=limits, load=fed, spares=())
    plain, lasting = (choices(rig, catalog, limits, lasting=each) for each in (False, True))
    clean = Seeker(build(plain)).most_flow().found
    seeker = Seeker(build(lasting))
    last = OverDays(seeker, Interval(days=20.0, daily=daily_of(rig))).most_flow()
    assert clean is not None
    assert last.bundle is not None
    assert media_of(Seeker(build(plain)).options_of(clean.bundle)) == {"granules"}
    assert media_of(seeker.options_of(last.bundle)) == {"foam"}


def media_of(options: Sequence[Option]) -> set[str]:
    """What fills the trays of a bundle."""
    return {fill.medium.id for option in options for fill in option.fills if fill.medium is not None}


def test_a_search_that_is_stopped_keeps_what_it_has(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while lists are made: the bundle judged before is the answer, with a bound that the true best does not exceed; a
    second Ctrl-C while the bound is looked for leaves it open."""
    over = searched(21)
    best = over.most_flow().found
    assert best is not None
    for bound in (None, math.inf):
        over = searched(21)
        start = over.seeker.most_flow().found
        assert start is not None
        known = over.judged(start.bundle)
        monkeypatch.setattr(over, "_listed", interrupted)
        if bound is not None:
            monkeypatch.setattr(over, "_bound", interrupted)
        stopped = over.most_flow()
        assert stopped.status == "stopped"
        assert stopped.found == known
        assert stopped.bound_m3s >= best.value_m3s
        assert bound is None or stopped.bound_m3s == bound


def interrupted(*_: object, **__: object) -> list[object]:
    """Ctrl-C."""
    raise KeyboardInterrupt
