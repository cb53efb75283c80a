"""The verdict on an upgrade as plain text: was it the parts or the cleaning, how sure, and was it as predicted."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.measuring import FactorLine, FlowBand
from optimizer.model.verified import Verified
from optimizer.report.layout import GLUE, aligned, bullets, finished, paragraph
from optimizer.report.measured_lines import assumed, band_text, fill_table, fill_warnings, probability_text
from optimizer.report.measures import Measures, number, percent, system
from optimizer.report.plan_lines import heading

__all__ = ["headline", "render"]

MOST_FACTORS = 5
LEAST_LEARNED = 0.1
"""Factors of which less of the variance was taken away are not listed."""

THERE_NOW = "installed:"


def headline(told: Verified, units: str = "metric") -> str:
    """Return the verdict alone, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(_sentences(told, system(units)))])


def render(told: Verified, units: str = "metric") -> str:
    """Return the whole answer as text of lines of at most `layout.WIDTH` characters. Raises ValueError for other units."""
    measures = system(units)
    lines = paragraph(heading(told.before, "was it the upgrade or the cleaning?"), rest="  ")
    for sentence in _sentences(told, measures):
        lines += paragraph(sentence, rest="  ")
    lines += ["", *_table(told, measures)]
    lines += ["", "Before", *fill_table(told.before_fills, measures), *fill_warnings(told.before_fills)]
    lines += ["", "After", *fill_table(told.after_fills, measures), *fill_warnings(told.after_fills)]
    return finished([*lines, *_learned(told), *assumed(told.notes)])


def _sentences(told: Verified, measures: Measures) -> Iterator[str]:
    verdict = told.verdict
    if not told.changed:
        yield "No part differs between the two files, so only the cleaning can have made a difference."
    else:
        yield verdict.advice
    grew = f"{measures.bare_flow(verdict.before.p50_m3s)} to {measures.flow_text(verdict.after.p50_m3s)}"
    works = f"that the new parts deliver more than the old ones has a probability of {probability_text(verdict.worked)}"
    if verdict.matched:
        yield f"Delivered flow went from {grew}, as clean before as after, so cleaning has no share in it: {works}."
    else:
        parts, cleaning = (_signed(band, measures) for band in (verdict.from_parts_m3s, verdict.from_cleaning_m3s))
        shares = f"about {parts} from the parts and {cleaning}"
        more = f"that they brought more than the cleaning one of {probability_text(verdict.probability)}"
        yield f"Delivered flow went from {grew}: {shares} from the cleaning; {works}, {more}."
    if told.changed:
        yield f"{_as_predicted(told)}: the fills before alone predicted {band_text(told.predicted, measures)}."
        yield f"Changed: {safe(', '.join(told.changed))}."


def _signed(band: FlowBand, measures: Measures) -> str:
    text = measures.flow_text(abs(band.p50_m3s))
    return f"-{text}" if band.p50_m3s < 0.0 else f"+{text}"


def _as_predicted(told: Verified) -> str:
    after = told.verdict.after
    if after.p10_m3s > told.predicted.p90_m3s:
        return "More than predicted"
    if after.p90_m3s < told.predicted.p10_m3s:
        return "Less than predicted"
    return "As predicted"


def _table(told: Verified, measures: Measures) -> list[str]:
    verdict = told.verdict
    rows = [
        ("before", verdict.before),
        *([] if verdict.matched else [("old parts, as clean as after", verdict.cleaned)]),
        ("after", verdict.after),
        ("owed to the parts", verdict.from_parts_m3s),
        ("owed to the cleaning", verdict.from_cleaning_m3s),
        ("after, predicted from before", told.predicted),
        ("after, by its file alone", told.expected),
    ]
    heads = [("", "P10", "P50", "P90"), ("", *[measures.flow] * 3)]
    cells = [(name, *(measures.bare_flow(flow) for flow in (b.p10_m3s, b.p50_m3s, b.p90_m3s))) for name, b in rows]
    return aligned([*heads, *cells])


def _learned(told: Verified) -> list[str]:
    lines = bullets(_factor(line) for line in told.factors[:MOST_FACTORS] if line.information >= LEAST_LEARNED)
    return ["", "What all fills together say of the parts", *lines] if lines else []


def _factor(line: FactorLine) -> str:
    band = f"{number(line.p50, 2)} times what was taken ({number(line.p10, 2)} to {number(line.p90, 2)})"
    part = safe(line.part.replace(THERE_NOW, ""))
    return f"{line.unknown} of {part}: {band},{GLUE}{percent(line.information)} of the doubt gone"
