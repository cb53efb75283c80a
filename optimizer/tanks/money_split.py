"""What the relaxed fronts of all tanks say of an aim: what money could do at most, and what a tank may be charged.

Levels are what flows are worth to an aim (`program.AimStage.value`), tank by tank. For *worst tank first* a choice is at least as
good as a vector of levels v1 <= v2 <= ... only if one tank has v1, another v2 and so on, or if for some k the first ones have v1
to vk and all others more than vk: so its least charge is that of the cheapest assignment of tanks to such levels. For the other
aims the worth is a sum, and what the other tanks could be worth for each sum of money is a dynamic programme over their fronts.
Both are bounds, since a front is charged no more than any bundle.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from optimizer.search.known_bundles import rising_rows
from optimizer.tanks.program import AimStage

Reals = NDArray[np.float64]

NEVER = 1e15
"""A charge that nobody can pay."""

CELLS = 6000
"""So many sums of money, at most, are told apart where worths are added up; charges are rounded down."""

EDGES = 20
"""So many flows of its front, at most, cut what a tank may be charged into steps."""

HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class Stairs:
    """What is had at least for each ``price`` (minor units): ``gain`` (a flow in m3/s or a worth), both rising."""

    price: Reals
    gain: Reals

    @classmethod
    def of(cls, price: Reals, gain: Reals) -> "Stairs":
        """Those of some offers that gain more than all that is cheaper."""
        rows = rising_rows(price, gain, -np.inf)
        return cls(price[rows], gain[rows])

    def cost(self, gain: Reals) -> Reals:
        """The least price for at least each gain."""
        return np.append(self.price, NEVER)[np.searchsorted(self.gain, gain - HAIR * np.abs(gain))]

    def best(self, price: float) -> float:
        """The most that is had for a price; minus infinity where nothing is."""
        row = int(np.searchsorted(self.price, price, side="right"))
        return float(self.gain[row - 1]) if row else -np.inf

    def added(self, other: "Stairs", cell: float = 0.0) -> "Stairs":
        """Both together; with a ``cell`` prices are rounded down to its multiples."""
        price = np.add.outer(self.price, other.price).ravel()
        gain = np.add.outer(self.gain, other.gain).ravel()
        return Stairs.of(np.floor(price / cell) * cell if cell else price, gain)


NOTHING = Stairs(np.zeros(1), np.zeros(1))


@dataclass(frozen=True, slots=True)
class Target:
    """What a choice must be worth to be of use: ``levels`` (rising, one for each tank) or a ``sum``, at a charge of no more than
    the ``budget``."""

    budget: float
    levels: tuple[float, ...] = ()
    sum: float = 0.0


@dataclass(slots=True)
class MoneySplit:
    """One aim over the fronts of all filters (by number; flows in m3/s), each water the numbers of its filters."""

    stage: AimStage
    waters: Sequence[Sequence[int]]
    fronts: Mapping[int, Stairs]
    budget: float
    _worths: list[Stairs] = field(init=False, default_factory=list)
    _rest: dict[int, tuple[Stairs, Stairs]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        for water, members in enumerate(self.waters):
            front = _added(self.fronts[n] for n in members)
            worth = np.array([self.stage.value(water, flow) for flow in front.gain.tolist()])
            self._worths.append(Stairs.of(front.price, worth))

    @property
    def leximin(self) -> bool:
        """Whether the aim is worst tank first."""
        return self.stage.worst > 0

    def flow_for(self, water: int, level: Reals) -> Reals:
        """The flow of a tank that is worth a level."""
        start, slope = self.stage.line(water)
        return np.maximum(level - start, 0.0) / slope if slope > 0.0 else np.where(level > start + HAIR, np.inf, 0.0)

    # -- what money does at most -----------------------------------------------------------------------------------

    def best(self, money: float) -> tuple[float, ...] | float | None:
        """The levels, or the sum, that nothing of this charge exceeds; None: nothing is had for it."""
        if self.leximin:
            return self._best_levels(money)
        most = _added(self._worths, self._cell).best(money)
        return None if np.isinf(most) else most

    @property
    def _cell(self) -> float:
        return max(self.budget / CELLS, 0.0)

    def _best_levels(self, money: float) -> tuple[float, ...] | None:
        worths = self._worths
        levels = np.unique(np.concatenate([worth.gain for worth in worths]))
        chosen: list[float] = []
        for left in range(len(worths), 0, -1):
            able = levels[levels >= (chosen[-1] if chosen else -np.inf)]
            low, high = -1, len(able)
            while high - low > 1:
                middle = (low + high) // 2
                paid = _assigned(worths, [*chosen, *[float(able[middle])] * left]) <= money
                low, high = (middle, high) if paid else (low, middle)
            if low < 0:
                return None
            chosen.append(float(able[low]))
        return tuple(chosen)

    def cost(self, target: Target) -> float:
        """The least charge of a choice that is worth as much."""
        if self.leximin:
            return _assigned(self._worths, target.levels)
        return float(_added(self._worths, self._cell).cost(np.array([target.sum]))[0])

    # -- what a tank may be charged --------------------------------------------------------------------------------

    def roofs(self, number: int, targets: Sequence[Target], floor_m3s: float) -> tuple[Reals, Reals]:
        """Flows (rising) and the most that a bundle of a filter which delivers at least such a flow, and no more than the next,
        may be charged to be of use to one of the targets."""
        water = next(w for w, members in enumerate(self.waters) if number in members)
        others = _added(self.fronts[n] for n in self.waters[water] if n != number)
        flow = self.fronts[number].gain
        marks = flow[:0]
        if self.leximin and len(self.waters[water]) == 1:
            marks = np.concatenate([self.flow_for(water, np.array(target.levels)) for target in targets])
        every = max(len(flow) // EDGES, 1)
        marks = np.append(marks[marks < flow.max(initial=0.0)], flow[::every]) * (1 - HAIR)
        edges = np.unique(np.append(marks, floor_m3s))
        edges = edges[edges >= floor_m3s]
        credit = np.append(edges[1:], max(flow.max(initial=0.0), edges[-1]))
        roof = np.max([self._roof(water, others, target, credit) for target in targets], axis=0)
        return edges, np.maximum.accumulate(roof)

    def _roof(self, water: int, others: Stairs, target: Target, credit: Reals) -> Reals:
        if not self.leximin:
            least = np.full(len(credit), NEVER)
            for price, flow in zip(others.price.tolist(), others.gain.tolist(), strict=True):
                worth = np.array([self.stage.value(water, each + flow) for each in credit.tolist()])
                least = np.minimum(least, price + self._cost_of_rest(water, target.sum - worth))
            return target.budget - least
        worths = [worth for w, worth in enumerate(self._worths) if w != water]
        least = np.full(len(credit), NEVER)
        for place in {level: n for n, level in enumerate(target.levels)}.values():
            rest = [*target.levels[:place], *target.levels[place + 1 :]]
            missing = self.flow_for(water, np.array([target.levels[place]]))[0] - credit
            least = np.minimum(least, _assigned(worths, rest) + others.cost(np.maximum(missing, 0.0)))
        return target.budget - least

    def _cost_of_rest(self, water: int, needed: Reals) -> Reals:
        """The least charge for which the other tanks together are worth what is needed."""
        if water not in self._rest:
            some, others = self._worths[:water], self._worths[water + 1 :]
            self._rest[water] = _added(some, self._cell), _added(others, self._cell)
        before, behind = self._rest[water]
        return np.array([float((before.price + behind.cost(need - before.gain)).min()) for need in needed.tolist()])


def _added(offers: Iterable[Stairs], cell: float = 0.0) -> Stairs:
    """Several together; see `Stairs.added`."""
    return reduce(lambda found, each: found.added(each, cell), offers, NOTHING)


def _assigned(worths: Sequence[Stairs], levels: Sequence[float]) -> float:
    """The least price at which each of some tanks has a level of its own."""
    if not worths:
        return 0.0
    price = np.stack([worth.cost(np.array(levels)) for worth in worths])
    rows, columns = linear_sum_assignment(price)
    return float(price[rows, columns].sum())


def levels_above(levels: Sequence[float], budget: float, step: float) -> list[Target]:
    """What a choice that is better than some levels by more than a ``step`` has: for some k the first levels, and all others more
    than the next."""
    found = []
    for k in range(len(levels)):
        below = [level - step for level in levels[:k]]
        found.append(Target(budget, (*below, *[levels[k] + step] * (len(levels) - k))))
    return found
