"""Every bundle of a small problem in arrays: the plain answer, written without any code of the search or the loop solvers.

Chains of adapters are found by trying all, bundles are listed one by one, prices come from `Shop.cover` (which has a test
of its own), flows from the general-purpose `scipy.optimize.elementwise.find_root`. The rules of preference are those of the model.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import elementwise

from optimizer.loop.terms import adapter_quadratic, change_quadratic, velocity_quadratic
from optimizer.model.ends import End, Mating, mating
from optimizer.model.losses import Run
from optimizer.model.parts import Fitting, Pump
from optimizer.physics.hose import curvature_factor, friction_factor, reynolds
from optimizer.physics.pumps import label_head_m, monotone_slopes, points_head_m
from optimizer.physics.water import GRAVITY_MS2
from optimizer.search.choices import Choices, Option
from optimizer.search.items import Item, closure_item, part_item
from optimizer.search.joints import MOST_PIECES

Reals = NDArray[np.float64]

TRICKLE_M3S = 1e-9


@dataclass(frozen=True, slots=True)
class Way:
    """One way to close a joint: its loss and what it needs. ``pieces`` are (part id, turned round) in the order of the water."""

    quadratic: float
    items: tuple[Item, ...]
    pieces: tuple[tuple[str, bool], ...] = ()


def every_chain(adapters: Sequence[Fitting], start: End, goal: End, most: int = MOST_PIECES) -> Iterator[Way]:
    """All chains of up to ``most`` adapters between two ends, by trying every adapter both ways at every place."""
    turned = [(a, flip, *((a.outlet, a.inlet) if flip else (a.inlet, a.outlet))) for a in adapters for flip in (False, True)]

    def grow(at: End, loss: float, items: tuple[Item, ...], pieces: tuple[tuple[str, bool], ...]) -> Iterator[Way]:
        pair = mating(at, goal)
        if pair is not None:
            yield Way(loss + change_quadratic(at.bore_m, goal.bore_m), items + _closing(pair), pieces)
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
    known: dict[tuple[End, End], list[Way]]

    @classmethod
    def of(cls, choices: Choices) -> "_Ways":
        shop = choices.shop
        sold = [p for p in shop.parts.values() if isinstance(p, Fitting) and p.role == "adapter"]
        return cls(choices, [p for p in sold if shop.alone(part_item(p.id)) is not None], {})

    def between(self, last: Option | None, left_out: bool, option: Option) -> list[Way]:
        """All ways to join an option to the last part before it; ``left_out``: something between them is taken out."""
        if option.part is None or last is None:
            return [Way(0.0, ())]
        if last.outlet is None or option.inlet is None:
            return []
        if last.is_installed and option.is_installed and not left_out:
            return [Way(change_quadratic(last.outlet.bore_m, option.inlet.bore_m), ())]
        key = (last.outlet, option.inlet)
        if key not in self.known:
            least: dict[tuple[Item, ...], Way] = {}
            for way in every_chain(self.adapters, *key):
                needs = tuple(sorted(way.items))
                if needs not in least or way.quadratic < least[needs].quadratic:
                    least[needs] = way
            self.known[key] = list(least.values())
        return self.known[key]


_State = tuple[Option | None, bool]
"""The last part passed, and whether something after it is taken out."""


def _after(state: _State, option: Option) -> _State:
    if option.part is None:
        return (state[0], state[1] or option.change == "remove")
    return (option, False)


def number_of_bundles(choices: Choices) -> int:
    """How many bundles there are, every chain of every joint counted."""
    ways, counts = _Ways.of(choices), {(None, False): 1}
    for options in choices.options:
        ahead: dict[_State, int] = {}
        for (last, left_out), count in counts.items():
            for option in options:
                key = _after((last, left_out), option)
                ahead[key] = ahead.get(key, 0) + count * len(ways.between(last, left_out, option))
        counts = ahead
    return sum(counts.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundles:
    """Every bundle that can be had, as arrays: price, own and delivered flow, whether it can be throttled, noise."""

    price: Reals
    own_m3s: Reals
    flow_m3s: Reals
    throttled: NDArray[np.bool_]
    noise_dba: Reals

    def take(self, rows: NDArray[np.bool_]) -> "Bundles":
        """Some of the bundles."""
        return Bundles(
            price=self.price[rows],
            own_m3s=self.own_m3s[rows],
            flow_m3s=self.flow_m3s[rows],
            throttled=self.throttled[rows],
            noise_dba=self.noise_dba[rows],
        )

    @property
    def holds(self) -> NDArray[np.bool_]:
        """Bundles whose flow can be held where it is delivered."""
        return self.throttled | (self.own_m3s <= self.flow_m3s * (1 + 1e-9))


@dataclass(frozen=True, slots=True)
class Best:
    """The preferred bundle: what it costs and delivers."""

    price: int
    flow_m3s: float
    noise_dba: float


def every_bundle(choices: Choices) -> Bundles:
    """Every bundle within the budget whose devices get the flow they need."""
    rows, joints = _listed(choices)
    options = [[choices.options[place][number] for number in row] for place, row in enumerate(rows.T)]
    items = [sorted([i for o in each for i in o.items] + [i for w in way for i in w.items]) for each, way in zip(zip(*options), joints, strict=True)]
    own_price = np.array([sum(o.own_price for o in each) for each in zip(*options)], dtype=float)
    cover = choices.shop.cover
    price = own_price + np.array([math.inf if (c := cover(needs)) is None else c.price for needs in items])
    budget = math.inf if choices.limits.budget is None else choices.limits.budget
    kept = np.flatnonzero(price <= budget)
    table = _Table(choices, rows[kept], [joints[row] for row in kept])
    own, flow = table.flows()
    pump = choices.rig.index("pump")
    low = table.gathered(lambda option: option.flow_min_m3s).max(axis=1)
    throttles = table.gathered(lambda option: float(option.throttles))[:, pump + 1 :].any(axis=1)
    noise = table.gathered(lambda option: option.noise_dba)[:, pump]
    found = Bundles(price=price[kept], own_m3s=own, flow_m3s=flow, throttled=throttles, noise_dba=noise)
    return found.take((low <= flow * (1 + 1e-12)) & (flow > 0.0))


def _listed(choices: Choices) -> tuple[NDArray[np.intp], list[tuple[Way, ...]]]:
    """Options by number, shape (bundles, positions), and the ways their joints are closed."""
    ways = _Ways.of(choices)
    open_ends: list[tuple[_State, tuple[int, ...], tuple[Way, ...]]] = [((None, False), (), ())]
    for options in choices.options:
        open_ends = [
            (_after(state, option), (*taken, number), (*closed, way))
            for state, taken, closed in open_ends
            for number, option in enumerate(options)
            for way in ways.between(*state, option)
        ]
    rows = np.array([taken for _, taken, _ in open_ends], dtype=np.intp).reshape(-1, len(choices.options))
    return rows, [closed for _, _, closed in open_ends]


class _Table:
    """Loss terms of bundles, summed, and of what stands in front of the pump."""

    def __init__(self, choices: Choices, rows: NDArray[np.intp], joints: list[tuple[Way, ...]]) -> None:
        self.choices, self.rows = choices, rows
        self.pump = choices.rig.index("pump")
        self.lift = self.gathered(lambda option: option.loss.lift_m)
        self.linear = self.gathered(lambda option: option.loss.linear)
        self.quadratic = self.gathered(lambda option: option.loss.quadratic)
        closed = [[way.quadratic for way in ways] for ways in joints]
        self.quadratic = self.quadratic + np.array(closed, dtype=float).reshape(self.quadratic.shape)
        joint = np.array(closed, dtype=float).reshape(self.quadratic.shape)
        self.pump_joint = joint[:, self.pump]
        runs = [place for place, position in enumerate(choices.rig.positions) if position.kind == "hose"]
        self.runs = [(place, *self._run_columns(place)) for place in runs]

    def gathered(self, of: "Callable[[Option], float]") -> Reals:
        """A number of every option taken, shape (bundles, positions)."""
        columns = [np.array([of(o) for o in options], dtype=float) for options in self.choices.options]
        return np.stack([column[row] for column, row in zip(columns, self.rows.T, strict=True)], axis=1)
