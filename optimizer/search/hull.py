"""The best Lagrange multiplier of a round, found by walking the lower convex hull of (price, loss)."""

from dataclasses import dataclass

import numpy as np

from optimizer.search.rounds import BARRED, CENT_SLACK, SLACK, Path, Rounds, Weights

HULL_STEPS = 60

NEARLY_FREE = 1e-9
"""Weight of a secondary criterion where only one counts: breaks ties, too small to change an answer."""


@dataclass(frozen=True, slots=True)
class Hull:
    """The multiplier (m per minor unit), the bound it gives on the objective, and the best path met that keeps the constraint."""

    multiplier: float
    bound: float
    feasible: Path


def by_price(rounds: Rounds, weights: Weights, budget: float) -> Hull | None:
    """Bound the least loss of paths within a budget; None when nothing is affordable.

    Maximises ``min(loss + m price) - m budget`` over m: the end points of the hull edge that crosses the budget are found by
    shortest paths, each with the multiplier of the edge between the best two so far.
    """
    lean = rounds.shortest(weights, 1.0, 0.0)
    cheap = _cheapest(rounds, weights)
    if lean is None or cheap is None or cheap.price > budget + CENT_SLACK:
        return None
    if lean.price <= budget + CENT_SLACK:
        return Hull(0.0, lean.loss, lean)
    floor = lean.loss
    for _ in range(HULL_STEPS):
        gap = lean.price - cheap.price
        if gap < NEARLY_FREE or cheap.loss <= lean.loss:
            break
        multiplier = (cheap.loss - lean.loss) / gap
        line = cheap.loss + multiplier * cheap.price
        middle = rounds.shortest(weights, 1.0, multiplier)
        if middle is None:
            break
        if middle.loss + multiplier * middle.price >= line - SLACK:
            return Hull(multiplier, line - multiplier * budget - SLACK, cheap)
        if middle.price <= budget + CENT_SLACK:
            cheap = middle
        else:
            lean = middle
    return Hull(0.0, floor, cheap)


def by_loss(rounds: Rounds, weights: Weights, limit: float) -> Hull | None:
    """The same with the roles exchanged: bound the least price of paths that lose at most ``limit``."""
    lean = rounds.shortest(weights, 1.0, 0.0)
    cheap = _cheapest(rounds, weights)
    if lean is None or cheap is None or lean.loss > limit + SLACK:
        return None
    if cheap.loss <= limit + SLACK:
        return Hull(NEARLY_FREE, cheap.price, cheap)
    floor = cheap.price
    for _ in range(HULL_STEPS):
        if cheap.loss - lean.loss < SLACK or lean.price - cheap.price < NEARLY_FREE:
            break
        multiplier = (cheap.loss - lean.loss) / (lean.price - cheap.price)
        line = cheap.loss + multiplier * cheap.price
        middle = rounds.shortest(weights, 1.0, multiplier)
        if middle is None:
            break
        if middle.loss + multiplier * middle.price >= line - SLACK:
            return Hull(multiplier, (line - limit - SLACK) / multiplier, lean)
        if middle.loss <= limit + SLACK:
            lean = middle
        else:
            cheap = middle
    return Hull(NEARLY_FREE, floor, lean)


def _cheapest(rounds: Rounds, weights: Weights) -> Path | None:
    """The path with the least price that is not barred. What is barred must be dear too here, where its loss hardly counts."""
    options = np.where(weights.option_loss < BARRED / 2, weights.option_price, BARRED)
    joints = np.where(weights.joint_loss < BARRED / 2, weights.joint_price, BARRED)
    return rounds.shortest(Weights(weights.option_loss, weights.joint_loss, options, joints), NEARLY_FREE, 1.0)
