"""Pumps known by measured points, in many loops: one curve for all of them, or one each."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.model.parts import PumpCurve
from optimizer.physics.pumps import free_flow_m3s, monotone_slopes, points_head_m, stack_points, stacked_head_m

Reals = NDArray[np.float64]
Bools = NDArray[np.bool_]

USUAL_SHAPE = 2.0
"""Exponent of a pump curve through points, which only steers the first step of a solver."""


@dataclass(frozen=True, slots=True)
class PointCurves:
    """``points``: flows, heads and slopes, each (points,) where all loops have that curve, else (n, points).

    The flow is scaled by ``flow_scale`` (n,) and the head by ``head_scale`` (n,); ``pointed`` (n,) are the loops meant.
    """

    points: tuple[Reals, Reals, Reals]
    flow_scale: Reals
    head_scale: Reals
    pointed: Bools

    @property
    def of_all(self) -> bool:
        """True where every loop's pump is known by points."""
        return bool(self.pointed.all())

    def rows(self, rows: NDArray[np.intp]) -> "PointCurves":
        """Those of some of the loops."""
        flows, heads, slopes = self.points
        own = self.points if flows.ndim == 1 else (flows[rows], heads[rows], slopes[rows])
        return PointCurves(own, self.flow_scale[rows], self.head_scale[rows], self.pointed[rows])

    def head_m(self, flow_m3s: Reals) -> Reals:
        """Head (n,) of each pump at its flow (n,), in m; no meaning where a pump is not known by points."""
        at = points_head_m if self.points[0].ndim == 1 else stacked_head_m
        return np.asarray(self.head_scale * at(flow_m3s / self.flow_scale, *self.points), dtype=float)


def free_flow(curve: PumpCurve) -> float:
    """Flow of a pump against no head at its own speed, in m3/s."""
    return curve.max_flow_m3s if curve.shape else free_flow_m3s(curve.flows_m3s, curve.heads_m)


def pump_columns(curves: Sequence[PumpCurve], speed: Reals) -> dict[str, Any]:
    """The columns of `Loops` that say what pumps do, one each, at speed ratios (n,) by the affinity laws."""
    pointed = np.array([not curve.shape for curve in curves], dtype=bool)
    made = None
    if pointed.any():
        points = stack_points([(curve.flows_m3s, curve.heads_m) for curve in curves])
        made = PointCurves(points, speed, speed * speed, pointed)
    return {
        "curves": made,
        "max_head_m": np.array([curve.max_head_m for curve in curves], dtype=float) * speed**2,
        "max_flow_m3s": np.array([free_flow(curve) for curve in curves], dtype=float) * speed,
        "shape": np.array([curve.shape or USUAL_SHAPE for curve in curves], dtype=float),
    }


def scaled_pump_columns(curve: PumpCurve, flow_scale: Reals, head_scale: Reals, shape: Reals) -> dict[str, Any]:
    """The same of one pump in n variants: its flows and heads scaled (n,), with exponents ``shape`` (n,) of its label curve."""
    made = None
    if not curve.shape:
        flows, heads = np.array(curve.flows_m3s), np.array(curve.heads_m)
        points = (flows, heads, monotone_slopes(flows, heads))
        made = PointCurves(points, flow_scale, head_scale, np.ones(len(flow_scale), dtype=bool))
    return {
        "curves": made,
        "max_head_m": head_scale * curve.max_head_m,
        "max_flow_m3s": flow_scale * free_flow(curve),
        "shape": shape,
    }
