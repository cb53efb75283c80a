"""Which listed bundles a program needs: less those that cannot be had and those that another of the same tank replaces.

A bundle cannot be had where it takes more of a part than there is, or parts of a tank none of whose bundles frees all of them and
takes nothing of the one that asks: who gives is done before who takes. One replaces another where it delivers as much
and is in nothing worse: plain price, noise, watts, everything that it needs, takes and keeps. For the joint bill never rises when
less is needed, and a part that is kept or taken can only be in the way of others; one that nobody takes counts for nothing. So
any choice stays possible, costs no more and delivers as much when the one is put in place of the other. What goes may
leave parts that nobody takes or frees any more, so all is looked at again until nothing goes.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from optimizer.tanks.program import Column

Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

BLOCK = 256
"""So many columns are held against all kept ones at a time."""

Listed = Mapping[int, Sequence[Column]]
Owners = Mapping[str, tuple[int, float]]
"""Of every part that could be handed on: the number of its tank, and how much there is (pieces, or m of hose)."""

WITHIN = 1e-9


def needed(listed: Listed, owners: Owners) -> list[Column]:
    """The columns that are needed of those ``listed`` by tank; ``owners`` of all parts that could be handed on."""
    left = {
        number: [c for c in some if c.bundle is not None and all(amount <= owners[name][1] + WITHIN for name, amount in c.taken)]
        for number, some in listed.items()
    }
    count = -1
    while count != sum(map(len, left.values())):
        count = sum(map(len, left.values()))
        for number in left:
            left[number] = _matched(left, number, owners)
        left = {n: _unreplaced(some, _taken(left, n)) for n, some in left.items()}
    return [column for some in left.values() for column in some]


def _matched(listed: Listed, taker: int, owners: Owners) -> list[Column]:
    """The columns of one tank for which every tank that they take of has one that frees all this and takes nothing of theirs."""

    def takes(column: Column) -> bool:
        return any(owners[name][0] == taker for name, _ in column.taken)

    gives = {giver: {column.kept for column in some if not takes(column)} for giver, some in listed.items()}

    @cache
    def is_freed(giver: int, names: frozenset[str]) -> bool:
        return any(names.isdisjoint(kept) for kept in gives.get(giver, ()))

    def is_matched(column: Column) -> bool:
        asked: dict[int, set[str]] = {}
        for name, _ in column.taken:
            asked.setdefault(owners[name][0], set()).add(name)
        return all(is_freed(giver, frozenset(names)) for giver, names in asked.items())

    return [column for column in listed[taker] if is_matched(column)]


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
