"""The buying order against all permutations of random bundles, and what every step must hold."""

import itertools
import math
from collections import Counter
from dataclasses import replace
from functools import cache

import pytest
from small_worlds import large_world

from optimizer.loop.graph import loop_graph
from optimizer.loop.operating import operating_point
from optimizer.loop.terms import adapter_quadratic, change_quadratic
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Fitting
from optimizer.search import order
from optimizer.search.best import RESOLUTION_M3S, Found, Seeker
from optimizer.search.choices import Choices, broken_by_itself, choices
from optimizer.search.elements import elements_of
from optimizer.search.exhaustive import _suction_flow
from optimizer.search.items import Item
from optimizer.search.joints import Chain, JointBook
from optimizer.search.layers import build
from optimizer.search.options import Option
from optimizer.search.order import Order, buying_order

WORLDS = 40
MOST_PERMUTED = 6


@cache
def chosen(seed: int) -> tuple[Seeker, Found] | None:
    """The best bundle of a large random world for a random sum, if there is one with something to buy."""
    rig, catalog = large_world(seed)
    limits = replace(rig.limits, flow_min_m3s=0.0)
    seeker = Seeker(build(choices(rig, catalog, limits))).with_budget(2000 + 700 * (seed % 9))
    found = seeker.most_flow().found
    return None if found is None or found.bundle.price == 0 else (seeker, found)


# -- the plain way: every permutation, every subset, one joint after another -----------------------------------------


class Plain:
    """Loops between today's and the final one in scalars, and payments as lists. Only the rules are those of the search."""

    def __init__(self, seeker: Seeker, found: Found) -> None:
        self.menu: Choices = seeker.problem.choices
        self.final = seeker.options_of(found.bundle)
        self.closed = [seeker.problem.joint(row) for row in found.bundle.path.joints]
        self.bill = list(found.bundle.cover.purchases)
        free = self.menu.limits.without(*order.NOT_YET)
        here = choices(replace(self.menu.rig, spares=()), Catalog(parts={}, products=()), free)
        self.today = [{o.change: o for o in some}.get("clean", some[0]) for some in here.options]
        self.pieces = Counter(item for chain in self.closed for item in chain.items)
        self.needed = [i for o in self.final for i in o.items] + list(self.pieces.elements())
        parts = [p for p in self.menu.shop.parts.values() if isinstance(p, Fitting) and p.role == "adapter"]
        faces = {o.inlet.face for o in (*self.final, *self.today) if o.inlet is not None}
        self.book = JointBook(self.menu.shop, parts, change_quadratic, adapter_quadratic, faces, math.inf)
        self.known: dict[frozenset[int], tuple[float, bool, tuple[Item, ...]] | None] = {}
        self.best: dict[frozenset[int], tuple[float, bool, tuple[Item, ...]]] = {}

    def loop(self, fitted: frozenset[int], changed: frozenset[int]) -> tuple[float, bool, tuple[Item, ...]] | None:
        """Flow, whether a limit is broken, and the joints' pieces, with only these positions changed."""
        if fitted not in self.known:
            self.known[fitted] = self._made(fitted, changed)
        return self.known[fitted]

    def _made(self, fitted: frozenset[int], changed: frozenset[int]) -> tuple[float, bool, tuple[Item, ...]] | None:
        old = changed - fitted
        options = [self.today[n] if n in old else option for n, option in enumerate(self.final)]
        joints: list[Chain] = []
        last, left_out, final = None, False, True
        for place, option in enumerate(options):
            blank = Chain((), (), 0.0, 0, (), (), True)
            if option.part is None:
                joints.append(blank)
                left_out, final = left_out or option.change == "remove", final and place not in old
                continue
            chain = blank if last is None else self._chain(last, left_out, option, place, final and place not in old)
            if chain is None:
                return None
            joints.append(chain)
            last, left_out, final = option, False, place not in old
        return self._flows(options, joints, bool(fitted))

    def _chain(self, last: Option, left_out: bool, option: Option, place: int, final: bool) -> Chain | None:
        if final:
            return self.closed[place]
        if last.outlet is None or option.inlet is None:
            return None
        if last.is_installed and option.is_installed and not left_out:
            return Chain((), (), change_quadratic(last.outlet.bore_m, option.inlet.bore_m), 0, (), (), True)
        ways = self.book.chains(last.outlet, option.inlet)
        return min(ways, key=self._dear, default=None)

    def _dear(self, chain: Chain) -> tuple[int, int, float, tuple[str, ...]]:
        alone = self.menu.shop.alone
        others = (Counter(chain.items) - self.pieces).elements()
        ids = tuple(turned.part.id for turned in chain.adapters)
        return sum(alone(i) or 0 for i in others), sum(alone(i) or 0 for i in chain.items), chain.quadratic, ids

    def _flows(self, options: list[Option], joints: list[Chain], changed: bool) -> tuple[float, bool, tuple[Item, ...]] | None:
        elements = elements_of(self.menu.rig, options, joints)
        own = operating_point(loop_graph(elements), self.menu.water.kinematic_m2s).flow_m3s
        top = min([own, self.menu.limits.flow_max_m3s, *(option.flow_max_m3s for option in options)])
        flow = _suction_flow(self.menu, elements, top)
        held = any(option.throttles for option in options[self.menu.rig.index("pump") + 1 :])
        free = own > flow * (1 + 1e-9) and not held
        flow = own if free else flow
        if changed and flow <= 0.0:
            return None
        breaks = free or any(option.flow_min_m3s > flow * (1 + 1e-12) for option in options)
        breaks = breaks or any(list(broken_by_itself(self.menu.rig, self.menu.limits, option)) for option in options)
        needs = Counter(item for joint in joints for item in joint.items)
        if self.extra(needs - self.pieces) >= 10**12:
            return None
        return flow, breaks, tuple(item for joint in joints for item in joint.items)

    def extra(self, items: Counter[Item]) -> int:
        """What pieces beyond the bill add to it."""
        more, plain = self.menu.shop.cover([*self.needed, *items.elements()]), self.menu.shop.cover(self.needed)
        return 10**12 if more is None or plain is None else more.price - plain.price

    def price(self, purchase: order.Purchase) -> int:
        product = self.menu.shop.products[purchase.product]
        if product.step_m:
            return sum(product.cut_price(item.weight) for item in purchase.items)
        return purchase.copies * product.price


