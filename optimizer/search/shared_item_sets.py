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


class SharedItemSets:
    """The accounts met so far for one problem. ``of_option`` and ``of_joint`` hold what each option and joint needs."""

    def __init__(self, problem: Problem) -> None:
        self._numbers: dict[tuple[int, ...], int] = {(): 0}
        self._sets: list[tuple[int, ...]] = [()]
        self._sums: dict[tuple[int, int], int] = {}
        self.of_option = self._of_rows(problem.option_special, len(problem.option_plain))
        self.of_joint = self._of_rows(problem.joint_special, len(problem.joint_plain))

    def _of_rows(self, pairs: tuple[Ints, Ints], size: int) -> Ints:
        # pairs are sorted by row; sorted by item within each, rows with the same items are the same slice of the list
        order = np.lexsort((pairs[1], pairs[0]))
        items = pairs[1][order].tolist()
        ends = np.cumsum(np.bincount(pairs[0], minlength=size)).tolist()
        return np.array([self._number(tuple(items[first:last])) for first, last in pairwise((0, *ends))], dtype=np.intp)

    def _number(self, items: tuple[int, ...]) -> int:
        if items not in self._numbers:
            self._numbers[items] = len(self._sets)
            self._sets.append(items)
        return self._numbers[items]

    def items(self, accounts: Ints) -> list[tuple[int, ...]]:
        """The items of each of several accounts."""
        return [self._sets[account] for account in accounts.tolist()]

    def sums(self, accounts: Ints, added: Ints) -> Ints:
        """The account of each pair together, shape of the two arrays; each different pair is worked out once."""
        if not added.any():
            return accounts
        width = int(added.max()) + 1
        pairs, place = np.unique(accounts * width + added, return_inverse=True)
        together = [self._sum(*divmod(pair, width)) for pair in pairs.tolist()]
        return np.array(together, dtype=np.intp)[place]

    def _sum(self, one: int, other: int) -> int:
        if other == 0:
            return one
        key = (one, other)
        if key not in self._sums:
            self._sums[key] = self._number(tuple(sorted((*self._sets[one], *self._sets[other]))))
        return self._sums[key]
