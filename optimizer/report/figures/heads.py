"""Figure: where the head goes, before and after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimizer.model.dossiers import Dossier
from optimizer.model.results import HeadShare
from optimizer.report.figures.picture import MOST_PLACES, Number, Picture, label
from optimizer.report.measures import Measures, percent

if TYPE_CHECKING:
    from matplotlib.figure import Figure

BAR, PITCH_IN = 0.36, 0.5


def picture(dossier: Dossier, measures: Measures) -> Picture | None:
    """The figure; None without a result, or when nothing flows."""
    result = dossier.result
    if result is None or not result.heads:
        return None
    after = "best" if result.best is not None else "cleaned"
    rows = [
        (
            label(head.place, 60),
            Number(head.before_m, measures.bare_head(head.before_m)),
            Number(head.before_share, percent(head.before_share)),
            Number(head.after_m, measures.bare_head(head.after_m)),
            Number(head.after_share, percent(head.after_share)),
        )
        for head in result.heads
    ]
    return Picture(
        name="heads",
        caption="Where the head goes",
        words=_words(result.heads, measures, after),
        heads=("place", f"now, {measures.head}", "share", f"{after}, {measures.head}", "share"),
        rows=tuple(rows),
        draw=lambda: _draw(result.heads[:MOST_PLACES], measures, after),
    )


def _words(heads: Sequence[HeadShare], measures: Measures, after: str) -> str:
    old, new = (max(heads, key=key) for key in (_before, _after))
    return (
        f"Head that each place takes, now and {after}. Most goes now into {label(old.place)} "
        f"({measures.head_text(old.before_m)}, {percent(old.before_share)}), {after} into {label(new.place)} "
        f"({measures.head_text(new.after_m)}, {percent(new.after_share)})."
    )


def _before(head: HeadShare) -> float:
    return head.before_m


def _after(head: HeadShare) -> float:
    return head.after_m


def _draw(heads: Sequence[HeadShare], measures: Measures, after: str) -> Figure:
    from optimizer.report.figures import paper

    figure, axes = paper.sheet(0.9 + PITCH_IN * len(heads))
    places = range(len(heads))
    both = (
        ("now", [measures.head_of(h.before_m) for h in heads], -0.5),
        (after, [measures.head_of(h.after_m) for h in heads], 0.5),
    )
    for name, values, side in both:
        look = paper.look_of(name)
        fill = look.colour if not look.hatch else "white"
        spots = [place + side * (BAR + 0.04) for place in places]
        axes.barh(spots, values, BAR, color=fill, edgecolor=look.colour, hatch=look.hatch, linewidth=0.9)
        named = max(range(len(values)), key=values.__getitem__)
        for n, (spot, head, value) in enumerate(zip(spots, heads, values, strict=True)):
            text = measures.bare_head(head.before_m if side < 0 else head.after_m) + (f"  {name}" if n == named else "")
            axes.annotate(text, (max(value, 0.0), spot), xytext=(3, 0), textcoords="offset points", va="center", fontsize=8.5)
    axes.set_yticks(list(places), [label(head.place, 18) for head in heads])
    axes.invert_yaxis()
    axes.margins(x=0.2)
    axes.grid(visible=False, axis="y")
    axes.set_xlabel(f"head taken, {measures.head}")
    return figure
