"""Operating points of many loops given as elements, of any pumps and hoses, solved at once by `loop/batch.py`."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.batch import CONVERGED, NO_FLOW, RUN_SLOPE, Loops, solve
from optimizer.loop.graph import Element
from optimizer.model.losses import Run
from optimizer.model.parts import PumpCurve
from optimizer.physics.hose import curvature_factor, friction_head_m, reynolds
from optimizer.physics.pumps import free_flow_m3s, label_head_m, stack_points, stacked_head_m

Reals = NDArray[np.float64]

RELATIVE = 1e-11
"""Accuracy of the flows."""

USUAL_SHAPE = 2.0
"""Exponent of a pump curve through points, which only steers the first step of the solver."""

NO_RUN = Run(bore_m=1.0, length_m=0.0, roughness_m=0.0)
"""Fills up the rows of loops with fewer hose runs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementLoops(Loops):
    """As `Loops`, with coils (``run_coil_m`` (n, k), inf: straight) and pumps through points: their (n,) ``speed``, and the
    ``point_flows``, ``point_heads`` and ``point_slopes`` (n, points), not used where ``pointed`` is False."""

    run_coil_m: Reals
    speed: Reals
    pointed: NDArray[np.bool_]
    point_flows: Reals
    point_heads: Reals
    point_slopes: Reals

    @classmethod
    def of(cls, loops: Sequence[Sequence[Element]], kinematic_m2s: float) -> "ElementLoops":
        """Arrays of series loops. Raises ValueError for a loop without exactly one pump."""
        pumps = [[element for element in loop if element.curve is not None] for loop in loops]
        if any(len(found) != 1 for found in pumps):
            raise ValueError("each loop needs exactly one pump")
        terms = [[(e.loss.lift_m, e.loss.linear, e.loss.quadratic) for e in loop] for loop in loops]
        sums = np.array([np.sum(rows, axis=0) for rows in terms]).reshape(len(loops), 3)
        return cls(
            lift_m=sums[:, 0],
            linear=sums[:, 1],
            quadratic=sums[:, 2],
            kinematic_m2s=kinematic_m2s,
            **_runs([[e.loss.run for e in loop if e.loss.run is not None] for loop in loops]),
            **_pumps([(found[0].curve, found[0].speed) for found in pumps if found[0].curve is not None]),
        )

    def rows(self, rows: NDArray[np.intp]) -> "ElementLoops":
        """Some of the loops."""
        cut: dict[str, Any] = {f.name: getattr(self, f.name)[rows] for f in fields(ElementLoops) if f.name != "kinematic_m2s"}
        return ElementLoops(kinematic_m2s=self.kinematic_m2s, **cut)

    def friction_m(self, flow_m3s: Reals) -> Reals:
        """Friction head of all runs of each loop at its flow, in m."""
        flow = flow_m3s[:, None]
        factor = self.run_factor
        if np.isfinite(self.run_coil_m).any():
            re = reynolds(flow, self.run_bore_m, self.kinematic_m2s)
            factor = factor * np.asarray(curvature_factor(re, self.run_bore_m, self.run_coil_m))
        head = friction_head_m(flow, self.run_bore_m, self.run_length_m, self.run_roughness_m, self.kinematic_m2s, factor)
        return np.asarray(np.asarray(head).sum(axis=1), dtype=float)

    def risen_m(self, flow_m3s: Reals) -> tuple[Reals, Reals]:
        """As `Loops.risen_m`, with each pump's own curve."""
        linear, friction = self.linear * flow_m3s, self.friction_m(flow_m3s)
        quadratic = self.quadratic * flow_m3s * flow_m3s
        label = np.asarray(label_head_m(flow_m3s, self.max_head_m, self.max_flow_m3s, self.shape), dtype=float)
        points = stacked_head_m(flow_m3s / self.speed, self.point_flows, self.point_heads, self.point_slopes)
        fallen = self.max_head_m - np.where(self.pointed, points * self.speed * self.speed, label)
        risen = linear + quadratic + friction + fallen
        return risen, linear + 2.0 * quadratic + RUN_SLOPE * friction + self.shape * fallen


def _runs(loops: Sequence[Sequence[Run]]) -> dict[str, Any]:
    width = max((len(runs) for runs in loops), default=0) or 1
    filled = [[*runs, *[NO_RUN] * (width - len(runs))] for runs in loops]
    names = {"bore_m": "run_bore_m", "length_m": "run_length_m", "roughness_m": "run_roughness_m", "factor": "run_factor"}
    columns = {to: np.array([[getattr(run, name) for run in runs] for runs in filled], dtype=float) for name, to in names.items()}
    return columns | {"run_coil_m": np.array([[run.coil_m for run in runs] for runs in filled], dtype=float)}


def _pumps(pumps: Sequence[tuple[PumpCurve, float]]) -> dict[str, Any]:
    speed = np.array([speed for _, speed in pumps], dtype=float)
    flows, heads, slopes = stack_points([(curve.flows_m3s, curve.heads_m) for curve, _ in pumps])
    return {
        "speed": speed,
        "pointed": np.array([not curve.shape for curve, _ in pumps], dtype=bool),
        "point_flows": flows,
        "point_heads": heads,
        "point_slopes": slopes,
        "max_head_m": np.array([curve.max_head_m for curve, _ in pumps], dtype=float) * speed**2,
        "max_flow_m3s": np.array(
            [(curve.max_flow_m3s if curve.shape else free_flow_m3s(curve.flows_m3s, curve.heads_m)) for curve, _ in pumps],
            dtype=float,
        )
        * speed,
        "shape": np.array([curve.shape or USUAL_SHAPE for curve, _ in pumps], dtype=float),
    }


def flows_of(loops: Sequence[Sequence[Element]], kinematic_m2s: float) -> Reals:
    """Flow of each loop in m3/s, 0 where the pump cannot lift the water. Raises ArithmeticError when one could not be solved.

    >>> from optimizer.model.losses import Loss
    >>> curve = PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(2.0, 0.0), shape=2.0)
    >>> pump = Element(place="pump", label="pump", loss=Loss(quadratic=12.5e6), curve=curve)
    >>> (flows_of([[pump]], 1e-6) * 3.6e6).round(3).tolist()
    [1018.234]
    """
    if not len(loops):
        return np.zeros(0)
    if any(element.split is not None for loop in loops for element in loop):
        from optimizer.dirt.branched_loops import branched_flows  # a loop without branches does not need it

        return branched_flows(loops, kinematic_m2s)
    solved = solve(ElementLoops.of(loops, kinematic_m2s), RELATIVE)
    if not np.isin(solved.status, (CONVERGED, NO_FLOW)).all() or not all(map(math.isfinite, solved.flow_m3s)):
        raise ArithmeticError("a loop has no operating point")
    return solved.flow_m3s
