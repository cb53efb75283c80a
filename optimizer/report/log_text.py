"""A log as plain text: what was written, the trend since each cleaning, the next cleaning, and the entries."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.logbook import Logbook, LogLine, NextCleaning, Since
from optimizer.report.layout import GLUE, PLAIN, Block, Screen, aligned, bullets, cut, finished
from optimizer.report.measured_lines import assumed, relative_text, upper
from optimizer.report.measures import Measures, count, number, system
from optimizer.report.plan_lines import opening

__all__ = ["blocks", "due_words", "headline", "render", "sentences"]

LONGEST_WORDS = 44
MOST_LINES = 40
"""The latest entries are shown; all of them are in the JSON."""


def headline(told: Logbook, units: str = "metric") -> str:
    """Return the trend and the next cleaning, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(sentences(told, system(units)))])


def render(told: Logbook, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole log as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    return finished(
        [*opening(told.file, _entries_text(len(told.lines)), sentences(told, measures)), *blocks(told, measures)], screen
    )


def blocks(told: Logbook, measures: Measures) -> list[Block]:
    """Return all that follows the sentences of the verdict, in units of `measures`."""
    lines = _trends(told, measures) + _entries(told, measures)
    if told.problems:
        lines += ["", "What could not be read", *bullets(map(safe, told.problems))]
    return [*lines, *assumed(told.notes, measures)]


def sentences(told: Logbook, measures: Measures) -> Iterator[str]:
    """Yield the trend and the next cleaning sentence by sentence, in units of `measures`."""
    if told.added:
        yield f"Written: {_entries_text(told.added)}."
    if told.since:
        yield f"{_began(told.since[-1])}: {_trend(told.since[-1], measures)}."
    if told.next is not None:
        yield due_words(told.next, measures)
    if told.modelled is not None:
        yield _by_model(told.modelled)
    if told.problems:
        yield f"{count(len(told.problems))} line{'s' if len(told.problems) > 1 else ''} could not be read; nothing else is lost."


def _entries_text(many: int) -> str:
    return "1 entry" if many == 1 else f"{count(many)} entries"


def _began(since: Since) -> str:
    return f"Since the {since.began_by} of {since.date}" if since.began_by else f"Since the log began on {since.date}"


def _trend(since: Since, measures: Measures) -> str:
    if not since.fills:
        return "no fill that counts"
    fills = f"{count(since.fills)} fill{'s' if since.fills > 1 else ''}"
    if since.per_week is None:
        return f"{fills}, too few for a trend"
    week = since.per_week
    fall = f"{_change(week.p50)} a week (8 of 10: {_change(week.p10)} to {_change(week.p90)})"
    start = "" if since.start_m3s is None else f"{measures.flow_text(since.start_m3s)} at its start, "
    return f"{fills} over {number(since.days, 0)} days, {start}{fall}"


def _change(ratio: float) -> str:
    """By how much a week changes the flow, to a tenth of a percent: the fall from week to week is small."""
    share = number(abs(100.0 * (ratio - 1.0)), 1)
    sign = "" if share == "0.0" else "-" if ratio < 1.0 else "+"
    return f"{sign}{share}{GLUE}%"


BASES = {
    "own fills": "by its own {0.fills} fills",
    "runs": "by the fall of {0.fills} fills in {0.runs} runs together",
    "model": "by the model of dirt, set to the last fill",
    "no fill": "there is no fill since the last cleaning that counts; fill once more.",
    "one fill": "that takes two fills on different days with no cleaning in between.",
    "no clean": "the model of dirt needs a cleaning of everything and a fill after it.",
    "no flow": "by the model of dirt nothing flows.",
}
"""What the next cleaning rests on, or why it cannot be told."""


def due_words(due: NextCleaning, measures: Measures) -> str:
    """Return when to clean next for a wanted flow, and what that rests on."""
    wanted, basis = measures.flow_text(due.flow_m3s), BASES[due.by].format(due)
    if due.already:
        return f"The wanted {wanted} are missed already, {basis}: clean now."
    if not due.likely and not due.earliest:
        if due.by in ("no fill", "one fill"):
            return f"For {wanted} no next cleaning can be told: {basis}"
        return f"For {wanted} no next cleaning is in sight within ten years, {basis}."
    likely = f"clean next about {due.likely}" if due.likely else "the fall is too small to name a likely day"
    late = due.latest or "no day within ten years"
    return f"For {wanted} {likely} (8 of 10: {due.earliest} to {late}), {basis}."


def _by_model(due: NextCleaning) -> str:
    basis = upper(BASES[due.by])
    if due.already:
        return f"{basis}: clean now."
    if due.likely:
        return f"{basis}: about {due.likely}."
    return f"{basis}, not within two years." if due.by == "model" else basis


def _trends(told: Logbook, measures: Measures) -> list[Block]:
    if len(told.since) < 2:
        return []
    runs = bullets(f"{_began(since)}: {_trend(since, measures)}" for since in told.since)
    return ["", "Flow since each cleaning or change", *runs]


def _entries(told: Logbook, measures: Measures) -> list[Block]:
    if not told.lines:
        return []
    shown = told.lines[-MOST_LINES:]
    heads = [("", "", measures.flow, "+/-", ""), *(_row(line, measures) for line in shown)]
    title = "Entries" if len(shown) == len(told.lines) else f"The latest {len(shown)} entries of {count(len(told.lines))}"
    out = [line for line in shown if line.left_out]
    left_out = bullets(f"{line.date or 'undated'}: left out of the trend, {safe(line.left_out)}" for line in out)
    return ["", title, *_left(heads), *left_out]


def _left(rows: list[tuple[str, ...]]) -> list[Block]:
    """A table whose last column stands to the left."""
    longest = max(len(row[-1]) for row in rows)
    return aligned([(*row[:-1], row[-1].ljust(longest)) for row in rows], heads=1)


def _row(line: LogLine, measures: Measures) -> tuple[str, ...]:
    flow = measures.bare_flow(line.flow_m3s) if line.flow_m3s else ""
    sure = relative_text(line.relative) if line.flow_m3s else ""
    return (line.date or "undated", safe(line.kind), flow, sure, cut(safe(measures.words(line.words)), LONGEST_WORDS))
