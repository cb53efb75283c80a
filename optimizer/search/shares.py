"""Lower-bound prices of the shared items of one problem, and how much of each product line a bundle can use at most."""

import numpy as np
from numpy.typing import NDArray

from optimizer.search.layers import Problem

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

UNPAYABLE = 1e12
"""Price of an item that cannot be had."""


def priced_rows(problem: Problem) -> tuple[Reals, Reals]:
    """Prices of all options and of all joints, shared items at their lower-bound share; in minor units.

    Added up along any path they never exceed what the path truly costs (see `Shop.shares`).
    """
    unit = _unit_prices(problem)
    return (
        _with(problem.option_plain, problem.option_special, unit),
        _with(problem.joint_plain, problem.joint_special, unit),
    )


def _unit_prices(problem: Problem) -> Reals:
    use = most_use(problem)
    least = [min(problem.shop.shares(item, use).values(), default=UNPAYABLE) for item in problem.specials]
    return np.array(least, dtype=float)


def _with(plain: Reals, pairs: tuple[Ints, Ints], unit: Reals) -> Reals:
    if not len(pairs[0]):
        return plain
    return np.asarray(plain + np.bincount(pairs[0], weights=unit[pairs[1]], minlength=len(plain)))


def most_use(problem: Problem) -> dict[tuple[int, int], float]:
    """The most of each product line that any one bundle can use: the largest use per layer, added up."""
    use: dict[tuple[int, int], float] = {}
    for starts, pairs in (
        (problem.option_at, problem.option_special),
        (problem.joint_at, problem.joint_special),
    ):
        per_layer: dict[tuple[int, tuple[int, int]], float] = {}
        for row, numbers in _rows(pairs).items():
            layer = int(np.searchsorted(starts, row, side="right")) - 1
            for place, amount in _uses(problem, numbers).items():
                key = (layer, place)
                per_layer[key] = max(per_layer.get(key, 0.0), amount)
        for (_, place), amount in per_layer.items():
            use[place] = use.get(place, 0.0) + amount
    return use


def _uses(problem: Problem, numbers: list[int]) -> dict[tuple[int, int], float]:
    uses: dict[tuple[int, int], float] = {}
    for number in numbers:
        item = problem.specials[number]
        for server in problem.shop.servers(item.key):
            place = (server.product, server.line)
            uses[place] = uses.get(place, 0.0) + item.weight
    return uses


def _rows(pairs: tuple[Ints, Ints]) -> dict[int, list[int]]:
    rows: dict[int, list[int]] = {}
    for row, number in zip(pairs[0].tolist(), pairs[1].tolist(), strict=True):
        rows.setdefault(row, []).append(number)
    return rows
