"""Operating points of one loop with many different outlets, at once."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import elementwise

from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.operating import operating_point
from optimizer.model.losses import Loss
from optimizer.physics.hose import friction_head_m
from optimizer.physics.pumps import label_head_m, monotone_slopes, points_head_m

Reals = NDArray[np.float64]

RELATIVE = 1e-13
"""Agreement asked of the two ends of a bracket, as a share of the flow."""


def flows_with(elements: Sequence[Element], quadratics: Reals, kinematic_m2s: float) -> Reals:
    """Delivered flow in m3/s of one series loop closed by each of many outlets, shape (n,).

    ``elements`` is the loop without what differs; ``quadratics`` (n,) in s2/m5, not negative, are the outlets' coefficients.
    A loop whose pump cannot lift the water gets 0. The excess of losses over the pump's head rises with the flow, from below
    0 at rest to at least 0 at the flow without any outlet: one root for each. Those that the batch leaves open are solved one
    by one. Raises ValueError for a loop without a pump.

    >>> from optimizer.model.losses import Loss
    >>> from optimizer.model.parts import PumpCurve
    >>> curve = PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(2.0, 0.0), shape=2.0)
    >>> pump = Element(place="pump", label="pump", loss=Loss(), curve=curve)
    >>> (flows_with([pump], np.array([12.5e6, 37.5e6]), 1e-6) * 3.6e6).round(3).tolist()
    [1018.234, 720.0]
    """
    most = operating_point(loop_graph(elements), kinematic_m2s).flow_m3s
    if most <= 0.0:
        return np.zeros(len(quadratics))

    def excess_m(flow_m3s: Reals, quadratic: Reals) -> Reals:
        rest = sum((_head_m(element, flow_m3s, kinematic_m2s) for element in elements), np.zeros_like(flow_m3s))
        return rest + quadratic * flow_m3s * flow_m3s

    # a hair above, so that rounding in the scalar root does not leave an outlet without loss unbracketed
    ends = (np.zeros(len(quadratics)), np.full(len(quadratics), most * (1.0 + 1e-9)))
    found = elementwise.find_root(excess_m, ends, args=(quadratics,), tolerances={"xrtol": RELATIVE, "xatol": 0.0}, maxiter=200)
    flows = np.array(found.x, dtype=float)
    for n in np.flatnonzero(~np.asarray(found.success)):
        outlet = Element(place="outlet", label="outlet", loss=Loss(quadratic=float(quadratics[n])))
        flows[n] = operating_point(loop_graph([*elements, outlet]), kinematic_m2s).flow_m3s
    return flows


def _head_m(element: Element, flow_m3s: Reals, kinematic_m2s: float) -> Reals:
    """Head that an element takes (a pump gives: negative) at many flows, in m."""
    loss = element.loss
    head = loss.lift_m + loss.linear * flow_m3s + loss.quadratic * flow_m3s * flow_m3s
    run, curve = loss.run, element.curve
    if run is not None:
        hose = (run.bore_m, run.length_m, run.roughness_m)
        head = head + friction_head_m(flow_m3s, *hose, kinematic_m2s, run.factor, run.coil_m)
    if curve is not None:
        scaled = flow_m3s / element.speed
        if curve.shape:
            given = np.asarray(label_head_m(scaled, curve.max_head_m, curve.max_flow_m3s, curve.shape))
        else:
            flows, heads = np.array(curve.flows_m3s), np.array(curve.heads_m)
            given = np.asarray(points_head_m(scaled, flows, heads, monotone_slopes(flows, heads)))
        head = head - given * element.speed**2
    return head
