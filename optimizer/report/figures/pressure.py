"""Figure: gauge pressure along the loop, from the guard down to the outlet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimizer.model.dossiers import Dossier
from optimizer.model.results import PressureProfile
from optimizer.report.figures.picture import MOST_PLACES, Number, Picture, label, row_name
from optimizer.report.measures import Measures

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from optimizer.report.figures.paper import Look

PITCH_IN = 0.4


def picture(dossier: Dossier, measures: Measures) -> Picture | None:
    """The figure; None when nothing flows."""
    result = dossier.result
    wanted = ("now", "best" if result is not None and result.best is not None else "spend nothing")
    shown = () if result is None else tuple(each for each in result.profile if each.name in wanted and _points(each))
    if not shown:
        return None
    heads = ("place", *(f"{row_name(p.name)} {end}, {measures.head}" for p in shown for end in ("in", "out")))
    return Picture(
        name="pressure",
        caption="Pressure along the loop",
        words=_words(shown, measures),
        heads=heads,
        rows=tuple(_row(place, shown, measures) for place in _places(shown)),
        draw=lambda: _draw(shown, measures),
    )


def _points(profile: PressureProfile) -> list[tuple[str, str, float]]:
    """Place, end and head at the ends of positions; adapters in joints are left out."""
    return [(p.place, p.end, p.head_m) for p in profile.points if not p.in_joint]


def _places(shown: Sequence[PressureProfile]) -> list[str]:
    return list(dict.fromkeys(place for profile in shown for place, _, _ in _points(profile)))


def _row(place: str, shown: Sequence[PressureProfile], measures: Measures) -> tuple[str | Number, ...]:
    cells: list[str | Number] = [label(place, 60)]
    for profile in shown:
        ends = {end: head for where, end, head in _points(profile) if where == place}
        for end in ("inlet", "outlet"):
            cells.append(Number(ends[end], measures.bare_head(ends[end])) if end in ends else "")
    return tuple(cells)


def _words(shown: Sequence[PressureProfile], measures: Measures) -> str:
    said = [f"{row_name(p.name)}: lowest {measures.head_text(p.lowest.head_m)} at {label(p.lowest.place, 60)}" for p in shown]
    text = f"Static pressure in {measures.head} of water at each place, in the order of the water. On the way to the pump, "
    return text + "; ".join(said) + ". Below 0 a joint that is not tight draws air."


def _draw(shown: Sequence[PressureProfile], measures: Measures) -> Figure:
    from optimizer.report.figures import paper

    places = _places(shown)[:MOST_PLACES]
    figure, axes = paper.sheet(1.2 + PITCH_IN * len(places))
    order = {place: number for number, place in enumerate(places)}
    for profile in shown:
        look = paper.look_of(profile.name)
        points = [point for point in _points(profile) if point[0] in order]
        down = [order[place] + {"inlet": -0.28, "outlet": 0.28}.get(end, 0.0) for place, end, _ in points]
        heads = [measures.head_of(head) for _, _, head in points]
        axes.plot(heads, down, **look.line, marker=look.mark, markersize=4)
        _named(axes, row_name(profile.name), look, heads, down)
    axes.margins(x=0.1)
    axes.axvline(0.0, color=paper.INK, linewidth=1.0)
    axes.set_yticks(range(len(places)), [label(place, 18) for place in places])
    axes.set_ylim(len(places) - 0.4, -0.6)
    axes.set_xlabel(f"gauge pressure, {measures.head} of water")
    return figure


def _named(axes: Axes, name: str, look: Look, heads: Sequence[float], down: Sequence[float]) -> None:
    """The name of a line beside its point of most pressure, where the lines lie furthest apart."""
    at = max(range(len(heads)), key=heads.__getitem__)
    spot = (heads[at], down[at])
    box = {"facecolor": "white", "edgecolor": "none", "pad": 0.6}
    axes.annotate(name, spot, xytext=(6, 6), textcoords="offset points", color=look.colour, fontsize=9.5, bbox=box)
