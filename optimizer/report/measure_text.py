"""Timed fills as plain text: the delivered flow, each fill with its uncertainty, and what to do better."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.measured import Measured
from optimizer.model.measuring import CorrectedFlow
from optimizer.report.layout import PLAIN, Block, Screen, bullets, finished, paragraph
from optimizer.report.measured_lines import assumed, band_text, fill_table, fill_warnings, label_text, relative_text
from optimizer.report.measures import Measures, system, watts
from optimizer.report.plan_lines import opening

__all__ = ["blocks", "headline", "render", "sentences"]

ODD = 0.05
"""Measurements this far out happen to one rig in twenty that is as its file says."""

LEGEND = (
    "measured: volume over the mean time; +/- 95 %: half the interval that holds it in 95 of 100 cases (GUM). as installed: with "
    "everything on and the outlet in its place, by the loop model"
)


def headline(told: Measured, units: str = "metric") -> str:
    """Return the delivered flow in short, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(sentences(told, system(units)))])


def render(told: Measured, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole answer as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    return finished([*opening(told.rig, "what was measured", sentences(told, measures)), *blocks(told, measures)], screen)


def blocks(told: Measured, measures: Measures) -> list[Block]:
    """Return all that follows the sentences of the verdict, in units of `measures`."""
    lines = ["", *fill_table(told.fills, measures), "", *paragraph(f"{LEGEND}.", rest="  ")]
    lines += ["", "Where the uncertainty comes from", *bullets(_sources(each, measures) for each in told.fills)]
    warnings = fill_warnings(told.fills, measures)
    lines += ["", "Mind", *warnings] if warnings else []
    return [*lines, *assumed(told.notes, measures)]


def sentences(told: Measured, measures: Measures) -> Iterator[str]:
    """Yield the verdict sentence by sentence, in units of `measures`."""
    what = "the fill" if len(told.fills) == 1 else f"all {len(told.fills)} fills"
    yield f"Delivered by {what}{_read(told.powers_w)}: {band_text(told.delivered, measures)}."
    yield f"The file alone lets expect {band_text(told.expected, measures)}."
    if told.tail < ODD:
        yield 'So far from the file it comes by chance in fewer than 1 of 20 cases: ask "fullbore diagnose".'


def _read(powers_w: tuple[float, ...]) -> str:
    """What a meter showed, where one was read."""
    if not powers_w:
        return ""
    shown = dict.fromkeys((watts(min(powers_w)), watts(max(powers_w))))
    return f" and {' to '.join(shown)} W at the socket"


def _sources(each: CorrectedFlow, measures: Measures) -> str:
    lines = sorted(each.measured.lines, key=lambda line: -line.relative)
    named = ", ".join(f"{line.source} {relative_text(line.relative)}" for line in lines if line.relative >= 5e-4)
    label = safe(label_text(each.measured, measures))
    return f"{label}: {relative_text(each.measured.relative)} in all, standard ({named or 'nothing of weight'})"
