"""Operating points of many loops at once, with a status per loop: the one evaluator for candidates, draws, days and fills.

What a loop must overcome above its lift (losses, and the head that its pump gives up as it delivers more) rises with
the flow very nearly
as a power of it. So the equation is solved in logarithms: the first step takes its slope from the shape of the terms, later ones
are secants between the last two points, and a step that would leave the bracket is replaced by the bracket's middle. That takes
about five evaluations where a general bracketing method takes a dozen. Loops are worked through in pieces that fit the
processor's cache.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.pump_heads import PointCurves, Pumps
from optimizer.physics.hose import friction_head_m

if TYPE_CHECKING:
    from optimizer.loop.split_variants import SplitVariants

Reals = NDArray[np.float64]
Bools = NDArray[np.bool_]

CONVERGED, NO_FLOW, NOT_CONVERGED, BAD_INPUT = 0, 1, 2, 3

MOST_STEPS = 100
RUN_SLOPE = 1.8
"""Local exponent of friction against flow in smooth hose: 1.75 (Blasius) to 2; only steers the first step."""

BRANCH_SLOPE = 2.0
"""Exponent of branches and their tees against the flow, which only steers the first step."""

TRICKLE_M3S = 1e-9
"""A throttle that must leave another branch its least flow may ask for more lift at a trickle than at none."""

PIECE = 4096
"""So many loops are solved together."""

SECANT_NOISE = 1e-3
"""Share of a step that rounding in the secant may spoil."""

CURVING = 4.0
"""Bound on the error of a secant step over the product of the last two steps, in logarithms (outside the transition
to turbulence,
where brackets take over, exponents change by less than 1 over a factor e in flow)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loops:
    """n loops of any hoses, coils, pumps and branches, in SI.

    Shapes: ``lift_m`` (n,), ``linear`` s/m2 (n,), ``quadratic`` s2/m5 (n,), ``run_bore_m``, ``run_length_m``,
    ``run_roughness_m`` and ``run_factor`` (n, k) with length 0 for runs that are not there, ``run_coil_m`` (n, k), or (k,) where
    it is that of all loops (inf: straight; None: all are), ``max_head_m``, ``max_flow_m3s`` and ``shape`` (n,) of label pump
    curves at their speed. Where ``curves`` says that a pump is known by points, ``max_flow_m3s`` is the flow at which it has no
    head left, or more, and ``shape`` only steers. ``splits`` are branches side by side that every loop has; ``lift_m`` holds
    their least lift.
    """

    lift_m: Reals
    linear: Reals
    quadratic: Reals
    run_bore_m: Reals
    run_length_m: Reals
    run_roughness_m: Reals
    run_factor: Reals
    run_coil_m: Reals | None = None
    max_head_m: Reals
    max_flow_m3s: Reals
    shape: Reals
    kinematic_m2s: float
    curves: PointCurves | None = None
    splits: "tuple[SplitVariants, ...]" = ()

    def rows(self, rows: NDArray[np.intp]) -> "Loops":
        """Some of the loops."""
        coil = self.run_coil_m
        return Loops(
            lift_m=self.lift_m[rows],
            linear=self.linear[rows],
            quadratic=self.quadratic[rows],
            run_bore_m=self.run_bore_m[rows],
            run_length_m=self.run_length_m[rows],
            run_roughness_m=self.run_roughness_m[rows],
            run_factor=self.run_factor[rows],
            run_coil_m=coil if coil is None or coil.ndim == 1 else coil[rows],
            max_head_m=self.max_head_m[rows],
            max_flow_m3s=self.max_flow_m3s[rows],
            shape=self.shape[rows],
            kinematic_m2s=self.kinematic_m2s,
            curves=None if self.curves is None else self.curves.rows(rows),
            splits=tuple(split.rows(rows) for split in self.splits),
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
            self.run_coil_m,
        )
        return np.asarray(np.asarray(head).sum(axis=1), dtype=float)

    @property
    def pumps(self) -> Pumps:
        """The pump of each loop."""
        return Pumps(self.max_head_m, self.max_flow_m3s, self.shape, self.curves)

    def residual_m(self, flow_m3s: Reals) -> Reals:
        """Losses less the pump's head of each loop at its flow, in m: rises with the flow, 0 at the operating point."""
        return self.lift_m - self.max_head_m + self.risen_m(flow_m3s)[0]

    def risen_m(self, flow_m3s: Reals) -> tuple[Reals, Reals]:
        """How much losses have risen and the pump's head has fallen since no flow, in m, and that times about its local
        exponent."""
        linear, friction = self.linear * flow_m3s, self.friction_m(flow_m3s)
        quadratic = self.quadratic * flow_m3s * flow_m3s
        fallen = self.max_head_m - self.pumps.head_m(flow_m3s)
        risen = linear + quadratic + friction + fallen
        steepness = linear + 2.0 * quadratic + RUN_SLOPE * friction + self.shape * fallen
        for split in self.splits:
            lost = split.state(flow_m3s).head_m - split.lift_m
            risen, steepness = risen + lost, steepness + BRANCH_SLOPE * lost
        if self.splits:  # the jet of a tee may give more than all else loses at a trickle
            return np.maximum(risen, np.finfo(float).tiny), np.maximum(steepness, np.finfo(float).tiny)
        return risen, steepness


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """Flows in m3/s and a status per loop (``CONVERGED``, ...); ``evaluations`` is the most that any loop took."""

    flow_m3s: Reals
    status: NDArray[np.int8]
    evaluations: int


