"""Lower-bound prices of the shared items of one problem, by the product that could serve them."""

from collections.abc import Sequence
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.model.items import capacity
from optimizer.search.layers import Problem
from optimizer.search.shared_item_sets import SharedItemSets

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

Offer = tuple[int, int]
"""What is sold: the number of the shop of a problem, and the index of the product there."""

UNPAYABLE = 1e12
"""Price of an item that cannot be had."""

AT_ONCE = 512
"""So many sets of items are added up together, to bound memory."""

MOST_RUNS = 12
"""Up to so many runs of hose are combined when asking how much of a coil can be used; with more it may be all of it."""


class Shares:
    """Shares of the special items: ``table[item, k]`` is the least price of an item from the k-th product (see `Shop.shares`).

    ``shared`` marks the products that one purchase of which can serve several places; ``price`` holds what each costs.
    """

    def __init__(self, problem: Problem, accounts: SharedItemSets) -> None:
        shops, items = problem.shops, list(zip(problem.specials, problem.shop_of_special, strict=True))
        self.problem = problem
        self.products = sorted({(which, server.product) for item, which in items for server in shops[which].servers(item.key)})
        column = {offer: k for k, offer in enumerate(self.products)}
        uses = most_use(problem, accounts)
        self.table = np.full((len(items), len(self.products)), UNPAYABLE)
        for row, (item, which) in enumerate(items):
            for product, share in shops[which].shares(item, uses[which]).items():
                self.table[row, column[which, product]] = share
        offers = [problem.shop.products[product] for _, product in self.products]
        self.shared = np.array([not (offer.is_single or offer.step_m > 0.0) for offer in offers], dtype=bool)
        self.price = np.array([float(offer.price) for offer in offers])
        self._last: tuple[bytes, Reals] | None = None
        floored = [shops[which].has_floor(problem.shop.products[product].supplier) for which, product in self.products]
        self.floored = np.array(floored, dtype=bool)
        self.floors = np.array([sum(floor for _, floor in shop.order.floors) for shop in shops], dtype=float)

    def unit_prices(self, barred: Bools | None = None, bought: int | None = None) -> Reals:
        """Least share of each item, without the products that are ruled out; what a bought one can serve costs nothing."""
        if not self.table.size:
            return np.full(len(self.table), UNPAYABLE)
        key = b"" if barred is None else barred.tobytes()
        if self._last is None or self._last[0] != key:  # who probes one product after another asks for the same again and again
            table = self.table if barred is None else np.where(barred, UNPAYABLE, self.table)
            self._last = key, table.min(axis=1)
        unit = self._last[1]
        return np.asarray(unit if bought is None else np.where(self.table[:, bought] < UNPAYABLE, 0.0, unit))

    def priced_rows(self, unit: Reals) -> tuple[Reals, Reals]:
        """Prices of all options and of all joints when special items cost ``unit``; in minor units.

        With least shares, added up along any path they never exceed what the path truly costs.
        """
        problem = self.problem
        return (
            _with(problem.option_plain, problem.option_special, unit),
            _with(problem.joint_plain, problem.joint_special, unit),
        )

    def mixed_rows(self, barred: Bools, part: float) -> tuple[Reals, Reals]:
        """Prices of all options and of all joints by a ``part`` of what goods must come to and the rest of what these goods cost.

        Goods that come to a floor F and cost G are worth ``part`` F + (1 - ``part``) G and no more, so that these prices never
        exceed the true one either. (What orders none of them is priced in the way that shuts their supplier, at no more.)
        """
        problem = self.problem
        scaled = np.where(self.floored & (self.table < UNPAYABLE), (1.0 - part) * self.table, self.table)
        options, joints = self.priced_rows(np.where(barred, UNPAYABLE, scaled).min(axis=1, initial=UNPAYABLE))
        pumps = slice(problem.option_at[problem.pump], problem.option_at[problem.pump + 1])
        options = options.copy()
        options[pumps] += part * self.floors[problem.option_shop[pumps]]
        return options, joints


def _with(plain: Reals, pairs: tuple[Ints, Ints], unit: Reals) -> Reals:
    if not len(pairs[0]):
        return plain
    return np.asarray(plain + np.bincount(pairs[0], weights=unit[pairs[1]], minlength=len(plain)))


def most_use(problem: Problem, accounts: SharedItemSets) -> list[dict[tuple[int, int], float]]:
    """The most of each product line of every shop that any one bundle can use: the largest use per layer, added up. Branches
    whose fillings are not put together yet count as a layer each."""
    places, weights = _weights(problem)
    most = np.zeros(len(places))
    unpaired = problem.choices.unpaired
    for starts, numbers in ((problem.option_at, accounts.of_option), (problem.joint_at, accounts.of_joint)):
        for place, (first, last) in enumerate(pairwise(starts)):
            if numbers is accounts.of_joint or place not in unpaired:
                most += _most_at_once(accounts.items(np.unique(numbers[first:last])), weights)
    for pairing in unpaired.values():
        for some in pairing.needs():
            sets = {each.special for each in some}
            most += _most_at_once([problem.numbers(items) for items in sets], weights)
    uses: list[dict[tuple[int, int], float]] = [{} for _ in problem.shops]
    for (which, product, line), amount in zip(places, most.tolist(), strict=True):
        uses[which][product, line] = min(amount, _in_one_piece(problem, (product, line)))
    return uses


def _most_at_once(accounts: Sequence[tuple[int, ...]], weights: Reals) -> Reals:
    """The largest use of each product line (columns of ``weights``) by one of several sets of items; the last row of
    ``weights`` stands for no item."""
    most = np.zeros(weights.shape[1])
    longest = max(map(len, accounts), default=0)
    for start in range(0, len(accounts), AT_ONCE):
        rows = [account + (-1,) * (longest - len(account)) for account in accounts[start : start + AT_ONCE]]
        most = np.maximum(most, weights[np.array(rows, dtype=np.intp)].sum(axis=1).max(axis=0, initial=0.0))
    return most


def _in_one_piece(problem: Problem, place: tuple[int, int]) -> float:
    """How much of a coil the runs of the loop can use at most, since each is cut in one piece; no bound for other lines."""
    line = problem.shop.products[place[0]].lines[place[1]]
    if not line.amount_m:
        return float("inf")
    lengths = [p.length_m for p in problem.choices.rig.every_position if p.kind == "hose"]
    if len(lengths) > MOST_RUNS:
        return capacity(line)
    sums = (sum(chosen) for size in range(1, len(lengths) + 1) for chosen in combinations(lengths, size))
    return max((total for total in sums if total <= capacity(line) + 1e-9), default=0.0)


def _weights(problem: Problem) -> tuple[list[tuple[int, int, int]], Reals]:
    """Product lines that can serve special items, each with the number of its shop, and how much of each line (column) each item
    (row) takes; a last row of zeros."""
    column: dict[tuple[int, int, int], int] = {}
    entries = [
        (row, column.setdefault((which, server.product, server.line), len(column)), item.weight)
        for row, (item, which) in enumerate(zip(problem.specials, problem.shop_of_special, strict=True))
        for server in problem.shops[which].servers(item.key)
    ]
    weights = np.zeros((len(problem.specials) + 1, len(column)))
    for row, place, weight in entries:
        weights[row, place] = weight
    return list(column), weights
