"""Lower-bound prices of the shared items of one problem, and how much of each product line a bundle can use at most."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.search.layers import Problem

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

UNPAYABLE = 1e12
"""Price of an item that cannot be had."""


def priced_rows(problem: Problem, unit: Reals) -> tuple[Reals, Reals]:
    """Prices of all options and of all joints in minor units when special items cost ``unit``."""
    return (
        _with(problem.option_plain, problem.option_special, unit),
        _with(problem.joint_plain, problem.joint_special, unit),
    )


def unit_prices(problem: Problem) -> Reals:
    """Lower-bound share of each special item: along any path they never exceed what it truly costs (see `Shop.shares`)."""
    use = most_use(problem)
    least = [min(problem.shop.shares(item, use).values(), default=UNPAYABLE) for item in problem.specials]
    return np.array(least, dtype=float)


def _with(plain: Reals, pairs: tuple[Ints, Ints], unit: Reals) -> Reals:
    if not len(pairs[0]):
        return plain
    return np.asarray(plain + np.bincount(pairs[0], weights=unit[pairs[1]], minlength=len(plain)))


def most_use(problem: Problem) -> dict[tuple[int, int], float]:
    """The most of each product line that any one bundle can use: the largest use per layer, added up."""
    places, weights = _weights(problem)
    most = np.zeros(len(places))
    for starts, (rows, numbers) in (
        (problem.option_at, problem.option_special),
        (problem.joint_at, problem.joint_special),
    ):
        for first, last in pairwise(starts):
            here = (rows >= first) & (rows < last)
            if here.any():
                needs = np.zeros((last - first, len(weights)))
                np.add.at(needs, (rows[here] - first, numbers[here]), 1.0)
                most += (needs @ weights).max(axis=0)
    return dict(zip(places, most.tolist(), strict=True))


def _weights(problem: Problem) -> tuple[list[tuple[int, int]], Reals]:
    """Product lines that can serve special items, and how much of each line (column) each item (row) takes."""
    column: dict[tuple[int, int], int] = {}
    entries = [
        (row, column.setdefault((server.product, server.line), len(column)), item.weight)
        for row, item in enumerate(problem.specials)
        for server in problem.shop.servers(item.key)
    ]
    weights = np.zeros((len(problem.specials), len(column)))
    for row, place, weight in entries:
        weights[row, place] = weight
    return list(column), weights
