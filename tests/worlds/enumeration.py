"""Every bundle of a small problem in arrays: the plain answer, written without any code of the search or the loop solvers.

Chains of adapters are found by trying all, bundles are listed one by one, prices come from `Shop.cover` (which has a test
of its own), flows from the general-purpose `scipy.optimize.elementwise.find_root`. The rules of preference are those
of the model.
"""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from jets import ceiling_m3s
from numpy.typing import NDArray
from scipy.optimize import elementwise

from optimizer.loop.terms import adapter_quadratic, change_quadratic
from optimizer.model.ends import End, Mating, mating
from optimizer.model.items import DIVISIBLE, Item, closure_item, part_item
from optimizer.model.options import Option
from optimizer.model.parts import Fitting, Pump, PumpCurve
from optimizer.physics.hose import curvature_factor, friction_factor, reynolds
from optimizer.physics.pumps import label_head_m, monotone_slopes, points_head_m
from optimizer.physics.water import GRAVITY_MS2
from optimizer.search.choices import Choices
from optimizer.search.joints import MOST_PIECES
from optimizer.search.pricing import Shop

Reals = NDArray[np.float64]
Bools = NDArray[np.bool_]

TRICKLE_M3S = 1e-9


@dataclass(frozen=True, slots=True)
class Way:
    """One way to close a joint: its loss and what it needs. ``pieces`` are (part id, turned round) in the order of the water,
    one of which may throttle."""

    quadratic: float
    items: tuple[Item, ...]
    pieces: tuple[tuple[str, bool], ...] = ()
    beaten: bool = False
    throttles: bool = False


def every_chain(adapters: Sequence[Fitting], start: End, goal: End, most: int = MOST_PIECES) -> Iterator[Way]:
    """All chains of up to ``most`` adapters between two ends, by trying every adapter both ways at every place."""
    turned = [(a, False, a.inlet, a.outlet) for a in adapters] + [(a, True, a.outlet, a.inlet) for a in adapters]

    set_part_way = {part.id for part in adapters if part.throttles}

    def grow(at: End, loss: float, items: tuple[Item, ...], pieces: tuple[tuple[str, bool], ...]) -> Iterator[Way]:
        pair = mating(at, goal)
        if pair is not None:
            throttles = any(part_id in set_part_way for part_id, _ in pieces)
            lost = loss + change_quadratic(at.bore_m, goal.bore_m)
            yield Way(lost, items + _closing(pair), pieces, throttles=throttles)
        if len(pieces) == most:
            return
        for part, flip, entry, leave in turned:
            joint = mating(at, entry)
            if joint is not None:
                lost = change_quadratic(at.bore_m, entry.bore_m) + adapter_quadratic(part, flip)
                needs = (*items, *_closing(joint), part_item(part.id))
                yield from grow(leave, loss + lost, needs, (*pieces, (part.id, flip)))

    yield from grow(start, 0.0, (), ())


def _closing(pair: Mating) -> tuple[Item, ...]:
    item = closure_item(pair)
    return () if item is None else (item,)


@dataclass(slots=True)
class _Ways:
    """The joints of one problem. Of chains that need exactly the same things only the one with the least loss is kept."""

    choices: Choices
    adapters: list[Fitting]
    known: dict[tuple[End, End, bool], list[Way]]
    seen: dict[tuple[int, bool, int], list[Way]]

    @classmethod
    def of(cls, choices: Choices) -> "_Ways":
        shop = choices.shop
        sold = [p for p in shop.parts.values() if isinstance(p, Fitting) and p.role == "adapter"]
        return cls(choices, [p for p in sold if shop.alone(part_item(p.id)) is not None], {}, {})

    def between(self, last: Option | None, left_out: bool, option: Option) -> list[Way]:
        """All ways to join an option to the last part before it; ``left_out``: something between them is taken out."""
        key = (id(last), left_out, id(option))
        if key not in self.seen:
            self.seen[key] = self._between(last, left_out, option)
        return self.seen[key]

    def _between(self, last: Option | None, left_out: bool, option: Option) -> list[Way]:
        if option.part is None or last is None:
            return [Way(0.0, ())]
        if last.outlet is None or option.inlet is None:
            return []
        if last.is_installed and option.is_installed and not left_out:
            return [Way(change_quadratic(last.outlet.bore_m, option.inlet.bore_m), ())]
        behind = option.position > self.choices.rig.index("pump")
        key = (last.outlet, option.inlet, behind)
        if key not in self.known:
            least: dict[tuple[Item, ...], Way] = {}
            for way in every_chain(self.adapters, *key[:2]):
                needs = tuple(sorted(way.items))
                if needs not in least or way.quadratic < least[needs].quadratic:
                    least[needs] = way
            self.known[key] = unbeaten_first(list(least.values()), self.choices.shop, behind)
        return self.known[key]


