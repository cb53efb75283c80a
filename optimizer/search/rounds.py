"""One round of the search: at a fixed flow every loss is a number, and the best affordable bundle is a shortest path.

With losses h and prices c at hand, a round asks for paths through the layers with least loss (or least price) under a budget. Two
facts keep it small without ever dropping an answer:

* for any multiplier m >= 0, ``min(h + m c) - m B`` is a lower bound on the loss of every path that costs at most B
  (weak Lagrangian duality), and the same holds for what is still to come after a partial path. A partial path whose loss
  plus m times its price plus the least such sum still to come exceeds ``limit + m B`` cannot end below the limit;
* of two partial paths that arrive in the same state, one that costs no more and loses no more is never worse.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.search.layers import Layer, Problem

Ints = NDArray[np.intp]
Reals = NDArray[np.float64]

BARRED = 1e12
"""Loss and price of what is not allowed: finite, so that sums stay numbers, and far above anything real."""

SLACK = 1e-10
"""Rounding allowed in a comparison of sums of heads, in m. Paths within it of a bound are kept, never dropped."""


MOST_LABELS = 400_000
"""More partial paths than this in one layer end the round."""


class TooMany(Exception):
    """A round would need more partial paths than `MOST_LABELS`."""


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
class _Index:
    """Where the options and joints of one layer stand in the flat arrays, and how to take minima per state."""

    options: slice
    joints: slice
    leave_starts: Ints
    by_entry: Ints
    entry_starts: Ints
    to_states: Ints
    to_starts: Ints
    by_from: Ints
    from_states: Ints
    from_starts: Ints


class Rounds:
    """Shortest paths over the layers of one problem, for any weights. Holds no result between calls."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.layers: Sequence[Layer] = problem.layers
        self.index = [self._indexed(n, layer) for n, layer in enumerate(problem.layers)]
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
            leave_starts=_segments(layer.leave)[1],
            by_entry=by_entry,
            entry_starts=_segments(layer.entry[by_entry])[1],
            to_states=to_states,
            to_starts=to_starts,
            by_from=by_from,
            from_states=from_states,
            from_starts=from_starts,
        )

    def shortest(self, weights: Weights, loss_weight: float, price_weight: float) -> Path | None:
        """The path with the least weighted sum of loss and price, or None when every path is barred."""
        options = loss_weight * weights.option_loss + price_weight * weights.option_price
        joints = loss_weight * weights.joint_loss + price_weight * weights.joint_price
        if not self.has_paths:
            return None
        return self._trace(weights, self._forward(options, joints))

    def _forward(self, options: Reals, joints: Reals) -> list[tuple[Reals, Reals, Reals]]:
        """Per layer: sums of the joints into each entry, of the options, and the least sum at each entry."""
        stages = []
        least = np.zeros(1)
        for layer, at in zip(self.layers, self.index, strict=True):
            joint_sums = least[layer.joint_from] + joints[at.joints]
            entry = np.full(len(layer.entries), BARRED)
            entry[at.to_states] = np.minimum.reduceat(joint_sums, at.to_starts)
            option_sums = entry[layer.entry] + options[at.options]
            least = np.minimum.reduceat(option_sums, at.leave_starts)
            stages.append((joint_sums, option_sums, entry))
        return stages

    def _trace(self, weights: Weights, stages: list[tuple[Reals, Reals, Reals]]) -> Path | None:
        options: list[int] = []
        joints: list[int] = []
        low, high = 0, len(stages[-1][1])
        for place in range(len(stages) - 1, -1, -1):
            layer, at = self.layers[place], self.index[place]
            joint_sums, option_sums, _ = stages[place]
            best = low + int(np.argmin(option_sums[low:high]))
            if option_sums[best] >= BARRED / 2:
                return None
            start, stop = _segment(at.to_states, at.to_starts, int(layer.entry[best]), len(joint_sums))
            joint = start + int(np.argmin(joint_sums[start:stop]))
            options.append(at.options.start + best)
            joints.append(at.joints.start + joint)
            if place:
                before = self.index[place - 1]
                left = int(layer.joint_from[joint])
                low = int(before.leave_starts[left])
                ends = before.leave_starts
                high = int(ends[left + 1]) if left + 1 < len(ends) else len(self.layers[place - 1].options)
        return self._path(weights, options[::-1], joints[::-1])

    def _path(self, weights: Weights, options: Sequence[int], joints: Sequence[int]) -> Path:
        o, j = list(options), list(joints)
        return Path(
            loss=float(weights.option_loss[o].sum() + weights.joint_loss[j].sum()),
            price=float(weights.option_price[o].sum() + weights.joint_price[j].sum()),
            options=tuple(o),
            joints=tuple(j),
        )

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

    def front(
        self,
        weights: Weights,
        multiplier: float,
        budget: float,
        limit: float,
        suction: Reals | None = None,
        counts: "Counted | None" = None,
    ) -> list[Path]:
        """All non-dominated paths with a price of at most ``budget`` and a loss of at most ``limit``, cheapest first.

        ``suction[k]`` bounds the loss upstream of the k-th option of the pump's layer (m). Any multiplier gives the same
        answer; a good one makes it quick. With ``counts``, items that it counts are charged along each path at their true least price,
        not by the weights, and only paths that need equal numbers of them beat one another.
        """
        if not self.has_paths:
            return []
        options = weights.option_loss + multiplier * weights.option_price
        joints = weights.joint_loss + multiplier * weights.joint_price
        rule = _Rule(multiplier, limit + multiplier * budget + SLACK, budget, counts)
        forward = self._forward(options, joints)
        coming = self._still_to_come(options, joints)
        labels = _Labels.first()
        trail: list[tuple[_Labels, _Labels]] = []
        for place, layer in enumerate(self.layers):
            at = self.index[place]
            joint_sums, option_sums, _ = forward[place]
            to_entry, after = coming[place]
            good = np.flatnonzero(labels_needed(joint_sums, to_entry[layer.joint_to], rule.roof))
            step = weights.joint_loss[at.joints][good], weights.joint_price[at.joints][good]
            ends = layer.joint_from[good], layer.joint_to[good]
            code = None if counts is None else counts.joint_code[at.joints][good]
            joined = rule.kept(labels.grown(*ends, *step, good + at.joints.start, code), to_entry)
            good = np.flatnonzero(labels_needed(option_sums, after[layer.leave], rule.roof))
            step = weights.option_loss[at.options][good], weights.option_price[at.options][good]
            code = None if counts is None else counts.option_code[at.options][good]
            grown = joined.grown(layer.entry[good], layer.leave[good], *step, good + at.options.start, code)
            if suction is not None and place == self.problem.pump:
                upstream = joined.loss[grown.parent]
                grown = grown.only(upstream <= suction[grown.choice - at.options.start])
            labels = rule.kept(grown, after)
            trail.append((joined, labels))
            if not len(labels.loss):
                return []
            if len(labels.loss) > MOST_LABELS:
                raise TooMany
        return self._collect(labels, trail, rule, limit)

    def _collect(
        self, labels: "_Labels", trail: list[tuple["_Labels", "_Labels"]], rule: "_Rule", limit: float
    ) -> list[Path]:
        last = labels.only(labels.loss <= limit + SLACK).charged(rule.counts)
        last = last.only(last.price <= rule.budget + 1e-6).ungrouped()
        paths = []
        for row in last.unbeaten_rows():
            options, joints = [int(last.choice[row])], []
            parent = int(last.parent[row])
            for place in range(len(trail) - 1, -1, -1):
                joined = trail[place][0]
                joints.append(int(joined.choice[parent]))
                parent = int(joined.parent[parent])
                if place:
                    before = trail[place - 1][1]
                    options.append(int(before.choice[parent]))
                    parent = int(before.parent[parent])
            paths.append(Path(float(last.loss[row]), float(last.price[row]), tuple(options[::-1]), tuple(joints[::-1])))
        return paths


