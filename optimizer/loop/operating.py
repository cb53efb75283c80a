"""Operating point of one loop by bracketing, in plain scalars: the independent path that re-solves all that is reported."""

from dataclasses import dataclass

import networkx as nx
import numpy as np

from optimizer.loop.bracket import bracketed
from optimizer.loop.graph import Element, in_order
from optimizer.loop.loss_head import loss_head_m
from optimizer.loop.loss_head import run_head_m as run_head_m
from optimizer.model.parts import PumpCurve
from optimizer.physics.pumps import label_head_m, monotone_slopes, points_head_m


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """Where the pump's head and the loop's loss meet. ``status``: "flows", or "no flow" when the pump cannot lift the water."""

    flow_m3s: float
    head_m: float
    status: str


def pump_head_m(curve: PumpCurve, speed: float, flow_m3s: float) -> float:
    """Head of a pump at a speed ratio (affinity laws), in m.

    >>> round(pump_head_m(PumpCurve(flows_m3s=(0.0, 1e-3), heads_m=(2.0, 0.0), shape=2.0), 1.0, 5e-4), 6)
    1.5
    """
    scaled = flow_m3s / speed
    if curve.shape:
        head = label_head_m(scaled, curve.max_head_m, curve.max_flow_m3s, curve.shape)
    else:
        flows, heads = np.array(curve.flows_m3s), np.array(curve.heads_m)
        head = points_head_m(scaled, flows, heads, monotone_slopes(flows, heads))
    return float(head) * speed * speed


def element_head_m(element: Element, flow_m3s: float, kinematic_m2s: float) -> float:
    """Head that one element takes out of the water (a pump puts in: negative), in m. Branches let no water back."""
    if element.split is not None:
        from optimizer.loop.split_point import split_flows  # a loop without branches starts quicker without it

        return split_flows(element.split, flow_m3s, kinematic_m2s)[1]
    head = loss_head_m(element.loss, flow_m3s, kinematic_m2s)
    if element.curve is not None:
        head -= pump_head_m(element.curve, element.speed, flow_m3s)
    return head


def operating_point(graph: "nx.MultiDiGraph[str]", kinematic_m2s: float, relative: float = 1e-13) -> OperatingPoint:
    """Flow at which the heads round a series loop add up to nothing, by bracketing, to a share of ``relative``.

    The sum rises with the flow (losses rise, pump heads fall), so between no flow and the pump's free flow there is exactly one
    root, or none when the pump cannot lift the water over the outlet. Raises ValueError for a loop without a pump.
    """
    elements = list(in_order(graph))
    pumps = [element for element in elements if element.curve is not None]
    if not pumps:
        raise ValueError("a loop without a pump has no operating point")

    def short_of(flow: float) -> float:
        return sum(element_head_m(element, flow, kinematic_m2s) for element in elements)

    still = short_of(0.0)
    if still >= 0.0:
        return OperatingPoint(flow_m3s=0.0, head_m=0.0, status="no flow")
    top = max(e.speed * e.curve.max_flow_m3s for e in pumps if e.curve is not None)
    for _ in range(60):
        if short_of(top) > 0.0:
            break
        top *= 1.5
    flow = bracketed(short_of, 0.0, top, xtol=1e-14, rtol=relative)
    head = sum(pump_head_m(e.curve, e.speed, flow) for e in pumps if e.curve is not None)
    return OperatingPoint(flow_m3s=flow, head_m=head, status="flows")
