"""Settling shared items: once nothing to come needs what any of their products serves, what they cost is known.

Items that no product serves together with others fall into clusters that are paid apart from each other (a kit ties what it
serves together). Behind the last layer where a cluster can be needed a partial path knows what it pays for it: the true price
takes the place of the shares, and the items need not be carried any further.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optimizer.search.layers import Problem
from optimizer.search.pricing import Shop
from optimizer.search.shared_item_sets import SharedItemSets, row_keys
from optimizer.search.shares import Offer, Shares

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

DEAREST_PIECE = 1e12
"""What an item is taken to cost on its own that cannot be bought so."""


class Settling:
    """Clusters of the shared items of one problem, and what sets of them truly cost. ``cluster`` (items,) numbers them."""

    def __init__(
        self, problem: Problem, accounts: SharedItemSets, unit_prices: Reals, barred: frozenset[Offer] = frozenset()
    ) -> None:
        self.problem, self.accounts, self.unit = problem, accounts, unit_prices
        self.shops = _without(problem, barred)
        self.cluster = _clusters(problem, self.shops)
        self.count = int(self.cluster.max(initial=-1)) + 1
        self._known: dict[bytes, tuple[Ints, Reals]] = {}
        self._costs: list[dict[bytes, float]] = [{} for _ in range(self.count)]

    @classmethod
    def among(cls, problem: Problem, accounts: SharedItemSets, shares: Shares, barred: Bools) -> "Settling":
        """What settles shared items at the shares of those products only that are not ``barred`` (of `Shares.products`)."""
        out = frozenset(shares.products[k] for k in np.flatnonzero(barred).tolist())
        return cls(problem, accounts, shares.unit_prices(barred), out)

    @cached_property
    def apart(self) -> Reals:
        """What each shared item costs at most when it is bought on its own, in minor units (items,)."""
        return bought_apart(self.problem)

    def last_needed(self, options: list[Ints], joints: list[Ints]) -> Ints:
        """The last stage (joints of a layer, then its options) at which each cluster is needed by some of the given flat rows
        of each layer (-1: none)."""
        last = np.full(self.count, -1, dtype=np.intp)
        for pairs, rows, odd in ((self.problem.joint_special, joints, 0), (self.problem.option_special, options, 1)):
            live = np.zeros(1 + max((int(each.max(initial=-1)) for each in (*rows, pairs[0])), default=-1), dtype=np.intp) - 1
            for place, some in enumerate(rows):
                live[some] = 2 * place + odd
            if len(pairs[0]):
                np.maximum.at(last, self.cluster[pairs[1]], live[pairs[0]])
        return last

    def settled(self, account: Ints, closing: Bools) -> tuple[Ints, Reals]:
        """Accounts without what belongs to clusters that are ``closing``, and what that truly costs more than its shares."""
        if not closing.any() or not account.any():
            return account, np.zeros(len(account))
        key = closing.tobytes()
        if key not in self._known:
            self._known[key] = (np.zeros(0, dtype=np.intp), np.zeros(0))
        left, more = self._known[key]
        if len(left) <= account.max():
            grown = max(2 * len(left), int(account.max()) + 1)
            left = np.concatenate((left, np.full(grown - len(left), -1, dtype=np.intp)))
            more = np.concatenate((more, np.zeros(grown - len(more))))
            self._known[key] = left, more
        new = np.unique(account[left[account] < 0])
        left[new], more[new] = self._settle(new, closing)
        return left[account], more[account]

    def _settle(self, accounts: Ints, closing: Bools) -> tuple[Ints, Reals]:
        held, more = self.accounts.held(accounts), np.zeros(len(accounts))
        for cluster in np.flatnonzero(closing).tolist():
            items = np.flatnonzero(self.cluster == cluster)
            part = held[:, items]
            if part.any():
                held[:, items] = 0
                costs = self._costs[cluster]
                more += [costs[key] if key in costs else self._cost(cluster, key) for key in row_keys(part)]
        return self.accounts.numbers(held), more

    def _cost(self, cluster: int, key: bytes) -> float:
        """What items of one cluster, by the bytes of their counts, truly cost more than their shares (infinite: they cannot be
        had)."""
        items = np.flatnonzero(self.cluster == cluster)
        shop = self.shops[self.problem.shop_of_special[items[0]]]
        items = np.repeat(items, np.frombuffer(key, dtype=np.int16))
        price = shop.special_price(tuple(sorted(self.problem.specials[item] for item in items.tolist())))
        self._costs[cluster][key] = price - float(self.unit[items].sum())
        return self._costs[cluster][key]


def bought_apart(problem: Problem) -> Reals:
    """What each shared item costs at most when it is bought on its own, in minor units (items,)."""
    those = zip(problem.specials, problem.shop_of_special, strict=True)
    return np.array([min(problem.shops[which].at_most(item), DEAREST_PIECE) for item, which in those])


def _without(problem: Problem, barred: frozenset[Offer]) -> tuple[Shop, ...]:
    """The shops of a problem without some of what they sell. Where goods must come to a sum they stay as they are: what sets cost
    there takes long to find out, and is found once for all; that they may cost less with what nobody buys is no less true."""
    if not barred:
        return problem.shops
    out = [frozenset(product for shop, product in barred if shop == n) for n in range(len(problem.shops))]
    return tuple(
        replace(shop, unsold=unsold) if unsold and not shop.order.floors else shop
        for shop, unsold in zip(problem.shops, out, strict=True)
    )


def _clusters(problem: Problem, shops: Sequence[Shop]) -> Ints:
    """The number of the cluster of each special item. What is ordered where goods must come to a sum is one cluster."""
    items = problem.specials
    number = list(range(len(items)))
    first: dict[tuple[int, int | str], int] = {}
    for row, (item, which) in enumerate(zip(items, problem.shop_of_special, strict=True)):
        for server in shops[which].servers(item.key):
            supplier = shops[which].products[server.product].supplier
            other = first.setdefault((which, supplier if shops[which].has_floor(supplier) else server.product), row)
            _join(number, row, other)
    roots = [_root(number, row) for row in range(len(items))]
    return np.unique(np.array(roots, dtype=np.intp), return_inverse=True)[1].astype(np.intp)


def _root(number: list[int], row: int) -> int:
    while number[row] != row:
        row = number[row]
    return row


def _join(number: list[int], one: int, other: int) -> None:
    number[_root(number, one)] = _root(number, other)
