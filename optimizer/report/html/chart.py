"""A drawing of flow over days for a page of the desk: points, lines and marks with their places in a view box, and no style.

It is drawn by the template ``chart.html``; colours belong to the page's style sheet, which knows the dark.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date

from optimizer.model.ageing import Ageing
from optimizer.model.logbook import Logbook, Since
from optimizer.model.verified import Verified
from optimizer.report.measures import Measures, number
from optimizer.report.verify_text import flows

__all__ = ["Bar", "Chart", "Dot", "Line", "Mark", "ageing_chart", "log_chart", "verify_bars"]

WIDE, HIGH = 480.0, 270.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 470.0, 26.0, 236.0
LEAST_DAYS = 7.0
MOST_AHEAD = 1.0
"""A next cleaning is drawn where it comes within so many times the days that the log spans."""

ROOM = 0.04
TWO_SIDED_95 = 1.96
ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A fill: its place, how far its 95 % reach up and down, what it is in words, and whether it counts for the trend."""

    x: float
    y: float
    low: float
    high: float
    words: str
    counts: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line through places, of a ``kind``: trend, ahead, clean or undone."""

    kind: str
    points: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A line across the drawing at a place, with a few words: a tick, an event, a level, the likely day of something."""

    at: float
    text: str = ""
    to: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A flow as a bar that ends at ``at`` (shares of the width), with the band that holds it in 8 of 10 cases."""

    name: str
    at: float
    low: float
    high: float
    flow_m3s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """All there is to draw. ``due`` reaches from the earliest day to the latest, ``level`` is a flow that is wanted."""

    words: str
    unit: str
    days: tuple[Mark, ...]
    flows: tuple[Mark, ...]
    dots: tuple[Dot, ...] = ()
    lines: tuple[Line, ...] = ()
    events: tuple[Mark, ...] = ()
    level: Mark | None = None
    due: Mark | None = None
    box: str = f"0 0 {WIDE:g} {HIGH:g}"
    edges: tuple[float, float, float, float] = field(default=(LEFT, RIGHT, TOP, BOTTOM))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plane:
    """Days and flows (as shown) to places."""

    first: float
    last: float
    low: float
    high: float

    def x(self, day: float) -> float:
        return round(LEFT + (RIGHT - LEFT) * (day - self.first) / (self.last - self.first), 1)

    def y(self, flow: float) -> float:
        return round(BOTTOM - (BOTTOM - TOP) * (flow - self.low) / (self.high - self.low), 1)

    def line(self, kind: str, points: Iterable[tuple[float, float]]) -> Line:
        return Line(kind=kind, points=" ".join(f"{self.x(day):g},{self.y(flow):g}" for day, flow in points))

    def flows(self) -> tuple[Mark, ...]:
        step = _step((self.high - self.low) / 5.0)
        first = math.ceil(self.low / step - 1e-9)
        values = [n * step for n in range(first, math.floor(self.high / step + 1e-9) + 1)]
        return tuple(Mark(at=self.y(value), text=number(value, 0)) for value in values)


def _plane(days: Sequence[float], flows: Sequence[float], room: float = 0.0) -> _Plane:
    """All of the points, with round flows at its ends, and a share of its days as ``room`` on either side."""
    low, high = min(flows), max(flows)
    step = _step(max(high - low, 0.05 * high) / 4.0)
    first, last = min(days), max(days)
    room *= max(last - first, LEAST_DAYS)
    return _Plane(
        first=first - room,
        last=max(last, first + LEAST_DAYS) + room,
        low=max(math.floor(low / step) * step, 0.0),
        high=math.ceil(high / step + 1e-9) * step,
    )


def _step(least: float) -> float:
    """The next round number."""
    power = 10.0 ** math.floor(math.log10(max(least, 1e-9)))
    return next(power * each for each in ROUND if power * each >= least * (1 - 1e-9))


# -- the log -------------------------------------------------------------------------------------------------------


def log_chart(told: Logbook, measures: Measures) -> Chart | None:
    """The fills of a log over days, with cleanings, changes, trends and the next cleaning; None where no fill has a day."""
    fills = [line for line in told.lines if line.flow_m3s > 0.0 and line.date]
    if not fills:
        return None
    flow = measures.flow_of
    dated = [_day(line.date) for line in told.lines if line.date]
    due = _due(told, dated)
    wanted = [] if told.next is None else [flow(told.next.flow_m3s)]
    reach = [flow(line.flow_m3s * (1.0 + sign * TWO_SIDED_95 * line.relative)) for line in fills for sign in (-1.0, 1.0)]
    plane = _plane([*dated, *due], [*reach, *wanted], ROOM)
    return Chart(
        words=_log_words(told, measures, len(fills)),
        unit=measures.flow,
        days=_dates(plane),
        flows=plane.flows(),
        dots=tuple(_dot(line.date, line.flow_m3s, line.relative, not line.left_out, plane, measures) for line in fills),
        lines=tuple(_trends(told, plane, measures, max(due, default=0.0))),
        events=tuple(_events(told, plane)),
        level=None if told.next is None else Mark(at=plane.y(wanted[0]), text=f"wanted {measures.flow_text(told.next.flow_m3s)}"),
        due=Mark(at=plane.x(due[0]), to=plane.x(due[-1]), text="clean again") if due else None,
    )


def _day(text: str) -> float:
    return float(date.fromisoformat(text).toordinal())


def _due(told: Logbook, dated: Sequence[float]) -> list[float]:
    """The earliest and the latest day of the next cleaning, where they can be drawn beside the log."""
    found = told.next
    if found is None or found.already or not (found.earliest and found.latest):
        return []
    days = [_day(found.earliest), _day(found.latest)]
    span = max(max(dated) - min(dated), 4.0 * LEAST_DAYS)
    return days if days[-1] <= max(dated) + MOST_AHEAD * span else []


def _dot(day: str, flow_m3s: float, relative: float, counts: bool, plane: _Plane, measures: Measures) -> Dot:
    low, high = (measures.flow_of(flow_m3s * (1.0 + sign * TWO_SIDED_95 * relative)) for sign in (-1.0, 1.0))
    return Dot(
        x=plane.x(_day(day)),
        y=plane.y(measures.flow_of(flow_m3s)),
        low=plane.y(low),
        high=plane.y(high),
        words=f"{day}: {measures.flow_text(flow_m3s)}",
        counts=counts,
    )


def _trends(told: Logbook, plane: _Plane, measures: Measures, until: float) -> Iterator[Line]:
    for since in told.since:
        if since.start_m3s is None or since.per_week is None:
            continue
        begin, end = _day(since.date), _day(since.date) + since.days
        yield plane.line("trend", _falling(since, begin, end, measures))
        if since is told.since[-1] and until > end:
            yield plane.line("ahead", _falling(since, end, until, measures))


def _falling(since: Since, begin: float, end: float, measures: Measures) -> Iterator[tuple[float, float]]:
    week = 1.0 if since.per_week is None else since.per_week.p50
    zero = _day(since.date)
    for n in range(13):
        day = begin + (end - begin) * n / 12.0
        yield day, measures.flow_of((since.start_m3s or 0.0) * week ** ((day - zero) / 7.0))


def _events(told: Logbook, plane: _Plane) -> Iterator[Mark]:
    """Cleanings and changes, those of one day together."""
    found: dict[str, dict[str, None]] = {}
    for line in told.lines:
        if line.kind in ("cleaning", "change") and line.date:
            found.setdefault(line.date, {})[line.kind] = None
    for day, kinds in found.items():
        yield Mark(at=plane.x(_day(day)), text=" and ".join(kinds))


def _dates(plane: _Plane) -> tuple[Mark, ...]:
    days = sorted({round(plane.first + (plane.last - plane.first) * n / 3.0) for n in range(4)})
    return tuple(Mark(at=plane.x(day), text=date.fromordinal(day).isoformat()) for day in days)


def _log_words(told: Logbook, measures: Measures, fills: int) -> str:
    dates = [line.date for line in told.lines if line.date]
    wanted = "" if told.next is None else f" The line across is the wanted flow, {measures.flow_text(told.next.flow_m3s)}."
    return (
        f"Flow of {fills} fill{'s' if fills > 1 else ''} from {min(dates)} to {max(dates)}; upright lines are cleanings and "
        f"changes, bars what is 95 % sure.{wanted}"
    )


# -- between two cleanings -----------------------------------------------------------------------------------------


def ageing_chart(told: Ageing, measures: Measures) -> Chart:
    """Flow against days since a clean of everything, and as it is if nothing is done, with the day on which it falls short."""
    flow = measures.flow_of
    clean = [(row.days, flow(row.flow_m3s)) for row in told.rows]
    undone = [(row.days, flow(row.undone_m3s)) for row in told.rows]
    is_dirty = any(abs(one[1] - other[1]) > 0.005 * one[1] for one, other in zip(clean, undone, strict=True))
    plane = _plane([day for day, _ in clean], [value for _, value in (*clean, *(undone if is_dirty else ()))])
    step = max(_step(told.days / 4.0), 1.0)
    missed = next((miss for miss in sorted(told.missing, key=lambda miss: miss.day) if 0.0 < miss.day < math.inf), None)
    return Chart(
        words=f"Delivered flow over {number(told.days, 0)} days after a clean of everything"
        + ("; broken: as it is now, if nothing is done." if is_dirty else "."),
        unit=measures.flow,
        days=tuple(Mark(at=plane.x(n * step), text=f"day {n * step:.0f}") for n in range(int(told.days // step) + 1)),
        flows=plane.flows(),
        lines=(plane.line("clean", clean), *([plane.line("undone", undone)] if is_dirty else [])),
        events=() if missed is None else (Mark(at=plane.x(missed.day), text="clean by then"),),
    )


# -- before and after ----------------------------------------------------------------------------------------------


def verify_bars(told: Verified) -> tuple[Bar, ...]:
    """The flows of a verdict as bars, of which the longest with its band is as wide as there is room."""
    rows = flows(told)
    most = max(band.p90_m3s for _, band in rows)
    return tuple(
        Bar(
            name=name,
            at=round(band.p50_m3s / most, 4),
            low=round(max(band.p10_m3s, 0.0) / most, 4),
            high=round(band.p90_m3s / most, 4),
            flow_m3s=band.p50_m3s,
        )
        for name, band in rows
    )
