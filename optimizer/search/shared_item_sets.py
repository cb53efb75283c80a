"""Accounts: numbers for the sets of shared items that partial paths need, so that arrays can carry them exactly.

Where packs, coils and kits are shared, the price of a path is its plain price plus the cheapest cover of its shared items. Of
two partial paths that need the very same shared items, the one with the lower plain price stays the cheaper whatever comes
after; paths that need different ones are not compared. An account is such a set (with repeats); 0 is the empty one.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.search.layers import Problem

Ints = NDArray[np.intp]
Reals = NDArray[np.float64]


class SharedItemSets:
    """The accounts met so far for one problem. ``of_option`` and ``of_joint`` hold what each option and joint needs."""

    def __init__(self, problem: Problem) -> None:
        self._numbers: dict[tuple[int, ...], int] = {(): 0}
        self._sets: list[tuple[int, ...]] = [()]
        self.of_option = self._of_rows(problem.option_special, len(problem.option_plain))
        self.of_joint = self._of_rows(problem.joint_special, len(problem.joint_plain))
        self._width = len(self._sets)
        last = np.iinfo(np.intp).max
        self._pairs, self._together = np.array([last], dtype=np.intp), np.array([0], dtype=np.intp)

    def _of_rows(self, pairs: tuple[Ints, Ints], size: int) -> Ints:
        # pairs are sorted by row; sorted by item within each, rows with the same items are the same slice of the list
        order = np.lexsort((pairs[1], pairs[0]))
        items = pairs[1][order].tolist()
        ends = np.cumsum(np.bincount(pairs[0], minlength=size)).tolist()
        return np.array([self.number(tuple(items[first:last])) for first, last in pairwise((0, *ends))], dtype=np.intp)

    def number(self, items: tuple[int, ...]) -> int:
        """The number of a set of items, sorted."""
        if items not in self._numbers:
            self._numbers[items] = len(self._sets)
            self._sets.append(items)
        return self._numbers[items]

    def items(self, accounts: Ints) -> list[tuple[int, ...]]:
        """The items of each of several accounts."""
        return [self._sets[account] for account in accounts.tolist()]

    def counts(self, accounts: Ints, items: int) -> Reals:
        """How many of each item (column) each account (row) holds."""
        sets = self.items(accounts)
        held = np.zeros((len(sets), items))
        rows = np.repeat(np.arange(len(sets)), [len(each) for each in sets])
        np.add.at(held, (rows, np.array([item for each in sets for item in each], dtype=np.intp)), 1.0)
        return held

    def sums(self, accounts: Ints, added: Ints) -> Ints:
        """The account of each pair together, shape of the two arrays; each different pair is worked out once."""
        if not added.any():
            return accounts
        pairs = accounts * self._width + added
        place = np.searchsorted(self._pairs, pairs)
        new = self._pairs[place] != pairs
        if new.any():
            different = np.unique(pairs[new])
            together = [self._sum(*divmod(pair, self._width)) for pair in different.tolist()]
            at = np.searchsorted(self._pairs, different)
            self._pairs = np.insert(self._pairs, at, different)
            self._together = np.insert(self._together, at, together)
            place = np.searchsorted(self._pairs, pairs)
        return self._together[place]

    def _sum(self, one: int, other: int) -> int:
        return one if other == 0 else self.number(tuple(sorted((*self._sets[one], *self._sets[other]))))
