"""Operating points of many series loops at once, with a status per loop.

The sum of heads rises with the flow, so each loop has at most one root. Every loop keeps a bracket; steps are secants between the
last two points, started by one Newton step with a slope taken from the shape of the terms, and halved brackets wherever a
step would leave the bracket. That takes four to five evaluations where a general bracketing method takes a dozen.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.hose import friction_head_m
from optimizer.physics.pumps import label_head_m

Reals = NDArray[np.float64]
Bools = NDArray[np.bool_]

CONVERGED, NO_FLOW, NOT_CONVERGED, BAD_INPUT = 0, 1, 2, 3
STATUS_WORDS = ("converged", "no flow", "not converged", "bad input")

MOST_STEPS = 60
RUN_SLOPE = 1.8
"""Local exponent of friction against flow in smooth hose: 1.75 (Blasius) to 2; only steers the first step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loops:
    """n series loops with up to k hose runs each, in SI.

    Shapes: ``lift_m`` (n,), ``linear`` s/m2 (n,), ``quadratic`` s2/m5 (n,), ``run_bore_m``, ``run_length_m``,
    ``run_roughness_m`` and ``run_factor`` (n, k) with length 0 for runs that are not there, ``max_head_m``,
    ``max_flow_m3s`` and ``shape`` (n,) of label pump curves at their speed.
    """

    lift_m: Reals
    linear: Reals
    quadratic: Reals
    run_bore_m: Reals
    run_length_m: Reals
    run_roughness_m: Reals
    run_factor: Reals
    max_head_m: Reals
    max_flow_m3s: Reals
    shape: Reals
    kinematic_m2s: float

    def rows(self, rows: NDArray[np.intp]) -> "Loops":
        """Some of the loops."""
        return Loops(
            lift_m=self.lift_m[rows],
            linear=self.linear[rows],
            quadratic=self.quadratic[rows],
            run_bore_m=self.run_bore_m[rows],
            run_length_m=self.run_length_m[rows],
            run_roughness_m=self.run_roughness_m[rows],
            run_factor=self.run_factor[rows],
            max_head_m=self.max_head_m[rows],
            max_flow_m3s=self.max_flow_m3s[rows],
            shape=self.shape[rows],
            kinematic_m2s=self.kinematic_m2s,
        )

    def friction_m(self, flow_m3s: Reals) -> Reals:
        """Friction head of all runs of each loop at its flow, in m."""
        head = friction_head_m(
            flow_m3s[:, None],
            self.run_bore_m,
            self.run_length_m,
            self.run_roughness_m,
            self.kinematic_m2s,
            self.run_factor,
        )
        return np.asarray(np.asarray(head).sum(axis=1), dtype=float)

    def residual_m(self, flow_m3s: Reals) -> Reals:
        """Losses less the pump's head of each loop at its flow, in m: rises with the flow, 0 at the operating point."""
        return self._split(flow_m3s)[0]

    def _split(self, flow_m3s: Reals) -> tuple[Reals, Reals]:
        """Residual and its approximate slope (exact but for the friction exponent)."""
        friction = self.friction_m(flow_m3s)
        pump = np.asarray(label_head_m(flow_m3s, self.max_head_m, self.max_flow_m3s, self.shape), dtype=float)
        rising = self.linear * flow_m3s + self.quadratic * flow_m3s * flow_m3s
        drop = self.max_head_m - pump
        slope = self.linear * flow_m3s + 2.0 * self.quadratic * flow_m3s**2 + RUN_SLOPE * friction + self.shape * drop
        return self.lift_m + rising + friction - pump, slope / flow_m3s


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """Flows in m3/s and a status per loop (see ``STATUS_WORDS``); ``evaluations`` counts residuals per loop."""

    flow_m3s: Reals
    status: NDArray[np.int8]
    evaluations: int


def solve(loops: Loops, relative: float = 1e-12) -> Solved:
    """Operating points of all loops, to ``relative`` of the flow.

    Loops whose pump cannot lift the water get flow 0 and "no flow"; loops with a number that is not finite or a curve that is none
    get NaN and "bad input". Nothing is raised for a single loop.
    """
    flow = np.full(len(loops.lift_m), np.nan)
    status = np.full(len(flow), BAD_INPUT, dtype=np.int8)
    sound = _sound(loops)
    stuck = sound & (loops.lift_m >= loops.max_head_m)
    flow[stuck], status[stuck] = 0.0, NO_FLOW
    rows = np.flatnonzero(sound & ~stuck)
    if not len(rows):
        return Solved(flow_m3s=flow, status=status, evaluations=0)
    solved, done, evaluations = _secants(loops.rows(rows), relative)
    flow[rows] = solved
    status[rows] = np.where(done, CONVERGED, NOT_CONVERGED)
    return Solved(flow_m3s=flow, status=status, evaluations=evaluations)


def _sound(loops: Loops) -> Bools:
    """Loops whose every number is finite, whose losses are not negative and whose pump curve falls."""
    single = np.stack([loops.lift_m, loops.linear, loops.quadratic, loops.max_head_m, loops.max_flow_m3s, loops.shape])
    runs = np.stack([loops.run_bore_m, loops.run_length_m, loops.run_roughness_m, loops.run_factor])
    finite = np.isfinite(single).all(axis=0) & np.isfinite(runs).all(axis=(0, 2))
    losses = (single[:3] >= 0.0).all(axis=0) & (runs[1:] >= 0.0).all(axis=(0, 2)) & (runs[0] > 0.0).all(axis=1)
    return np.asarray(finite & losses & (single[3:] > 0.0).all(axis=0))


def _secants(loops: Loops, relative: float) -> tuple[Reals, Bools, int]:
    low, high = np.zeros(len(loops.lift_m)), loops.max_flow_m3s.copy()
    here = 0.5 * high
    value, slope = loops._split(here)
    flow, done = here.copy(), np.zeros(len(here), dtype=bool)
    active = np.arange(len(here))
    for evaluations in range(1, MOST_STEPS + 1):
        low, high = np.where(value < 0.0, here, low), np.where(value < 0.0, high, here)
        step = value / slope
        ahead = here - step
        outside = ~((ahead > low) & (ahead < high))
        ahead = np.where(outside, 0.5 * (low + high), ahead)
        small = (np.abs(ahead - here) <= relative * ahead) | (value == 0.0)
        flow[active] = np.where(value == 0.0, here, ahead)
        if small.any():
            done[active[small]] = True
            rest = np.flatnonzero(~small)
            if not len(rest):
                return flow, done, evaluations
            active, loops = active[rest], loops.rows(rest)
            low, high, here, ahead, value = low[rest], high[rest], here[rest], ahead[rest], value[rest]
        ahead_value = loops.residual_m(ahead)
        gap = ahead - here
        slope = np.where(gap != 0.0, (ahead_value - value) / np.where(gap != 0.0, gap, 1.0), 1.0)
        slope = np.where(slope > 0.0, slope, 1.0)
        here, value = ahead, ahead_value
    return flow, done, MOST_STEPS