def unbeaten_first(ways: list[Way], shop: Shop, behind: bool) -> list[Way]:
    """The same ways, those marked as beaten for which another loses no more, costs no more in pieces of fixed price, and needs
    no piece of a pack, kit or short stock that this one does not; ``behind`` the pump, throttles where this one does."""
    ranks = [(way.quadratic, *_needs(way, shop), behind and way.throttles) for way in ways]
    marked = []
    for n, way in enumerate(ways):
        beaten = any(_beats(other, ranks[n]) and (other != ranks[n] or m < n) for m, other in enumerate(ranks) if m != n)
        marked.append(replace(way, beaten=beaten))
    return sorted(marked, key=lambda way: way.beaten)


_Rank = tuple[float, int, Counter[Item], bool]


def _needs(way: Way, shop: Shop) -> tuple[int, Counter[Item]]:
    plain = sum(shop.alone(item) or 0 for item in way.items if shop.is_plain(item))
    return plain, Counter(item for item in way.items if not shop.is_plain(item))


def _beats(one: _Rank, other: _Rank) -> bool:
    return one[0] <= other[0] and one[1] <= other[1] and one[2] <= other[2] and one[3] >= other[3]


_State = tuple[Option | None, bool]
"""The last part passed, and whether something after it is taken out."""


def _after(state: _State, option: Option) -> _State:
    if option.part is None:
        return (state[0], state[1] or option.change == "remove")
    return (option, False)


def number_of_bundles(choices: Choices) -> int:
    """How many bundles there are, every chain of every joint counted."""
    start: _State = (None, False)
    ways, counts = _Ways.of(choices), {(id(None), False): (start, 1)}
    for options in choices.options:
        ahead: dict[tuple[int, bool], tuple[_State, int]] = {}
        for state, count in counts.values():
            for option in options:
                after = _after(state, option)
                key = (id(after[0]), after[1])
                so_far = ahead[key][1] if key in ahead else 0
                ahead[key] = (after, so_far + count * len(ways.between(*state, option)))
        counts = ahead
    return sum(count for _, count in counts.values())


@dataclass(frozen=True, slots=True)
class Bundles:
    """Bundles as arrays: price, own and delivered flow, whether the flow can be throttled, noise, whether every joint is
    closed in a way that no other beats."""

    price: Reals
    own_m3s: Reals
    flow_m3s: Reals
    throttled: Bools
    noise_dba: Reals
    neat: Bools

    def take(self, rows: Bools) -> "Bundles":
        """Some of the bundles."""
        columns = (self.price, self.own_m3s, self.flow_m3s, self.throttled, self.noise_dba, self.neat)
        return Bundles(*(column[rows] for column in columns))

    @property
    def holds(self) -> Bools:
        """Bundles whose flow can be held where it is delivered."""
        return self.throttled | (self.own_m3s <= self.flow_m3s * (1 + 1e-9))


@dataclass(frozen=True, slots=True)
class Best:
    """The preferred bundle: what it costs and delivers."""

    price: int
    flow_m3s: float
    noise_dba: float


def every_bundle(choices: Choices) -> Bundles:
    """Every bundle that flows, is within the budget and gives its devices the flow they need."""
    rows, joints = _listed(choices)
    budget = math.inf if choices.limits.budget is None else float(choices.limits.budget)
    price = np.array(list(_prices(choices, rows, joints, budget)), dtype=float)
    kept = np.flatnonzero(price <= min(budget, 1e15))
    table = _Table(choices, np.array([rows[n] for n in kept], dtype=np.intp), [joints[n] for n in kept])
    return table.bundles(price[kept])


def _listed(choices: Choices) -> tuple[list[tuple[int, ...]], list[tuple[Way, ...]]]:
    """The options of each bundle by number, and the ways its joints are closed."""
    ways = _Ways.of(choices)
    found: list[tuple[_State, tuple[int, ...], tuple[Way, ...]]] = [((None, False), (), ())]
    for options in choices.options:
        found = [
            (_after(state, option), (*row, number), (*closed, way))
            for state, row, closed in found
            for number, option in enumerate(options)
            for way in ways.between(*state, option)
        ]
    return [row for _, row, _ in found], [closed for _, _, closed in found]


