"""How an answer lasts between two cleanings, in sentences and tables."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.lasting import Lasting, LastingMiss, LastingRow, LastingWindow
from optimizer.report.layout import Block, aligned, paragraph
from optimizer.report.measures import Measures, day_text, days_text, money, percent

__all__ = ["judged_words", "lasting_lines", "lasting_sentences", "lasting_table"]

ALIKE = 0.0005
"""Flows that differ by less, as a share, are not told apart in words."""


def judged_words(lasting: Lasting, measures: Measures) -> str:
    """Return what the answer was judged by: its flow on the last day or on average."""
    row = lasting.rows[-1]
    if lasting.by == "mean":
        return f"{measures.flow_text(row.mean_m3s)} on average over {days_text(lasting.days)}"
    return f"{measures.flow_text(row.last_m3s)} on {day_text(lasting.days)}, the last before cleaning"


def judged_m3s(lasting: Lasting) -> float:
    """Return the flow that the answer was judged by."""
    return lasting.rows[-1].mean_m3s if lasting.by == "mean" else lasting.rows[-1].last_m3s


def lasting_sentences(lasting: Lasting, measures: Measures, currency: str) -> Iterator[str]:
    """Yield what happens between the clean and the last day, and what the best of the clean day would have come to."""
    row = lasting.rows[-1]
    yield (
        f"Clean it delivers {measures.flow_text(row.clean_m3s)}, on {day_text(lasting.days)} "
        f"{measures.flow_text(row.last_m3s)}, on average {measures.flow_text(row.mean_m3s)}."
    )
    other = next((each for each in lasting.rows if each.name == "best when clean"), None)
    if other is None:
        return
    mine, theirs = judged_m3s(lasting), other.mean_m3s if lasting.by == "mean" else other.last_m3s
    if theirs < mine * (1.0 - ALIKE) or other.price != row.price:
        when = "on average" if lasting.by == "mean" else f"on {day_text(lasting.days)}"
        yield (
            f"By the clean day alone it would be another bundle: {measures.flow_text(other.clean_m3s)} then, for "
            f"{money(other.price, safe(currency))}, but {measures.flow_text(theirs)} {when}."
        )


def lasting_table(lasting: Lasting, measures: Measures) -> list[Block]:
    """Return the flows on the clean and the last day and the mean, with the prices."""
    heads = [
        ("", "clean", day_text(lasting.days), "mean", "price"),
        ("", measures.flow, measures.flow, measures.flow, ""),
    ]
    rows = aligned([*heads, *(_row(row, measures) for row in lasting.rows)])
    return [f"Over {days_text(lasting.days)} between cleanings", *rows]


def lasting_lines(lasting: Lasting | None, measures: Measures) -> list[Block]:
    """Return flows on the clean and the last day, throttles, windows, what is missed when and what clogs first."""
    if lasting is None:
        return []
    lines = lasting_table(lasting, measures)
    lines += [line for row in lasting.rows[:-1] for line in _unkept(row, lasting, measures)]
    lines += _throttle(lasting.rows[-1], measures, lasting.days)
    if math.isfinite(lasting.tightens_day):
        when = f"From {day_text(math.floor(lasting.tightens_day))} on"
        lines += paragraph(
            f"{when} dirt makes a limit allow less than flows: close the throttle again, bit by bit.", "  ", "    "
        )
    for window in lasting.windows:
        lines += paragraph(_window(window, measures, lasting.days), "  ", "    ")
    for miss in lasting.misses:
        lines += paragraph(f"{_miss(miss, measures, lasting.looked_days)}.", "  ", "    ")
    if lasting.rises:
        first = lasting.rises[0]
        shares = f"{percent(first.clean_share)} of the losses clean, {percent(first.last_share)} on the last day"
        rest = ", ".join(
            f"{safe(each.place)} ({percent(each.clean_share)} to {percent(each.last_share)})" for each in lasting.rises[1:]
        )
        more = f"; then {rest}" if rest else ""
        lines += paragraph(f"First to clog: {safe(first.place)}, {shares}{more}.", "  ", "    ")
    return lines


def _row(row: LastingRow, measures: Measures) -> tuple[str, ...]:
    flows = (row.clean_m3s, row.last_m3s, row.mean_m3s)
    return (safe(row.name), *(measures.bare_flow(each) for each in flows), money(row.price))


def _unkept(row: LastingRow, lasting: Lasting, measures: Measures) -> list[Block]:
    """Why a row is not the answer, though it may deliver more: the limits that it does not keep."""
    if not row.missed:
        return []
    missed = "; ".join(_miss(miss, measures, lasting.days) for miss in row.missed)
    return paragraph(f"{safe(row.name)[:1].upper()}{safe(row.name)[1:]} does not keep all limits: {missed}.", "  ", "    ")


def _throttle(row: LastingRow, measures: Measures, days: float) -> list[Block]:
    clean = row.own_m3s > row.clean_m3s * (1 + 1e-9)
    last = row.last_own_m3s > row.last_m3s * (1 + 1e-9)
    if not clean and not last:
        return []
    first = f"to {measures.flow_text(row.clean_m3s)} when clean" if clean else "open when clean"
    then = f"still to {measures.flow_text(row.last_m3s)}" if last else "open"
    return paragraph(f"Throttle: {first}, {then} on {day_text(days)}; set it anew as the flow falls.", "  ", "    ")


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
