"""What many bundles of one problem deliver, side by side: `best.Seeker.delivered`, from arrays."""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.batch import Loops, flows
from optimizer.loop.element_loops import NO_RUN
from optimizer.loop.roots import falling_roots
from optimizer.search.layers import Problem
from optimizer.search.rounds import SLACK

if TYPE_CHECKING:
    from optimizer.loop.split_variants import SplitVariants

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

ROOT, TINY = 1e-14, 1e-13
"""Accuracy of a flow that the pump's inlet allows, as a share, and a head in m that is nothing but rounding."""

RUN_COLUMNS = {
    "run_bore_m": "bore",
    "run_length_m": "length",
    "run_roughness_m": "roughness",
    "run_factor": "factor",
    "run_coil_m": "coil",
}
EMPTY_RUN = (NO_RUN.bore_m, NO_RUN.length_m, NO_RUN.roughness_m, NO_RUN.factor, NO_RUN.coil_m)


class BundleFlows:
    """Flows of bundles of a problem, given as flat rows of options and joints (n, layers)."""

    def __init__(self, problem: Problem) -> None:
        self.problem, heads = problem, problem.heads
        self.runs = {
            name: np.append(getattr(heads.runs, column), empty)
            for (name, column), empty in zip(RUN_COLUMNS.items(), EMPTY_RUN, strict=True)
        }
        self.run = np.full(len(heads.lift), len(heads.runs.bore), dtype=np.intp)
        self.run[heads.run_of[0]] = heads.run_of[1]
        self.curve = np.zeros(len(heads.lift), dtype=np.intp)
        self.curve[heads.curve_of[0]] = heads.curve_of[1]
        at = problem.option_at
        self.with_runs = np.array([(self.run[a:b] < len(heads.runs.bore)).any() for a, b in pairwise(at)])
        self.split = np.full(len(heads.lift), -1, dtype=np.intp)
        self.split[heads.split_of[0]] = heads.split_of[1]
        self.branched = [place for place, (a, b) in enumerate(pairwise(at)) if (self.split[a:b] >= 0).any()]
        self.splits = None if heads.splits is None else heads.splits.paired()

    def own(self, options: Ints, joints: Ints) -> Reals:
        """Unthrottled flow (n,) of each, in m3/s."""
        heads, runs = self.problem.heads, self.run[options[:, self.with_runs]]
        if not runs.shape[1]:
            runs = np.full((len(options), 1), len(heads.runs.bore), dtype=np.intp)
        loops = Loops(
            lift_m=heads.lift[options].sum(axis=1),
            linear=heads.linear[options].sum(axis=1),
            quadratic=heads.quadratic[options].sum(axis=1) + self.problem.joint_quadratic[joints].sum(axis=1),
            kinematic_m2s=heads.runs.kinematic_m2s,
            splits=tuple(self.divided(options, place) for place in self.branched),
            **self._columns(runs),
            **heads.curves.rows(self.curve[options[:, self.problem.pump]]).columns,
        )
        return flows(loops)

    def _columns(self, runs: Ints) -> dict[str, Any]:
        """What `Loops` calls the figures of runs (n, runs)."""
        return {name: column[runs] for name, column in self.runs.items()}

    def divided(self, options: Ints, place: int) -> "SplitVariants":
        """How the branches at a place divide the flow of each."""
        if self.splits is None:
            raise ValueError("there are no branches")
        from optimizer.loop.split_variants import SplitVariants

        return SplitVariants.among(self.splits, self.split[options[:, place]])

    def under_suction(self, options: Ints, joints: Ints, flow: Reals) -> Reals:
        """Flows (n,) lowered to what the pressure at the pump's inlet allows."""
        limit = self.problem.choices.limits.inlet_head_m
        if math.isinf(limit):
            return flow
        inlet = _Inlet.of(self, options, joints, limit)
        flow, rows = flow.copy(), np.flatnonzero(inlet.at(flow) < 0.0)
        shut = inlet.rows(rows).at(np.zeros(len(rows))) <= 0.0
        flow[rows[shut]], rows = 0.0, rows[~shut]
        if len(rows):
            some, high = inlet.rows(rows), flow[rows]
            slope = np.minimum(some.at(high), -TINY) / high
            flow[rows] = falling_roots(some, np.zeros(len(rows)), high, high, slope, ROOT * high, np.full(len(rows), TINY))
        return flow


@dataclass(frozen=True, slots=True)
class _Inlet:
    """Head to spare at the pump's inlet of n bundles, in m: it falls as the flow rises."""

    flows: BundleFlows
    room: Reals
    linear: Reals
    quadratic: Reals
    run: Ints
    splits: "tuple[SplitVariants, ...]"

    @classmethod
    def of(cls, flows: BundleFlows, options: Ints, joints: Ints, limit: float) -> "_Inlet":
        problem = flows.problem
        heads, pump = problem.heads, problem.pump
        before, place = options[:, :pump], options[:, pump] - problem.option_at[pump]
        quadratic = heads.quadratic[before].sum(axis=1) + problem.joint_quadratic[joints[:, : pump + 1]].sum(axis=1)
        return cls(
            flows=flows,
            room=problem.depth_m - limit + SLACK - heads.lift[before].sum(axis=1),
            linear=heads.linear[before].sum(axis=1),
            quadratic=quadratic + problem.suction_quadratic[place],
            run=flows.run[before],
            splits=tuple(flows.divided(options, place) for place in flows.branched if place < pump),
        )

    def rows(self, rows: Ints) -> "_Inlet":
        """Some of them."""
        splits = tuple(split.rows(rows) for split in self.splits)
        return _Inlet(self.flows, self.room[rows], self.linear[rows], self.quadratic[rows], self.run[rows], splits)

    def at(self, here: Reals) -> Reals:
        """In m, at a flow each in m3/s."""
        lost = self.linear * here + self.quadratic * here * here
        runs = self.flows.problem.heads.runs
        for place in range(self.run.shape[1]):
            rows = np.flatnonzero(self.run[:, place] < len(runs.bore))
            if len(rows):
                lost[rows] += runs.rows(self.run[rows, place]).at(here[rows])
        for split in self.splits:
            lost += split.state(here).head_m
        return np.asarray(self.room - lost)