def _prices(
    choices: Choices, rows: Sequence[tuple[int, ...]], joints: Sequence[tuple[Way, ...]], budget: float
) -> Iterator[float]:
    """What each bundle costs: inf when it cannot be had, or when its pieces of fixed price alone cost more than the budget."""
    shop, fixed = choices.shop, dict[Item, int]()
    for row, ways in zip(rows, joints, strict=True):
        options = [options[number] for options, number in zip(choices.options, row, strict=True)]
        items = [item for option in options for item in option.items] + [item for way in ways for item in way.items]
        for item in items:
            if item not in fixed:
                fixed[item] = (shop.alone(item) or 0) if shop.is_plain(item) and item.key[0] != DIVISIBLE else 0
        own = sum(option.own_price for option in options)
        if own + sum(fixed[item] for item in items) > budget:
            yield math.inf
        else:
            cover = shop.cover(items)
            yield math.inf if cover is None else cover.price + own


class _Table:
    """Loss terms of bundles, summed, and those of all that stands in front of the pump."""

    def __init__(self, choices: Choices, rows: NDArray[np.intp], joints: list[tuple[Way, ...]]) -> None:
        shape = (len(joints), len(choices.options))
        self.choices, self.rows, self.pump = choices, rows.reshape(shape), choices.rig.index("pump")
        self.lift = self._gathered(lambda option: option.loss.lift_m)
        self.linear = self._gathered(lambda option: option.loss.linear)
        self.joint = np.array([[way.quadratic for way in ways] for ways in joints], dtype=float).reshape(shape)
        self.neat = np.array([not any(way.beaten for way in ways) for ways in joints], dtype=bool)
        self.valves = np.array([any(way.throttles for way in ways[self.pump + 1 :]) for ways in joints], dtype=bool)
        self.quadratic = self._gathered(lambda option: option.loss.quadratic)
        self.speed_head = self._gathered(lambda option: option.suction_quadratic)[:, self.pump]
        self.runs = [place for place, position in enumerate(choices.rig.positions) if position.kind == "hose"]

    def _gathered(self, number: Callable[[Option], float]) -> Reals:
        """A number of every option taken, shape (bundles, positions)."""
        columns = [np.array([number(option) for option in options]) for options in self.choices.options]
        return np.stack([column[row] for column, row in zip(columns, self.rows.T, strict=True)], axis=1).astype(float)

    def bundles(self, price: Reals) -> Bundles:
        """What each bundle delivers; those that do not flow or starve a device are left out."""
        if not len(price):
            return Bundles(price, price, price, price > 0.0, price, price > 0.0)
        limits = self.choices.limits
        own = self._root(self._short_of, np.full(len(price), 1e-2))
        ceiling = np.minimum(self._gathered(lambda option: ceiling_m3s(limits, option)).min(axis=1), own)
        ceiling = np.minimum(ceiling, limits.flow_max_m3s)
        flow = ceiling if math.isinf(limits.inlet_head_m) else self._root(self._starved, ceiling)
        throttles = self._gathered(lambda option: float(option.throttles))[:, self.pump + 1 :].any(axis=1) | self.valves
        noise = self._gathered(lambda option: option.noise_dba)[:, self.pump]
        low = self._gathered(lambda option: option.flow_min_m3s).max(axis=1)
        found = Bundles(price, own, flow, throttles, noise, self.neat)
        return found.take((low <= flow * (1 + 1e-12)) & (flow > TRICKLE_M3S))

    def _root(self, rising: Callable[[Reals, Reals], Reals], top: Reals) -> Reals:
        """Where a rising function of the flow meets 0, between 0 and ``top``: an end where it does not."""
        rows = np.arange(len(top), dtype=float)
        first, last = rising(np.zeros(len(top)), rows), rising(top, rows)
        inside = (first < 0.0) & (last > 0.0)
        flow = np.where(first >= 0.0, 0.0, top)
        if inside.any():
            bracket, tolerances = (np.zeros(inside.sum()), top[inside]), {"xatol": 1e-16, "xrtol": 1e-14}
            found = elementwise.find_root(rising, bracket, args=(rows[inside],), tolerances=tolerances)
            assert found.success.all()
            flow[inside] = found.x
        return flow

    def _short_of(self, flow: Reals, number: Reals) -> Reals:
        """Losses less the pump's head."""
        rows = number.astype(np.intp)
        everywhere = slice(None)
        return self._lost(flow, rows, everywhere, everywhere) - self._pumped(flow, rows)

    def _starved(self, flow: Reals, number: Reals) -> Reals:
        """By how much the pressure at the pump's inlet is below what is asked."""
        rows = number.astype(np.intp)
        lost = self._lost(flow, rows, slice(0, self.pump), slice(0, self.pump + 1))
        depth = self.choices.rig.positions[self.pump].depth_m
        return lost + self.speed_head[rows] * flow**2 + self.choices.limits.inlet_head_m - depth

    def _lost(self, flow: Reals, rows: NDArray[np.intp], parts: slice, joints: slice) -> Reals:
        quadratic = self.quadratic[rows, parts].sum(axis=1) + self.joint[rows, joints].sum(axis=1)
        lost = self.lift[rows, parts].sum(axis=1) + self.linear[rows, parts].sum(axis=1) * flow + quadratic * flow**2
        places = range(len(self.choices.options))[parts]
        return lost + sum(self._friction(place, flow, rows) for place in self.runs if place in places)

    def _friction(self, place: int, flow: Reals, rows: NDArray[np.intp]) -> Reals:
        """Darcy and Weisbach, the friction factor from the physics."""
        runs = [option.loss.run for option in self.choices.options[place]]
        terms = np.array([(r.bore_m, r.length_m, r.roughness_m, r.factor, r.coil_m) for r in runs if r is not None])
        bore, length, roughness, ribs, coil = terms[self.rows[rows, place]].T
        moving = np.maximum(flow, 1e-15)
        number = reynolds(moving, bore, self.choices.water.kinematic_m2s)
        factor = friction_factor(number, roughness / bore) * ribs
        if np.isfinite(coil).any():
            factor = factor * curvature_factor(number, bore, coil)
        speed = flow / (math.pi * bore**2 / 4.0)
        return np.asarray(factor * length / bore * speed**2 / (2.0 * GRAVITY_MS2))

    def _pumped(self, flow: Reals, rows: NDArray[np.intp]) -> Reals:
        head = np.empty(len(rows))
        for number, option in enumerate(self.choices.options[self.pump]):
            mine = self.rows[rows, self.pump] == number
            if mine.any() and isinstance(option.part, Pump):
                head[mine] = _curve_head(option.part.curve, flow[mine] / option.speed) * option.speed**2
        return head


