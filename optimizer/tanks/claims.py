"""What the tanks may take of each other in a choice that is worth a target.

A part can be taken only if its owner has a bundle without it that could be part of such a choice, and freeing it is worth
something only if another tank has one that takes it. So the options that some bundle of use may go through, tank by tank, say
which options of the others are of no use, and which parts are kept or freed for nobody.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from optimizer.tanks.signatures import Side

Mask = NDArray[np.bool_]
Ints = NDArray[np.intp]


MOST_SPLIT = 3
"""Of so many tanks, at most, it is told apart whether a tank takes anything from them."""


@dataclass(frozen=True, slots=True)
class Way:
    """Options that a tank may choose among where nobody takes its ``idle`` parts."""

    allowed: Mask
    idle: frozenset[str]


@dataclass(frozen=True, slots=True)
class Handed:
    """What of a tank's problem is about parts handed on: the options that take or keep each (flat rows, by id), and those of the
    layer where it is kept."""

    rows: Mapping[str, Ints]
    layer: Mapping[str, slice]

    @classmethod
    def of(cls, side: Side) -> "Handed":
        """Those of one tank."""
        rows: dict[str, list[int]] = {}
        layer: dict[str, slice] = {}
        problem, flat = side.problem, 0
        for place, each in enumerate(problem.layers):
            for option in each.options:
                for name in {item.key[1] for item in option.items} & (side.own | side.others):
                    rows.setdefault(name, []).append(flat)
                    layer[name] = slice(problem.option_at[place], problem.option_at[place + 1])
                flat += 1
        return cls({name: np.array(some, dtype=np.intp) for name, some in rows.items()}, layer)


@dataclass(slots=True)
class Claims:
    """Which options are ``open`` to each tank (by number): those that some bundle of use may go through."""

    sides: Mapping[int, Side]
    handed: Mapping[int, Handed]
    open: dict[int, Mask]
    owners: Mapping[str, int]

    @classmethod
    def of(cls, sides: Iterable[Side], handed: Mapping[int, Handed]) -> "Claims":
        """Everything is open."""
        by_number = {side.number: side for side in sides}
        owners = {name: number for number, side in by_number.items() for name in side.own}
        return cls(by_number, handed, {number: side.seeker.all for number, side in by_number.items()}, owners)

    def narrow(self, number: int, used: Mask) -> None:
        """Shut the options of a tank that no bundle of use goes through."""
        self.open[number] = self.open[number] & used

    def ways(self, number: int) -> list[Way]:
        """What a tank may do, by the tanks that it takes from of those that could take from it as well.

        Who gives is done before who takes. So in a choice in which it takes from some of them none of these takes anything from
        it, and what nobody else asks for is idle.
        """
        asks = {other: self._asked(other) for other in self.sides}
        takers = {name: {other for other, names in asks.items() if name in names} for name in self.sides[number].own}
        both = {self.owners[name] for name in asks[number]} & {other for some in takers.values() for other in some}
        split = sorted(both, key=lambda other: (-sum(other in some for some in takers.values()), other))[:MOST_SPLIT]
        found = []
        for some in (set(chosen) for size in range(len(split) + 1) for chosen in combinations(split, size)):
            names = {name for name in asks[number] if self.owners[name] not in split or self.owners[name] in some}
            idle = frozenset(name for name, others in takers.items() if others <= some)
            found.append(Way(self._taking(number, names), idle))
        return found

    def in_play(self, number: int) -> int:
        """How many parts a tank may take, or free for others."""
        asks = {name for other in self.sides for name in self._asked(other)}
        return len(self._asked(number)) + len(asks & self.sides[number].own)

    def _taking(self, number: int, names: Collection[str]) -> Mask:
        """The open options of a tank, less those that take others than some parts."""
        mask = self.open[number].copy()
        for name, rows in self.handed[number].rows.items():
            if name in self.sides[number].others and name not in names:
                mask[rows] = False
        return mask

    def _asked(self, number: int) -> set[str]:
        """The parts of others that a tank may take: open options take them, and options open to their owners are without."""
        rows, mask = self.handed[number].rows, self.open[number]
        names = self.sides[number].others & rows.keys()
        return {name for name in names if mask[rows[name]].any() and self._is_freed(name)}

    def _is_freed(self, name: str) -> bool:
        owner = self.owners.get(name)
        if owner is None or name not in self.handed[owner].rows:
            return True
        mask, handed = self.open[owner], self.handed[owner]
        return bool(mask[handed.rows[name]].sum() < mask[handed.layer[name]].sum())
