"""The pass that a front is read off, against full listings of small worlds and against asking for every point."""

from contextlib import suppress
from dataclasses import replace
from typing import Any

import demo
import enumeration
import numpy as np
import pytest
from asked_front import asked_front
from how_many import some_of
from small_worlds import aged_world, large_world

from optimizer.search import front, front_pass, span_paths
from optimizer.search.best import RESOLUTION_M3S, Outcome, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.columns import Bounds, Columns
from optimizer.search.front import FrontPoint, asked_alone, money_flow_front
from optimizer.search.front_pass import FrontPass
from optimizer.search.layers import Problem, build
from optimizer.search.settling import Settling
from optimizer.search.spans import Span

WORLDS, CHUNK = 300, 10
"""Random worlds, and how many one test takes."""

BUDGET = 20_000
"""Minor units: more than most worlds' dearest point."""


def menu_of(seed: int) -> Choices:
    """What a small world offers, with packs, coils, kits, short stock, windows and ceilings."""
    rig, catalog = aged_world(seed)
    return choices(rig, catalog, replace(rig.limits, budget=BUDGET))


def listed_front(menu: Choices) -> list[enumeration.Best]:
    """The front by a full listing, dearest first."""
    bundles = enumeration.every_bundle(menu)
    points: list[enumeration.Best] = []
    while (best := enumeration.most_flow(bundles, menu, RESOLUTION_M3S)) is not None:
        points.append(best)
        bundles = bundles.take(bundles.price < best.price)
    return points


def told(seeker: Seeker, points: list[FrontPoint]) -> list[tuple[int, float, float]]:
    """Price, flow in l/h and noise of every point, dearest first."""
    return [(p.price, p.flow_m3s * 3.6e6, seeker._noise_of(p.found.bundle)) for p in points[::-1]]


def unlike(one: list[tuple[int, float, float]], other: list[tuple[int, float, float]], within_lph: float) -> list[str]:
    """What two fronts have otherwise."""
    if [price for price, _, _ in one] != [price for price, _, _ in other]:
        return [f"prices {[price for price, _, _ in one]} against {[price for price, _, _ in other]}"]
    pairs = zip(one, other, strict=True)
    return [f"{a} against {b}" for a, b in pairs if abs(a[1] - b[1]) > within_lph or abs(a[2] - b[2]) > 1e-9]


