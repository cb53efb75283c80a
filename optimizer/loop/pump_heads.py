"""Heads of many pumps at once, known by their labels or by measured points."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.model.parts import PumpCurve
from optimizer.physics.pumps import free_flow_m3s, label_head_m, monotone_slopes, points_head_m, stack_points, stacked_head_m

Reals = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_STRIDES = 60
"""So often the flow at which a fed pump has no head left is sought half as high again."""

USUAL_SHAPE = 2.0
"""Exponent of a pump curve through points, which only steers the first step of a solver."""


@dataclass(frozen=True, slots=True)
class PointCurves:
    """``points``: flows, heads and slopes, each (points,) where all loops have that curve, else (n, points).

    The flow is scaled by ``flow_scale`` (n,) and the head by ``head_scale`` (n,); ``pointed`` (n,) are the loops meant. ``fed_m``
    of head comes from outside the pumps, such as a siphon's.
    """

    points: tuple[Reals, Reals, Reals]
    flow_scale: Reals
    head_scale: Reals
    pointed: Bools
    fed_m: float = 0.0

    def rows(self, rows: NDArray[np.intp]) -> "PointCurves":
        """Those of some of the loops."""
        flows, heads, slopes = self.points
        own = self.points if flows.ndim == 1 else (flows[rows], heads[rows], slopes[rows])
        return PointCurves(own, self.flow_scale[rows], self.head_scale[rows], self.pointed[rows], self.fed_m)

    def head_m(self, flow_m3s: Reals | float) -> Reals:
        """Head (n,) of each pump at its flow (n,) or at one, in m; no meaning where a pump is not known by points."""
        at = points_head_m if self.points[0].ndim == 1 else stacked_head_m
        head = self.head_scale * at(flow_m3s / self.flow_scale, *self.points)
        return np.asarray(head + self.fed_m if self.fed_m else head, dtype=float)


@dataclass(frozen=True, slots=True)
class Pumps:
    """n pumps at their speeds: head and flow at the ends of their label curves (n,) in m and m3/s, and their exponents (n,).

    ``curves``: what is known by points (None: nothing); there the exponents only steer a solver.
    """

    max_head_m: Reals
    max_flow_m3s: Reals
    shape: Reals
    curves: PointCurves | None = None

    @classmethod
    def of(cls, curves: Sequence[PumpCurve], speed: Reals) -> "Pumps":
        """Pumps at speed ratios (n,) by the affinity laws: H(Q) = s2 H_label(Q/s)."""
        pointed = np.array([not curve.shape for curve in curves], dtype=bool)
        made = None
        if pointed.any():
            points = stack_points([(curve.flows_m3s, curve.heads_m) for curve in curves])
            made = PointCurves(points, speed, speed * speed, pointed)
        return cls(
            np.array([curve.max_head_m for curve in curves], dtype=float) * speed**2,
            np.array([free_flow(curve) for curve in curves], dtype=float) * speed,
            np.array([curve.shape or USUAL_SHAPE for curve in curves], dtype=float),
            made,
        )

    @classmethod
    def scaled(cls, curve: PumpCurve, flow_scale: Reals, head_scale: Reals, shape: Reals) -> "Pumps":
        """One pump in n variants: its flows and heads scaled (n,), with exponents ``shape`` (n,) of its label curve."""
        made = None
        if not curve.shape:
            flows, heads = np.array(curve.flows_m3s), np.array(curve.heads_m)
            points = (flows, heads, monotone_slopes(flows, heads))
            made = PointCurves(points, flow_scale, head_scale, np.ones(len(flow_scale), dtype=bool))
        return cls(head_scale * curve.max_head_m, flow_scale * free_flow(curve), shape, made)

    def rows(self, rows: NDArray[np.intp]) -> "Pumps":
        """Some of them."""
        curves = None if self.curves is None else self.curves.rows(rows)
        return Pumps(self.max_head_m[rows], self.max_flow_m3s[rows], self.shape[rows], curves)

    def head_m(self, flow_m3s: Reals | float) -> Reals:
        """Head (n,) of each pump at its flow (n,) or at one, in m."""
        curves = self.curves
        if curves is not None and curves.pointed.all():
            return curves.head_m(flow_m3s)
        head = np.asarray(label_head_m(flow_m3s, self.max_head_m, self.max_flow_m3s, self.shape), dtype=float)
        return head if curves is None else np.where(curves.pointed, curves.head_m(flow_m3s), head)

    def fed(self, head_m: float) -> "Pumps":
        """The same with a siphon's head to help. A label curve stays one: H0 (1 - (Q/Qm)^n) + s = H1 (1 - (Q/Q1)^n) with
        H1 = H0 + s and Q1 = Qm (H1/H0)^(1/n)."""
        head = self.max_head_m + head_m
        flow = self.max_flow_m3s * (head / self.max_head_m) ** (1.0 / self.shape)
        if self.curves is None:
            return Pumps(head, flow, self.shape)
        curves, flow = (
            replace(self.curves, fed_m=self.curves.fed_m + head_m),
            np.where(self.curves.pointed, self.max_flow_m3s, flow),
        )
        for _ in range(MOST_STRIDES):
            left = curves.pointed & (curves.head_m(flow) > 0.0)
            if not left.any():
                break
            flow = np.where(left, 1.5 * flow, flow)
        return Pumps(head, flow, self.shape, curves)

    @property
    def columns(self) -> dict[str, Any]:
        """What `Loops` calls them."""
        return {"max_head_m": self.max_head_m, "max_flow_m3s": self.max_flow_m3s, "shape": self.shape, "curves": self.curves}


def free_flow(curve: PumpCurve) -> float:
    """Flow of a pump against no head at its own speed, in m3/s."""
    return curve.max_flow_m3s if curve.shape else free_flow_m3s(curve.flows_m3s, curve.heads_m)
