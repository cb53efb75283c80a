"""Where the head goes: the share of each place before and after, and the narrowest spot."""

import math

from optimizer.answers.rows import Standing
from optimizer.model.results import HeadShare, Spot
from optimizer.model.rig import Rig


def head_shares(rig: Rig, before: Standing, after: Standing) -> tuple[HeadShare, ...]:
    """Head lost at every position and in all joints together, in the order of the water; pumps put head in and are left out."""
    old, new = _by_place(before), _by_place(after)
    places = [p.name for p in rig.positions if p.kind != "pump"] + ["joints"]
    total_old, total_new = sum(old.values()), sum(new.values())
    return tuple(
        HeadShare(
            place=place,
            before_m=old.get(place, 0.0),
            before_share=_share(old.get(place, 0.0), total_old),
            after_m=new.get(place, 0.0),
            after_share=_share(new.get(place, 0.0), total_new),
        )
        for place in places
    )


def _by_place(stands: Standing) -> dict[str, float]:
    heads: dict[str, float] = {}
    for element, head in zip(stands.elements, stands.heads_m, strict=True):
        if element.curve is None:
            place = element.at or "joints"
            heads[place] = heads.get(place, 0.0) + head
    return heads


def _share(head: float, total: float) -> float:
    return head / total if total > 0.0 else 0.0


def tightest(stands: Standing) -> Spot | None:
    """The narrowest bore that all the water passes, and the mean speed there; None when no bore is known."""
    known = [element for element in stands.elements if element.bore_m > 0.0]
    if not known:
        return None
    narrow = min(known, key=lambda element: element.bore_m)
    speed = stands.flow_m3s / (math.pi * narrow.bore_m**2 / 4.0)
    return Spot(place=narrow.place, bore_m=narrow.bore_m, speed_ms=speed)
