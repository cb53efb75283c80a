"""Figure: the pump's curve against what the loop takes, now, cleaned and with the best bundle, and where they meet."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from optimizer.model.bands import BandLine
from optimizer.model.dossiers import Curve, Curves, Dossier, Mark
from optimizer.report.figures.picture import Number, Picture, label, spread
from optimizer.report.measures import Measures

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

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


def _draw(told: Curves, measures: Measures, band: BandLine | None) -> Figure:
    from optimizer.report.figures import paper

    figure, axes = paper.sheet(4.0)
    pumps = [curve for curve in told.curves if curve.kind == "pump"]
    top = ABOVE * max(curve.heads_m[0] for curve in pumps)
    right = max(curve.flows_m3s[-1] for curve in pumps)
    _pumps(axes, pumps, top, right, measures)
    loops = [curve for curve in told.curves if curve.kind == "loop"]
    for curve in loops:
        flows = [measures.flow_of(flow) for flow in curve.flows_m3s]
        axes.plot(flows, [measures.head_of(head) for head in curve.heads_m], **paper.look_of(curve.name).line)
    axes.set_ylim(0.0, measures.head_of(top))
    axes.set_xlim(0.0, measures.flow_of(right))
    _loop_names(axes, loops, top, right, measures)
    for mark in told.marks:
        look = paper.look_of(mark.name)
        at = (measures.flow_of(mark.flow_m3s), measures.head_of(mark.head_m))
        axes.plot(*at, look.mark, color=look.colour, markersize=8, markeredgecolor="white", markeredgewidth=1.0, zorder=5)
        if mark.name == "best" and band is not None:
            edges = [measures.flow_of(band.p10_m3s), measures.flow_of(band.p90_m3s)]
            axes.plot(edges, [at[1]] * 2, color=look.colour, linewidth=1.2, marker="|", markersize=11, zorder=4)
    axes.set_xlabel(f"flow, {measures.flow}")
    axes.set_ylabel(f"head, {measures.head}")
    return figure


def _pumps(axes: Axes, pumps: Sequence[Curve], top_m: float, right_m3s: float, measures: Measures) -> None:
    """The pumps, each with its name in its line near no flow."""
    from optimizer.report.figures import paper

    starts = [measures.head_of(curve.heads_m[0]) for curve in pumps]
    high = measures.head_of(top_m)
    for curve, place in zip(pumps, spread(starts, 0.055 * high, 0.0, high), strict=True):
        flows = [measures.flow_of(flow) for flow in curve.flows_m3s]
        axes.plot(flows, [measures.head_of(head) for head in curve.heads_m], color=paper.INK, linewidth=1.1)
        text = label(curve.name, 40)
        box = {"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.9}
        axes.text(measures.flow_of(0.012 * right_m3s), place, text, va="center", fontsize=8.5, bbox=box, zorder=2.5)


def _loop_names(axes: Axes, loops: Sequence[Curve], top_m: float, right_m3s: float, measures: Measures) -> None:
    """The names of the loops above the axes, where their lines leave it, or at their end."""
    from optimizer.report.figures import paper

    wide = measures.flow_of(right_m3s)
    leave = [measures.flow_of(_flow_at(curve, top_m)) for curve in loops]
    for curve, at, place in zip(loops, leave, spread(leave, 0.2 * wide, 0.03 * wide, 0.94 * wide), strict=True):
        axes.annotate(
            label(curve.name),
            (min(at, wide), measures.head_of(top_m)),
            xytext=(place, 1.06 * measures.head_of(top_m)),
            ha="center",
            fontsize=9.5,
            color=paper.look_of(curve.name).colour,
            arrowprops={"arrowstyle": "-", "color": paper.PALE, "linewidth": 0.6},
            annotation_clip=False,
        )


def _flow_at(curve: Curve, head_m: float) -> float:
    """The flow at which a loop takes so much head, running straight between the points; the last flow where it never does."""
    points = list(zip(curve.flows_m3s, curve.heads_m, strict=True))
    for (flow, head), (ahead, taken) in pairwise(points):
        if head <= head_m <= taken and taken > head:
            return flow + (ahead - flow) * (head_m - head) / (taken - head)
    return curve.flows_m3s[-1]
