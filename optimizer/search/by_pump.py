"""Splitting a round by pump, the one dear choice that tears a wide gap between the Lagrangian bound and the truth.

Between a cheap pump and a strong one there may be nothing for half the budget. The bound of a round then lies on the edge
from the one to the other, where no bundle is, and far too many partial paths stay below it. With the pump fixed the gap closes:
every bundle has exactly one pump, so the parts together are the whole, and a part whose own bound is too high holds no answer.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.search.hull import Hull
from optimizer.search.layers import Problem
from optimizer.search.rounds import BARRED, Corridor, Rounds, Weights


@dataclass(frozen=True, slots=True)
class Part:
    """All bundles with one pump: the weights with every other pump barred, and the best bound on them."""

    weights: Weights
    hull: Hull


def by_pump(rounds: Rounds, weights: Weights, corridor: Corridor, bounded: Callable[[Weights], Hull | None]) -> list[Part]:
    """The parts that may hold a path of the corridor, the one with the best bound first."""
    alone = [_with(rounds.problem, weights, pump) for pump in _live(rounds, weights, corridor)]
    parts = [Part(only, hull) for only in alone if (hull := bounded(only)) is not None]
    return sorted(parts, key=lambda part: part.hull.bound)


def _live(rounds: Rounds, weights: Weights, corridor: Corridor) -> list[int]:
    """Places of the pumps that some path of the corridor goes through."""
    pump = rounds.problem.pump
    sums = rounds.through(weights, corridor.multiplier, pump)
    return np.flatnonzero(sums <= corridor.roof).tolist()


def _with(problem: Problem, weights: Weights, place: int) -> Weights:
    """The same weights with all pumps barred but the one at a place of its layer."""
    first, last = problem.option_at[problem.pump], problem.option_at[problem.pump + 1]
    losses = weights.option_loss.copy()
    losses[first:last] = BARRED
    losses[first + place] = weights.option_loss[first + place]
    return replace(weights, option_loss=losses)
