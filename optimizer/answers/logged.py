"""Fills of a log that say something of a rig as it is now: they join the rig's own."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from optimizer.answers.log_lines import EVERYTHING
from optimizer.errors import InputError, Problem, quoted
from optimizer.measure import log
from optimizer.measure.fill_loop import CLEANED
from optimizer.model.fill import CLEAN, TimedFill
from optimizer.model.measuring import LogEntry
from optimizer.model.rig import Rig
from optimizer.model.said import Note

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
    many there are. Raises InputError for a file that is not there, cannot be read, is no log or that of another tank.

    Older fills are left out, not brought to today by the model of dirt: its days are priors, and a last fill that was measured to
    1 % would be moved by several.
    """
    entries = _read(Path(path))
    of_this_tank(path, entries, rig)
    events = _events(rig, entries)
    return _joined(rig, Path(path), events, tuple(_fitting(events)), "as it is now")


def each_with_log(rigs: Sequence[Rig], path: str | Path) -> dict[int, Rig]:
    """As `with_log` of every rig whose tank the log is of, by the rig's `id`. Raises InputError when it is of none of them."""
    entries = _read(Path(path))
    of_this_tank(path, entries, *rigs)
    names = log.rigs_of(entries)
    return {id(rig): with_log(rig, path) for rig in rigs if not names or rig.name in names}


def both_with_log(before: Rig, after: Rig, path: str | Path) -> tuple[Rig, Rig]:
    """Two rigs, before and after some work, with the fills of a log beside their own: the last before it, and the first after it.

    The work is the last change of the log, or where it has none the last cleaning. What was filled within `NEAR_DAYS` of the
    first fill after it and before the next cleaning is of the loop as the work left it: dirt of later weeks is not the
    work's. Raises InputError as `with_log`, and for a log that holds neither a change nor a cleaning.
    """
    entries = _read(Path(path))
    of_this_tank(path, entries, before, after)
    old, new = (_events(rig, entries) for rig in (before, after))
    day = _day_of_work(old)
    if day == NO_DAY:
        cure = 'Enter it with "fullbore log" and --changed or --cleaned, and --date for its day.'
        what = "holds no dated change and no cleaning, so before and after cannot be told apart."
        raise InputError(str(path), [Problem(where="--log", what=what, cure=cure)])
    first, last = tuple(_fitting(list(_until(old, day)))), tuple(_fitting(list(_soon(new, day))))
    return (
        _joined(before, Path(path), old, first, f"as it was before {day.isoformat()}"),
        _joined(after, Path(path), new, last, f"as the work of {day.isoformat()} left it"),
    )


def _day_of_work(events: Sequence[_Event]) -> date:
    """The day of the last change, or without one of the last cleaning."""
    cleaned, changed = (max((e.day for e in events if e.kind == kind), default=NO_DAY) for kind in ("cleaning", "change"))
    return cleaned if changed == NO_DAY else changed


def _until(events: Sequence[_Event], day: date) -> Iterator[_Event]:
    """What was before the work of a day. A fill of that day is before it when it was written before it. Cleanings that no fill
    follows are part of the work."""
    first = next(n for n, each in enumerate(events) if each.day == day and each.kind != "fill")
    last = max((n for n in range(first) if events[n].fill is not None), default=-1)
    yield from events[: last + 1]


def _soon(events: Sequence[_Event], day: date) -> Iterator[_Event]:
    """The work of a day and the fills soon after it, until something is cleaned or changed again."""
    begin = next(n for n, each in enumerate(events) if each.day == day and each.kind != "fill")
    first = NO_DAY
    for each in events[begin:]:
        if each.fill is not None and first == NO_DAY:
            first = each.day
        if first != NO_DAY and (each.fill is None or (each.day - first).days > NEAR_DAYS):
            return
        yield each


def _events(rig: Rig, entries: Sequence[LogEntry]) -> list[_Event]:
    """All dated entries of a log and the rig's own dated fills, by their day. Of one day the rig's own come first, then the log's
    in their order."""
    own = [_Event(day=_day(fill.date), kind="fill", fill=fill) for fill in rig.fills if _day(fill.date) != NO_DAY]
    logged = [each for each in map(_event, log.with_watts(entries)) if each.day != NO_DAY]
    new = [each for each in logged if each.kind != "fill" or each.fill not in rig.fills]
    return sorted([*own, *new], key=lambda one: one.day)


def _joined(rig: Rig, path: Path, events: Sequence[_Event], found: tuple[TimedFill, ...], which: str) -> Rig:
    undated = tuple(fill for fill in rig.fills if _day(fill.date) == NO_DAY)
    made = sum(each.fill is not None for each in events)
    of = f"with {path.name} there are {made} dated fills"
    note = Note("fill.log", f"{of}; {len(found)} of them say something of the loop {which}")
    return replace(rig, fills=(*undated, *found), notes=(*rig.notes, note))


def of_this_tank(path: str | Path, entries: Sequence[LogEntry], *rigs: Rig) -> None:
    """Raise InputError when the log says that it is another tank's."""
    names = log.rigs_of(entries)
    if not names or not rigs or names & {rig.name for rig in rigs}:
        return
    what = f"this is the log of {quoted(sorted(names)[0])}, and the rig file is of {quoted(rigs[0].name)}."
    cure = "Name the log of this tank. If the tank has a new name, give the rig file its old one."
    raise InputError(str(path), [Problem(where="--log", what=what, cure=cure)])


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
