"""Heads of many options at one flow: the hot path of the search, over arrays made once."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.numbering import numbered
from optimizer.loop.pump_heads import Pumps
from optimizer.loop.runs import Runs
from optimizer.model.losses import Loss, Split
from optimizer.model.parts import PumpCurve

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
    curves: Pumps
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
            lift=np.array([loss.still_m for loss in losses], dtype=float),
            linear=np.array([loss.linear for loss in losses], dtype=float),
            quadratic=np.array([loss.quadratic for loss in losses], dtype=float),
            run_of=run_rows,
            runs=Runs.of(runs, kinematic_m2s),
            curve_of=curve_rows,
            curves=_pumps(different),
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
            head[self.curve_of[0]] -= self.curves.head_m(flow_m3s)[self.curve_of[1]]
        if self.splits is not None:
            head[self.split_of[0]] += self.splits.at(flow_m3s)[self.split_of[1]]
        return head

    def over(self, flows_m3s: Reals) -> Reals:
        """The same at several flows (k,): (n, k). Branches, which take longest, are worked out together."""
        head = np.stack([replace(self, splits=None).at(flow) for flow in flows_m3s.tolist()], axis=1)
        if self.splits is not None:
            head[self.split_of[0]] += self.splits.over(flows_m3s)[self.split_of[1]]
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


def _pumps(different: Sequence[object]) -> Pumps:
    pairs = [pair for pair in different if isinstance(pair, tuple) and isinstance(pair[0], PumpCurve)]
    if len(pairs) != len(different):
        raise TypeError("only pump curves can be evaluated")
    return Pumps.of([curve for curve, _ in pairs], np.array([speed for _, speed in pairs], dtype=float))


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
