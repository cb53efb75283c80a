"""Figure: how the flow falls with the days since a cleaning."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimizer.model.dossiers import Dossier, Falls
from optimizer.report.figures.picture import Number, Picture, label, spread
from optimizer.report.layout import GLUE
from optimizer.report.measures import Measures, number

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FAR = 1.6
"""A wanted flow this many times above all others is said in words only: it would press the lines together."""

SHOWN_DAYS = 8
"""About so many days stand in the table."""


def picture(dossier: Dossier, measures: Measures) -> Picture | None:
    """The figure; None without courses."""
    told = dossier.falls
    if told is None or not told.falls:
        return None
    days = told.falls[0].days
    step = max(1, (len(days) - 1) // (SHOWN_DAYS - 1))
    shown = sorted({*range(0, len(days), step), len(days) - 1})
    rows = [
        (Number(days[n], number(days[n], 0)), *(Number(f.flows_m3s[n], measures.bare_flow(f.flows_m3s[n])) for f in told.falls))
        for n in shown
        if all(n < len(fall.flows_m3s) for fall in told.falls)
    ]
    return Picture(
        name="fall",
        caption="Flow since the last cleaning",
        words=_words(told, measures),
        heads=("day", *(f"{label(fall.name)}, {measures.flow}" for fall in told.falls)),
        rows=tuple(rows),
        draw=lambda: _draw(told, measures),
    )


def _words(told: Falls, measures: Measures) -> str:
    said = [
        f"{label(f.name)}: {measures.bare_flow(f.flows_m3s[0])} clean, {measures.flow_text(f.flows_m3s[-1])} on day "
        f"{number(f.days[-1], 0)}"
        for f in told.falls
    ]
    text = f"Delivered flow by days since everything was cleaned, by the model of dirt. {'; '.join(said)}."
    if told.wanted_m3s > 0.0:
        text += f" Wanted are {measures.flow_text(told.wanted_m3s)}."
    return text


def _draw(told: Falls, measures: Measures) -> Figure:
    from optimizer.report.figures import paper

    figure, axes = paper.sheet(3.4)
    ends = [measures.flow_of(fall.flows_m3s[-1]) for fall in told.falls]
    top = max(measures.flow_of(flow) for fall in told.falls for flow in fall.flows_m3s)
    wanted = measures.flow_of(told.wanted_m3s)
    in_sight = 0.0 < wanted < FAR * top
    top = max(1.08 * top, 1.08 * wanted if in_sight else 0.0, 1e-9)
    last = max(fall.days[-1] for fall in told.falls)
    places = spread(ends, 0.07 * top, 0.02 * top, 0.98 * top)
    for fall, place in zip(told.falls, places, strict=True):
        look = paper.look_of(fall.name)
        axes.plot(fall.days, [measures.flow_of(flow) for flow in fall.flows_m3s], **look.line)
        axes.text(last * 1.02, place, label(fall.name, 12), color=look.colour, va="center")
    if in_sight:
        axes.axhline(wanted, color=paper.INK, linewidth=0.9, linestyle=(0, (2, 2)))
        axes.annotate(
            f"wanted: {measures.flow_text(told.wanted_m3s)}".replace(GLUE, " "),
            (0.0, wanted),
            xytext=(3, 3),
            textcoords="offset points",
            fontsize=9,
        )
    axes.set_xlim(0.0, max(last, 1.0))
    axes.set_ylim(0.0, top)
    axes.set_xlabel("days since cleaning")
    axes.set_ylabel(f"flow, {measures.flow}")
    return figure
