"""Which listed bundles a program needs: less those that cannot be had and those that another of the same tank replaces.

A bundle cannot be had where it takes a part that its owner keeps whatever it does. One replaces another where it delivers as much
and is in nothing worse: plain price, noise, watts, everything that it needs, takes and keeps. For the joint bill never rises when
less is needed, and a part that is kept or taken can only be in the way of others; one that nobody takes counts for nothing. So
any choice stays possible, costs no more and delivers as much when the one is put in place of the other. What goes may
leave parts that nobody takes or frees any more, so all is looked at again until nothing goes.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from optimizer.tanks.program import Column

Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

BLOCK = 256
"""So many columns are held against all kept ones at a time."""

Listed = Mapping[int, Sequence[Column]]


def needed(listed: Listed, owners: Mapping[str, int]) -> list[Column]:
    """The columns that are needed of those ``listed`` by tank; ``owners`` of all parts that could be handed on."""
    left = {number: [column for column in some if column.bundle is not None] for number, some in listed.items()}
    count = -1
    while count != sum(map(len, left.values())):
        count = sum(map(len, left.values()))
        names = {name for some in left.values() for column in some for name, _ in column.taken}
        never = {name for name in names if all(name in column.kept for column in left.get(owners[name], ()))}
        left = {n: [c for c in some if not any(name in never for name, _ in c.taken)] for n, some in left.items()}
        left = {n: _unreplaced(some, _taken(left, n)) for n, some in left.items()}
    return [column for some in left.values() for column in some]


def _taken(listed: Listed, owner: int) -> set[str]:
    """The parts that tanks other than one take."""
    return {name for n, some in listed.items() if n != owner for column in some for name, _ in column.taken}


def _unreplaced(columns: Sequence[Column], asked: Collection[str]) -> list[Column]:
    """Columns of one tank that no other replaces, the first of equals; others ask for some of its parts."""
    if len(columns) < 2:
        return list(columns)
    shared = _shared(columns, asked)
    figures = np.array([(_plain(c), -c.flow_m3s, c.noise_dba, c.power_w) for c in columns])
    # whatever replaces a column comes before it: it costs no more and, of those that cost the same, its sums are no more
    order = np.lexsort((figures[:, 1], shared.sum(axis=1), figures[:, 0]))
    words = _words(shared[order])
    figures = figures[order, 1:]
    kept: Ints = np.zeros(0, dtype=np.intp)
    for first in range(0, len(order), BLOCK):
        rows = np.arange(first, min(first + BLOCK, len(order)))
        rows = rows[~_replaced(words, figures, kept, rows).any(axis=0)]
        rows = rows[~np.triu(_replaced(words, figures, rows, rows), 1).any(axis=0)]
        kept = np.append(kept, rows)
    return [columns[n] for n in order[kept].tolist()]


def _plain(column: Column) -> float:
    return column.bundle.plain if column.bundle is not None else 0.0


def _replaced(words: NDArray[np.uint64], figures: NDArray[np.float64], one: Ints, other: Ints) -> Bools:
    """Whether each of some rows (n,), as far as their price lets them, replaces each of others (m,)."""
    found = np.ones((len(one), len(other)), dtype=bool)
    for figure in figures.T:
        found &= figure[one, None] <= figure[other]
    for word in words.T:
        found &= (word[one, None] & ~word[other]) == 0
    return found


def _shared(columns: Sequence[Column], asked: Collection[str]) -> Bools:
    """What columns share with others as marks (n, marks), each for at least so much of something: less is marked in one column
    than in another exactly where it has no more of anything."""
    amounts = [dict(_amounts(column, asked)) for column in columns]
    steps = sorted({pair for some in amounts for pair in some.items()}, key=repr)
    return np.array([[some.get(thing, 0.0) >= amount for thing, amount in steps] for some in amounts], dtype=bool)


def _amounts(column: Column, asked: Collection[str]) -> Iterator[tuple[object, float]]:
    yield from ((("kept", name), 1.0) for name in column.kept if name in asked)
    yield from ((("taken", name), amount) for name, amount in column.taken)
    yield from (column.bundle.needs if column.bundle is not None else ())


def _words(marks: Bools) -> NDArray[np.uint64]:
    """Rows of marks, 64 to a word."""
    wide = np.zeros((len(marks), (marks.shape[1] // 64 + 1) * 64), dtype=bool)
    wide[:, : marks.shape[1]] = marks
    return np.packbits(wide, axis=1).view(np.uint64)
