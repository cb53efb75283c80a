"""Bounds for many questions at once: each column asks for the cheapest bundle that can deliver a flow, with one pump or any.

For any multiplier m >= 0 the least of ``price + m loss`` over all paths is no more than the price of a bundle whose loss at the
flow is nothing or less (weak Lagrangian duality), and the same holds for what is still to come after a partial path. One walk
through the layers does it for all columns.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.search.rounds import BARRED, CENT_SLACK, SLACK, Rounds
from optimizer.search.shares import Shares

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

ANY = -1
"""The column asks about all pumps."""

STEEPEST = 1e9
"""A multiplier (minor units per m) with which only losses count."""

HULL_STEPS = 12

WITHIN = 1e-12

FLAT = 1e-3
"""A bound that rises by less, in minor units, is as good as it gets."""


@dataclass(frozen=True, slots=True)
class Columns:
    """k questions: can a bundle with ``pump`` (its place in the pump's layer) deliver ``flow`` m3/s, and need no more flow than
    ``top``, for a price of no more than ``roof`` (minor units)? ``multiplier`` in minor units per m."""

    flow: Reals
    top: Reals
    roof: Reals
    pump: Ints
    multiplier: Reals

    def __len__(self) -> int:
        return len(self.flow)

    @classmethod
    def of(cls, flow: Reals, top: Reals, roof: Reals, pump: Ints | None = None) -> "Columns":
        """Columns whose best multipliers are not known yet."""
        anywhere = np.full(len(flow), ANY, dtype=np.intp)
        return cls(flow, top, roof, anywhere if pump is None else pump, np.zeros(len(flow)))

    @property
    def reach(self) -> Reals:
        """The most that price plus multiplier times loss of a bundle of use can come to."""
        return self.roof + CENT_SLACK + self.multiplier * SLACK

    def with_hulls(self, hulls: "Hulls") -> "Columns":
        """Those that some bundle may answer, with their multipliers."""
        live = hulls.bound <= self.roof + CENT_SLACK
        return replace(self, multiplier=hulls.multiplier).rows(live)

    def rows(self, rows: Ints | Bools) -> "Columns":
        """Some of them."""
        return Columns(self.flow[rows], self.top[rows], self.roof[rows], self.pump[rows], self.multiplier[rows])


@dataclass(frozen=True, slots=True)
class Losses:
    """Loss of every option and joint, one column for each question, in m; what is not allowed is barred."""

    option: Reals
    joint: Reals


@dataclass(frozen=True, slots=True)
class Still:
    """Per layer what each column can come to at least: from each entry to the end, and from each leaving state."""

    entry: list[Reals]
    leave: list[Reals]


class Bounds:
    """Walks through the layers of one problem for many columns at once, at shared-out prices."""

    def __init__(self, rounds: Rounds, shares: Shares, allowed: Bools, unit_prices: Reals | None = None) -> None:
        self.rounds, self.problem, self.allowed = rounds, rounds.problem, allowed
        self.unit_prices = shares.unit_prices() if unit_prices is None else unit_prices
        self.option_price, self.joint_price = shares.priced_rows(self.unit_prices)

    def losses(self, columns: Columns) -> Losses:
        """Losses at the flow of every column, with what it does not allow barred."""
        problem = self.problem
        flows, which = np.unique(columns.flow, return_inverse=True)
        option = problem.heads.over(flows)[:, which]
        fits = self.allowed[:, None] & (problem.high[:, None] >= columns.flow * (1.0 - WITHIN))
        fits &= problem.low[:, None] <= columns.top * (1.0 + WITHIN)
        first, last = problem.option_at[problem.pump], problem.option_at[problem.pump + 1]
        place = np.arange(last - first)[:, None]
        fits[first:last] &= (columns.pump == ANY) | (place == columns.pump)
        joint = np.outer(problem.joint_quadratic, columns.flow * columns.flow)
        return Losses(np.where(fits, option, BARRED), joint)

    def weights(self, losses: Losses, multiplier: Reals) -> tuple[Reals, Reals]:
        """Price plus multiplier times loss."""
        barred = losses.option >= BARRED / 2
        option = np.where(barred, BARRED, self.option_price[:, None] + multiplier * np.where(barred, 0.0, losses.option))
        return option, self.joint_price[:, None] + multiplier * losses.joint

    def forward(self, option: Reals, joint: Reals) -> list[tuple[Reals, Reals]]:
        """Per layer the least sum over each joint and over each option, column by column."""
        stages, least = [], np.zeros((1, option.shape[1]))
        for layer, at in zip(self.rounds.layers, self.rounds.index, strict=True):
            joint_sums = least[layer.joint_from] + joint[at.joints]
            entry = np.full((len(layer.entries), option.shape[1]), BARRED)
            entry[at.to_states] = np.minimum.reduceat(joint_sums, at.to_starts, axis=0)
            option_sums = entry[layer.entry] + option[at.options]
            least = np.minimum.reduceat(option_sums, at.leave_starts, axis=0)
            stages.append((joint_sums, option_sums))
        return stages

    def still(self, option: Reals, joint: Reals) -> Still:
        """What is still to come at least, column by column."""
        layers, count = self.rounds.layers, option.shape[1]
        entries: list[Reals] = []
        leaves: list[Reals] = []
        after = np.zeros((len(layers[-1].leaves), count))
        for place in range(len(layers) - 1, -1, -1):
            layer, at = layers[place], self.rounds.index[place]
            sums = option[at.options] + after[layer.leave]
            entry = np.minimum.reduceat(sums[at.by_entry], at.entry_starts, axis=0)
            entries.append(entry)
            leaves.append(after)
            after = np.full((len(layers[place - 1].leaves) if place else 1, count), BARRED)
            through = joint[at.joints] + entry[layer.joint_to]
            after[at.from_states] = np.minimum.reduceat(through[at.by_from], at.from_starts, axis=0)
        return Still(entries[::-1], leaves[::-1])

    def through_pumps(self, columns: Columns) -> Columns:
        """The columns split by pump: of each those that its bound leaves open."""
        weights = self.weights(self.losses(columns), columns.multiplier)
        pump = self.problem.pump
        forward, still = self.forward(*weights)[pump][1], self.still(*weights).leave[pump]
        place, column = np.nonzero(forward + still[self.rounds.layers[pump].leave] <= columns.reach)
        split = columns.rows(column)
        return Columns.of(split.flow, split.top, split.roof, place)

    def open_options(self, columns: Columns) -> Bools:
        """The options that some path goes through which the bound of a column, whose multiplier is known, leaves open."""
        weights = self.weights(self.losses(columns), columns.multiplier)
        forward, still = self.forward(*weights), self.still(*weights).leave
        pairs = zip(self.rounds.layers, forward, still, strict=True)
        least = np.concatenate([sums + rest[layer.leave] for layer, (_, sums), rest in pairs])
        return np.asarray((least <= columns.reach).any(axis=1))

    # -- the best multiplier of each column ------------------------------------------------------------------------

    def hulls(self, columns: Columns) -> "Hulls":
        """The best bound on the price of each column, with its multiplier, and the paths met on the way.

        Walks the lower hull of (loss, price) from both sides, as `hull.by_loss` does for one question.
        """
        if not len(columns):
            return Hulls(np.zeros(0), np.zeros(0), [])
        losses, paths = self.losses(columns), list[tuple[Ints, Ints]]()
        lean = self._best(losses, np.full(len(columns), STEEPEST), paths)
        cheap = self._best(losses, np.zeros(len(columns)), paths)
        bound, multiplier = cheap.price.copy(), np.zeros(len(columns))
        bound[lean.loss > 0.0] = np.inf
        open_ = (lean.loss <= 0.0) & (cheap.loss > 0.0) & (cheap.loss < BARRED / 2)
        for _ in range(HULL_STEPS):
            rows = np.flatnonzero(open_)
            if not len(rows):
                break
            slope = (lean.price[rows] - cheap.price[rows]) / np.maximum(cheap.loss[rows] - lean.loss[rows], 1e-300)
            slope = np.clip(slope, 0.0, STEEPEST)
            some = Losses(losses.option[:, rows], losses.joint[:, rows])
            middle = self._best(some, slope, paths)
            value = middle.price + slope * middle.loss
            line = cheap.price[rows] + slope * cheap.loss[rows]
            better = value > bound[rows]
            bound[rows[better]], multiplier[rows[better]] = value[better], slope[better]
            open_[rows[value >= line - FLAT]] = False
            over = middle.loss > 0.0
            cheap = cheap.put(rows[over], middle.rows(over))
            lean = lean.put(rows[~over], middle.rows(~over))
        return Hulls(bound, multiplier, paths)

    def _best(self, losses: Losses, multiplier: Reals, paths: list[tuple[Ints, Ints]]) -> "_Sums":
        stages = self.forward(*self.weights(losses, multiplier))
        live = stages[-1][1].min(axis=0) < BARRED / 2
        options, joints = self._traced(stages, live)
        paths.append((options[:, live], joints[:, live]))
        each = np.arange(options.shape[1])
        loss = losses.option[options, each].sum(axis=0) + losses.joint[joints, each].sum(axis=0)
        loss = np.where(live, loss, BARRED)
        price = self.option_price[options].sum(axis=0) + self.joint_price[joints].sum(axis=0)
        return _Sums(loss, price)

    def _traced(self, stages: Sequence[tuple[Reals, Reals]], live: Bools) -> tuple[Ints, Ints]:
        """Flat rows of the options and joints of the best path of each ``live`` column: shape (layers, columns)."""
        layers, index = self.rounds.layers, self.rounds.index
        count = stages[0][0].shape[1]
        options = np.zeros((len(layers), count), dtype=np.intp)
        joints = np.zeros((len(layers), count), dtype=np.intp)
        for column in np.flatnonzero(live).tolist():
            low, high = 0, len(stages[-1][1])
            for place in range(len(layers) - 1, -1, -1):
                layer, at = layers[place], index[place]
                joint_sums, option_sums = stages[place]
                best = low + int(option_sums[low:high, column].argmin())
                entry = layer.entry[best]
                start = at.to_bounds[entry]
                joint = start + int(joint_sums[start : at.to_bounds[entry + 1], column].argmin())
                options[place, column], joints[place, column] = at.options.start + best, at.joints.start + joint
                if place:
                    left = layer.joint_from[joint]
                    low, high = index[place - 1].leave_bounds[left : left + 2]
        return options, joints


@dataclass(frozen=True, slots=True)
class Hulls:
    """Bounds (minor units, infinite: nothing can deliver the flow) and multipliers of columns, and paths worth pricing as flat
    rows of options and joints (layers, paths)."""

    bound: Reals
    multiplier: Reals
    paths: list[tuple[Ints, Ints]]


@dataclass(frozen=True, slots=True)
class _Sums:
    loss: Reals
    price: Reals

    def rows(self, rows: Bools) -> "_Sums":
        return _Sums(self.loss[rows], self.price[rows])

    def put(self, rows: Ints, sums: "_Sums") -> "_Sums":
        loss, price = self.loss.copy(), self.price.copy()
        loss[rows], price[rows] = sums.loss, sums.price
        return _Sums(loss, price)
