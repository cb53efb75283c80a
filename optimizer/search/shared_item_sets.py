"""Accounts: numbers for the sets of shared items that partial paths need, so that arrays can carry them exactly.

Where packs, coils and kits are shared, the price of a path is its plain price plus the cheapest cover of its shared items. Of
two partial paths that need the very same shared items, the one with the lower plain price stays the cheaper whatever comes
after; paths that need different ones are not compared. An account is such a set (with repeats): a row of how many of each item it
holds, known by its bytes; 0 is the empty one.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.search.layers import Problem

Ints = NDArray[np.intp]
Reals = NDArray[np.float64]
Counts = NDArray[np.int16]


class SharedItemSets:
    """The accounts met so far for one problem. ``of_option`` and ``of_joint`` hold what each option and joint needs."""

    def __init__(self, problem: Problem) -> None:
        self.items_known = len(problem.specials)
        self._held = np.zeros((1, self.items_known), dtype=np.int16)
        self._numbers = {self._held[0].tobytes(): 0}
        self.of_option = self._of_rows(problem.option_special, len(problem.option_plain))
        self.of_joint = self._of_rows(problem.joint_special, len(problem.joint_plain))
        self._width = len(self._numbers)
        last = np.iinfo(np.intp).max
        self._pairs, self._together = np.array([last], dtype=np.intp), np.array([0], dtype=np.intp)

    def _of_rows(self, pairs: tuple[Ints, Ints], size: int) -> Ints:
        # pairs are sorted by row; sorted by item within each, rows with the same items are the same slice of the list
        order = np.lexsort((pairs[1], pairs[0]))
        items = pairs[1][order].tolist()
        ends = np.cumsum(np.bincount(pairs[0], minlength=size)).tolist()
        sets = [tuple(items[first:last]) for first, last in pairwise((0, *ends))]
        known = {some: self.number(some) for some in dict.fromkeys(sets)}
        return np.array([known[some] for some in sets], dtype=np.intp)

    def number(self, items: tuple[int, ...]) -> int:
        """The number of a set of items."""
        held = np.bincount(np.array(items, dtype=np.intp), minlength=self.items_known)
        return int(self.numbers(held[None].astype(np.int16))[0])

    def numbers(self, held: Counts) -> Ints:
        """The numbers of sets (n, items) by how many of each item they hold."""
        known = self._numbers
        before, keys = len(known), row_keys(held)
        numbers = np.array([known.setdefault(key, len(known)) for key in keys], dtype=np.intp)
        new, first = np.unique(numbers, return_index=True)
        self._keep(held[first[new >= before]], before)
        return numbers

    def _keep(self, held: Counts, before: int) -> None:
        """Remember new sets, in the order of their numbers."""
        size = before + len(held)
        if size > len(self._held):
            grown = np.zeros((max(2 * before, size), self.items_known), dtype=np.int16)
            grown[:before] = self._held[:before]
            self._held = grown
        self._held[before:size] = held

    def items(self, accounts: Ints) -> list[tuple[int, ...]]:
        """The items of each of several accounts, sorted."""
        each = np.arange(self.items_known)
        return [tuple(np.repeat(each, held).tolist()) for held in self.held(accounts)]

    def held(self, accounts: Ints) -> Counts:
        """How many of each item (column) each account (row) holds."""
        return self._held[accounts]

    def counts(self, accounts: Ints) -> Reals:
        """The same to reckon with."""
        return self._held[accounts].astype(float)

    def sums(self, accounts: Ints, added: Ints) -> Ints:
        """The account of each pair together, shape of the two arrays; each different pair is worked out once."""
        if not added.any():
            return accounts
        pairs = accounts * self._width + added
        place = np.searchsorted(self._pairs, pairs)
        new = self._pairs[place] != pairs
        if new.any():
            different = np.unique(pairs[new])
            one, other = np.divmod(different, self._width)
            together = self.numbers(self.held(one) + self.held(other))
            at = np.searchsorted(self._pairs, different)
            self._pairs = np.insert(self._pairs, at, different)
            self._together = np.insert(self._together, at, together)
            place = np.searchsorted(self._pairs, pairs)
        return self._together[place]


def row_keys(rows: Counts) -> list[bytes]:
    """The bytes of each row; rows are alike if and only if these are."""
    width, whole = rows.shape[1] * rows.itemsize, rows.tobytes()
    return [whole[n * width : (n + 1) * width] for n in range(len(rows))]
