"""One round of the search: at a fixed flow every loss is a number, and the best affordable bundle is a shortest path.

With losses h and prices c at hand, a round asks for paths through the layers with least loss (or least price) under
a budget. Three
facts keep it small without ever dropping an answer:

* for any multiplier m >= 0, ``min(h + m c) - m B`` is a lower bound on the loss of every path that costs at most B
  (weak Lagrangian duality), and the same holds for what is still to come after a partial path. A partial path whose loss
  plus m times its price plus the least such sum still to come exceeds ``limit + m B`` cannot end below the limit;
* a partial path whose price plus the least price still to come exceeds the budget cannot end within it;
* of two partial paths that arrive in the same state and need the same shared items, one that costs no more and loses no
  more is never worse.

Prices of shared items are lower bounds here (`Shop.shares`), so what survives is a superset of what is truly affordable.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.search.layers import Layer, Problem
from optimizer.search.settling import Settling
from optimizer.search.shared_item_sets import SharedItemSets
from optimizer.search.span_labels import Merits, Needs, unbeaten_apart

Ints = NDArray[np.intp]
Reals = NDArray[np.float64]
Bools = NDArray[np.bool_]
Stages = list[tuple[Reals, Reals]]

BARRED = 1e12
"""Loss and price of what is not allowed: finite, so that sums stay numbers, and far above anything real."""

SLACK = 1e-10
"""Rounding allowed in a comparison of sums of heads, in m. Paths within it of a bound are kept, never dropped."""

CENT_SLACK = 1e-6
"""The same for sums of prices, in minor units."""

MOST_LABELS = 500_000
"""More partial paths than this behind one layer end the round."""

MOST_AT_ONCE = 1_000_000
"""About so many partial paths are made at once before those that cannot end in the corridor are left out."""


class TooManyPaths(Exception):
    """A round would have to keep more than ``MOST_LABELS`` partial paths."""


@dataclass(frozen=True, slots=True)
class Weights:
    """What a round adds up: loss (m) and price (minor units) of every option and every joint, flat over the layers."""

    option_loss: Reals
    joint_loss: Reals
    option_price: Reals
    joint_price: Reals


@dataclass(frozen=True, slots=True)
class Path:
    """One way through the layers by the flat places of its options and joints, with its sums."""

    loss: float
    price: float
    options: tuple[int, ...]
    joints: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Corridor:
    """Which paths a round may return: price at most ``budget``, loss at most ``limit``; the multiplier only steers.

    ``suction[k]`` bounds the loss upstream of the k-th option of the pump's layer, in m (None: no bound). More than ``most``
    partial paths behind one layer end the round; ``thins``: some of them are left out instead, for a round that is no proof.
    Paths that lose less than ``least`` may be left out.
    """

    multiplier: float
    budget: float
    limit: float
    suction: Reals | None = None
    most: int = MOST_LABELS
    least: float = -math.inf
    thins: bool = False

    @property
    def roof(self) -> float:
        """The most that loss plus multiplier times price can come to."""
        return self.limit + self.multiplier * self.budget + SLACK


@dataclass(frozen=True, slots=True)
class _Index:
    """Where the options and joints of one layer stand in the flat arrays, and how to take minima per state."""

    options: slice
    joints: slice
    leave_bounds: list[int]
    leave_starts: Ints
    by_entry: Ints
    entry_starts: Ints
    to_bounds: list[int]
    to_states: Ints
    to_starts: Ints
    by_from: Ints
    from_states: Ints
    from_starts: Ints


class Rounds:
    """Shortest paths over the layers of one problem, for any weights. Remembers nothing that hangs on the weights."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.layers: Sequence[Layer] = problem.layers
        self.index = [self._indexed(n, layer) for n, layer in enumerate(problem.layers)]
        self.accounts = SharedItemSets(problem)
        self.has_paths = all(len(layer.options) and len(layer.joints) for layer in problem.layers)

    def _indexed(self, place: int, layer: Layer) -> _Index:
        at, joints_at = self.problem.option_at, self.problem.joint_at
        by_entry = np.argsort(layer.entry, kind="stable")
        by_from = np.argsort(layer.joint_from, kind="stable")
        to_states, to_starts = _segments(layer.joint_to)
        from_states, from_starts = _segments(layer.joint_from[by_from])
        return _Index(
            options=slice(at[place], at[place + 1]),
            joints=slice(joints_at[place], joints_at[place + 1]),
            leave_bounds=np.searchsorted(layer.leave, np.arange(len(layer.leaves) + 1)).tolist(),
            leave_starts=_segments(layer.leave)[1],
            by_entry=by_entry,
            entry_starts=_segments(layer.entry[by_entry])[1],
            to_bounds=np.searchsorted(layer.joint_to, np.arange(len(layer.entries) + 1)).tolist(),
            to_states=to_states,
            to_starts=to_starts,
            by_from=by_from,
            from_states=from_states,
            from_starts=from_starts,
        )

    # -- single paths ----------------------------------------------------------------------------------------------

    def shortest(self, weights: Weights, loss_weight: float, price_weight: float) -> Path | None:
        """The path with the least weighted sum of loss and price, or None when every path is barred."""
        if not self.has_paths:
            return None
        options = loss_weight * weights.option_loss + price_weight * weights.option_price
        joints = loss_weight * weights.joint_loss + price_weight * weights.joint_price
        return self._traced(weights, self._forward(options, joints))

    def least_sum(self, options: Reals, joints: Reals) -> float:
        """The least sum along any path of one number per option and per joint (very large when every path is barred)."""
        return float(self._forward(options, joints)[-1][1].min()) if self.has_paths else BARRED

    def through(self, weights: Weights, multiplier: float, place: int) -> Reals:
        """The least sum of loss and multiplier times price along any path, per option of the layer at ``place``."""
        if not self.has_paths:
            return np.full(len(self.layers[place].options), BARRED)
        options = weights.option_loss + multiplier * weights.option_price
        joints = weights.joint_loss + multiplier * weights.joint_price
        coming = self._still_to_come(options, joints)[place][1]
        return np.asarray(self._forward(options, joints)[place][1] + coming[self.layers[place].leave])

    def _forward(self, options: Reals, joints: Reals) -> list[tuple[Reals, Reals]]:
        """Per layer: the least sum over each joint, and over each option."""
        stages = []
        least = np.zeros(1)
        for layer, at in zip(self.layers, self.index, strict=True):
            joint_sums = least[layer.joint_from] + joints[at.joints]
            entry = np.full(len(layer.entries), BARRED)
            entry[at.to_states] = np.minimum.reduceat(joint_sums, at.to_starts)
            option_sums = entry[layer.entry] + options[at.options]
            least = np.minimum.reduceat(option_sums, at.leave_starts)
            stages.append((joint_sums, option_sums))
        return stages

    def _traced(self, weights: Weights, stages: list[tuple[Reals, Reals]]) -> Path | None:
        options: list[int] = []
        joints: list[int] = []
        low, high = 0, len(stages[-1][1])
        for place in range(len(stages) - 1, -1, -1):
            layer, at = self.layers[place], self.index[place]
            joint_sums, option_sums = stages[place]
            best = low + int(option_sums[low:high].argmin())
            if option_sums[best] >= BARRED / 2:
                return None
            entry = layer.entry[best]
            start = at.to_bounds[entry]
            joint = start + int(joint_sums[start : at.to_bounds[entry + 1]].argmin())
            options.append(at.options.start + best)
            joints.append(at.joints.start + joint)
            if place:
                left = layer.joint_from[joint]
                low, high = self.index[place - 1].leave_bounds[left : left + 2]
        return self._summed(weights, options[::-1], joints[::-1])

    def _summed(self, weights: Weights, options: list[int], joints: list[int]) -> Path:
        return Path(
            loss=float(weights.option_loss[options].sum() + weights.joint_loss[joints].sum()),
            price=float(weights.option_price[options].sum() + weights.joint_price[joints].sum()),
            options=tuple(options),
            joints=tuple(joints),
        )

    # -- all paths worth keeping -----------------------------------------------------------------------------------

    def _still_to_come(self, options: Reals, joints: Reals) -> list[tuple[Reals, Reals]]:
        """Per layer: the least sum from each entry to the end, and from each leaving state to the end."""
        stages: list[tuple[Reals, Reals]] = []
        after = np.zeros(len(self.layers[-1].leaves))
        for place in range(len(self.layers) - 1, -1, -1):
            layer, at = self.layers[place], self.index[place]
            sums = options[at.options] + after[layer.leave]
            entry = np.minimum.reduceat(sums[at.by_entry], at.entry_starts)
            stages.append((entry, after))
            before = len(self.layers[place - 1].leaves) if place else 1
            after = np.full(before, BARRED)
            through = joints[at.joints] + entry[layer.joint_to]
            after[at.from_states] = np.minimum.reduceat(through[at.by_from], at.from_starts)
        return stages[::-1]

    def _lossiest_to_come(self, weights: Weights) -> list[tuple[Reals, Reals]]:
        """Per layer: the greatest loss from each entry to the end, and from each leaving state to the end."""
        gains = (np.where(losses < BARRED / 2, -losses, BARRED) for losses in (weights.option_loss, weights.joint_loss))
        return [(-entry, -after) for entry, after in self._still_to_come(*gains)]

    def greatest_loss(self, weights: Weights) -> float:
        """The greatest loss of any path that is not barred."""
        return float(self._lossiest_to_come(weights)[0][0].max()) if self.has_paths else -BARRED

    def _to_the_pump(self, weights: Weights) -> list[tuple[Reals, Reals]]:
        """Per layer upstream of the pump, and for the pump's own entries: the least loss from each entry, and from each leaving
        state, to the pump's inlet."""
        pump = self.problem.pump
        entry = np.zeros(len(self.layers[pump].entries))
        stages = [(entry, entry)]
        for place in range(pump - 1, -1, -1):
            layer, behind, at = self.layers[place], self.index[place + 1], self.index[place]
            through = weights.joint_loss[behind.joints] + entry[self.layers[place + 1].joint_to]
            after = np.full(len(layer.leaves), BARRED)
            after[behind.from_states] = np.minimum.reduceat(through[behind.by_from], behind.from_starts)
            sums = weights.option_loss[at.options] + after[layer.leave]
            entry = np.minimum.reduceat(sums[at.by_entry], at.entry_starts)
            stages.append((entry, after))
        return stages[::-1]

    def front(
        self, weights: Weights, corridor: Corridor, apart: bool = False, every: bool = False, settling: Settling | None = None
    ) -> list[Path]:
        """All non-dominated paths in the corridor, cheapest first. Raises TooManyPaths.

        With ``apart`` paths that need different shared items are never compared, so that for every set of shared
        items, whatever it
        truly costs, its non-dominated paths are there. With ``every`` none are compared: all paths of the corridor are there.
        With ``settling``, which must be for the prices of the weights, paths ``apart`` pay what they need of a cluster of shared
        items truly as soon as nothing to come can need more of it, and one beats another that needs other items where it costs
        no more even if it buys what it alone needs piece by piece (`span_labels`): the front at true prices.
        """
        if not self.has_paths:
            return []
        walk = self._walk(weights, corridor)
        closing = self._closing(settling, walk.options, walk.joints)
        labels = _Labels.first()
        trail: list[tuple[_Labels, _Labels]] = []
        for place in range(len(self.layers)):
            joined = labels.piecewise(self.layers[place].joint_from[walk.joints[place]], partial(walk.joined, place))
            joined = self._charged(joined, labels, self.accounts.of_joint, apart)
            joined = joined if every else joined.unbeaten()
            if settling is not None:
                joined = self._settled(joined, closing == 2 * place, settling, corridor, walk.coming[place][0])
            labels = joined.piecewise(self.layers[place].entry[walk.options[place]], partial(walk.chosen, place))
            labels = self._charged(labels, joined, self.accounts.of_option, apart)
            labels = labels if every else labels.unbeaten()
            if settling is not None:
                labels = self._settled(labels, closing == 2 * place + 1, settling, corridor, walk.coming[place][1])
            if len(labels.loss) > corridor.most:
                if not corridor.thins:
                    raise TooManyPaths
                labels = labels.thinned(corridor.most) if every else labels.nearest(corridor, walk.coming[place][1])
            trail.append((joined, labels))
            if not len(labels.loss):
                return []
        return self._collected(labels.only(labels.loss <= corridor.limit + SLACK), trail, every)

    def _walk(self, weights: Weights, corridor: Corridor) -> "_Walk":
        multiplier = corridor.multiplier
        options = weights.option_loss + multiplier * weights.option_price
        joints = weights.joint_loss + multiplier * weights.joint_price
        forward = self._forward(options, joints)
        coming = self._still_to_come(options, joints)
        joint_rows, option_rows = self._open(forward, coming, corridor.roof)
        return _Walk(
            rounds=self,
            weights=weights,
            corridor=corridor,
            coming=coming,
            cheapest=self._still_to_come(weights.option_price, weights.joint_price),
            upstream=[] if corridor.suction is None else self._to_the_pump(weights),
            lossiest=[] if math.isinf(corridor.least) else self._lossiest_to_come(weights),
            joints=joint_rows,
            options=option_rows,
        )

    def within(self, weights: Weights, multiplier: float, roof: float) -> tuple[Bools, Bools]:
        """Which options and joints (flat) some path goes through whose loss and multiplier times price come to no more."""
        options, joints = np.zeros(len(weights.option_loss), dtype=bool), np.zeros(len(weights.joint_loss), dtype=bool)
        if self.has_paths:
            sums = weights.option_loss + multiplier * weights.option_price, weights.joint_loss + multiplier * weights.joint_price
            some = zip(*self._open(self._forward(*sums), self._still_to_come(*sums), roof), self.index, strict=True)
            for joined, chosen, at in some:
                joints[at.joints.start + joined] = True
                options[at.options.start + chosen] = True
        return options, joints

    def _open(self, forward: Stages, coming: Stages, roof: float) -> tuple[list[Ints], list[Ints]]:
        """The joints and the options of every layer that some path of the corridor may go through."""
        joints, options = list[Ints](), list[Ints]()
        for layer, (joined, chosen), (entry, leave) in zip(self.layers, forward, coming, strict=True):
            joints.append(np.flatnonzero(joined + entry[layer.joint_to] <= roof))
            options.append(np.flatnonzero(chosen + leave[layer.leave] <= roof))
        return joints, options

    def _closing(self, settling: Settling | None, options: list[Ints], joints: list[Ints]) -> Ints:
        """The last stage at which each cluster of shared items can be needed."""
        if settling is None:
            return np.zeros(0, dtype=np.intp)
        flat = zip(options, joints, self.index, strict=True)
        both = [(rows + at.options.start, joined + at.joints.start) for rows, joined, at in flat]
        return settling.last_needed([rows for rows, _ in both], [joined for _, joined in both])

    def _settled(self, labels: "_Labels", closing: Bools, settling: Settling, corridor: Corridor, coming: Reals) -> "_Labels":
        """Labels that pay truly for what is needed no more, those that no other was found to beat."""
        account, more = settling.settled(labels.account, closing)
        if account is not labels.account:
            labels = _Labels(labels.state, labels.loss, labels.price + more, labels.parent, labels.choice, account)
            labels = labels.only(np.isfinite(more)).inside(corridor, coming, np.zeros_like(coming)).unbeaten()
        if len(labels.loss) < 2 or not labels.account.any():
            return labels
        accounts, which = np.unique(labels.account, return_inverse=True)
        held = self.accounts.counts(accounts)
        needs = Needs(labels.price - (held @ settling.unit)[which], held[which], settling.apart)
        none = np.zeros(len(labels.loss))
        merits = Merits(labels.loss[:, None], np.zeros(1), none, none.astype(np.intp))
        sums = labels.loss + corridor.multiplier * labels.price + coming[labels.state]
        return labels.only(unbeaten_apart(labels.state, needs, merits, labels.loss, sums))

    def _charged(self, labels: "_Labels", before: "_Labels", of_choice: Ints, apart: bool) -> "_Labels":
        """Labels with the account of the label they came from plus what their last choice needs."""
        if not apart:
            return labels
        account = self.accounts.sums(before.account[labels.parent], of_choice[labels.choice])
        return _Labels(labels.state, labels.loss, labels.price, labels.parent, labels.choice, account)

    def _collected(self, last: "_Labels", trail: list[tuple["_Labels", "_Labels"]], every: bool) -> list[Path]:
        nowhere = np.zeros_like(last.state)
        rows = np.arange(len(last.loss)) if every else unbeaten_rows(nowhere, last.account, last.price, last.loss)
        ways = (chosen.tolist() for chosen in traced(last.choice[rows], last.parent[rows], trail))
        sums = zip(last.loss[rows].tolist(), last.price[rows].tolist(), *ways, strict=True)
        paths = [Path(loss, price, tuple(some), tuple(joined)) for loss, price, some, joined in sums]
        return sorted(paths, key=lambda path: (path.price, path.loss))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Walk:
    """One walk through the layers: what is still to come of sums, prices and greatest losses (and, up to the pump, of losses
    as far as its inlet), and the ``joints`` and ``options`` of every layer that some path of the corridor may go through."""

    rounds: Rounds
    weights: Weights
    corridor: Corridor
    coming: Stages
    cheapest: Stages
    upstream: Stages
    lossiest: Stages
    joints: list[Ints]
    options: list[Ints]

    def joined(self, place: int, labels: "_Labels") -> "_Labels":
        """Labels followed by the joints in front of a place, those that can still end in the corridor."""
        layer, at, weights = self.rounds.layers[place], self.rounds.index[place], self.weights
        after = labels.followed(
            self.joints[place], layer.joint_from, layer.joint_to, at.joints, weights.joint_loss, weights.joint_price
        )
        after = after.inside(self.corridor, self.coming[place][0], self.cheapest[place][0])
        pump = self.rounds.problem.pump
        return after.with_suction(self.corridor, self.upstream[place][0]) if self.upstream and place <= pump else after

    def chosen(self, place: int, labels: "_Labels") -> "_Labels":
        """Labels followed by the options of a place, those that can still end in the corridor."""
        layer, at, weights = self.rounds.layers[place], self.rounds.index[place], self.weights
        suction, pump = self.corridor.suction, self.rounds.problem.pump
        after = labels.followed(
            self.options[place], layer.entry, layer.leave, at.options, weights.option_loss, weights.option_price
        )
        if suction is not None and place == pump:
            after = after.only(labels.loss[after.parent] <= suction[after.choice - at.options.start])
        after = after.inside(self.corridor, self.coming[place][1], self.cheapest[place][1])
        if self.lossiest:
            after = after.only(after.loss + self.lossiest[place][1][after.state] >= self.corridor.least - SLACK)
        return after.with_suction(self.corridor, self.upstream[place][1]) if self.upstream and place < pump else after


