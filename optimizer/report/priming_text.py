"""Air in the loop, as text: how it is primed, where air comes from, and which joints of this rig draw it."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.care import AirCheck, AirJoint
from optimizer.model.results import Result
from optimizer.model.said import Quantity, Said
from optimizer.report.layout import Block, bullets, glued, paragraph
from optimizer.report.measures import Measures

__all__ = ["bubbles", "lines"]

WHY = (
    "A leak is a hole between water and air, and the side with more pressure goes through it. The pump draws on the suction "
    "side, so the pressure there is the depth below the water less all losses up to that place and less the speed of the water. "
    "Where that is below 0, a joint that is not tight stays dry and draws air; where it is above 0, it drips. So a pump that "
    "rattles and an outlet that spits bubbles without a drop on the floor point to a joint below 0."
)
SAFE = (
    "Unplug everything in and on the tank before you reach in; a drip loop on every cord. Local codes and licensed electricians "
    "decide on sockets and RCD (GFCI)."
)


def lines(result: Result, measures: Measures) -> list[Block]:
    """Return why a leak draws air, the joints of this rig that would, and check lists for priming and for bubbles; no lines for
    an answer that does not know them."""
    if result.care is None:
        return []
    air = result.care.air
    told = ["Air and priming (common practice, no published source)", *paragraph(WHY, "  ")]
    told += bullets(_joints(air, measures))
    told += ["  To prime, in this order:", *bullets(_priming(air, measures), indent="    ")]
    return [*told, "  When bubbles come and do not stop:", *bullets(_bubbles(air, measures), indent="    ")]


def bubbles(air: AirCheck, measures: Measures) -> list[Block]:
    """Return where to look for air in a rig as it is: the joints that draw it, how it is found, and how the loop is filled."""
    return bullets([*_joints(air, measures), *_bubbles(air, measures), _self_priming(air, measures)])


def _joints(air: AirCheck, measures: Measures) -> Iterator[str]:
    rows = dict.fromkeys(joint.row for joint in air.joints)
    for row in rows:
        named = ", ".join(_joint(joint, measures) for joint in air.joints if joint.row == row)
        yield f"{safe(row)}: these draw air if they are not tight: {named}."
    if air.nearest is not None and air.nearest.row not in rows:
        yield f"{safe(air.nearest.row)}: no joint below 0; the nearest is {_joint(air.nearest, measures)}."
    if air.missing:
        yield f"Not given, so joints may be missing here: {', '.join(map(safe, air.missing))}."


def _joint(joint: AirJoint, measures: Measures) -> str:
    before, after = map(safe, joint.between)
    return f"{before} to {after} ({measures.head_text(joint.head_m)})"


PRIMER_M = 0.5
"""What a hand primer lifts the water by at most: common practice, no published source."""


def _self_priming(air: AirCheck, measures: Measures) -> str:
    """Whether the canister fills itself, or its primer fills it."""
    dry = f"Full of air the pump lifts water by {measures.bore_text(air.dry_head_m)} at most"
    if air.below_m is not None and air.below_m <= 0.0:
        return f"{dry}, and it stands no lower than the water, so nothing falls into it: fill it by hand before every start."
    primer = f"{measures.length_text(PRIMER_M)} (common practice)"
    if air.rim_m is None:
        return f"{dry}, so not over a rim. How high that is, is not given (site.rim); a hand primer manages about {primer}."
    if air.rim_m <= air.dry_head_m:
        return "The hoses rise over nothing: water falls in by itself as soon as the air is let out."
    over = f"{dry}, so not over the rim, {measures.length_text(air.rim_m)} above the water: it does not prime by itself"
    if air.rim_m > PRIMER_M:
        return (
            f"{over}, nor by a hand primer, which manages about {primer}: fill the suction hose by hand, or fit a non-return "
            "valve so that it stays full."
        )
    return f"{over}. A hand primer manages about {primer}; a canister without one is filled by hand."


def _priming(air: AirCheck, measures: Measures) -> Iterator[str]:
    yield SAFE
    yield _self_priming(air, measures)
    filled = Said("about ", Quantity(air.fill_m3, "volume", f"{air.fill_m3 * 1e3:.1f} l"))
    yield (
        f"Clean the seal of the lid and wet it with tank water; fill the canister and the suction hose with tank water, "
        f"{glued(measures.words(filled))} in all with the return hose. Never with the mouth."
    )
    over = "" if air.rim_m is None else f", which here stands {measures.length_text(air.rim_m)} above the water"
    yield (
        f"The suction hose must be full over the rim{over}: then water falls in by itself, and the outlet side lets out the air. "
        "Open the suction side first, then the outlet side, and wait until it stops gurgling."
    )
    yield (
        "Plug in last, with dry hands. Tilt the canister a little this way and that while it runs; switch it off for a few "
        "seconds and on again for what is left. A pump that hums without water must not run dry: unplug it and fill again."
    )


def _bubbles(air: AirCheck, measures: Measures) -> Iterator[str]:
    depth = "" if air.guard_m is None else f" (here its lowest opening is {measures.length_text(air.guard_m)} below)"
    yield f"Look at the guard: so near to the surface that it pulls a whirl, or with an air stone or the jet beside it{depth}."
    yield (
        "The first hours after media were rinsed or filled anew bubbles are air out of their pores, and they end by themselves."
    )
    if air.joints:
        before, after = map(safe, min(air.joints, key=lambda joint: joint.head_m).between)
        yield (
            f"Then the joints named above, the lowest first: {before} to {after}. Push home, clamp, seal; wet paper held "
            "round it shows the leak."
        )
    else:
        yield "Then the seal of the lid and every joint before the pump."
    yield (
        "Clean guard and media and look again: what clogs before the pump lowers the pressure at every joint behind it, so air "
        "that comes weeks after a cleaning is dirt as much as a leak."
    )