def solve(loops: Loops, relative: float = 1e-12) -> Solved:
    """Operating points of all loops, to ``relative`` of the flow.

    Loops whose pump cannot lift the water get flow 0 and "no flow"; loops with a number that is not finite or a
    curve that is none
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
    evaluations = 0
    for start in range(0, len(rows), PIECE):
        piece = rows[start : start + PIECE]
        solved, done, most = _secants(loops.rows(piece), relative)
        flow[piece] = solved
        status[piece] = np.where(done, CONVERGED, NOT_CONVERGED)
        evaluations = max(evaluations, most)
    return Solved(flow_m3s=flow, status=status, evaluations=evaluations)


def flows(loops: Loops, relative: float = 1e-12) -> Reals:
    """Flow (n,) of every loop in m3/s, 0 where the pump cannot lift the water or a throttle in a branch leaves nothing.

    Raises ArithmeticError when a loop could not be solved.
    """
    solved = solve(loops, relative)
    settled = (solved.status == CONVERGED) | (solved.status == NO_FLOW)
    slow = np.flatnonzero((solved.status == NOT_CONVERGED) & (solved.flow_m3s < TRICKLE_M3S)) if loops.splits else ()
    still = np.zeros(len(settled), dtype=bool)
    if len(slow):
        still[slow] = loops.rows(np.asarray(slow)).residual_m(solved.flow_m3s[slow]) > 0.0
    if not (settled | still).all():
        raise ArithmeticError("a loop has no operating point")
    return np.where(still, 0.0, solved.flow_m3s)


def _sound(loops: Loops) -> Bools:
    """Loops whose every number is finite, whose losses are not negative and whose pump curve falls."""
    single = np.stack([loops.lift_m, loops.linear, loops.quadratic, loops.max_head_m, loops.max_flow_m3s, loops.shape])
    runs = np.stack([loops.run_bore_m, loops.run_length_m, loops.run_roughness_m, loops.run_factor])
    finite = np.isfinite(single).all(axis=0) & np.isfinite(runs).all(axis=(0, 2))
    losses = (single[:3] >= 0.0).all(axis=0) & (runs[1:] >= 0.0).all(axis=(0, 2)) & (runs[0] > 0.0).all(axis=1)
    return np.asarray(finite & losses & (single[3:] > 0.0).all(axis=0))


def _secants(loops: Loops, relative: float) -> tuple[Reals, Bools, int]:
    """Flows of loops that have an operating point, whether each converged, and the most evaluations."""
    flow, done = np.empty(len(loops.lift_m)), np.zeros(len(loops.lift_m), dtype=bool)
    active = np.arange(len(flow))
    asked = loops.max_head_m - loops.lift_m
    low, high = np.zeros(len(flow)), loops.max_flow_m3s
    here = np.sqrt(asked / (loops.quadratic + loops.max_head_m / loops.max_flow_m3s**2))
    here = np.minimum(here, 0.999 * high)
    risen, exponent = loops.risen_m(here)
    value, exponent = np.log(risen / asked), exponent / risen
    last = np.full(len(flow), 1.0)
    for evaluations in range(1, MOST_STEPS + 1):
        below = value < 0.0
        low, high = np.where(below, here, low), np.where(below, high, here)
        step = -value / exponent
        ahead = here * np.exp(step)
        outside = ~((ahead > low) & (ahead < high))
        exact = value == 0.0
        ahead = np.where(exact, here, np.where(outside, 0.5 * (low + high), ahead))
        small = exact | (high - low <= relative * high)
        small |= ~outside & (CURVING * np.abs(step * last) + SECANT_NOISE * np.abs(step) <= relative)
        flow[active] = ahead
        done[active] |= small
        open_ = np.flatnonzero(~small)
        if not len(open_):
            return flow, done, evaluations
        if len(open_) < len(active):
            active, loops, asked = active[open_], loops.rows(open_), asked[open_]
            low, high, here, ahead, value = low[open_], high[open_], here[open_], ahead[open_], value[open_]
        last = np.log(ahead / here)
        before, here = value, ahead
        value = np.log(loops.risen_m(here)[0] / asked)
        with np.errstate(invalid="ignore", divide="ignore"):
            exponent = (value - before) / last
        exponent = np.where((exponent > 0.05) & np.isfinite(exponent), exponent, RUN_SLOPE)
    return flow, done, MOST_STEPS
