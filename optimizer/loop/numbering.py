"""Numbers for different things among many, so that what is shared is worked out once."""

from collections.abc import Callable, Hashable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.intp]


def numbered(things: Sequence[Any], key: Callable[[Any], Hashable] = lambda thing: thing) -> tuple[Ints, list[Any]]:
    """Which different thing each is, and the different things in order. The same object is compared once.

    >>> numbered(["b", "a", "b"])[1]
    ['b', 'a']
    """
    by_id: dict[int, int] = {}
    number: dict[Hashable, int] = {}
    first: list[Any] = []
    for thing in things:
        if id(thing) not in by_id:
            which = number.setdefault(key(thing), len(number))
            by_id[id(thing)] = which
            if which == len(first):
                first.append(thing)
    return np.array([by_id[id(thing)] for thing in things], dtype=np.intp), first
