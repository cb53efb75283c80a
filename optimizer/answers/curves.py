"""Pump and loop curves of the rows of a verdict, for a figure: head against flow, and where they meet."""

from collections.abc import Mapping, Sequence

import numpy as np

from optimizer.answers.rows import Standing
from optimizer.loop.graph import Element
from optimizer.loop.operating import element_head_m, pump_head_m
from optimizer.model.dossiers import Curve, Curves, Mark
from optimizer.model.parts import PumpCurve
from optimizer.physics.pumps import free_flow_m3s

POINTS = 41
"""So many points make a curve look smooth."""

FAR = 1.5
"""A loop curve is drawn up to at least this many times the head of the strongest pump."""

Pumped = tuple[PumpCurve, float]


def curves(
    rows: Mapping[str, Standing], dirty: tuple[str, Sequence[Element], float, float] | None, kinematic_m2s: float
) -> Curves:
    """The curves of all rows; ``dirty`` is one more loop as its dirt leaves it: name, elements, flow in m3/s and day."""
    loops = {name: stands.elements for name, stands in rows.items()} | ({dirty[0]: tuple(dirty[1])} if dirty else {})
    pumps: dict[Pumped, list[str]] = {}
    for name, elements in loops.items():
        pumps.setdefault(_pump(elements), []).append(name)
    most = max(curve.max_head_m * speed**2 for curve, speed in pumps)
    lines = [_pump_curve(pump, f"pump, {' and '.join(names)}") for pump, names in pumps.items()]
    lines += [_loop_curve(name, elements, FAR * most, kinematic_m2s) for name, elements in loops.items()]
    marks = [_mark(name, s.elements, s.flow_m3s, bool(s.held_by)) for name, s in rows.items() if s.flow_m3s > 0.0]
    if dirty and dirty[2] > 0.0:
        marks.append(_mark(dirty[0], dirty[1], dirty[2], False))
    return Curves(curves=tuple(lines), marks=tuple(marks), last_day=dirty[3] if dirty else 0.0)


def _pump(elements: Sequence[Element]) -> Pumped:
    found = next(element for element in elements if element.curve is not None)
    if found.curve is None:
        raise ValueError("a loop without a pump has no curves")
    return found.curve, found.speed


def _pump_curve(pump: Pumped, name: str) -> Curve:
    """The curve at its speed, from no flow to no head."""
    curve, speed = pump
    free = curve.max_flow_m3s if curve.shape else free_flow_m3s(curve.flows_m3s, curve.heads_m)
    flows = tuple(float(flow) for flow in np.linspace(0.0, free * speed, POINTS))
    heads = tuple(max(pump_head_m(curve, speed, flow), 0.0) for flow in flows)
    return Curve(kind="pump", name=name, flows_m3s=flows, heads_m=heads)


def _loop_curve(name: str, elements: Sequence[Element], most_m: float, kinematic_m2s: float) -> Curve:
    """What a loop takes, from no flow to about the flow at which it takes ``most_m``."""
    passive = [element for element in elements if element.curve is None]

    def head_m(flow: float) -> float:
        return sum(element_head_m(element, flow, kinematic_m2s) for element in passive)

    top = _pump_curve(_pump(elements), "").flows_m3s[-1]
    for _ in range(60):
        if head_m(top) <= most_m:
            break
        top *= 0.8
    flows = tuple(float(flow) for flow in np.linspace(0.0, top, POINTS))
    return Curve(kind="loop", name=name, flows_m3s=flows, heads_m=tuple(head_m(flow) for flow in flows))


def _mark(name: str, elements: Sequence[Element], flow_m3s: float, held: bool) -> Mark:
    return Mark(name=name, flow_m3s=flow_m3s, head_m=pump_head_m(*_pump(elements), flow_m3s), held=held)