def _curve_head(curve: PumpCurve, flow: Reals) -> Reals:
    if curve.shape:
        return np.asarray(label_head_m(flow, curve.max_head_m, curve.max_flow_m3s, curve.shape))
    flows, heads = np.array(curve.flows_m3s), np.array(curve.heads_m)
    return np.asarray(points_head_m(flow, flows, heads, monotone_slopes(flows, heads)))


def most_flow(bundles: Bundles, choices: Choices, resolution_m3s: float) -> Best | None:
    """Of the bundles that count and deliver the most, to the resolution, the cheapest, then the quietest."""
    counted = _counted(bundles, max(choices.limits.flow_min_m3s, TRICKLE_M3S))
    if not len(counted.price):
        return None
    return _first(counted.take(counted.flow_m3s >= counted.flow_m3s.max() - resolution_m3s))


def least_price(bundles: Bundles, choices: Choices, target_m3s: float) -> Best | None:
    """Of the bundles that count and deliver a flow the cheapest, then the quietest."""
    counted = _counted(bundles, max(target_m3s, choices.limits.flow_min_m3s, TRICKLE_M3S))
    return _first(counted) if len(counted.price) else None


def _counted(bundles: Bundles, least_m3s: float) -> Bundles:
    """The bundles that deliver so much and can be held to it: by a throttle, or under every ceiling by themselves.

    Among the latter, joints that another way of closing beats do not count: nobody fits a worse joint to slow the water down.
    """
    counts = bundles.holds & (bundles.throttled | bundles.neat)
    return bundles.take(counts & (bundles.flow_m3s >= least_m3s * (1 - 1e-9)))


def _first(some: Bundles) -> Best:
    row = int(np.lexsort((-some.flow_m3s, some.noise_dba, some.price))[0])
    return Best(int(some.price[row]), float(some.flow_m3s[row]), float(some.noise_dba[row]))


@dataclass(frozen=True, slots=True)
class Laid:
    """One bundle as options and the ways its joints are closed, with its price."""

    options: tuple[Option, ...]
    joints: tuple[Way, ...]
    price: int


def affordable(choices: Choices) -> list[Laid]:
    """Every bundle within the budget whose joints are closed in ways that no other way beats."""
    rows, joints = _listed(choices)
    neat = [n for n, ways in enumerate(joints) if not any(way.beaten for way in ways)]
    rows, joints = [rows[n] for n in neat], [joints[n] for n in neat]
    budget = math.inf if choices.limits.budget is None else float(choices.limits.budget)
    prices = list(_prices(choices, rows, joints, budget))
    return [
        Laid(tuple(options[n] for options, n in zip(choices.options, row, strict=True)), ways, int(price))
        for row, ways, price in zip(rows, joints, prices, strict=True)
        if price <= min(budget, 1e15)
    ]
