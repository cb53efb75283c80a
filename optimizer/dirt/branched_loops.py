"""Operating points of loops with branches, given as elements: the total by `loop/batch.py`, its shares inside by brackets."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from optimizer.dirt.loops import RELATIVE, ElementLoops
from optimizer.loop.batch import CONVERGED, NO_FLOW, NOT_CONVERGED, solve
from optimizer.loop.graph import Element
from optimizer.loop.split_variants import SplitVariants
from optimizer.loop.splits import Pairs, Splits, Windows
from optimizer.model.losses import Split

Reals = NDArray[np.float64]

TRICKLE_M3S = 1e-9
"""A throttle that must leave another branch its least flow may ask for more lift at a trickle than at none."""

STEEPNESS = 2.0
"""Exponent of branches and tees against the flow, which only steers the first step of the solver."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchedElementLoops(ElementLoops):
    """As `ElementLoops`, each with as many pairs of branches; ``lift_m`` holds the least lift of each of ``splits``."""

    splits: tuple[SplitVariants, ...]

    @classmethod
    def of(cls, loops: Sequence[Sequence[Element]], kinematic_m2s: float) -> "BranchedElementLoops":
        """Arrays of loops. Raises ValueError for loops that differ in the number of their branches."""
        trunk = ElementLoops.of(loops, kinematic_m2s)
        splits = variants_of(loops, kinematic_m2s)
        given = {field.name: getattr(trunk, field.name) for field in fields(trunk)}
        given["lift_m"] = trunk.lift_m + sum(split.lift_m for split in splits)
        return cls(**given, splits=splits)

    def rows(self, rows: NDArray[np.intp]) -> "BranchedElementLoops":
        """Some of the loops."""
        some = ElementLoops.rows(self, rows)
        given = {field.name: getattr(some, field.name) for field in fields(ElementLoops)}
        return BranchedElementLoops(**given, splits=tuple(split.rows(rows) for split in self.splits))

    def risen_m(self, flow_m3s: Reals) -> tuple[Reals, Reals]:
        """As `Loops.risen_m`, with what the branches lose beyond their lift."""
        risen, steepness = ElementLoops.risen_m(self, flow_m3s)
        for split in self.splits:
            lost = split.state(flow_m3s).head_m - split.lift_m
            risen, steepness = risen + lost, steepness + STEEPNESS * lost
        # the jet of a tee may give more than all else loses at a trickle
        return np.maximum(risen, np.finfo(float).tiny), np.maximum(steepness, np.finfo(float).tiny)


def variants_of(loops: Sequence[Sequence[Element]], kinematic_m2s: float) -> tuple[SplitVariants, ...]:
    """The first, second ... pair of branches of all loops. Raises ValueError for loops that differ in their number."""
    every = [[element.split for element in loop if element.split is not None] for loop in loops]
    if len({len(splits) for splits in every}) > 1:
        raise ValueError("loops side by side need equally many branches")
    return tuple(_variants([splits[n] for splits in every], kinematic_m2s) for n in range(len(every[0]) if every else 0))


def _variants(splits: Sequence[Split], kinematic_m2s: float) -> SplitVariants:
    found = Splits.of(splits, kinematic_m2s)
    pairs = Pairs.of(found, np.arange(len(splits)))
    return SplitVariants(pairs, Windows(found.least, found.most, found.throttles), np.full(len(splits), np.nan))


def branched_flows(loops: Sequence[Sequence[Element]], kinematic_m2s: float) -> Reals:
    """Flow of each loop in m3/s, with no throttle but those in branches, 0 where the pump cannot lift the water.

    Raises ArithmeticError when one could not be solved.

    >>> from optimizer.model.losses import BranchLoss, Loss, TeeShape
    >>> from optimizer.model.parts import PumpCurve
    >>> curve = PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(2.0, 0.0), shape=2.0)
    >>> pump = Element(place="pump", label="pump", loss=Loss(), curve=curve)
    >>> half = BranchLoss(losses=(Loss(quadratic=5e7),))
    >>> both = Split(branches=(half, half), parting=TeeShape(run_bore_m=20.0, branch_bore_m=20.0))
    >>> (branched_flows([[pump, Element(place="b", label="b", loss=Loss(), split=both)]], 1e-6) * 3.6e6).round(3).tolist()
    [1018.234]
    """
    flow = np.zeros(len(loops))
    counts = np.array([sum(element.split is not None for element in loop) for loop in loops])
    for count in sorted(set(counts.tolist())):
        rows = np.flatnonzero(counts == count)
        some = BranchedElementLoops.of([loops[n] for n in rows.tolist()], kinematic_m2s)
        solved = solve(some, RELATIVE)
        still = (solved.status == NOT_CONVERGED) & (solved.flow_m3s < TRICKLE_M3S)
        slow = np.flatnonzero(still)
        if len(slow):
            still[slow] = some.rows(slow).residual_m(solved.flow_m3s[slow]) > 0.0
        if not (np.isin(solved.status, (CONVERGED, NO_FLOW)) | still).all() or not np.isfinite(solved.flow_m3s).all():
            raise ArithmeticError("a loop has no operating point")
        flow[rows] = np.where(still, 0.0, solved.flow_m3s)
    return flow
