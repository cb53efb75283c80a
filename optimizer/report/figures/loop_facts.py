"""What the figure of the loop and its drawing read off the way of the water: what is told of a place, and which is tightest."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from optimizer.model.results import Change, Result
from optimizer.model.route import RoutePlace

__all__ = ["after_name", "is_shown", "narrowest", "taking", "what_stands"]

SMALL = 0.02
"""A joint that takes less of all head than this is not drawn."""

TRAYS = {"clean": "clean", "remove": "empty", "swap": "new in", "add": "fill"}
"""What is done to trays, in words."""


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
    sides = [(place.now.joint_m, _total(each.now.head_m for each in taking(route)))]
    sides.append((place.then.joint_m, _total(each.then.head_m for each in taking(route))))
    return any(joint > SMALL * total > 0.0 for joint, total in sides)


def taking(route: Sequence[RoutePlace]) -> list[RoutePlace]:
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
