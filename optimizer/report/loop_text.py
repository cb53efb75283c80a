"""A loop as it stands as plain text: what flows, and what the water finds in its order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.errors import safe
from optimizer.model.results import Row
from optimizer.model.route import FORK, RoutePlace
from optimizer.model.standing_loop import StandingLoop
from optimizer.report.figures.loop_facts import is_shown, narrowest
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.layout import PLAIN, Block, Screen, aligned, finished, paragraph
from optimizer.report.measured_lines import assumed
from optimizer.report.measures import Measures, percent, system, turnover
from optimizer.report.plan_lines import opening

__all__ = ["PlaceLine", "headline", "lines_of", "render", "sentences"]

ALIKE = 0.005
"""Flows less than half a percent apart are not told apart in words."""

STEP = "  "


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceLine:
    """What is told of one place of the route: what stands there, the head that it takes (a pump: gives) and its ``share`` of all
    that is lost, the same of the joint in front of it (0: too little to tell), how deep in branches it is, and whether it or that
    joint is the tightest spot."""

    place: RoutePlace
    holds: str
    share: float
    joint_share: float
    depth: int
    tight: bool
    tight_joint: bool


def headline(told: StandingLoop, units: str = "metric") -> str:
    """Return what flows, on one line. `units` is "metric" or "us", else ValueError is raised."""
    return finished([" ".join(sentences(told, system(units)))])


def render(told: StandingLoop, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole answer as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    said = (*sentences(told, measures), *by_fills_sentences(told.by_fills, measures))
    lines = opening(told.rig, "the loop as it stands", said)
    lines += ["", "In the order of the water", *_table(told, measures)]
    lines += paragraph("head: what a place takes of what the pump gives; share: of all that is taken.", STEP, STEP)
    return finished([*lines, *assumed(told.notes, measures)], screen)


def sentences(told: StandingLoop, measures: Measures) -> tuple[str, ...]:
    """Return what flows now, once cleaned, and what is wished, and where it is tightest. Spaces inside quantities are
    `layout.GLUE`."""
    return (_flows(told, measures), *_tightest(told, measures))


def _flows(told: StandingLoop, measures: Measures) -> str:
    now, free = told.now, told.spend_nothing
    if told.status == "no flow":
        said = "Nothing flows now: the pump cannot lift the water"
    else:
        said = f"It delivers {_flow(now, measures)} now"
    if not now.breaks and abs(free.flow_m3s - now.flow_m3s) <= ALIKE * now.flow_m3s:
        said += ", and no clean or adjustment would change that"
    else:
        held = ", throttled to keep within the limits" if free.held_by else ""
        said += f", and {measures.flow_text(free.flow_m3s)} cleaned and adjusted for nothing{held}"
    if not told.target_m3s:
        return f"{said}."
    return f"{said}; {measures.flow_text(told.target_m3s)} ({turnover(told.target_per_hour)} per hour) are wished."


def _flow(row: Row, measures: Measures) -> str:
    return f"{measures.flow_text(row.flow_m3s)} ({turnover(row.turnover_per_hour)} per hour)"


def _tightest(told: StandingLoop, measures: Measures) -> Iterator[str]:
    spot = told.tightest
    if spot is not None:
        bore, speed = measures.bore_text(spot.bore_m), measures.speed_text(spot.speed_ms)
        yield f"Tightest: {safe(spot.place)}, {bore}, where the water runs at {speed}."


def lines_of(told: StandingLoop) -> tuple[PlaceLine, ...]:
    """Return what is told of each place, in the order of the water; tees are told by their branches."""
    tight = narrowest(told.route, now=True)
    depths = _depths(told.route)
    return tuple(
        PlaceLine(
            place=place,
            holds=place.now.part,
            share=told.share(place.now.head_m),
            joint_share=told.share(place.now.joint_m) if is_shown(place, told.route) else 0.0,
            depth=depths[n],
            tight=tight == (place.place, False),
            tight_joint=tight == (place.place, True),
        )
        for n, place in enumerate(told.route)
    )


def _depths(route: Sequence[RoutePlace]) -> list[int]:
    """How many places with branches are around each place."""
    known: dict[str, int] = {}
    depths = []
    for place in route:
        depth = known.get(place.fork, -1) + 1
        depths.append(depth)
        if place.kind == FORK:
            known[place.place] = depth
    return depths


def _table(told: StandingLoop, measures: Measures) -> list[Block]:
    rows: list[tuple[str, ...]] = [("", "", "head", "share", "passes"), ("", "", measures.head, "", measures.flow)]
    for line in lines_of(told):
        place = line.place
        if place.kind == "tee" or not (place.now.part or place.kind == FORK):
            continue
        before = STEP * line.depth
        if line.joint_share or line.tight_joint:
            cells = (measures.bare_head(place.now.joint_m), percent(line.joint_share), measures.bare_flow(place.now.flow_m3s))
            rows.append((f"{before}joint", _mark(line.tight_joint), *cells))
        rows.append((f"{before}{safe(place.place)}", _mark(line.tight), *_cells(line, measures)))
    return aligned(rows, longest=44)


def _mark(tight: bool) -> str:
    return "tightest" if tight else ""


def _cells(line: PlaceLine, measures: Measures) -> tuple[str, str, str]:
    now = line.place.now
    passes = measures.bare_flow(now.flow_m3s)
    if line.place.kind == "pump":
        return (f"gives {measures.bare_head(now.head_m)}", "", passes)
    return (measures.bare_head(now.head_m), percent(line.share), passes)
