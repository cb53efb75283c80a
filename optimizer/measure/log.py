"""A log of measurements, cleanings and changes: one JSON line per entry, only ever appended to.

    {"sum": "<16 hex digits>", "entry": {"data": {...}, "date": "2026-03-01", "kind": "cleaning"}}

The checksum (BLAKE2b of the entry's own bytes) tells a line that was torn by a crash, or changed later, from a whole one.
A line counts as written once `append` has returned: by then it has been forced to the disk. Whatever byte a crash stops
at, at most the line under way is lost; the next entry begins on a line of its own.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import zip_longest
from pathlib import Path

from optimizer.line_file import FIRST_BYTES, append_line, entry_of, may_be_lines, plain_bytes
from optimizer.line_file import line_of as line_with_sum
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import LogEntry, LogRead, WattsRead

KINDS = ("fill", "watts", "cleaning", "change")
LONGEST_LINE = 65536

LARGEST = 1e12
"""No number of a fill is larger; a whole number of a few hundred digits is no float at all."""

RIG = "rig"
"""Key of the name of the tank in the data of an entry."""


def append(path: str | Path, entry: LogEntry) -> None:
    """Write one entry and force it to the disk; the file is made if it is not there.

    Raises ValueError for an unknown kind, what JSON cannot hold, and a file that is no log; OSError when it cannot be written.
    """
    line = line_of(entry)
    if not may_be_log(path):
        raise ValueError(f"{Path(path).name} is no log, and nothing was written to it")
    append_line(path, line)


def line_of(entry: LogEntry) -> bytes:
    """One line of the log, with its end. Raises ValueError.

    >>> line_of(LogEntry(kind="cleaning", date="2026-03-01", data={"what": ["guard"]}))[28:].decode().strip()
    '"entry": {"data": {"what": ["guard"]}, "date": "2026-03-01", "kind": "cleaning"}}'
    """
    if entry.kind not in KINDS:
        raise ValueError(f"{entry.kind!r} is no kind of entry; known are {', '.join(KINDS)}")
    line = line_with_sum({"kind": entry.kind, "date": entry.date, "data": dict(entry.data)})
    if len(line) > LONGEST_LINE:
        raise ValueError(f"an entry of {len(line)} bytes is too long for the log")
    return line


def read(path: str | Path) -> LogRead:
    """All whole entries in the order they were written, and what is wrong with the other lines. A log that is not there is empty.

    Raises OSError for a file that cannot be read.
    """
    try:
        raw = plain_bytes(path)
    except FileNotFoundError:
        return LogRead(entries=(), problems=())
    entries, problems = [], []
    lines = raw.split(b"\n")
    for number, line in enumerate(lines, start=1):
        last = number == len(lines)
        if not line:
            continue
        entry = _entry(line)
        if entry is not None:
            entries.append(entry)
        elif last:
            problems.append(f"line {number}: the last entry was torn while it was written and is ignored. Enter it again.")
        else:
            problems.append(f"line {number}: torn or changed since it was written, and ignored. If you know it, enter it again.")
    return LogRead(entries=tuple(entries), problems=tuple(problems))


def may_be_log(path: str | Path) -> bool:
    """Whether entries may be written to a file: it is not there, empty, or has a line that begins as those of a log do, or but
    one line that was torn before it got so far; and no whole line of it is something else than an entry of a log (results are
    kept in such lines too), nor are most of its lines of another kind. Raises OSError for a file that cannot be read."""
    if not may_be_lines(path):
        return False
    try:
        lines = [line for line in Path(path).read_bytes().split(b"\n") if line]
    except FileNotFoundError:
        return True
    alike = [line for line in lines if line.startswith(FIRST_BYTES)]
    foreign = any(entry_of(line) is not None and _entry(line) is None for line in alike)
    return not foreign and (len(lines) == 1 or 2 * len(alike) >= len(lines))


def _entry(line: bytes) -> LogEntry | None:
    """A whole line as an entry; None for any other."""
    body = entry_of(line)
    if not isinstance(body, dict):
        return None
    kind, date, data = body.get("kind"), body.get("date"), body.get("data")
    if not (isinstance(kind, str) and isinstance(date, str) and isinstance(data, dict)):
        return None
    return LogEntry(kind=kind, date=date, data=data)


def fill_entry(fill: TimedFill) -> LogEntry:
    """A timed fill for the log.

    >>> fill = TimedFill(volume_m3=0.01, seconds=(61.2, 60.8), date="2026-03-01")
    >>> fills_of([fill_entry(fill)]) == (fill,)
    True
    """
    names = ("volume_m3", "height_m", "container", "volume_limit_m3", *(["power_w"] if fill.power_w else []))
    lists = {"seconds": list(fill.seconds), "state": list(fill.state)}
    return LogEntry(kind="fill", date=fill.date, data={name: getattr(fill, name) for name in names} | lists)


def watts_entry(watts: WattsRead) -> LogEntry:
    """A reading of the watts for the log."""
    return LogEntry(kind="watts", date=watts.date, data={"power_w": watts.power_w})


def of_rig(entry: LogEntry, name: str) -> LogEntry:
    """The entry with the name of the tank it is of, so that no other one is judged by it."""
    return replace(entry, data={**entry.data, RIG: name})


def rigs_of(entries: Iterable[LogEntry]) -> set[str]:
    """Names of the tanks that entries say they are of; those that were written without a rig file say nothing.

    >>> plain = LogEntry(kind="cleaning", date="2026-03-01", data={"what": ["guard"]})
    >>> rigs_of([plain, of_rig(plain, "Hall tank")])
    {'Hall tank'}
    """
    return {name for entry in entries if isinstance(name := entry.data.get(RIG), str) and name}


def fills_of(entries: Iterator[LogEntry] | list[LogEntry] | tuple[LogEntry, ...]) -> tuple[TimedFill, ...]:
    """The timed fills of a log. Raises ValueError for one that is none."""
    return tuple(_fill(entry.date, entry.data) for entry in entries if entry.kind == "fill")


def _fill(date: str, data: Mapping[str, object]) -> TimedFill:
    seconds, state = data.get("seconds"), data.get("state", [])
    if not isinstance(seconds, list) or not isinstance(state, list):
        raise ValueError("a fill of the log has no list of seconds or states")
    return TimedFill(
        volume_m3=_number(data, "volume_m3"),
        seconds=tuple(_number({"seconds": each}, "seconds") for each in seconds),
        height_m=_number(data, "height_m"),
        state=tuple(str(word) for word in state),
        container=str(data.get("container", "")),
        volume_limit_m3=_number(data, "volume_limit_m3"),
        date=date,
        power_w=_number(data, "power_w"),
    )


def with_watts(entries: Iterable[LogEntry]) -> Iterator[LogEntry]:
    """The entries, with readings of the watts joined to the fill of the same day that was written right before them.

    >>> fill = fill_entry(TimedFill(volume_m3=0.01, seconds=(61.2,), date="2026-03-01"))
    >>> both = [fill, watts_entry(WattsRead(power_w=9.5, date="2026-03-01"))]
    >>> [entry.data.get("power_w") for entry in with_watts(both)]
    [9.5, 9.5]
    """
    listed = list(entries)
    for entry, following in zip_longest(listed, listed[1:]):
        beside = following is not None and (entry.kind, following.kind, entry.date) == ("fill", "watts", following.date)
        yield replace(entry, data={**following.data, **entry.data}) if beside else entry


def _number(data: Mapping[str, object], name: str) -> float:
    value = data.get(name, 0.0)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{name} of a fill in the log is no number")
    if abs(value) > LARGEST:
        raise ValueError(f"{name} of a fill in the log is larger than anything that is measured")
    return float(value)
