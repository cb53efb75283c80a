"""The entries of a log one by one: their day, and of a fill the flow and whether it can be compared with the others."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from optimizer.measure.calibrate import Z90, Posterior, calibrate
from optimizer.measure.fill_loop import CLEANED
from optimizer.measure.fills import LEVEL_M, fit_relatives, measured
from optimizer.measure.log import fills_of
from optimizer.measure.result import corrected
from optimizer.model.fill import CLEAN, GUARD_CLEAN, HOSES_CLEAN, MEDIA_CLEAN, PUMP_CLEAN, TimedFill, above
from optimizer.model.logbook import LogLine
from optimizer.model.measuring import LogEntry
from optimizer.model.rig import Rig
from optimizer.model.said import Said

EVERYTHING = "everything"
CLEANABLE: Mapping[str, str] = MappingProxyType(
    {EVERYTHING: CLEAN, "guard": GUARD_CLEAN, "media": MEDIA_CLEAN, "hoses": HOSES_CLEAN, "pump": PUMP_CLEAN}
)
"""What a cleaning can be of, with the word of a fill's state for it."""

BEGINS = ("cleaning", "change")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An entry with its day (None: none that can be read).

    Of a fill: its flow in m3/s, the standard uncertainty of its logarithm (``relative``; ``own_relative`` without the container's
    mark, ``mark_relative`` of that alone), and why it is left out of the trend.
    """

    entry: LogEntry
    date: date | None
    words: str
    flow_m3s: float = 0.0
    relative: float = 0.0
    own_relative: float = 0.0
    mark_relative: float = 0.0
    left_out: str = ""

    @property
    def begins(self) -> bool:
        """True for a cleaning or a change."""
        return self.entry.kind in BEGINS

    @property
    def counts(self) -> bool:
        """True for a fill that is part of a trend."""
        return self.flow_m3s > 0.0 and not self.left_out and self.date is not None


def entries_of(entries: Sequence[LogEntry], rig: Rig | None) -> tuple[Entry, ...]:
    """All entries by their days, those of one day as they were written, those without a day last."""
    prior = None if rig is None else calibrate(())
    found = [_entry(entry, rig, prior) for entry in entries]
    return tuple(sorted(found, key=lambda one: one.date or date.max))


def lines_of(entries: Sequence[Entry]) -> tuple[LogLine, ...]:
    """The entries for an answer."""
    return tuple(
        LogLine(
            date="" if one.date is None else one.date.isoformat(),
            kind=one.entry.kind,
            words=one.words,
            flow_m3s=one.flow_m3s,
            relative=one.relative,
            left_out=one.left_out,
        )
        for one in entries
    )


def _entry(entry: LogEntry, rig: Rig | None, prior: Posterior | None) -> Entry:
    day = _day(entry.date)
    if entry.kind != "fill":
        return Entry(entry=entry, date=day, words=_words(entry))
    try:
        (fill,) = fills_of([entry])
    except ValueError as error:
        return Entry(entry=entry, date=day, words="fill", left_out=f"it cannot be read: {error}")
    height = (", ", *above(fill.height_m)) if fill.height_m else ()
    words = Said(fill.mark, f", {', '.join([f'{len(fill.seconds)} x', *(fill.state or ('as it is',))])}", *height)
    if rig is None or prior is None:
        return _as_read(entry, day, words, fill)
    try:
        return _as_installed(entry, day, words, fill, rig, prior)
    except ArithmeticError:
        return Entry(entry=entry, date=day, words=words, left_out="no loop like this one would have filled so")


def _as_read(entry: LogEntry, day: date | None, words: str, fill: TimedFill) -> Entry:
    """Without a rig only fills of the whole loop at the water line are alike."""
    found = measured(fill)
    own, mark = fit_relatives(found, len(fill.seconds))
    why = ""
    if abs(fill.height_m) > LEVEL_M or not set(fill.state) <= set(CLEANED):
        why = "not as the tank gets it; with --rig it is corrected"
    return Entry(
        entry=entry,
        date=day,
        words=words,
        flow_m3s=found.flow_m3s,
        relative=found.relative,
        own_relative=own,
        mark_relative=mark,
        left_out=why or _undated(day),
    )


def _as_installed(entry: LogEntry, day: date | None, words: str, fill: TimedFill, rig: Rig, prior: Posterior) -> Entry:
    """Brought to the loop as the tank gets its water, with the uncertainty of the correction."""
    found = corrected(rig, fill, prior)
    _, mark = fit_relatives(found.measured, len(fill.seconds))
    whole = math.log(found.installed.p90_m3s / found.installed.p50_m3s) / Z90
    return Entry(
        entry=entry,
        date=day,
        words=words,
        flow_m3s=found.installed.p50_m3s,
        relative=whole,
        own_relative=math.sqrt(max(whole**2 - mark**2, 1e-12)),
        mark_relative=mark,
        left_out=_undated(day),
    )


def _undated(day: date | None) -> str:
    return "" if day is not None else "it has no day"


def _words(entry: LogEntry) -> str:
    """What was done, whatever the entry holds."""
    what = entry.data.get("what")
    if isinstance(what, list):
        return ", ".join(str(each) for each in what)
    if isinstance(what, str):
        return what
    power = entry.data.get("power_w")
    if isinstance(power, bool) or not isinstance(power, int | float) or abs(power) > 1e9:  # no figure of a pump
        return entry.kind
    return f"{power:.4g} W"


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