@pytest.mark.parametrize("chunk", some_of(range(WORLDS // CHUNK), 10))
def test_the_front_is_that_of_a_full_listing(chunk: int) -> None:
    """Same prices to the minor unit, same flows to the resolution, same noise, every point proved."""
    wrong = {}
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        menu = menu_of(seed)
        seeker = Seeker(build(menu, BUDGET))
        points = money_flow_front(seeker, BUDGET)
        listed = [(best.price, best.flow_m3s * 3.6e6, best.noise_dba) for best in listed_front(menu)]
        wrong[seed] = unlike(told(seeker, points), listed, 0.1 * (1 + 1e-6))
        wrong[seed] += [f"{point.price} is not proved" for point in points if not point.proved]
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


@pytest.mark.parametrize("chunk", some_of(range(WORLDS // CHUNK), 30))
def test_it_is_the_same_where_every_span_is_crowded(chunk: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With next to no partial paths allowed, spans are halved again and again, and the single search is asked for the rest."""
    monkeypatch.setattr(front_pass, "FEW_LABELS", 2)
    monkeypatch.setattr(front_pass, "MOST_HALVINGS", 3)
    wrong = {}
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        problem = build(menu_of(seed), BUDGET)
        one, other = Seeker(problem), Seeker(problem)
        wrong[seed] = unlike(told(one, money_flow_front(one, BUDGET)), told(other, asked_front(other, BUDGET)), 1e-6)
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


@pytest.mark.parametrize(("name", "budget"), [("nano_60", 10_000), ("gouramis_54", 10_000), ("planted_300", 4000)])
def test_the_front_of_a_demo_rig_is_what_asking_for_every_point_gives(name: str, budget: int) -> None:
    """With windows, a ceiling and kits in the catalog. Bundles that differ only in which of two places has which of two parts
    tie in all that is asked, so they are told by what they cost, deliver and sound like."""
    rig = demo.rig(name)
    problem = build(choices(rig, demo.shop(), replace(rig.limits, budget=budget)), budget)
    one, other = Seeker(problem), Seeker(problem)
    points = money_flow_front(one, budget)
    assert not unlike(told(one, points), told(other, asked_front(other, budget)), 1e-6)
    assert all(point.proved for point in points)


def test_what_must_be_held_by_a_throttle_is_read_off_the_pass_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the pump's inlet holds back what has no throttle, in every second small world and on a demo rig: no search of its own
    is put for any point, and the points are those that such a search finds."""
    walks: list[int] = []
    walked = front_pass.FrontPass._walk

    def seen(*given: Any, **how: int) -> span_paths.Ends:
        walks.append(how.get("only", 0))
        return walked(*given, **how)

    def asked(*_: object, **__: object) -> Outcome:
        raise AssertionError("asked alone")

    monkeypatch.setattr(front_pass.FrontPass, "_walk", seen)
    rig = demo.rig("barbs_96")
    problem = build(choices(rig, demo.shop(), replace(rig.limits, budget=6700)), 6700)
    alone = [asked_alone(Seeker(problem).with_budget(budget)).found for budget in (6691, 6431)]
    monkeypatch.setattr(front, "asked_alone", asked)
    points = money_flow_front(Seeker(problem), 6700)
    for found in alone:
        assert found is not None
        same = next(point for point in points if point.price == found.bundle.price)
        assert same.flow_m3s == pytest.approx(found.flow_m3s, abs=RESOLUTION_M3S)
    assert not any(6191 < point.price < 6432 for point in points)
    for seed in range(4, 20):
        money_flow_front(Seeker(build(menu_of(seed), BUDGET)), BUDGET)
    assert walks.count(span_paths.THROTTLED) > 10
    assert walks.count(span_paths.FREE) > 10


def large_problem(seed: int) -> Problem:
    """A world too large to list."""
    rig, catalog = large_world(seed, aged=True)
    return build(choices(rig, catalog, rig.limits), rig.limits.budget or 0)


@pytest.mark.parametrize("seed", [2, 11])
def test_losses_lie_where_a_span_says(seed: int) -> None:
    """Every option at flows that the span did not look at, within its error of the polynomial and below its coefficients."""
    problem = large_problem(seed)
    for low, high in ((20.0, 700.0), (300.0, 420.0)):
        span = Span.of(problem, low / 3.6e6, high / 3.6e6)
        for flow in np.random.default_rng(seed).uniform(span.low, span.high, 40):
            loss, joint = problem.heads.at(float(flow)), problem.joint_quadratic * flow * flow
            at = span.at(np.array([flow]))[:, 0]
            assert np.all(np.abs(span.option @ at - loss) <= span.error + 1e-12)
            assert np.all(loss <= span.option.max(axis=1) + span.error + 1e-12)
            assert span.joint @ at == pytest.approx(joint, rel=1e-12)


def test_bounds_of_columns_are_never_above_a_listed_price() -> None:
    """What delivers a flow with a pump costs no less than the bound of that column, whatever it runs into."""
    for seed in range(0, 60, 6):
        menu = menu_of(seed)
        exact = Seeker(build(menu, BUDGET)).exact
        bundles, allowed = enumeration.every_bundle(menu), np.ones(len(exact.option_price), dtype=bool)
        bounds = Bounds(exact.rounds, exact.shares, allowed)
        if not len(bundles.price):
            continue
        flow = np.sort(bundles.flow_m3s)[:: max(len(bundles.flow_m3s) // 12, 1)] * (1 - 1e-9)
        free = np.full(len(flow), np.inf)
        bound = bounds.hulls(Columns.of(flow, free, free)).bound
        least = np.array([bundles.price[bundles.flow_m3s >= each].min() for each in flow])
        assert np.all(bound <= least + 1e-6), seed


def test_clusters_settled_one_after_the_other_cost_what_all_cost_together() -> None:
    """Random sets of shared items against the shop's price of the whole set."""
    rng, compared = np.random.default_rng(5), 0
    for seed in range(0, 40, 4):
        problem = build(menu_of(seed), BUDGET)
        exact = Seeker(problem).exact
        unit = exact.shares.unit_prices()
        settling = Settling(problem, exact.rounds.accounts, unit)
        for _ in range(20 if len(problem.specials) else 0):
            items = tuple(sorted(rng.integers(len(problem.specials), size=5).tolist()))
            account, paid = np.array([exact.rounds.accounts.number(items)]), unit[list(items)].sum()
            for cluster in rng.permutation(settling.count).tolist():
                account, more = settling.settled(account, np.arange(settling.count) == cluster)
                paid += float(more[0])
            whole = problem.shop.special_price(tuple(sorted(problem.specials[item] for item in items)))
            compared += np.isfinite(whole)
            assert account[0] == 0
            assert paid == pytest.approx(whole)
    assert compared > 50


def test_a_pass_that_was_interrupted_goes_on_where_it_was() -> None:
    """Ctrl-C at every other span, and asked on all the same: nothing that was under way is taken for done."""
    problem = build(menu_of(22), BUDGET)
    whole, seeker, pressed = FrontPass(Seeker(problem), BUDGET), Seeker(problem), list[int]()

    def press(nodes: int, *_: float | None) -> None:
        pressed.append(nodes)
        if len(pressed) % 2:
            raise KeyboardInterrupt

    seeker.tally.tick = press
    broken, budget = FrontPass(seeker, BUDGET), BUDGET
    for _ in range(7):
        best, found = whole.best(budget), None
        assert best is not None
        while found is None:
            with suppress(KeyboardInterrupt):
                found = broken.best(budget)
        assert (found.bundle.price, found.flow_m3s) == (best.bundle.price, pytest.approx(best.flow_m3s, rel=1e-9))
        budget = best.bundle.price - 1
    assert len(pressed) > 4


def test_a_front_is_halted_by_ctrl_c_with_what_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """Points that are proved stay proved; the one that was under way is the best known and says that it is not."""
    seeker = Seeker(large_problem(4))
    whole = money_flow_front(Seeker(large_problem(4)), seeker.budget)
    pressed = []

    def press(nodes: int, *_: float | None) -> None:
        pressed.append(nodes)
        if len(pressed) == 1:
            raise KeyboardInterrupt

    seeker.tally.tick = press
    some = money_flow_front(seeker, seeker.budget, None, lambda: bool(pressed))
    assert len(some) == 1
    assert not some[0].proved
    assert seeker.tally.interrupted
    assert some[0].flow_m3s <= whole[-1].flow_m3s * (1 + 1e-12)
    assert some[0].price <= seeker.budget
