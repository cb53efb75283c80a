"""Partial paths through the layers over a span of flows, and which of them beat which.

A label is a partial path with its shared-out price, its loss over the span (`spans`) and all else that could make one way
better than another: the least flow that a device in it needs, the most that one allows, what the pump's inlet lacks, and the
noise of the pump. One label beats another in the same state only if it is no worse in any of these at any flow of the span, and
what it needs of shared items costs no more whatever comes after: it needs the same ones, or its own price is lower by at least
what those that it alone needs cost when each is bought on its own (a set of items never costs more than a part of it and the
rest bought apart, nor less than a part of it).
"""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from optimizer.search.span_laws import DEGREE

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

NEVER = -1e9
"""What the pump's inlet lacks in a label that lacks nothing anywhere in the span, or has not come to the pump."""

LEADERS = 32
"""So many labels of each state, those with most to spare, are held against all of it, whatever shared items they need."""

NEIGHBOURS = 6
"""So many labels before it, by price, is each compared with."""


@dataclass(frozen=True, slots=True)
class Labels:
    """n partial paths. ``state`` where they stand, ``price`` shared out (minor units), ``coefficient`` and ``error`` of their
    loss in m (`spans.Span`), ``law`` which laws that are no quadratics they have passed (a number for each set), ``lacking``
    what the pump's inlet lacks in m, ``least`` and ``most`` flow in m3/s, ``pump`` its place in its layer (-1: not passed),
    ``throttled`` whether a throttle that is asked for is in it, ``account`` of shared items, ``over`` (n, columns) by how much
    the bound of each column exceeds what it may come to; ``parent`` and ``choice`` how they came about."""

    state: Ints
    price: Reals
    coefficient: Reals
    error: Reals
    law: Ints
    lacking: Reals
    least: Reals
    most: Reals
    pump: Ints
    throttled: Bools
    account: Ints
    over: Reals
    parent: Ints
    choice: Ints

    def __len__(self) -> int:
        return len(self.state)

    @classmethod
    def first(cls, over: Reals) -> "Labels":
        """The empty path."""
        none = np.zeros(1, dtype=np.intp)
        zero, three = np.zeros(1), np.zeros((1, DEGREE + 1))
        lacking, most, before, open_ = three + NEVER, zero + np.inf, none - 1, none > 0
        return cls(none, zero, three, zero, none, lacking, zero, most, before, open_, none, over[None, :], before, before)

    def only(self, rows: Ints | Bools) -> "Labels":
        """Some of them."""
        return Labels(*(getattr(self, each.name)[rows] for each in fields(self)))


@dataclass(frozen=True, slots=True)
class Merits:
    """What labels are compared by besides their price: ``worth`` (n, k), less is better, of which those marked in ``loose`` (k,)
    are known only to within ``error`` (n,), unless two labels follow the same ``law`` (n,)."""

    worth: Reals
    loose: Reals
    error: Reals
    law: Ints

    @classmethod
    def of(cls, labels: Labels, low_m3s: float, high_m3s: float, noise: Reals) -> "Merits":
        """Those of labels that are compared between two flows; ``noise`` (pumps,) in dB(A)."""
        columns, loose = [labels.coefficient], [1.0] * (DEGREE + 1)
        if (labels.lacking > NEVER).any():
            columns.append(labels.lacking)
            loose += [2.0] * (DEGREE + 1)
        loudness = np.where(labels.pump < 0, 0.0, noise[labels.pump])
        most, least = -np.minimum(labels.most, high_m3s), np.maximum(labels.least, low_m3s)
        for each in (most, least, loudness, ~labels.throttled):
            if len(each) and (each != each[0]).any():
                columns.append(each[:, None].astype(float))
                loose.append(0.0)
        return cls(np.hstack(columns), np.array(loose), labels.error, labels.law)

    def rows(self, rows: Ints) -> "Merits":
        """Those of some labels."""
        return Merits(self.worth[rows], self.loose, self.error[rows], self.law[rows])

    def no_worse(self, one: Ints, other: Ints) -> Bools:
        """Whether the first of each pair of labels is no worse than the second in anything but price."""
        margin = np.where(self.law[one] == self.law[other], 0.0, self.error[one] + self.error[other])
        return np.asarray((self.worth[one] + margin[:, None] * self.loose <= self.worth[other]).all(axis=1))


