"""All bundles that could be of use between two flows: label setting over a span, with bounds from many columns.

Along a partial path each column's bound, the least that price plus multiplier times loss can still come to, never falls. A
partial path is left out when the bounds of all columns exceed what a bundle of use can come to (`columns`), or when another is
no worse (`span_labels`). As soon as a cluster of shared items can be needed no more its true price takes the place of its
shares (`settling`), so whole bundles come with their true prices.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.search.columns import Columns, Still
from optimizer.search.rounds import BARRED, CENT_SLACK, SLACK, TooManyPaths, followed, traced
from optimizer.search.span_labels import NEVER, Labels, Merits, Needs, passing_laws, unbeaten, unbeaten_apart
from optimizer.search.span_laws import DEGREE
from optimizer.search.span_prices import SpanPrices
from optimizer.search.spans import Span, bernstein

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

ANYTHING, THROTTLED, FREE = range(3)
"""What a walk looks for: all bundles; those with a throttle behind the pump, which paths are compared by; those that stay under
all ceilings by themselves, where no path beats another, since more loss may be what saves a bundle."""

FEW = 200
"""More labels than this are first compared with those that need the same shared items only, which is quicker."""


@dataclass(frozen=True, slots=True)
class Ends:
    """Whole bundles: flat rows of ``options`` and ``joints`` (n, layers), and their labels."""

    options: Ints
    joints: Ints
    labels: Labels


@dataclass(frozen=True, slots=True)
class _Steps:
    """The joints or the options of one layer that some bundle of use goes through: their ``rows`` in the layer, the states they
    lead from and to, by how much each raises the bound of every column, and their flat ``choice``."""

    rows: Ints
    source: Ints
    target: Ints
    more: Reals
    choice: Ints
    price: Reals
    cheapest: Reals


class SpanPaths:
    """The walk through the layers over one span. ``apart`` is what each shared item costs on its own, ``noise`` that of every
    pump. With a ``beam`` only so many partial paths behind a layer are followed, for good bundles and no proof; else more than
    ``most`` of them raise TooManyPaths."""

    def __init__(self, prices: SpanPrices, span: Span, columns: Columns, apart: Reals, noise: Reals, **how: int) -> None:
        self.bounds, self.settling, self.span, self.columns = prices.bounds, prices.settling, span, columns
        self.problem, self.rounds = self.bounds.problem, self.bounds.rounds
        self.accounts = self.rounds.accounts
        self.apart, self.noise = apart, noise
        self.beam, self.most, self.only = how.get("beam", 0), how.get("most", 0), how.get("only", ANYTHING)
        self.at, self.reach = span.at(columns.flow), columns.reach
        self.room = self._room()

    def _room(self) -> Reals | None:
        """What the pump's inlet has room for less its own velocity head, over the span, for every pump; None: no limit."""
        limit = self.problem.choices.limits.inlet_head_m
        if np.isinf(limit):
            return None
        none = np.zeros_like(self.problem.suction_quadratic)
        taken = bernstein(self.problem.suction_quadratic, none, none, self.span.low, self.span.high)
        return np.asarray(self.problem.depth_m - limit + SLACK - taken)

    def ends(self) -> Ends:
        """All bundles that could be of use. Raises TooManyPaths."""
        joints, options, least = self._steps()
        last = self.settling.last_needed([steps.choice for steps in options], [steps.choice for steps in joints])
        labels, trail = Labels.first(least - self.reach), list[tuple[Labels, Labels]]()
        for place in range(len(joints)):
            joined = self._settled(self._joined(labels, joints[place]), last == 2 * place)
            labels = self._settled(self._chosen(place, joined, options[place]), last == 2 * place + 1)
            trail.append((joined, labels))
            if not self.beam and len(labels) > self.most:
                raise TooManyPaths
        return Ends(*traced(labels.choice, labels.parent, trail), labels)

    # -- what each step adds to the bounds -------------------------------------------------------------------------

    def _steps(self) -> tuple[list[_Steps], list[_Steps], Reals]:
        """The joints and the options of every layer worth following, and the least bound of every column."""
        bounds = self.bounds
        option, joint = bounds.weights(bounds.losses(self.columns), self.columns.multiplier)
        forward, still, cheapest = bounds.forward(option, joint), bounds.still(option, joint), self._cheapest()
        joints, options = list[_Steps](), list[_Steps]()
        before = forward[-1][1].min(axis=0)[None, :]
        for place, (layer, at) in enumerate(zip(self.rounds.layers, self.rounds.index, strict=True)):
            entry, leave = still.entry[place], still.leave[place]
            live = np.flatnonzero((forward[place][0] + entry[layer.joint_to] <= self.reach).any(axis=1))
            source, target = layer.joint_from[live], layer.joint_to[live]
            more = joint[at.joints][live] + entry[target] - before[source]
            choice = live + at.joints.start
            cheap = cheapest.entry[place][target, 0]
            joints.append(_Steps(live, source, target, more, choice, bounds.joint_price[choice], cheap))
            live = np.flatnonzero((forward[place][1] + leave[layer.leave] <= self.reach).any(axis=1))
            source, target = layer.entry[live], layer.leave[live]
            more = option[at.options][live] + leave[target] - entry[source]
            choice = live + at.options.start
            cheap = cheapest.leave[place][target, 0]
            options.append(_Steps(live, source, target, more, choice, bounds.option_price[choice], cheap))
            before = leave
        return joints, options, forward[-1][1].min(axis=0)

    def _cheapest(self) -> Still:
        one = np.where(self.bounds.allowed, self.bounds.option_price, BARRED)[:, None]
        return self.bounds.still(one, self.bounds.joint_price[:, None])

    # -- one layer -------------------------------------------------------------------------------------------------

    def _followed(self, labels: Labels, steps: _Steps) -> tuple[Ints, Ints, Reals]:
        """Labels followed by steps, those that can still end in one of the columns: rows of both, and by how much the bounds
        exceed what they may come to."""
        parent, step = followed(labels.state, steps.source)
        cheap = labels.price[parent] + steps.price[step] + steps.cheapest[step] <= self.columns.roof.max() + CENT_SLACK
        near = labels.over.min(axis=1)[parent] + steps.more.min(axis=1)[step] <= 0.0 if len(steps.rows) else cheap
        rows = np.flatnonzero(cheap & near)
        parent, step = parent[rows], step[rows]
        over = labels.over[parent]
        over += steps.more[step]
        rows = np.flatnonzero((over <= 0.0).any(axis=1))
        return parent[rows], step[rows], over[rows]

    def _joined(self, labels: Labels, steps: _Steps) -> Labels:
        parent, step, over = self._followed(labels, steps)
        choice = steps.choice[step]
        return replace(
            labels.only(parent),
            state=steps.target[step],
            price=labels.price[parent] + steps.price[step],
            coefficient=labels.coefficient[parent] + self.span.joint[choice],
            account=self.accounts.sums(labels.account[parent], self.accounts.of_joint[choice]),
            over=over,
            parent=parent,
            choice=choice,
        )

    def _chosen(self, place: int, labels: Labels, steps: _Steps) -> Labels:
        problem = self.problem
        parent, step, over = self._followed(labels, steps)
        lacking, at_pump = labels.lacking[parent], place == problem.pump
        if at_pump and self.room is not None:
            lacking, over = self._lacking(labels, parent, self.room[steps.rows[step]], over)
            keep = np.flatnonzero((over <= 0.0).any(axis=1))
            parent, step, over, lacking = parent[keep], step[keep], over[keep], lacking[keep]
        choice, before = steps.choice[step], labels.only(parent)
        return replace(
            before,
            state=steps.target[step],
            price=before.price + steps.price[step],
            coefficient=before.coefficient + self.span.option[choice],
            error=before.error + self.span.error[choice],
            law=passing_laws(before.law, self.span.kind[choice], self.span.kinds),
            lacking=lacking,
            least=np.maximum(before.least, problem.low[choice]),
            most=np.minimum(before.most, problem.high[choice]),
            pump=steps.rows[step] if at_pump else before.pump,
            throttled=before.throttled | (self.problem.throttles[choice] if self._asks_throttle(place) else False),
            account=self.accounts.sums(before.account, self.accounts.of_option[choice]),
            over=over,
            parent=parent,
            choice=choice,
        )

    def _asks_throttle(self, place: int) -> bool:
        return self.only == THROTTLED and place > self.problem.pump

    def _lacking(self, labels: Labels, parent: Ints, room: Reals, over: Reals) -> tuple[Reals, Reals]:
        """What the pump's inlet lacks at most, and the bounds with columns shut where it certainly lacks something."""
        lacking, error = labels.coefficient[parent] - room, labels.error[parent][:, None]
        over = np.where(np.einsum("nk,kc->nc", lacking, self.at) - error > 0.0, BARRED, over)
        lacking = lacking + error
        lacking[(lacking <= 0.0).all(axis=1)] = NEVER
        return lacking, over

    def _settled(self, labels: Labels, closing: Bools) -> Labels:
        """Labels that pay the true price of what is needed no more, those that no other beats."""
        account, more = self.settling.settled(labels.account, closing)
        if account is not labels.account:
            over = labels.over + more[:, None]
            labels = replace(labels, price=labels.price + more, account=account, over=over)
            labels = labels.only(np.flatnonzero((over <= 0.0).any(axis=1)))
        return self._unbeaten(labels)

    # -- what beats what -------------------------------------------------------------------------------------------

    def _unbeaten(self, labels: Labels) -> Labels:
        if len(labels) < 2 or self.only == FREE:
            return labels
        merits = Merits.of(labels, self.span.low, self.span.high, self.noise)
        if self.beam or len(labels) > FEW:
            kept = unbeaten(labels, merits)
            labels, merits = labels.only(kept), merits.rows(kept)
        if self.beam:
            return labels if len(labels) <= self.beam else self._thinned(labels)
        return self._held_apart(labels, merits)

    def _thinned(self, labels: Labels) -> Labels:
        """Some of the labels: for every column those with the best bounds."""
        each = max(self.beam // len(self.columns), 1)
        return labels.only(np.unique(np.argpartition(labels.over, each, axis=0)[:each]))

    def _held_apart(self, labels: Labels, merits: Merits) -> Labels:
        """Labels that no leader of their state beats, whatever shared items either needs."""
        accounts, which = np.unique(labels.account, return_inverse=True)
        held = self.accounts.counts(accounts)
        own = labels.price - (held @ self.bounds.unit_prices)[which]
        needed = held.any(axis=0)
        needs = Needs(own, held[:, needed][which], self.apart[needed])
        lost = merits.worth[:, : DEGREE + 1].sum(axis=1)
        return labels.only(unbeaten_apart(labels.state, needs, merits, lost, labels.over.min(axis=1)))
