"""Fills of a log that say something of a rig as it is now: they join the rig's own."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from optimizer.answers.log_lines import EVERYTHING
from optimizer.errors import InputError, Problem
from optimizer.measure import log
from optimizer.measure.arranged import CLEANED
from optimizer.model.fill import CLEAN, TimedFill
from optimizer.model.measuring import LogEntry
from optimizer.model.rig import Rig

NEAR_DAYS = 14
"""Dirt changes little within so many days: common practice, no published source."""

NO_DAY = date.min
"""Stands for the day of an entry that has none: those of a log are passed over, those of the rig file are of the rig as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Event:
    """A fill, a cleaning of something or of everything, or a change, with its day."""

    day: date
    kind: str
    everything: bool = False
    fill: TimedFill | None = None


def with_log(rig: Rig, path: str | Path) -> Rig:
    """The rig with the fills of a log beside its own, as far as their dirt is known; the rig's own are looked at in the same way.

    Fills before the last change are of other parts. One on the day of a cleaning of everything, after it, is of the clean loop.
    Of the others those count that were made since the last cleaning and at most `NEAR_DAYS` before the last fill. A note says how
    many there are. Raises InputError for a file that is not there, cannot be read or is no log.

    Older fills are left out, not brought to today by the model of dirt: its days are priors, and a last fill that was measured to
    1 % would be moved by several.
    """
    undated = tuple(fill for fill in rig.fills if _day(fill.date) == NO_DAY)
    own = [_Event(day=_day(fill.date), kind="fill", fill=fill) for fill in rig.fills if fill not in undated]
    logged = [each for each in map(_event, _read(Path(path))) if each.day != NO_DAY]
    new = [each for each in logged if each.kind != "fill" or each.fill not in rig.fills]
    events = sorted([*own, *new], key=lambda one: one.day)  # on one day the rig's own come first, then in the order of the log
    found = tuple(_fitting(events))
    made = sum(each.fill is not None for each in events)
    of = f"with {Path(path).name} there are {made} dated fills"
    note = f"fill.log: {of}; {len(found)} of them say something of the loop as it is now"
    return replace(rig, fills=(*undated, *found), notes=(*rig.notes, note))


def _read(path: Path) -> tuple[LogEntry, ...]:
    try:
        if not path.exists():
            cure = 'Check the name, or begin the log with "fullbore log".'
            raise InputError(str(path), [Problem(where="--log", what="there is no such file.", cure=cure)])
        if not log.may_be_log(path):
            raise InputError(str(path), [Problem(where="--log", what="this is no log.", cure="Name the file of a log.")])
        return log.read(path).entries
    except OSError as error:
        what = f"cannot be read: {error.strerror or error}."
        raise InputError(str(path), [Problem(where="--log", what=what, cure="Name the file of a log.")]) from None


def _event(entry: LogEntry) -> _Event:
    what = entry.data.get("what")
    fill = None
    if entry.kind == "fill":
        try:
            (fill,) = log.fills_of([entry])
        except ValueError:
            return _Event(day=NO_DAY, kind="")
    return _Event(day=_day(entry.date), kind=entry.kind, everything=isinstance(what, list) and EVERYTHING in what, fill=fill)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return NO_DAY


def _fitting(events: Sequence[_Event]) -> Iterator[TimedFill]:
    """The fills whose dirt is known."""
    changed = max((n for n, each in enumerate(events) if each.kind == "change"), default=-1)
    on = events[changed].day if changed >= 0 else NO_DAY
    # parts are cleaned and changed in one go, whichever is written first
    since = [each for n, each in enumerate(events) if n > changed or (each.kind == "cleaning" and each.day == on)]
    cleaned = max((n for n, each in enumerate(since) if each.kind == "cleaning"), default=-1)
    last = max((each.day for each in since if each.fill is not None), default=NO_DAY)
    clean_day = NO_DAY
    for n, each in enumerate(since):
        if each.kind == "cleaning":
            clean_day = each.day if each.everything else NO_DAY
        if each.fill is not None and each.day == clean_day:
            yield _of_the_clean_loop(each.fill)
        elif each.fill is not None and n > cleaned and (last - each.day).days <= NEAR_DAYS:
            yield each.fill


def _of_the_clean_loop(fill: TimedFill) -> TimedFill:
    """The fill with the word for a clean loop in the place of any for a part of one."""
    return replace(fill, state=(CLEAN, *(word for word in fill.state if word not in CLEANED)))
