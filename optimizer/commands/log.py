"""Writes a fill, a cleaning or a change into a log that is only ever added to, and shows the log, the trend of the
flow since each cleaning, and the next cleaning for a wanted flow.

fullbore log tank.log --volume "10 l" --seconds 61,60.5,62 --date 2026-03-01
fullbore log tank.log --cleaned everything
fullbore log tank.log --changed "bar re-drilled to 3 mm"
fullbore log tank.log --flow "400 l/h" --rig tank.toml
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial
from typing import TYPE_CHECKING

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, told_of
from optimizer.commands.options import made, value
from optimizer.commands.reader import catalog_at_hand, flow
from optimizer.commands.timed import Given, Timed, fill_given
from optimizer.errors import BadValue, quoted
from optimizer.files.cell_text import checked_text, chosen
from optimizer.halting import held

if TYPE_CHECKING:
    from optimizer.model.measuring import LogEntry

FIRST_DAY = date(1950, 1, 1)
"""Nobody's log of a filter goes back further; an earlier year is a slip."""


def _day(text: str) -> str:
    cure = "Write year, month and day, for example 2026-03-01."
    try:
        found = date.fromisoformat(text.strip())
    except ValueError:
        raise BadValue(f"{quoted(text)} is no date.", cure) from None
    if found > date.today() + timedelta(days=1):  # elsewhere it may be tomorrow already
        raise BadValue(f"{quoted(text)} has not come yet.", "Enter what was done on its day, or later.")
    if found < FIRST_DAY:
        raise BadValue(f"{quoted(text)} is before {FIRST_DAY.isoformat()}.", cure)
    return found.isoformat()


def _cleaned(text: str) -> tuple[str, ...]:
    from optimizer.answers.log_lines import CLEANABLE

    return tuple(dict.fromkeys(chosen(tuple(CLEANABLE), word.strip()) for word in text.split(",")))


def _changed(text: str) -> str:
    if text.strip():
        return checked_text(text.strip())
    raise BadValue("the text is empty.", 'Write for example "bar re-drilled to 3 mm".')


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(Timed):
    """The log, what is entered into it, and for which flow it is read."""

    fill: Given | None = made(partial(fill_given, dated=False))  # the day is that of a cleaning or a change too
    file: str = value("file", "FILE", "tank.log", "the log; one that is not there is begun with the first entry")
    cleaned: tuple[str, ...] | None = value(
        "--cleaned", "WHAT", '"guard, media"', "a cleaning: everything, or some of guard, media, hoses, pump", _cleaned
    )
    changed: str | None = value("--changed", "TEXT", '"bar re-drilled to 3 mm"', "a change of parts, in your words", _changed)
    date: str | None = options.date("day of the entry; without it today", _day)
    flow: float | None = value(
        "--flow", "FLOW", '"800 l/h"', "flow that must not be missed; without it the wish or the least flow of --rig", flow
    )
    rig: str | None = value(
        "--rig", "RIG", "tank.toml", "file of the tank: fills are brought to its loop, and its dirt is modelled"
    )
    catalog: str | None = options.catalog(needed=False)


def _check(asked: Asked, reader: Reader) -> None:
    args = reader.args
    measured = any(each is not None for each in (asked.volume, asked.seconds, args.watts))  # rightly or wrongly
    if sum((measured, args.cleaned is not None, args.changed is not None)) > 1:
        cure = "Write them one after the other, in the order they happened."
        reader.wrong("log", "a fill, a cleaning and a change are entries of their own.", cure)
    if args.date is not None and not (measured or args.cleaned or args.changed):
        reader.wrong("--date", "belongs to an entry.", "Say what was done on that day, or leave it out.")
    if args.catalog is not None and args.rig is None:
        reader.wrong("--catalog", "is of use with --rig only.", "Add --rig, or leave it out.")


def entries(asked: Asked) -> Iterator[LogEntry]:
    """What is to be written, in its order."""
    from optimizer.measure.log import fill_entry, watts_entry
    from optimizer.model.measuring import LogEntry, WattsRead

    when = asked.date or date.today().isoformat()
    if asked.fill is not None:
        yield fill_entry(replace(asked.fill.fill, date=when, power_w=0.0))  # the watts are an entry of their own
    if asked.watts is not None:
        yield watts_entry(WattsRead(power_w=asked.watts, date=when))
    if asked.cleaned:
        yield LogEntry(kind="cleaning", date=when, data={"what": list(asked.cleaned)})
    if asked.changed:
        yield LogEntry(kind="change", date=when, data={"what": asked.changed})


def _answer(asked: Asked, _: Progress | None) -> Told:
    rig = None if asked.rig is None else api.read_rig(asked.rig, catalog_at_hand(asked.catalog))
    new = tuple(entries(asked))
    with held() if new else contextlib.nullcontext():  # who enters something is told that it is entered
        found = api.log(asked.file, *new, rig=rig, flow_m3s=asked.flow or 0.0)
    return told_of(found, "log_text")


WRITES = ("--volume", "--seconds", "--watts", "--cleaned", "--changed")
COMMAND = Command(__doc__, Asked, _answer, _check, first="date", writes=WRITES)
