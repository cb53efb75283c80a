"""Figure: the pump's curve against what the loop takes, now, cleaned and with the best bundle, and where they meet."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from optimizer.model.bands import BandLine
from optimizer.model.dossiers import Curve, Curves, Dossier, Mark
from optimizer.report.figures import paper
from optimizer.report.figures.axes import Axes
from optimizer.report.figures.picture import Number, Picture, label, spread
from optimizer.report.figures.sheet import Sheet
from optimizer.report.measures import Measures

ABOVE = 1.12
"""The axis of heads goes so far beyond the head of the strongest pump."""


def picture(dossier: Dossier, measures: Measures) -> Picture | None:
    """The figure; None without curves."""
    told = dossier.curves
    if told is None or not told.marks or not any(curve.kind == "pump" for curve in told.curves):
        return None
    band = _band(dossier)
    rows = [_row(mark, measures, band) for mark in told.marks]
    return Picture(
        name="curves",
        caption="Pump against loop",
        words=_words(told, measures, band),
        heads=("where they meet", measures.flow, measures.head, f"P10, {measures.flow}", f"P90, {measures.flow}"),
        rows=tuple(rows),
        draw=lambda: _draw(told, measures, band),
    )


def _band(dossier: Dossier) -> BandLine | None:
    """The band of the best bundle, where it was drawn."""
    lines = () if dossier.bands is None or dossier.bands.band is None else dossier.bands.band.lines
    return next((line for line in lines if line.name == "best"), None)


def _row(mark: Mark, measures: Measures, band: BandLine | None) -> tuple[str | Number, ...]:
    flow = Number(mark.flow_m3s, measures.bare_flow(mark.flow_m3s))
    known = () if mark.name != "best" or band is None else (band.p10_m3s, band.p90_m3s)
    edges = tuple(Number(edge, measures.bare_flow(edge)) for edge in known) or ("", "")
    return (label(mark.name), flow, Number(mark.head_m, measures.bare_head(mark.head_m)), *edges)


def _words(told: Curves, measures: Measures, band: BandLine | None) -> str:
    said = [f"{label(m.name)}: {measures.flow_text(m.flow_m3s)} at {measures.head_text(m.head_m)}" for m in told.marks]
    throttled = [label(mark.name) for mark in told.marks if mark.held]
    text = "Head against flow. The falling lines are pumps, the rising ones what the loop takes; water runs where they meet: "
    text += "; ".join(said) + "."
    if throttled:
        text += f" A throttle takes up what lies between pump and loop: {', '.join(throttled)}."
    if band is not None:
        edges = f"{measures.bare_flow(band.p10_m3s)} to {measures.flow_text(band.p90_m3s)}"
        text += f" The bar through the best point is its band, {edges} in 8 of 10 draws."
    return text


def _draw(told: Curves, measures: Measures, band: BandLine | None) -> Sheet:
    axes = paper.axes(4.0)
    pumps = [curve for curve in told.curves if curve.kind == "pump"]
    top = ABOVE * max(curve.heads_m[0] for curve in pumps)
    right = max(curve.flows_m3s[-1] for curve in pumps)
    axes.x_range, axes.y_range, axes.over = (0.0, measures.flow_of(right)), (0.0, measures.head_of(top)), 26.0
    _pumps(axes, pumps, top, right, measures)
    loops = [curve for curve in told.curves if curve.kind == "loop"]
    for curve in loops:
        flows, heads = _shown(curve, measures)
        axes.line(flows, heads, *paper.look_of(curve.name).line)
    _loop_names(axes, loops, top, right, measures)
    for mark in told.marks:
        look = paper.look_of(mark.name)
        at = (measures.flow_of(mark.flow_m3s), measures.head_of(mark.head_m))
        axes.mark(*at, look.mark, 8.0, look.colour, "white", front=5.0)
        if mark.name == "best" and band is not None:
            edges = [measures.flow_of(band.p10_m3s), measures.flow_of(band.p90_m3s)]
            axes.line(edges, [at[1]] * 2, look.colour, 1.2)
            for edge in edges:
                axes.mark(edge, at[1], "|", 11.0, look.colour, width=1.2)
    axes.x_name, axes.y_name = f"flow, {measures.flow}", f"head, {measures.head}"
    return axes.finished()


def _shown(curve: Curve, measures: Measures) -> tuple[list[float], list[float]]:
    """Flows and heads of a curve in the units that are shown."""
    return [measures.flow_of(flow) for flow in curve.flows_m3s], [measures.head_of(head) for head in curve.heads_m]


def _pumps(axes: Axes, pumps: Sequence[Curve], top_m: float, right_m3s: float, measures: Measures) -> None:
    """The pumps, each with its name in its line near no flow."""
    starts = [measures.head_of(curve.heads_m[0]) for curve in pumps]
    high = measures.head_of(top_m)
    for curve, place in zip(pumps, spread(starts, 0.055 * high, 0.0, high), strict=True):
        axes.line(*_shown(curve, measures), paper.INK, 1.1)
        axes.words(label(curve.name, 40), measures.flow_of(0.012 * right_m3s), place, size=8.5, backed=True)


def _loop_names(axes: Axes, loops: Sequence[Curve], top_m: float, right_m3s: float, measures: Measures) -> None:
    """The names of the loops above the axes, where their lines leave it, or at their end."""
    wide, high = measures.flow_of(right_m3s), measures.head_of(top_m)
    leave = [measures.flow_of(_flow_at(curve, top_m)) for curve in loops]
    for curve, at, place in zip(loops, leave, spread(leave, 0.2 * wide, 0.03 * wide, 0.94 * wide), strict=True):
        axes.lead((min(at, wide), high), (place, 1.05 * high), paper.PALE)
        axes.words(
            label(curve.name), place, 1.05 * high, up=6.0, anchor="middle", size=9.5, colour=paper.look_of(curve.name).colour
        )


def _flow_at(curve: Curve, head_m: float) -> float:
    """The flow at which a loop takes so much head, running straight between the points; the last flow where it never does."""
    points = list(zip(curve.flows_m3s, curve.heads_m, strict=True))
    for (flow, head), (ahead, taken) in pairwise(points):
        if head <= head_m <= taken and taken > head:
            return flow + (ahead - flow) * (head_m - head) / (taken - head)
    return curve.flows_m3s[-1]
