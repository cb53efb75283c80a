"""Times of two ways to do the same thing, taken in turn, so that both meet the same noise."""

import gc
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from time import perf_counter

Work = Callable[[], object]


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds of each repeat."""

    seconds: tuple[float, ...]

    @property
    def least(self) -> float:
        """The quickest repeat: the one that noise disturbed least."""
        return min(self.seconds)

    @property
    def middle(self) -> float:
        """The median repeat."""
        return median(self.seconds)


def in_turn(*works: Work, repeats: int) -> tuple[Times, ...]:
    """Times of several pieces of work, one repeat of each after the other, with no garbage collection in between."""
    seconds: list[list[float]] = [[] for _ in works]
    gc.collect()
    gc.disable()
    try:
        for _ in range(repeats):
            for work, spent in zip(works, seconds, strict=True):
                start = perf_counter()
                work()
                spent.append(perf_counter() - start)
    finally:
        gc.enable()
    return tuple(Times(tuple(spent)) for spent in seconds)
