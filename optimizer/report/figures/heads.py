"""Figure: where the head goes, before and after."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.model.dossiers import Dossier
from optimizer.model.results import HeadShare
from optimizer.report.figures import paper
from optimizer.report.figures.picture import MOST_PLACES, Number, Picture, label
from optimizer.report.figures.sheet import Sheet
from optimizer.report.measures import Measures, percent

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


def _draw(heads: Sequence[HeadShare], measures: Measures, after: str) -> Sheet:
    axes = paper.axes(0.9 + PITCH_IN * len(heads))
    both = (
        ("now", [measures.head_of(h.before_m) for h in heads], -0.5),
        (after, [measures.head_of(h.after_m) for h in heads], 0.5),
    )
    for name, values, side in both:
        look = paper.look_of(name)
        fill = look.colour if not look.hatch else "white"
        named = max(range(len(values)), key=values.__getitem__)
        for n, (head, value) in enumerate(zip(heads, values, strict=True)):
            spot = n + side * (BAR + 0.04)
            axes.bar(spot, value, BAR, fill, look.colour, look.hatch)
            text = measures.bare_head(head.before_m if side < 0 else head.after_m) + (f"  {name}" if n == named else "")
            axes.words(text, max(value, 0.0), spot, right=3.0, size=8.5)
    axes.rows = [label(head.place, 18) for head in heads]
    axes.y_range = (-0.6, len(heads) - 0.4)
    most = max(1e-9, *(value for _, values, _ in both for value in values))
    axes.x_range = (0.0, 1.2 * most)
    axes.x_name = f"head taken, {measures.head}"
    return axes.finished()