def simulated(plain: Plain, lots: tuple[tuple[int, ...], ...], sequence: tuple[int, ...]) -> tuple[int, float, int]:
    """Loops that break a limit, water missed and money thrown away for one order, step by step."""
    changed = frozenset(place for lot in lots for place in lot)
    last = plain.loop(changed, changed)
    assert last is not None
    broken, missed, paid, at_hand, own = 0, 0.0, [], Counter[Item](), 0
    stands, spent = plain.loop(frozenset(), changed), 0
    assert stands is not None
    for number in range(1, len(sequence) + 1):
        bought = sequence[:number]
        if frozenset(bought) not in plain.best:
            plain.best[frozenset(bought)] = best_of(plain, lots, bought, changed)
        before, stands = stands, plain.best[frozenset(bought)]
        own += sum(plain.final[place].own_price for place in lots[sequence[number - 1]])
        _pay(plain, [place for lot in bought for place in lots[lot]], stands[2], paid)
        at_hand |= Counter(stands[2]) - plain.pieces
        total = sum(plain.price(plain.bill[n]) for n in paid) + own + plain.extra(at_hand)
        missed += (last[0] - before[0]) * (total - spent)
        spent, broken = total, broken + (stands[1] and number < len(sequence))
    return broken, missed, plain.extra(at_hand)


def best_of(
    plain: Plain, lots: tuple[tuple[int, ...], ...], bought: tuple[int, ...], changed: frozenset[int]
) -> tuple[float, bool, tuple[Item, ...]]:
    """The best loop of all that can be made of some lots."""
    made = []
    for size in range(len(bought) + 1):
        for some in itertools.combinations(sorted(bought), size):
            fitted = frozenset(place for lot in some for place in lots[lot])
            loop = plain.loop(fitted, changed)
            if loop is not None:
                if fitted == changed:
                    return loop
                thrown = plain.extra(Counter(loop[2]) - plain.pieces)
                bits = sum(1 << lot for lot in some)
                made.append(((loop[1], -round(loop[0] / RESOLUTION_M3S), thrown, -size, bits), loop))
    return min(made, key=lambda pair: pair[0])[1]


def _pay(plain: Plain, places: list[int], needs: tuple[Item, ...], paid: list[int]) -> None:
    """Add the purchases of the bill that parts and joints need now, those already paid first, in the order of the bill."""
    served = _serves(plain)
    paid += [n for n, serves in enumerate(served) if serves & set(places) and n not in paid]
    for item, wanted in sorted((Counter(needs) & plain.pieces).items()):
        for n, purchase in enumerate(plain.bill):
            if sum(plain.bill[k].items.count(item) for k in paid) < wanted and item in purchase.items and n not in paid:
                paid.append(n)


