"""The log of a tank read as a whole: flow since each cleaning, and when the next one is due."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Literal

from optimizer.answers.log_lines import EVERYTHING, Entry, entries_of, lines_of
from optimizer.answers.logged import of_this_tank
from optimizer.answers.measure import need_steady, notes_of
from optimizer.answers.question import stands_now
from optimizer.dirt.course import course
from optimizer.dirt.course_readings import days_until_flow
from optimizer.dirt.daily import daily_of
from optimizer.errors import InputError, Problem
from optimizer.measure import log as log_file
from optimizer.measure.trend import MOST_DAYS, Missed, Reading, Trend, fitted, missed
from optimizer.model.catalog import Catalog
from optimizer.model.logbook import Logbook, NextCleaning, Since
from optimizer.model.measuring import LogEntry, LogRead, RatioBand
from optimizer.model.rig import Rig

OWN_FILLS = 3
"""From so many fills on the last run has a trend of its own; before that it borrows the fall of those before it."""

MOST_BACK_DAYS, MOST_BACK_SPANS = 14, 3
"""A trend is carried back to the cleaning over so many days, or over so many times the days that its fills span."""

WEEK = 7.0
MODEL_DAYS = 730.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """The entries from one cleaning or change to the next; ``began`` holds all of one day (empty: from the start of the log)."""

    date: date
    began: tuple[LogEntry, ...]
    entries: tuple[Entry, ...]

    @property
    def fills(self) -> tuple[Entry, ...]:
        """Those that are part of a trend."""
        return tuple(entry for entry in self.entries if entry.counts)

    def readings(self, number: int) -> list[Reading]:
        """Its fills for a fit, in which it has this number."""
        days = [(entry.date - self.date).days for entry in self.fills if entry.date is not None]
        return [
            Reading(run=number, day=float(day), log_flow=math.log(entry.flow_m3s), relative=entry.own_relative)
            for day, entry in zip(days, self.fills, strict=True)
        ]


def log(path: str | Path, *new: LogEntry, rig: Rig | None = None, flow_m3s: float = 0.0) -> Logbook:
    """Write the new entries (see `optimizer.measure.log`) into a log, then say what it tells: flow since each cleaning and, for a
    wanted flow, the next cleaning.

    A ``rig`` brings fills in other arrangements to what is installed, has the wanted flow where none is given, and adds the date
    by the model of dirt. Raises InputError for a file that is no log or cannot be read or written and for unsteady branches,
    ValueError for an entry of an unknown kind.
    """
    if rig is not None:
        need_steady(rig)
    found = written(path, *new, rig=rig)
    entries = entries_of(found.entries, rig)
    runs = _runs(entries)
    wanted = flow_m3s or (0.0 if rig is None else rig.target_m3s or rig.limits.flow_min_m3s)
    due = _next(runs, wanted) if wanted else None
    modelled = _modelled(runs, rig, wanted) if wanted and rig is not None else None
    return Logbook(
        file=Path(path).name,
        rig="" if rig is None else rig.name,
        added=len(new),
        lines=lines_of(entries),
        since=tuple(_since(run) for run in runs),
        next=due,
        modelled=modelled,
        problems=found.problems,
        notes=() if rig is None or modelled is None else (*notes_of(rig), *daily_of(rig).notes),
    )


def written(path: str | Path, *new: LogEntry, rig: Rig | None = None) -> LogRead:
    """The whole log after the new entries are in it; they, and what is said, must be of the tank that it is the log of.

    Raises InputError for a file that is no log, is another tank's or cannot be read or written, ValueError for an entry of an
    unknown kind.
    """
    path = Path(path)
    new = new if rig is None else tuple(log_file.of_rig(each, rig.name) for each in new)
    try:
        if not log_file.may_be_log(path):
            cure = "Name the file of a log, or one that is not there yet."
            raise InputError(str(path), [Problem(where="file", what="this is no log, and nothing was written to it.", cure=cure)])
        if not new and not path.exists():
            cure = 'Check the name, or begin the log: --volume "10 l" --seconds 61,60.5,62, or --cleaned everything.'
            raise InputError(str(path), [Problem(where="file", what="there is no such file.", cure=cure)])
        if rig is not None:
            of_this_tank(path, log_file.read(path).entries, rig)
        for entry in new:
            log_file.append(path, entry)
        return log_file.read(path)
    except OSError as error:
        cure = "Name a file in a folder of yours, for example tank.log."
        what = f"cannot be {'written' if new else 'read'}: {error.strerror or error}."
        raise InputError(str(path), [Problem(where="file", what=what, cure=cure)]) from None


# -- the trend -----------------------------------------------------------------------------------------------------


def _runs(entries: Sequence[Entry]) -> list[Run]:
    """The dated entries by what began them; runs without a single entry of their own are kept, they are the latest news."""
    dated = [entry for entry in entries if entry.date is not None]
    runs: list[Run] = []
    for entry in dated:
        if entry.date is None:
            continue
        if entry.begins and runs and not runs[-1].entries and runs[-1].date == entry.date:
            runs[-1] = replace(runs[-1], began=(*runs[-1].began, entry.entry))
        elif entry.begins:
            runs.append(Run(date=entry.date, began=(entry.entry,), entries=()))
        elif not runs:
            runs.append(Run(date=entry.date, began=(), entries=(entry,)))
        else:
            runs[-1] = replace(runs[-1], entries=(*runs[-1].entries, entry))
    return runs


def _since(run: Run) -> Since:
    trend = fitted(run.readings(0), 0)
    days = [(entry.date - run.date).days for entry in run.fills if entry.date is not None]
    return Since(
        date=run.date.isoformat(),
        began_by=" and ".join(dict.fromkeys(entry.kind for entry in run.began)),
        fills=len(run.fills),
        days=float(max(days, default=0)),
        start_m3s=None if trend is None or _is_far(days) else math.exp(trend.level),
        per_week=None if trend is None else _per_week(trend),
    )


def _is_far(days: Sequence[int]) -> bool:
    """True for fills that begin so long after the cleaning that their trend says nothing of the flow on its day."""
    return min(days) > max(MOST_BACK_DAYS, MOST_BACK_SPANS * (max(days) - min(days)))


def _per_week(trend: Trend) -> RatioBand:
    half = trend.slope_half
    p10, p50, p90 = (_exp(WEEK * slope) for slope in (trend.slope - half, trend.slope, trend.slope + half))
    return RatioBand(p10=p10, p50=p50, p90=p90)


def _exp(log_ratio: float) -> float:
    return math.exp(min(log_ratio, 700.0))


# -- the next cleaning ---------------------------------------------------------------------------------------------


def _next(runs: Sequence[Run], flow_m3s: float) -> NextCleaning:
    """By the trend of the last run's own fills, or by the fall that all runs since the last change have in common."""
    if not runs or not runs[-1].fills:
        return _nothing(flow_m3s, "no fill")
    last = runs[-1]
    own = last.readings(0)
    trend = fitted(own, 0) if len(own) >= OWN_FILLS else None
    basis = NextCleaning(flow_m3s=flow_m3s, earliest="", likely="", latest="", already=False, by="own fills", fills=len(own))
    if trend is None:
        like = _since_change(runs)
        readings = [reading for number, run in enumerate(like) for reading in run.readings(number)]
        trend = fitted(readings, len(like) - 1)
        basis = replace(basis, by="runs", fills=len(readings), runs=sum(bool(run.fills) for run in like))
    if trend is None:
        return _nothing(flow_m3s, "one fill")
    mark = max(entry.mark_relative for entry in last.fills)
    from_day = own[-1].day
    return _dated(last, missed(trend, flow_m3s, from_day, mark), from_day, basis)