@dataclass(frozen=True, slots=True)
class _Labels:
    """Partial paths: where they stand, what they lost and cost, which partial path they came from and by which choice,
    and the account of the shared items they need."""

    state: Ints
    loss: Reals
    price: Reals
    parent: Ints
    choice: Ints
    account: Ints

    @classmethod
    def first(cls) -> "_Labels":
        zero = np.zeros(1, dtype=np.intp)
        return cls(zero, np.zeros(1), np.zeros(1), zero - 1, zero - 1, zero)

    def piecewise(self, source: Ints, follow: Callable[["_Labels"], "_Labels"]) -> "_Labels":
        """What becomes of the labels by steps that start in these states, and of which few results stay: done piece by piece
        where they are many before that, in the same order as at once."""
        steps = np.bincount(source, minlength=int(self.state.max(initial=-1)) + 1)
        sums = np.cumsum(steps[self.state])
        if not len(sums) or sums[-1] <= MOST_AT_ONCE:
            return follow(self)
        starts = np.flatnonzero(np.diff(sums // MOST_AT_ONCE, prepend=-1)).tolist()
        spans = pairwise([*starts, len(sums)])
        pieces = [(first, follow(self.only(np.arange(first, end)))) for first, end in spans]
        return _Labels(
            state=np.concatenate([piece.state for _, piece in pieces]),
            loss=np.concatenate([piece.loss for _, piece in pieces]),
            price=np.concatenate([piece.price for _, piece in pieces]),
            parent=np.concatenate([piece.parent + first for first, piece in pieces]),
            choice=np.concatenate([piece.choice for _, piece in pieces]),
            account=np.concatenate([piece.account for _, piece in pieces]),
        )

    def followed(self, rows: Ints, sources: Ints, targets: Ints, at: slice, losses: Reals, prices: Reals) -> "_Labels":
        """Every label followed by every one of the given choices that starts in its state."""
        parent, step = followed(self.state, sources[rows])
        picked = rows[step]
        choice = picked + at.start
        loss, price = self.loss[parent] + losses[choice], self.price[parent] + prices[choice]
        return _Labels(targets[picked], loss, price, parent, choice, self.account[parent])

    def only(self, rows: Bools | Ints) -> "_Labels":
        """Some of the labels, by mask or by rows."""
        return _Labels(
            self.state[rows],
            self.loss[rows],
            self.price[rows],
            self.parent[rows],
            self.choice[rows],
            self.account[rows],
        )

    def thinned(self, most: int) -> "_Labels":
        """So many of the labels, spread evenly over what they lose."""
        order = np.argsort(self.loss, kind="stable")
        return self.only(order[np.linspace(0, len(order) - 1, most).astype(np.intp)])

    def nearest(self, corridor: Corridor, coming: Reals) -> "_Labels":
        """As many of the labels as the corridor is to follow, those with the best bounds."""
        sums = self.loss + corridor.multiplier * self.price + coming[self.state]
        return self.only(np.sort(np.argpartition(sums, corridor.most)[: corridor.most]))

    def inside(self, corridor: Corridor, coming: Reals, cheapest: Reals) -> "_Labels":
        """Labels that can still end in the corridor."""
        sums = self.loss + corridor.multiplier * self.price + coming[self.state]
        prices = self.price + cheapest[self.state]
        return self.only((sums <= corridor.roof) & (prices <= corridor.budget + CENT_SLACK))

    def with_suction(self, corridor: Corridor, upstream: Reals) -> "_Labels":
        """Labels that can still leave some pump's inlet the pressure it needs."""
        if corridor.suction is None:
            return self
        return self.only(self.loss + upstream[self.state] <= corridor.suction.max())

    def unbeaten(self) -> "_Labels":
        """Labels that no other of the same state and account beats."""
        return self.only(unbeaten_rows(self.state, self.account, self.price, self.loss))


class Chosen(Protocol):
    """Partial paths by how they came about: the row of the path before them, and the flat row of their last choice."""

    @property
    def parent(self) -> Ints:
        """Row of the path before."""

    @property
    def choice(self) -> Ints:
        """Flat row of the last option or joint."""


def followed(state: Ints, source: Ints) -> tuple[Ints, Ints]:
    """Every partial path (by its ``state``) followed by every step that starts there (by its ``source``): rows of both."""
    order = np.argsort(source, kind="stable")
    states = int(max(state.max(initial=-1), source.max(initial=-1))) + 1
    counts = np.bincount(source, minlength=states)
    starts = np.cumsum(counts) - counts
    repeats = counts[state]
    parent = np.repeat(np.arange(len(state)), repeats)
    within = np.arange(len(parent)) - np.repeat(np.cumsum(repeats) - repeats, repeats)
    return parent, order[starts[state[parent]] + within]


def traced(choice: Ints, parent: Ints, trail: Sequence[tuple[Chosen, Chosen]]) -> tuple[Ints, Ints]:
    """Flat rows of the options and of the joints (n, layers) that whole paths went through, by their last ``choice`` and the
    ``parent`` it followed; the ``trail`` holds the partial paths behind the joints and behind the options of every layer."""
    options, joints = [choice], list[Ints]()
    for place in range(len(trail) - 1, -1, -1):
        joined = trail[place][0]
        joints.append(joined.choice[parent])
        parent = joined.parent[parent]
        if place:
            before = trail[place - 1][1]
            options.append(before.choice[parent])
            parent = before.parent[parent]
    return np.stack(options[::-1], axis=1), np.stack(joints[::-1], axis=1)


def unbeaten_rows(state: Ints, account: Ints, price: Reals | Ints, loss: Reals | Ints) -> Ints:
    """Rows that no other row of the same state and account beats in price and loss, by state, account and price; the first of
    equals."""
    if not len(loss):
        return np.zeros(0, dtype=np.intp)
    group = state * (int(account.max()) + 1) + account
    order = np.lexsort((loss, price, group))
    ordered = group[order]
    rank = np.empty(len(order), dtype=np.intp)
    rank[np.argsort(loss[order], kind="stable")] = np.arange(len(order))
    # Later groups are shifted below all earlier ones, so one running minimum serves every group.
    steps = np.cumsum(np.concatenate(([0], ordered[1:] != ordered[:-1])))
    rank -= steps * len(order)
    keep = np.ones(len(order), dtype=bool)
    keep[1:] = rank[1:] < np.minimum.accumulate(rank)[:-1]
    return np.asarray(order[keep])


def _segments(ordered: Ints) -> tuple[Ints, Ints]:
    """Different values of a sorted array and where each starts."""
    states, starts = np.unique(ordered, return_index=True)
    return states.astype(np.intp), starts.astype(np.intp)
