"""Figure: the loop in the order of the water, with the head that each place takes now and then, and what is changed there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from optimizer.model.dossiers import Dossier
from optimizer.model.results import Change, Result, Spot
from optimizer.model.route import RoutePlace
from optimizer.report.figures.picture import MOST_PLACES, Number, Picture, label
from optimizer.report.measures import Measures

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["after_name", "is_shown", "narrowest", "picture", "what_stands"]

SMALL = 0.02
"""A joint that takes less of all head than this is not drawn."""

TRAYS = {"clean": "clean", "remove": "empty", "swap": "new in", "add": "fill"}
"""What is done to trays, in words."""


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


def after_name(result: Result) -> str:
    """What the loop is called as it will be."""
    return "then" if result.best is not None else "cleaned"


def narrowest(route: Sequence[RoutePlace], now: bool) -> tuple[str, bool] | None:
    """The place with the narrowest bore that all the water passes, and whether that is in the joint in front of it; None when
    no bore is known."""
    bores = [
        (bore, place.place, joint)
        for place in route
        if not place.fork
        for each in (place.now if now else place.then,)
        for bore, joint in ((each.joint_bore_m, True), (each.bore_m, False))
        if bore > 0.0
    ]
    if not bores:
        return None
    _, name, joint = min(bores, key=lambda bore: bore[0])
    return name, joint


def is_shown(place: RoutePlace, route: Sequence[RoutePlace]) -> bool:
    """True for a place whose joint in front takes enough head to be drawn."""
    sides = [(place.now.joint_m, _total(each.now.head_m for each in _taking(route)))]
    sides.append((place.then.joint_m, _total(each.then.head_m for each in _taking(route))))
    return any(joint > SMALL * total > 0.0 for joint, total in sides)


def _taking(route: Sequence[RoutePlace]) -> list[RoutePlace]:
    """The places that take head from all the water."""
    return [place for place in route if place.kind != "pump" and not place.fork]


def _total(heads: Iterable[float]) -> float:
    return sum(heads)


def what_stands(place: RoutePlace, changes: Sequence[Change]) -> str:
    """What stands at a place when the work is done, and of a canister what is done to its trays."""
    trays = [change for change in changes if change.position == place.place and change.tray and change.change in TRAYS]
    if trays:
        return "; ".join(
            f"{TRAYS[done]} {'tray' if len(which) == 1 else 'trays'} {', '.join(str(each.tray) for each in which)}"
            for done, which in ((done, list(each)) for done, each in groupby(trays, key=_change))
        )
    if not place.then.part and place.now.part:
        return f"out: {place.now.part}"
    return place.then.part


def _change(change: Change) -> str:
    return change.change


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
    most_now, most_then = (max(_taking(result.route), key=key, default=None) for key in (_now_m, _then_m))
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
