"""Figure: how evenly a spray bar gives its water."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.model.dossiers import Dossier
from optimizer.model.results import Jets
from optimizer.report.figures import paper
from optimizer.report.figures.picture import Number, Picture, label, row_name, spread
from optimizer.report.figures.sheet import Sheet, wide
from optimizer.report.measures import Measures, percent


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


def _draw(shown: Sequence[Jets], measures: Measures) -> Sheet:
    axes = paper.axes(3.2)
    high = 1.12 * max(measures.speed_of(max(jets.speeds_ms)) for jets in shown)
    ends = [measures.speed_of(jets.speeds_ms[-1]) for jets in shown]
    for jets, place in zip(shown, spread(ends, 0.08 * high, 0.0, high), strict=True):
        look, name, last = paper.look_of(jets.name), row_name(jets.name), len(jets.speeds_ms)
        speeds = [measures.speed_of(speed) for speed in jets.speeds_ms]
        axes.line(range(1, last + 1), speeds, *look.line)
        for hole, speed in enumerate(speeds, 1):
            axes.mark(hole, speed, look.mark, 5.0, look.colour)
        axes.words(name, last, place, right=8.0, colour=look.colour, size=9.5)
        axes.beside = max(axes.beside, 14.0 + wide(name, 9.5))
    most = max(len(jets.speeds_ms) for jets in shown)
    axes.x_range, axes.y_range, axes.whole_x = (0.5, most + 0.3), (0.0, high), True
    axes.x_name, axes.y_name = "hole, counted from the inlet", f"jet, {measures.speed}"
    return axes.finished()
