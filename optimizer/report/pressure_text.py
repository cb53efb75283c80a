"""How the water runs, as text: the gauge pressure on its way to the pump, and the jets of a spray bar."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from optimizer.errors import safe
from optimizer.model.results import BranchFlow, Jets, PressurePoint, PressureProfile, Result, WindowLine
from optimizer.report.layout import Block, aligned, bullets, glued, paragraph
from optimizer.report.measures import UNKNOWN, Measures, count, percent

__all__ = ["branch_flow_lines", "jet_lines", "pressure_lines", "window_flow_lines"]

NOTHING = 1e-5
"""A branch that passes less than this share of the whole passes nothing."""

HOW_COUNTED = (
    "Static pressure: depth below the water less losses less the velocity head at that bore. The guard's tail is taken at the "
    "water line; "
)
NO_RIM = "a hose that climbs over the rim has as much less up there as it rises above the water: keep joints there tight."
"""Where the rig does not say how high the rim is."""
RIM = "rim"
SHOWN_M = 0.005
"""Heads are shown to a centimetre; less than half of that is no pressure at all."""

DRAWS_AIR = glued("below 0") + ", where a joint that is not tight draws air"
AT_THE_WATER_LINE = "if the pump stands at the water line: its depth is not given. From "
FLATTENS = glued("below 0") + ", where soft hose may flatten (common practice, no published source for how far it holds)"


def branch_flow_lines(result: Result, measures: Measures) -> list[Block]:
    """Return what passes each branch, now and in the answer, against what its parts need and allow, and how to set throttles."""
    last = "best" if result.best is not None else "spend nothing"
    shown = [line for line in result.branches if line.row in ("now", last)]
    if not shown:
        return []
    heads = [("", "", measures.flow, "of the whole", "window")]
    whole = {row.name: row.flow_m3s for row in (result.now, result.spend_nothing, result.best) if row is not None}
    if result.lasting is not None:
        whole |= {line.told_as: result.lasting.rows[-1].last_m3s for line in shown if line.day}
    rows = [
        (
            safe(line.told_as),
            f"{safe(line.place)}, {safe(line.branch)}",
            measures.bare_flow(line.flow_m3s),
            share,
            _window(line, measures),
        )
        for line in shown
        for share in (percent(line.flow_m3s / whole[line.told_as] if whole[line.told_as] > 0.0 else 0.0),)
    ]
    lines = ["Flow through the branches", *aligned([*heads, *rows], longest=50)]
    for line in shown:
        if line.throttled:
            held = measures.flow_text(line.flow_m3s)
            said = f"{safe(line.told_as)}: set the throttle in {safe(line.branch)} so that {held} pass that branch."
            lines += paragraph(said, "  ", "    ")
        if whole[line.told_as] > 0.0 and line.flow_m3s <= NOTHING * whole[line.told_as]:
            lines += paragraph(f"{safe(line.told_as)}: nothing passes {safe(line.branch)}.", "  ", "    ")
    return lines


def window_flow_lines(result: Result, measures: Measures) -> list[Block]:
    """Return what passes each inline device in every row (as dirty as it is now, and after the changes) against its window."""
    if not result.windows:
        return []
    heads = [("", "", measures.flow, "window", "")]
    rows = [
        (
            safe(line.row),
            f"{safe(line.place)}",
            measures.bare_flow(line.flow_m3s),
            _window(line, measures),
            "" if line.kept else "outside",
        )
        for line in result.windows
    ]
    return ["Flow through the inline devices, against their windows", *aligned([*heads, *rows], longest=50)]


def _window(line: BranchFlow | WindowLine, measures: Measures) -> str:
    least, most = line.flow_min_m3s, line.flow_max_m3s
    if least <= 0.0 and math.isinf(most):
        return ""
    if math.isinf(most):
        return f"at least {measures.bare_flow(least)}"
    return f"at most {measures.bare_flow(most)}" if least <= 0.0 else f"{measures.bare_flow(least)} to {measures.bare_flow(most)}"


def pressure_lines(result: Result, measures: Measures) -> list[Block]:
    """Return the pressures at the places up to the pump and the canister, now and in the answer, and the margins.

    Without a best bundle the answer is to spend nothing. No lines when nothing flows.
    """
    last = "best" if result.best is not None else "spend nothing"
    shown = [profile for profile in result.profile if profile.name in ("now", last)]
    if not shown:
        return []
    names = [safe(profile.name) for profile in shown]
    heads = [("", *(cell for name in names for cell in (name, ""))), ("", *(("in", "out") * len(shown)))]
    places = dict.fromkeys((point.place, point.end == RIM) for profile in shown for point in _to_pump(profile))
    rows = [
        (f"{safe(place)}{', at the rim' if rim else ''}", *(cell for p in shown for cell in _ends(p, place, rim, measures)))
        for place, rim in places
    ]
    lines = [f"Gauge pressure on the way to the pump, in {measures.head} of water", *aligned([*heads, *rows], longest=50)]
    for profile in shown:
        lines += bullets(_margins(profile, measures))
    return lines + paragraph(HOW_COUNTED + _rim_words(shown, measures), "  ")


def _rim_words(shown: Sequence[PressureProfile], measures: Measures) -> str:
    rim = next((profile.rim_m for profile in shown if profile.rim_m is not None), None)
    if rim is None:
        return NO_RIM
    return f"the hose climbs {measures.length_text(rim)} above it and crosses the rim there."


def _to_pump(profile: PressureProfile) -> Iterator[PressurePoint]:
    """The points of positions (not of adapters in joints) up to the outlet of the pump."""
    behind = next((n for n, point in enumerate(profile.points) if not point.suction), len(profile.points))
    yield from (point for point in profile.points[: behind + 1] if not point.in_joint)


def _ends(profile: PressureProfile, place: str, rim: bool, measures: Measures) -> tuple[str, str]:
    """Pressures at inlet and outlet of a place, or that at the rim that it climbs over."""
    at = {point.end: measures.bare_head(point.head_m) for point in profile.points if point.place == place}
    if rim:
        return at.get(RIM, UNKNOWN), ""
    return at.get("inlet", UNKNOWN), at.get("outlet", UNKNOWN)


def _margins(profile: PressureProfile, measures: Measures) -> Iterator[str]:
    name, joint, hose = safe(profile.name), profile.joint, profile.hose
    outside = "below the water line" if profile.rim_m is None else "outside the tank"
    said = f"{name}: lowest on the way to the pump {_where(profile.lowest, measures)}; at joints {outside} at least "
    if _is_sucked_at(joint) and joint.level_m >= 0.0 and not profile.depth_known:
        deep = measures.head_text(math.ceil(-100.0 * joint.head_m) / 100.0)
        yield f"{said}{_where(joint, measures)}, {AT_THE_WATER_LINE}{deep} below it on no joint draws air."
    else:
        yield said + _where(joint, measures) + (f": {DRAWS_AIR}." if _is_sucked_at(joint) else ", so none draws air.")
    if hose is not None and _is_sucked_at(hose):
        yield f"{name}: in hoses {outside} at least {_where(hose, measures)}: {FLATTENS}."
    canister = f"{name}: in the canister {measures.head_text(profile.canister_m)}, with the outlet shut "
    canister += measures.head_text(profile.canister_shut_m)
    rated = measures.bare_head(profile.canister_rating_m)
    yield f"{canister}; " + (
        "no rating is stated, so it is held to none." if rated == UNKNOWN else f"it is rated for {rated} {measures.head}."
    )


def _is_sucked_at(point: PressurePoint) -> bool:
    """True below 0, as far as that is more than the last digit shown: a bundle held at the limit of 0 draws no air."""
    return point.head_m < -SHOWN_M


def _where(point: PressurePoint, measures: Measures) -> str:
    if point.end == RIM:
        return f"{measures.head_text(point.head_m)} where {safe(point.place)} climbs over the rim"
    return f"{measures.head_text(point.head_m)} at the {safe(point.end)} of {safe(point.place)}"


def jet_lines(jets: Sequence[Jets], measures: Measures) -> list[Block]:
    """Return a table of the jets of each row; no lines when no outlet is a spray bar."""
    if not jets:
        return []
    heads = [
        ("", "holes", "diameter", "slowest", "fastest", "evenness"),
        ("", "", measures.bore, measures.speed, measures.speed, "least/most"),
    ]
    rows = [
        (
            safe(jet.name),
            count(jet.holes),
            measures.bare_bore(jet.hole_m),
            measures.bare_speed(min(jet.speeds_ms)),
            measures.bare_speed(max(jet.speeds_ms)),
            percent(jet.evenness),
        )
        for jet in jets
    ]
    return ["Jets of the spray bar", *aligned([*heads, *rows])]
