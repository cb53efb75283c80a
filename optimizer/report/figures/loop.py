"""Figure: the loop in the order of the water, with the head that each place takes now and then, and what is changed there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimizer.model.dossiers import Dossier
from optimizer.model.results import Result, Spot
from optimizer.model.route import RoutePlace
from optimizer.report.figures.loop_facts import after_name, taking
from optimizer.report.figures.picture import MOST_PLACES, Number, Picture, label
from optimizer.report.measures import Measures

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["picture"]


def picture(dossier: Dossier, measures: Measures) -> Picture | None:
    """The figure; None for an answer without the way of the water."""
    result = dossier.result
    if result is None or not result.route:
        return None
    after = after_name(result)
    return Picture(
        name="loop",
        caption="The loop in the order of the water",
        words=_words(result, measures),
        heads=(
            "place",
            "done",
            *(f"{row}, {unit}" for unit in (measures.head, measures.bore) for row in ("now", after)),
            *(f"joint in front {row}, {measures.head}" for row in ("now", after)),
        ),
        rows=tuple(_row(place, measures) for place in result.route),
        draw=lambda: _drawn(result, measures),
    )


def _row(place: RoutePlace, measures: Measures) -> tuple[str | Number, ...]:
    sides = (place.now, place.then)
    return (
        label(place.place, 60),
        label(", ".join(place.changes), 60) or "keep",
        *(Number(each.head_m, measures.bare_head(each.head_m)) for each in sides),
        *(Number(each.bore_m, measures.bare_bore(each.bore_m)) if each.bore_m else "" for each in sides),
        *(Number(each.joint_m, measures.bare_head(each.joint_m)) for each in sides),
    )


def _words(result: Result, measures: Measures) -> str:
    after = after_name(result)
    most_now, most_then = (max(taking(result.route), key=key, default=None) for key in (_now_m, _then_m))
    text = "From the tank through every place and back, with the head that each takes; joints that take little are left out."
    if most_now is not None and most_then is not None:
        text += f" Most goes now into {label(most_now.place)} ({measures.head_text(most_now.now.head_m)}), {after} into "
        text += f"{label(most_then.place)} ({measures.head_text(most_then.then.head_m)})."
    changed = [label(place.place, 60) for place in result.route if place.changes]
    text += f" Marked: {', '.join(changed)}." if changed else " Nothing is changed."
    spots = (("now", result.tightest_before), (after, result.tightest))
    return text + "".join(f" Tightest spot {row}: {_spot(spot, measures)}." for row, spot in spots if spot is not None)


def _now_m(place: RoutePlace) -> float:
    return place.now.head_m


def _then_m(place: RoutePlace) -> float:
    return place.then.head_m


def _spot(spot: Spot, measures: Measures) -> str:
    return f"{label(spot.place, 60)}, {measures.bore_text(spot.bore_m)}, water at {measures.speed_text(spot.speed_ms)}"


def _drawn(result: Result, measures: Measures) -> Figure:
    from optimizer.report.figures.loop_drawing import drawn

    return drawn(result, result.route[:MOST_PLACES], measures)