def labels_needed(arriving: Reals, coming: Reals, roof: float) -> NDArray[np.bool_]:
    """Choices whose best possible whole path stays under the roof.

    >>> labels_needed(np.array([1.0, 5.0]), np.array([1.0, 1.0]), 3.0).tolist()
    [True, False]
    """
    return np.asarray(arriving + coming <= roof)


class Counted(Protocol):
    """What `Rounds.front` asks of counts of shared items: codes that add up, and the least price of a code."""

    option_code: Ints
    joint_code: Ints

    def floors(self, codes: Ints) -> Reals:
        """Least price of what each code stands for."""


@dataclass(frozen=True, slots=True)
class _Labels:
    """Partial paths: where they stand, what they lost and cost, the code of the items they count, which partial path
    they came from and by which choice."""

    state: Ints
    loss: Reals
    price: Reals
    code: Ints
    parent: Ints
    choice: Ints

    @classmethod
    def first(cls) -> "_Labels":
        zero = np.zeros(1, dtype=np.intp)
        return cls(zero, np.zeros(1), np.zeros(1), zero, zero - 1, zero - 1)

    def grown(
        self, source: Ints, target: Ints, loss: Reals, price: Reals, choice: Ints, code: Ints | None
    ) -> "_Labels":
        """Every label followed by every choice that starts in its state."""
        order = np.argsort(source, kind="stable")
        states = int(max(self.state.max(initial=-1), source.max(initial=-1))) + 1
        counts = np.bincount(source, minlength=states)
        starts = np.concatenate(([0], np.cumsum(counts)[:-1])) if states else np.zeros(0, dtype=np.intp)
        repeats = counts[self.state]
        parent = np.repeat(np.arange(len(self.state)), repeats)
        within = np.arange(len(parent)) - np.repeat(np.cumsum(repeats) - repeats, repeats)
        picked = order[starts[self.state[parent]] + within]
        return _Labels(
            target[picked],
            self.loss[parent] + loss[picked],
            self.price[parent] + price[picked],
            self.code[parent] if code is None else self.code[parent] + code[picked],
            parent,
            choice[picked],
        )

    def only(self, rows: NDArray[np.bool_] | Ints) -> "_Labels":
        """Some of the labels."""
        return _Labels(
            self.state[rows], self.loss[rows], self.price[rows], self.code[rows], self.parent[rows], self.choice[rows]
        )

    def charged(self, counts: Counted | None) -> "_Labels":
        """The same with the least price of the counted items added."""
        return self if counts is None else replace(self, price=self.price + counts.floors(self.code))

    def ungrouped(self) -> "_Labels":
        """The same as if all stood in one state and counted nothing."""
        zero = np.zeros_like(self.state)
        return replace(self, state=zero, code=zero)

    def unbeaten_rows(self) -> Ints:
        """Rows that no other row with the same state and code beats in price and loss, in that order; first of equals."""
        if not len(self.loss):
            return np.zeros(0, dtype=np.intp)
        order = np.lexsort((self.loss, self.price, self.code, self.state))
        state, code, loss = self.state[order], self.code[order], self.loss[order]
        group = np.cumsum(np.diff(state, prepend=state[0]).astype(bool) | np.diff(code, prepend=code[0]).astype(bool))
        rank = np.empty(len(order), dtype=np.intp)
        rank[np.argsort(loss, kind="stable")] = np.arange(len(order))
        # Later groups are shifted below all earlier ones, so one running minimum serves every group.
        rank -= group * len(order)
        keep = np.ones(len(order), dtype=bool)
        keep[1:] = rank[1:] < np.minimum.accumulate(rank)[:-1]
        return np.asarray(order[keep])


