"""How an answer lasts between two cleanings, in sentences and tables."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.lasting import Lasting, LastingMiss, LastingRow, LastingWindow
from optimizer.model.said import Said, flowing
from optimizer.report.layout import Block, aligned, paragraph
from optimizer.report.measures import Measures, day_text, days_text, money, percent

__all__ = [
    "free_sentence",
    "judged_m3s",
    "judged_words",
    "lasting_lines",
    "lasting_notes",
    "lasting_sentences",
    "lasting_table",
]

ALIKE = 0.0005
"""Flows that differ by less, as a share, are not told apart in words."""


def judged_words(lasting: Lasting, measures: Measures) -> str:
    """Return what the answer was judged by: its flow on the last day or on average."""
    row = lasting.rows[-1]
    if lasting.by == "mean":
        return f"{measures.flow_text(row.mean_m3s)} on average over {days_text(lasting.days)}"
    return f"{measures.flow_text(row.last_m3s)} on {day_text(lasting.days)}, the last before cleaning"


def judged_m3s(lasting: Lasting, row: LastingRow | None = None) -> float:
    """Return the flow that the answer, or another row of it, was judged by."""
    row = lasting.rows[-1] if row is None else row
    return row.mean_m3s if lasting.by == "mean" else row.last_m3s


def free_sentence(lasting: Lasting, measures: Measures) -> str:
    """Return what spending nothing comes to on the day that counts, and what the money adds; "" where that says nothing."""
    free = _named(lasting, "spend nothing")
    if free is None or lasting.rows[-1].price == 0:
        return ""
    have, best = judged_m3s(lasting, free), judged_m3s(lasting)
    when = "on average" if lasting.by == "mean" else f"on {day_text(lasting.days)}"
    but = ", but does not keep to all that is asked" if free.missed else ""
    adds = f"; the money adds {measures.flow_text(best - have)}" if best > have * (1.0 + ALIKE) else ""
    return f"Cleaned and with nothing spent it is {measures.flow_text(have)} {when}{but}{adds}."


def _named(lasting: Lasting, name: str) -> LastingRow | None:
    return next((row for row in lasting.rows if row.name == name), None)


def lasting_sentences(lasting: Lasting, measures: Measures, currency: str) -> Iterator[str]:
    """Yield what happens between the clean and the last day, and what the best of the clean day would have come to."""
    row = lasting.rows[-1]
    yield (
        f"Clean it delivers {measures.flow_text(row.clean_m3s)}, on {day_text(lasting.days)} "
        f"{measures.flow_text(row.last_m3s)}, on average {measures.flow_text(row.mean_m3s)}."
    )
    if row.missed:
        yield f"NOT kept on all days: {_missed(row, lasting, measures)}."
    else:
        yield f"It keeps to all limits on every one of the {days_text(lasting.days)}."
    if lasting.binding:
        yield _binding(lasting, measures)
    other = _named(lasting, "best when clean")
    if other is None:
        return
    mine, theirs = judged_m3s(lasting), judged_m3s(lasting, other)
    if theirs < mine * (1.0 - ALIKE) or other.price != row.price:
        when = "on average" if lasting.by == "mean" else f"on {day_text(lasting.days)}"
        yield (
            f"By the clean day alone it would be another bundle: {measures.flow_text(other.clean_m3s)} then, for "
            f"{money(other.price, safe(currency))}, but {measures.flow_text(theirs)} {when}."
        )


def _binding(lasting: Lasting, measures: Measures) -> str:
    """Which of the targets of two days decides."""
    clean = measures.words(Said(flowing(lasting.clean_m3s)))
    return {
        "last": f"The last day decides: whoever lasts so long has the {clean} of the clean day too.",
        "clean": f"The {clean} of the clean day decide: for the last day alone another bundle would do.",
        "both": f"Both days decide: neither the last day alone nor the {clean} of the clean day alone would lead to it.",
        "either": f"The last day alone and the {clean} of the clean day alone lead to the same bundle.",
        "neither": f"The {clean} asked of the clean day decide nothing: the best by the other days has them.",
    }[lasting.binding]


def lasting_table(lasting: Lasting, measures: Measures) -> list[Block]:
    """Return the flows on the clean and the last day and the mean, with the prices, and why a row above the best is not it."""
    heads = [
        ("", "clean", day_text(lasting.days), "mean", "price"),
        ("", measures.flow, measures.flow, measures.flow, ""),
    ]
    rows = aligned([*heads, *(_row(row, measures) for row in lasting.rows)])
    said = [line for note in _row_notes(lasting, measures) for line in paragraph(note, "  ", "    ")]
    return [f"Over {days_text(lasting.days)} between cleanings", *rows, *said]


def _row_notes(lasting: Lasting, measures: Measures) -> Iterator[str]:
    """What makes rows comparable, and why those that deliver more are not the answer."""
    if _named(lasting, "now") is not None:
        yield f"now: as it is, not cleaned before {day_text(lasting.days)} either; all other rows begin clean."
    for row in lasting.rows[:-1]:
        yield from _unkept(row, lasting, measures)


def lasting_lines(lasting: Lasting | None, measures: Measures) -> list[Block]:
    """Return flows on the clean and the last day, throttles, windows, what is missed when and what clogs first."""
    if lasting is None:
        return []
    notes = _notes(lasting, measures)
    return [*lasting_table(lasting, measures), *(line for note in notes for line in paragraph(note, "  ", "    "))]


def lasting_notes(lasting: Lasting, measures: Measures) -> Iterator[str]:
    """Yield what is said of the rows, of throttles and windows, of what is missed when, and of what clogs first."""
    yield from _row_notes(lasting, measures)
    yield from _notes(lasting, measures)


def _notes(lasting: Lasting, measures: Measures) -> Iterator[str]:
    yield from _throttle(lasting.rows[-1], measures, lasting.days)
    if math.isfinite(lasting.tightens_day):
        when = f"From {day_text(math.floor(lasting.tightens_day))} on"
        yield f"{when} dirt makes a limit allow less than flows: close the throttle again, bit by bit."
    for window in lasting.windows:
        yield _window(window, measures, lasting.days)
    for miss in lasting.misses:
        yield f"{_miss(miss, measures, lasting.looked_days)}."
    if lasting.rises:
        first = lasting.rises[0]
        shares = f"{percent(first.clean_share)} of the losses clean, {percent(first.last_share)} on the last day"
        rest = ", ".join(
            f"{safe(each.place)} ({percent(each.clean_share)} to {percent(each.last_share)})" for each in lasting.rises[1:]
        )
        more = f"; then {rest}" if rest else ""
        yield f"First to clog: {safe(first.place)}, {shares}{more}."


def _row(row: LastingRow, measures: Measures) -> tuple[str, ...]:
    flows = (row.clean_m3s, row.last_m3s, row.mean_m3s)
    return (safe(row.name), *(measures.bare_flow(each) for each in flows), money(row.price))


def _unkept(row: LastingRow, lasting: Lasting, measures: Measures) -> Iterator[str]:
    """Why a row is not the answer, though it may deliver more: what it does not keep. What now breaks is told anyway."""
    more = judged_m3s(lasting, row) > judged_m3s(lasting) * (1.0 + ALIKE)
    name = f"{safe(row.name)[:1].upper()}{safe(row.name)[1:]}"
    if row.missed and (more or row.name != "now"):
        yield f"{name} does not keep all limits: {_missed(row, lasting, measures)}."
    elif more and row.name == "now":
        yield "Now there is more only since its dirt holds it within the limits; no interval is begun with dirt to rely on."


def _missed(row: LastingRow, lasting: Lasting, measures: Measures) -> str:
    return "; ".join(_miss(miss, measures, lasting.days) for miss in row.missed)


def _throttle(row: LastingRow, measures: Measures, days: float) -> Iterator[str]:
    clean = row.own_m3s > row.clean_m3s * (1 + 1e-9)
    last = row.last_own_m3s > row.last_m3s * (1 + 1e-9)
    if clean or last:
        first = f"to {measures.flow_text(row.clean_m3s)} when clean" if clean else "open when clean"
        then = f"still to {measures.flow_text(row.last_m3s)}" if last else "open"
        yield f"Throttle: {first}, {then} on {day_text(days)}; set it anew as the flow falls."


def _window(window: LastingWindow, measures: Measures, days: float) -> str:
    low = measures.flow_text(window.flow_min_m3s) if window.flow_min_m3s > 0.0 else "no least"
    high = measures.flow_text(window.flow_max_m3s) if math.isfinite(window.flow_max_m3s) else "no most"
    kept = f"kept until {day_text(days)}" if window.kept else "NOT kept"
    flows = f"{measures.flow_text(window.clean_m3s)} clean, {measures.flow_text(window.last_m3s)} on {day_text(days)}"
    return f"{safe(window.place)}: {flows}; window {low} to {high}, {kept}."


def _miss(miss: LastingMiss, measures: Measures, looked: float) -> str:
    words = measures.words(miss.words)
    if math.isinf(miss.day):
        return f"{words}: not missed within {days_text(looked)}"
    if miss.day == 0.0:
        return f"{words}: missed from the first day"
    return f"{words}: missed from {day_text(math.floor(miss.day))} on"
