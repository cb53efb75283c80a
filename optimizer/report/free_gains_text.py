"""What costs nothing, and what each of it gives, as lines of text."""

from __future__ import annotations

from optimizer.errors import safe
from optimizer.model.results import FreeGain, Result
from optimizer.report.layout import Block, aligned, cut, paragraph
from optimizer.report.measures import UNKNOWN, Measures, number

__all__ = ["free_gain_lines"]

LONGEST_STEP = 46
TRAY = " tray "
NOTE = "alone: what it adds to the flow as it is now; then: the flow once all above it is done too."


def free_gain_lines(result: Result, measures: Measures) -> list[Block]:
    """Return the section on what costs nothing; nothing where there is nothing of the sort to do."""
    if not result.free_gains:
        return []
    rows = [("", "alone", "then"), ("", measures.flow, measures.flow), ("now", "", measures.bare_flow(result.now.own_m3s))]
    rows += [_row(gain, result.now.own_m3s, measures) for gain in result.free_gains]
    note = NOTE if len(result.free_gains) > 1 else ""
    return ["What costs nothing", *aligned(rows), *(paragraph(note, "  ", "  ") if note else [])]


def _row(gain: FreeGain, now_m3s: float, measures: Measures) -> tuple[str, str, str]:
    alone = UNKNOWN if gain.alone_m3s is None else _more(gain.alone_m3s, now_m3s, measures)
    return cut(_step(gain, measures), LONGEST_STEP), alone, measures.bare_flow(gain.then_m3s)


def _more(flow_m3s: float, now_m3s: float, measures: Measures) -> str:
    """A difference of two flows as they are shown, so that what is shown adds up."""
    more = round(measures.flow_of(flow_m3s)) - round(measures.flow_of(now_m3s))
    return f"{'-' if more < 0 else '+'}{number(abs(more), 0)}"


def _places(gain: FreeGain) -> str:
    """The places, trays of one canister by their numbers."""
    names = [place.rpartition(TRAY) for place in gain.places]
    if gain.what != "media" or len(names) < 2:
        return ", ".join(gain.places)
    return f"{names[0][0]}{TRAY.rstrip()}s {', '.join(tray for _, _, tray in names)}"


def _step(gain: FreeGain, measures: Measures) -> str:
    places = safe(_places(gain))
    if gain.change == "adjust":
        return f"{places}: {safe(measures.words(gain.what))}"
    return f"{gain.change} {places}"
