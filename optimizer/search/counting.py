"""Exact prices along a partial path: how many of each shared item it needs, as one number that adds up.

Where packs, coils and kits are shared, the price of a path hangs on how many of each item it needs in all, and on nothing else. Items
that the very same product lines can serve, and whose weights are equal, count as one class. A path's counts are written as one
integer in a mixed radix, so that they add up along the path, and the cheapest cover of a number of items is looked up by it.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from optimizer.search.items import DIVISIBLE, Item
from optimizer.search.layers import Problem

Ints = NDArray[np.intp]
Reals = NDArray[np.float64]

LARGEST_CODE = 2**62

UNPAYABLE = 1e12
"""Price of items that stock does not cover."""


@dataclass(slots=True)
class Counts:
    """Codes of all options and joints of a problem, and the least price of what a code stands for.

    ``items`` names one item of each class, ``counted`` marks the problem's special items that belong to one.
    """

    problem: Problem
    items: tuple[Item, ...]
    counted: NDArray[np.bool_]
    radix: tuple[int, ...]
    option_code: Ints
    joint_code: Ints
    _floors: dict[int, float] = field(init=False, default_factory=dict)

    @classmethod
    def of(cls, problem: Problem, tracked: frozenset[Item]) -> "Counts | None":
        """Codes that count the tracked items; None when they are too many for one number."""
        classes: dict[object, int] = {}
        number = np.full(len(problem.specials), -1, dtype=np.intp)
        named: list[Item] = []
        for place, item in enumerate(problem.specials):
            if item in tracked:
                number[place] = classes.setdefault(_class(problem, item), len(classes))
                if number[place] == len(named):
                    named.append(item)
        options = _counted(problem.option_special, number, len(problem.option_plain), len(named))
        joints = _counted(problem.joint_special, number, len(problem.joint_plain), len(named))
        most = _most(options, problem.option_at) + _most(joints, problem.joint_at)
        radix = [int(count) + 1 for count in most]
        steps = np.cumprod([1, *radix], dtype=object)
        if int(steps[-1]) >= LARGEST_CODE:
            return None
        step = np.array(steps[:-1], dtype=np.intp)
        return cls(problem, tuple(named), number >= 0, tuple(radix), options @ step, joints @ step)

    def floors(self, codes: Ints) -> Reals:
        """Least price of the items of each code, in minor units: no path that needs at least these pays less for them."""
        different, place = np.unique(codes, return_inverse=True)
        return np.array([self._floor(code) for code in different.tolist()], dtype=float)[place]

    def _floor(self, code: int) -> float:
        if code not in self._floors:
            items, rest = [], code
            for item, radix in zip(self.items, self.radix, strict=True):
                rest, count = divmod(rest, radix)
                items += [item] * count
            cover = self.problem.shop.cover(items)
            self._floors[code] = UNPAYABLE if cover is None else float(cover.price)
        return self._floors[code]


def _class(problem: Problem, item: Item) -> object:
    name = item.key if item.key[0] == DIVISIBLE else ""
    return (item.weight, problem.shop.servers(item.key), name)


def _counted(pairs: tuple[Ints, Ints], number: Ints, rows: int, classes: int) -> Ints:
    """How many items of each class each row needs, shape (rows, classes)."""
    counts = np.zeros((rows, classes), dtype=np.intp)
    which = number[pairs[1]]
    known = which >= 0
    np.add.at(counts, (pairs[0][known], which[known]), 1)
    return counts


def _most(counts: Ints, starts: tuple[int, ...]) -> Ints:
    """The largest number per class that one path can need: the largest of each layer, added up."""
    layers = [counts[a:b].max(axis=0, initial=0) for a, b in zip(starts, starts[1:], strict=False)]
    return np.asarray(np.sum(layers, axis=0), dtype=np.intp)