def _since_change(runs: Sequence[Run]) -> Sequence[Run]:
    """The runs with the parts there are now."""
    changes = [n for n, run in enumerate(runs) if any(entry.kind == "change" for entry in run.began)]
    return runs[changes[-1] :] if changes else runs


def _dated(run: Run, found: Missed, from_day: float, basis: NextCleaning) -> NextCleaning:
    return replace(
        basis,
        earliest=_day(run.date, found.earliest),
        likely=_day(run.date, found.likely),
        latest=_day(run.date, found.latest),
        already=found.likely <= from_day,
    )


def _nothing(flow_m3s: float, why: Literal["no fill", "one fill", "no clean", "no flow", "model"]) -> NextCleaning:
    return NextCleaning(flow_m3s=flow_m3s, earliest="", likely="", latest="", already=False, by=why)


def _day(begin: date, after: float) -> str:
    """A day so long after another one; empty for never and beyond the calendar.

    >>> _day(date(2026, 3, 1), 31.0), _day(date(2026, 3, 1), math.inf)
    ('2026-04-01', '')
    """
    if math.isinf(after) or after > MOST_DAYS * 2:
        return ""
    try:
        return (begin + timedelta(days=math.floor(after))).isoformat()
    except OverflowError:
        return ""


def _modelled(runs: Sequence[Run], rig: Rig, flow_m3s: float) -> NextCleaning:
    """By the model of dirt from a thorough clean on, set to the last fill: its flow over that of the model on the same day."""
    last = runs[-1] if runs else None
    if last is None or not last.fills or not _thorough(last):
        return _nothing(flow_m3s, "no clean")
    stands = stands_now(rig, Catalog(parts={}, products=()))
    clean = stands.loop.cleaned()
    walk = course(clean, daily_of(rig), MODEL_DAYS)
    day = min(last.readings(0)[-1].day, MODEL_DAYS)
    modelled_m3s = float(walk.flow_m3s[round(day)])
    if not modelled_m3s > 0.0:
        return _nothing(flow_m3s, "no flow")
    due = days_until_flow(walk, flow_m3s * modelled_m3s / last.fills[-1].flow_m3s)
    there = _day(last.date, due)
    return replace(_nothing(flow_m3s, "model"), likely=there, already=due <= day)


def _thorough(run: Run) -> bool:
    """True for a run that a clean of everything began."""
    cleaned = [entry.data.get("what") for entry in run.began if entry.kind == "cleaning"]
    return any(isinstance(what, list) and EVERYTHING in what for what in cleaned)