@dataclass(frozen=True, slots=True)
class _Rule:
    """Which partial paths are worth keeping: those that can still end under the roof and within the budget, unbeaten."""

    multiplier: float
    roof: float
    budget: float
    counts: Counted | None

    def kept(self, labels: _Labels, coming: Reals) -> _Labels:
        """Labels worth keeping, given the least weighted sum still to come from each state."""
        sums = labels.loss + self.multiplier * labels.price + coming[labels.state]
        labels = labels.only((sums <= self.roof) & (labels.price <= self.budget + 1e-6))
        labels = labels.only(labels.unbeaten_rows())
        if self.counts is None:
            return labels
        floor = self.counts.floors(labels.code)
        sums = labels.loss + self.multiplier * (labels.price + floor) + coming[labels.state]
        return labels.only((sums <= self.roof) & (labels.price + floor <= self.budget + 1e-6))


def _segments(ordered: Ints) -> tuple[Ints, Ints]:
    """Different values of a sorted array and where each starts."""
    states, starts = np.unique(ordered, return_index=True)
    return states.astype(np.intp), starts.astype(np.intp)


def _segment(states: Ints, starts: Ints, state: int, total: int) -> tuple[int, int]:
    place = int(np.searchsorted(states, state))
    stop = int(starts[place + 1]) if place + 1 < len(starts) else total
    return int(starts[place]), stop