def _serves(plain: Plain) -> list[set[int]]:
    """The positions whose own part each purchase of the bill serves: those that need an item of it, in their order."""
    open_needs = [(item.key, item.weight, place) for place, option in enumerate(plain.final) for item in option.items]
    serves: list[set[int]] = []
    for purchase in plain.bill:
        serves.append(set())
        for item in purchase.items:
            medium = item.key[0] == "medium"
            fits = [need for need in open_needs if need[0] == item.key and (medium or need[1] == item.weight)]
            if fits:
                serves[-1].add(fits[0][2])
                if not medium:
                    open_needs.remove(fits[0])
    return serves


# -- tests ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(WORLDS))
def test_no_permutation_is_better(seed: int) -> None:
    case = chosen(seed)
    if case is None:
        return
    seeker, found = case
    told = buying_order(seeker, found)
    lots = tuple(sorted(step.places for step in told.steps))
    if len(lots) > MOST_PERMUTED:
        return
    plain = Plain(seeker, found)
    every = {s: simulated(plain, lots, s) for s in itertools.permutations(range(len(lots)))}
    mine = every[tuple(lots.index(step.places) for step in told.steps)]
    assert told.status == "proved"
    assert (mine[0], mine[2]) == (sum(step.loop.breaks for step in told.steps[:-1]), told.thrown)
    assert mine[1] == pytest.approx(told.missed, rel=1e-6, abs=1e-9)
    best = min(every.values(), key=lambda each: (each[0], round(each[1] * 3.6e6, 3), each[2]))
    assert (mine[0], mine[2]) == (best[0], best[2])
    assert mine[1] == pytest.approx(best[1], rel=1e-6, abs=1e-9)


def test_the_worlds_ask_for_something() -> None:
    """Orders of three lots and more, orders that throw something away, loops that wait: all of them occur."""
    orders = [buying_order(*case) for seed in range(WORLDS) if (case := chosen(seed)) is not None]
    assert sum(len(told.steps) >= 3 for told in orders) > 12
    assert any(told.thrown for told in orders)
    assert any(step.waiting for told in orders for step in told.steps)


@pytest.mark.parametrize("seed", range(WORLDS))
def test_the_steps_add_up_to_the_bundle(seed: int) -> None:
    """What is paid is the bill and what is thrown away; at the end the bundle's own flow runs and nothing waits."""
    case = chosen(seed)
    if case is None:
        return
    seeker, found = case
    told = buying_order(seeker, found)
    assert sum(step.price for step in told.steps) == found.bundle.price + told.thrown
    assert all(step.price >= 0 for step in told.steps)
    if told.steps:
        last = told.steps[-1]
        assert last.waiting == ()
        assert last.loop.flow_m3s == pytest.approx(found.flow_m3s, rel=1e-9)
        bought = [purchase for step in told.steps for purchase in step.purchases]
        assert sorted(bought, key=repr) == sorted(found.bundle.cover.purchases, key=repr)


def several() -> tuple[Seeker, Found]:
    """A bundle of at least four lots."""
    for seed in range(WORLDS):
        case = chosen(seed)
        if case is not None and len(buying_order(*case).steps) >= 4:
            return case
    raise AssertionError("no such world")


def test_too_many_lots_are_ordered_one_by_one_and_said_to_be(monkeypatch: pytest.MonkeyPatch) -> None:
    """The greedy order pays for the same things and ends at the same flow; it misses no less water than the exact one."""
    exact = buying_order(*several())
    monkeypatch.setattr(order, "MOST_EXACT", 3)
    greedy: Order = buying_order(*several())
    assert (exact.status, greedy.status) == ("proved", "stopped")
    assert sum(s.price for s in greedy.steps) - greedy.thrown == sum(s.price for s in exact.steps) - exact.thrown
    assert greedy.steps[-1].loop.flow_m3s == exact.steps[-1].loop.flow_m3s
    ranks = [(sum(s.loop.breaks for s in each.steps[:-1]), each.missed) for each in (exact, greedy)]
    assert ranks[0][0] < ranks[1][0] or ranks[0] <= (ranks[1][0], ranks[1][1] * (1 + 1e-9))
