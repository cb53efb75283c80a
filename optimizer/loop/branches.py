"""Branches of many splits as arrays: what each loses at a flow of its own, and the tees between them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, Self

import numpy as np

from optimizer.loop.numbering import numbered
from optimizer.loop.runs import Ints, Reals, Runs
from optimizer.loop.tees import EdgeKey, Side, shaped_tee
from optimizer.model.losses import BranchLoss, Loss, Run, Split, TeeShape
from optimizer.physics.fittings import quadratic_coefficient

_EDGES: tuple[EdgeKey, EdgeKey, EdgeKey] = (("", "", 0), ("", "", 1), ("", "", 2))


class Inner(Protocol):
    """n splits, each within a branch."""

    def rows(self, rows: Ints) -> Self:
        """Some of them; one may be taken more than once."""

    def risen_m(self, flow_m3s: Reals) -> Reals:
        """Head (n,) in m that each takes more than without flow, at a flow (n,) in m3/s through its branch."""

    def every_flow_m3s(self, flow_m3s: Reals) -> list[Reals]:
        """Flows (n, 2) of the branches of each, and of the splits within these."""


@dataclass(frozen=True, slots=True)
class Branches:
    """Loss terms of n branches; ``hoses`` are, for the first, second ... hose run, the branches that have one, and the runs.
    ``inner`` are likewise the splits within them; ``lift`` holds what it takes for those to flow."""

    lift: Reals
    linear: Reals
    quadratic: Reals
    hoses: tuple[tuple[Ints, Runs], ...]
    inner: tuple[tuple[Ints, Inner], ...] = ()

    @classmethod
    def of(
        cls, branches: Sequence[BranchLoss], kinematic_m2s: float, within: Callable[[Sequence[Split], float], Inner]
    ) -> "Branches":
        """Arrays of branches, each the sum of its losses; alike hose runs of a branch become one. ``within`` makes arrays of the
        splits that branches hold."""
        runs = [_joined_runs(branch.losses) for branch in branches]
        hoses = []
        for slot in range(max(map(len, runs), default=0)):
            rows = [row for row, own in enumerate(runs) if len(own) > slot]
            hoses.append((np.array(rows, dtype=np.intp), Runs.of([runs[row][slot] for row in rows], kinematic_m2s)))
        inner = []
        for slot in range(max((len(branch.inner) for branch in branches), default=0)):
            rows = [row for row, branch in enumerate(branches) if len(branch.inner) > slot]
            inner.append((np.array(rows, dtype=np.intp), within([branches[row].inner[slot] for row in rows], kinematic_m2s)))
        return cls(
            lift=np.array([branch.still_m for branch in branches], dtype=float),
            linear=np.array([sum(loss.linear for loss in branch.losses) for branch in branches], dtype=float),
            quadratic=np.array([sum(loss.quadratic for loss in branch.losses) for branch in branches], dtype=float),
            hoses=tuple(hoses),
            inner=tuple(inner),
        )

    def rows(self, rows: Ints) -> "Branches":
        """The same for some of the branches, in the order given; a branch may be taken more than once."""
        hoses, inner = [], []
        for having, runs in self.hoses:
            with_run, which = self._having(having, rows)
            if len(with_run):
                hoses.append((with_run, runs.rows(which)))
        for having, splits in self.inner:
            with_split, which = self._having(having, rows)
            if len(with_split):
                inner.append((with_split, splits.rows(which)))
        return Branches(self.lift[rows], self.linear[rows], self.quadratic[rows], tuple(hoses), tuple(inner))

    def _having(self, having: Ints, rows: Ints) -> tuple[Ints, Ints]:
        """Which of some rows have a thing that only some branches have, and which of these things it is."""
        table = np.full(len(self.lift), -1, dtype=np.intp)
        table[having] = np.arange(len(having))
        which = table[rows]
        there = np.flatnonzero(which >= 0)
        return there, which[there]

    def at(self, flow_m3s: Reals) -> Reals:
        """Head lost by each branch at its own flow (n,) in m3/s, in m."""
        head = self.quadratic * flow_m3s
        head += self.linear
        head *= flow_m3s
        head += self.lift
        for rows, runs in self.hoses:
            if len(rows) == len(head):
                head += runs.at(flow_m3s)
            else:
                head[rows] += runs.at(flow_m3s[rows])
        for rows, splits in self.inner:
            head[rows] += splits.risen_m(flow_m3s[rows])
        return head


def _joined_runs(losses: Sequence[Loss]) -> list[Run]:
    lengths: dict[tuple[float, ...], float] = {}
    for run in (loss.run for loss in losses):
        if run is not None:
            kind = (run.bore_m, run.roughness_m, run.factor, run.coil_m)
            lengths[kind] = lengths.get(kind, 0.0) + run.length_m
    return [
        Run(bore_m=bore, length_m=length, roughness_m=roughness, factor=factor, coil_m=coil)
        for (bore, roughness, factor, coil), length in lengths.items()
    ]


@dataclass(frozen=True, slots=True)
class Legs:
    """Tees of n splits as arrays. ``scale`` s2/m5 turns a K into head over the square of the total flow; 0 is no tee."""

    tees: tuple[tuple[bool, Reals, Side], ...]

    @classmethod
    def of(cls, meeting: Sequence[TeeShape | None], parting: Sequence[TeeShape | None]) -> "Legs":
        """Where branches meet and part. Raises ValueError for a shape that is no tee."""
        tees = []
        for joins, shapes in ((True, meeting), (False, parting)):
            which, different = numbered(shapes)
            if any(shape is not None for shape in different):
                tees.append((joins, *_tee_arrays(which, different)))
        return cls(tees=tuple(tees))

    def rows(self, rows: Ints) -> "Legs":
        """Those of some splits."""
        return Legs(tees=tuple((joins, scale[rows], side.rows(rows)) for joins, scale, side in self.tees))

    def run(self, share: Reals | float) -> Any:
        """Head over the square of the total that the legs of the first branch lose, at the second's share of it."""
        return sum(scale * (tee.joining_run if joins else tee.leaving_run)(share) for joins, scale, tee in self.tees)

    def branch(self, share: Reals | float) -> Any:
        """The same of the second branch."""
        return sum(scale * (tee.joining_branch if joins else tee.leaving_branch)(share) for joins, scale, tee in self.tees)

    def gap(self, share: Reals | float) -> Any:
        """That of the first less that of the second."""
        return self.run(share) - self.branch(share)


def _tee_arrays(which: Ints, different: Sequence[TeeShape | None]) -> tuple[Reals, Side]:
    """Scale and K of the tee of each row; rows without one get a tee that loses nothing."""
    shapes = [shape or TeeShape(run_bore_m=1.0, branch_bore_m=1.0) for shape in different]
    tees = [shaped_tee(shape, *_EDGES) for shape in shapes]
    run = np.array([tee.run_bore_m for tee in tees])
    there = np.array([shape is not None for shape in different], dtype=float)
    side = Side.of(run, np.array([tee.branch_bore_m for tee in tees]), np.array([tee.angle_deg for tee in tees]))
    scale = np.asarray(quadratic_coefficient(there, run), dtype=float)
    return scale[which], side.rows(which)