def unbeaten(labels: Labels, merits: Merits) -> Ints:
    """Rows of labels that no other of the same state and account was found to beat; the first of equals. None is left out that is
    not beaten, but not every pair is compared."""
    group = labels.state * (int(labels.account.max()) + 1) + labels.account
    rows = np.lexsort((merits.worth[:, : DEGREE + 1].sum(axis=1), labels.price, group))
    for column in (DEGREE, 0, DEGREE // 2):
        rows = rows[~_beaten_by_leader(rows, group, merits, column)]
    for step in range(1, NEIGHBOURS + 1):
        if step >= len(rows):
            break
        before, here = rows[:-step], rows[step:]
        beaten = (group[before] == group[here]) & merits.no_worse(before, here)
        rows = np.concatenate((rows[:step], here[~beaten]))
    return rows


def _beaten_by_leader(rows: Ints, group: Ints, merits: Merits, column: int) -> Bools:
    """Of rows sorted by group and price, which are beaten by that one before them in their group that is least in a column."""
    count = len(rows)
    beaten = np.zeros(count, dtype=bool)
    if count < 2:
        return beaten
    ordered = group[rows]
    by_rank = np.argsort(merits.worth[rows, column], kind="stable")
    rank = np.empty(count, dtype=np.intp)
    rank[by_rank] = np.arange(count)
    # later groups are shifted below all earlier ones, so that one running minimum serves every group
    shift = np.cumsum(np.concatenate(([0], ordered[1:] != ordered[:-1]))) * count
    least = np.minimum.accumulate(rank - shift)[:-1]
    leader = by_rank[least % count]
    same = ordered[leader] == ordered[1:]
    beaten[1:] = same & merits.no_worse(rows[leader], rows[1:])
    return beaten


@dataclass(frozen=True, slots=True)
class Needs:
    """The shared items that n labels need, as counts of each different item (n, items), what their price is without these
    (``own``, n), and what each item costs bought on its own (items,)."""

    own: Reals
    held: Reals
    apart: Reals

    def rows(self, rows: Ints) -> "Needs":
        """Those of some labels."""
        held = self.held[rows]
        needed = held.any(axis=0)
        return Needs(self.own[rows], held[:, needed], self.apart[needed])

    def dearer(self, one: Ints, other: Ints) -> Reals:
        """The most that what the first of each pair of labels needs can add to a price over what the second does."""
        more = np.zeros(len(one))
        for item, price in enumerate(self.apart.tolist()):
            count = self.held[:, item]
            more += np.maximum(count[one] - count[other], 0.0) * price
        return more


def unbeaten_apart(state: Ints, needs: Needs, merits: Merits, worth: Reals, near: Reals) -> Ints:
    """Rows of labels that no leader of their ``state`` beats, whatever shared items either needs, by state and own price; of
    equal ones first those of less ``worth``. Leaders are those with the least of ``near``."""
    order, kept = np.lexsort((worth, needs.own, state)), []
    for rows in np.split(order, np.flatnonzero(np.diff(state[order])) + 1):
        leaders = np.arange(len(rows))
        if len(rows) > LEADERS:
            leaders = np.sort(np.argpartition(near[rows], LEADERS)[:LEADERS])
        kept.append(rows[~beaten_apart(needs.rows(rows), merits.rows(rows), leaders)])
    return np.concatenate(kept)


def beaten_apart(needs: Needs, merits: Merits, leaders: Ints) -> Bools:
    """Which labels of one state, sorted by their own price, are beaten by one of the ``leaders`` before them, whatever shared
    items either needs."""
    count = len(needs.own)
    better = np.arange(count) > leaders[:, None]
    better &= needs.own[leaders, None] <= needs.own
    margin: Reals | float = 0.0
    if (merits.law != merits.law[0]).any():
        strange = merits.law[leaders, None] != merits.law
        margin = np.where(strange, merits.error[leaders, None] + merits.error, 0.0)
    for column in range(merits.worth.shape[1]):
        worth = merits.worth[:, column]
        lead = worth[leaders, None]
        better &= (lead + margin * merits.loose[column] if merits.loose[column] else lead) <= worth
    place, other = np.nonzero(better)
    one = leaders[place]
    wins = needs.own[one] + needs.dearer(one, other) <= needs.own[other]
    beaten = np.zeros(count, dtype=bool)
    beaten[other[wins]] = True
    return beaten


def passing_laws(law: Ints, kind: Ints, kinds: int) -> Ints:
    """The number of each set of laws with one more (0: none), numbered anew."""
    if not kind.any():
        return law
    return np.asarray(np.unique(law * (kinds + 1) + kind, return_inverse=True)[1], dtype=np.intp)
