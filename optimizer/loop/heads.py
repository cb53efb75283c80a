"""Heads of many options at one flow: the hot path of the search, over arrays made once."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.numbering import numbered
from optimizer.loop.runs import Runs
from optimizer.model.losses import Loss, Split
from optimizer.model.parts import PumpCurve
from optimizer.physics.pumps import label_head_m, stack_points, stacked_head_m

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

if TYPE_CHECKING:
    from optimizer.loop.splits import Splits

CurveAtSpeed = tuple[PumpCurve, float]


@dataclass(frozen=True, slots=True)
class Heads:
    """Loss terms of n options. Each different hose run and pump curve is evaluated once per flow and shared.

    ``run_of``, ``curve_of`` and ``split_of`` (branches side by side) give the options that have one, and which it is.
    """

    lift: Reals
    linear: Reals
    quadratic: Reals
    run_of: tuple[Ints, Ints]
    runs: Runs
    curve_of: tuple[Ints, Ints]
    curves: "Curves"
    split_of: tuple[Ints, Ints]
    splits: "Splits | None"

    @classmethod
    def of(
        cls,
        losses: Sequence[Loss],
        curves: Sequence[CurveAtSpeed | None],
        kinematic_m2s: float,
        splits: Sequence[Split | None] = (),
    ) -> "Heads":
        """Arrays for losses, pump curves and branches that belong together one by one (None: the option is no pump, and no
        branches)."""
        split = [row for row, each in enumerate(splits) if each is not None]
        which, dividing = numbered([each for each in splits if each is not None], key=id)
        run_rows, runs = _number([loss.run for loss in losses])
        curve_rows, different = _number(list(curves))
        return cls(
            lift=np.array([loss.lift_m for loss in losses], dtype=float),
            linear=np.array([loss.linear for loss in losses], dtype=float),
            quadratic=np.array([loss.quadratic for loss in losses], dtype=float),
            run_of=run_rows,
            runs=Runs.of(runs, kinematic_m2s),
            curve_of=curve_rows,
            curves=Curves.of(different),
            split_of=(np.array(split, dtype=np.intp), which),
            splits=_splits(dividing, kinematic_m2s),
        )

    def at(self, flow_m3s: float) -> Reals:
        """Head lost by each option at one flow, in m; a pump's head counts as a negative loss."""
        head = self.quadratic * (flow_m3s * abs(flow_m3s))
        head += self.linear * flow_m3s
        head += self.lift
        if len(self.run_of[0]):
            head[self.run_of[0]] += self.runs.at(flow_m3s)[self.run_of[1]]
        if len(self.curve_of[0]):
            head[self.curve_of[0]] -= self.curves.at(flow_m3s)[self.curve_of[1]]
        if self.splits is not None:
            head[self.split_of[0]] += self.splits.at(flow_m3s)[self.split_of[1]]
        return head

    def rows(self, rows: Sequence[int]) -> "Heads":
        """The same for some of the options, in the order given; an option may be taken more than once."""
        wanted = np.asarray(rows, dtype=np.intp)
        run = _lookup(self.run_of, len(self.lift))[wanted]
        curve = _lookup(self.curve_of, len(self.lift))[wanted]
        with_run, with_curve = np.flatnonzero(run >= 0), np.flatnonzero(curve >= 0)
        split = _lookup(self.split_of, len(self.lift))[wanted]
        with_split = np.flatnonzero(split >= 0)
        return Heads(
            lift=self.lift[wanted],
            linear=self.linear[wanted],
            quadratic=self.quadratic[wanted],
            run_of=(with_run, np.arange(len(with_run))),
            runs=self.runs.rows(run[with_run]),
            curve_of=(with_curve, np.arange(len(with_curve))),
            curves=self.curves.rows(curve[with_curve]),
            split_of=(with_split, np.arange(len(with_split))),
            splits=self.splits.rows(split[with_split]) if self.splits is not None and len(with_split) else None,
        )


def _splits(splits: Sequence[Split], kinematic_m2s: float) -> "Splits | None":
    if not splits:
        return None
    from optimizer.loop.splits import Splits  # a loop without branches starts quicker without it

    return Splits.of(splits, kinematic_m2s)


def _lookup(pairs: tuple[Ints, Ints], size: int) -> Ints:
    table = np.full(size, -1, dtype=np.intp)
    table[pairs[0]] = pairs[1]
    return table


def _number(things: Sequence[object]) -> tuple[tuple[Ints, Ints], list[object]]:
    """Rows that hold a thing, which different thing each holds, and the different things in order."""
    number: dict[object, int] = {}
    pairs = [(row, number.setdefault(thing, len(number))) for row, thing in enumerate(things) if thing is not None]
    rows = np.array([row for row, _ in pairs], dtype=np.intp)
    return (rows, np.array([which for _, which in pairs], dtype=np.intp)), list(number)


@dataclass(frozen=True, slots=True)
class Curves:
    """Different pump curves at their speeds: label curves and curves through points, each kind evaluated at once."""

    speed: Reals
    label_rows: Ints
    label_head: Reals
    label_flow: Reals
    label_shape: Reals
    point_rows: Ints
    points: tuple[Reals, Reals, Reals]

    @classmethod
    def of(cls, curves: Sequence[object]) -> "Curves":
        """Arrays of (curve, speed ratio) pairs. Raises TypeError for anything else."""
        pairs = [pair for pair in curves if isinstance(pair, tuple) and isinstance(pair[0], PumpCurve)]
        if len(pairs) != len(curves):
            raise TypeError("only pump curves can be evaluated")
        labels = [row for row, (curve, _) in enumerate(pairs) if curve.shape]
        pointed = [row for row, (curve, _) in enumerate(pairs) if not curve.shape]
        stacked = stack_points([(pairs[row][0].flows_m3s, pairs[row][0].heads_m) for row in pointed])
        return cls(
            speed=np.array([speed for _, speed in pairs], dtype=float),
            label_rows=np.array(labels, dtype=np.intp),
            label_head=np.array([pairs[row][0].max_head_m for row in labels], dtype=float),
            label_flow=np.array([pairs[row][0].max_flow_m3s for row in labels], dtype=float),
            label_shape=np.array([pairs[row][0].shape for row in labels], dtype=float),
            point_rows=np.array(pointed, dtype=np.intp),
            points=stacked,
        )

    def rows(self, rows: Ints) -> "Curves":
        """Some of the curves."""
        label = _lookup((self.label_rows, np.arange(len(self.label_rows))), len(self.speed))[rows]
        point = _lookup((self.point_rows, np.arange(len(self.point_rows))), len(self.speed))[rows]
        labels, points = np.flatnonzero(label >= 0), np.flatnonzero(point >= 0)
        return Curves(
            speed=self.speed[rows],
            label_rows=labels,
            label_head=self.label_head[label[labels]],
            label_flow=self.label_flow[label[labels]],
            label_shape=self.label_shape[label[labels]],
            point_rows=points,
            points=(
                self.points[0][point[points]],
                self.points[1][point[points]],
                self.points[2][point[points]],
            ),
        )

    def at(self, flow_m3s: float) -> Reals:
        """Head of each pump at one flow, in m: H(Q) = n2 H_label(Q/n) at speed ratio n (affinity laws)."""
        scaled = flow_m3s / self.speed
        head = np.empty_like(self.speed)
        rows = self.label_rows
        if len(rows):
            head[rows] = label_head_m(scaled[rows], self.label_head, self.label_flow, self.label_shape)
        rows = self.point_rows
        if len(rows):
            head[rows] = stacked_head_m(scaled[rows], *self.points)
        return head * self.speed * self.speed
