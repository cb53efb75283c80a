"""Figure: how evenly a spray bar gives its water."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimizer.model.dossiers import Dossier
from optimizer.model.results import Jets
from optimizer.report.figures.picture import Number, Picture, label, row_name, spread
from optimizer.report.measures import Measures, percent

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def picture(dossier: Dossier, measures: Measures) -> Picture | None:
    """The figure; None when no outlet is a spray bar, now or then."""
    shown = () if dossier.result is None else tuple(jets for jets in dossier.result.jets if jets.speeds_ms)
    if not shown:
        return None
    rows = [
        (
            f"{row_name(jets.name)}, {label(jets.place)}",
            Number(jets.holes, str(jets.holes)),
            Number(jets.hole_m, measures.bare_bore(jets.hole_m)),
            Number(min(jets.speeds_ms), measures.bare_speed(min(jets.speeds_ms))),
            Number(max(jets.speeds_ms), measures.bare_speed(max(jets.speeds_ms))),
            Number(jets.evenness, percent(jets.evenness)),
        )
        for jets in shown
    ]
    return Picture(
        name="jets",
        caption="Evenness of the spray bar",
        words=_words(shown, measures),
        heads=("", "holes", measures.bore, f"slowest, {measures.speed}", f"fastest, {measures.speed}", "least/most"),
        rows=tuple(rows),
        draw=lambda: _draw(shown, measures),
    )


def _words(shown: Sequence[Jets], measures: Measures) -> str:
    said = [
        f"{row_name(j.name)}: {j.holes} holes, {measures.bare_speed(min(j.speeds_ms))} to "
        f"{measures.bare_speed(max(j.speeds_ms))} {measures.speed}, least over most {percent(j.evenness)}"
        for j in shown
    ]
    text = f"Speed of the jet from every hole, the hole nearest the bar's inlet first. {'; '.join(said)}."
    if not any(jets.name == "best" for jets in shown):
        text += " With the best bundle the outlet is no spray bar."
    return text


def _draw(shown: Sequence[Jets], measures: Measures) -> Figure:
    from matplotlib.ticker import MaxNLocator

    from optimizer.report.figures import paper

    figure, axes = paper.sheet(3.2)
    for jets in shown:
        look = paper.look_of(jets.name)
        speeds = [measures.speed_of(speed) for speed in jets.speeds_ms]
        axes.plot(range(1, len(speeds) + 1), speeds, **look.line, marker=look.mark, markersize=5)
    axes.set_ylim(bottom=0.0)
    axes.margins(x=0.14, y=0.12)
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_xlabel("hole, counted from the inlet")
    axes.set_ylabel(f"jet, {measures.speed}")
    _names(axes, shown, measures)
    return figure


def _names(axes: Axes, shown: Sequence[Jets], measures: Measures) -> None:
    """The name of each line behind its last hole."""
    from optimizer.report.figures import paper

    ends = [measures.speed_of(jets.speeds_ms[-1]) for jets in shown]
    low, high = axes.get_ylim()
    for jets, end, place in zip(shown, ends, spread(ends, 0.08 * (high - low), low, high), strict=True):
        look, last = paper.look_of(jets.name), len(jets.speeds_ms)
        axes.annotate(
            row_name(jets.name),
            (last, place if len(shown) > 1 else end),
            xytext=(8.0, 0.0),
            textcoords="offset points",
            va="center",
            color=look.colour,
            fontsize=9.5,
        )
