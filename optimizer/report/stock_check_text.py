"""A checked catalog as plain text: how it stands, then what to look at, the most serious first, each with its place and cure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optimizer.errors import safe
from optimizer.model.stock import CatalogCheck, Finding, Weight
from optimizer.report.layout import PLAIN, Screen, apart, bullets, finished, paragraph
from optimizer.report.measures import Measures, count, system

__all__ = ["headline", "render"]

FIRST = 6
"""So many findings stand on the first screen."""

HEADS = {Weight.BLOCKS: "In the way of a sale", Weight.ODD: "Looks like a slip", Weight.NOTE: "Good to know"}
COUNTED = {
    Weight.BLOCKS: ("is in the way of a sale", "are in the way of a sale"),
    Weight.ODD: ("looks like a slip", "look like slips"),
    Weight.NOTE: ("is good to know", "are good to know"),
}


def headline(told: CatalogCheck, units: str = "metric") -> str:
    """Return how the catalog stands, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    system(units)
    return finished([_verdict(told)])


def render(told: CatalogCheck, units: str = "metric", screen: Screen = PLAIN, *, full: bool = False) -> str:
    """Return the findings as text, with ``full`` all of them. `units` is "metric" or "us"; raises ValueError for others."""
    measures = system(units)
    shown = told.findings if full else told.findings[:FIRST]
    sections = [paragraph(_verdict(told))]
    for weight, head in HEADS.items():
        some = [finding for finding in shown if finding.weight == weight]
        sections.append([head, *bullets(_line(finding, measures) for finding in some)] if some else [])
    left = len(told.findings) - len(shown)
    sections.append(paragraph(f"{count(left)} more with --full, all of them with --json.") if left else [])
    return finished(apart(sections), screen)


def _verdict(told: CatalogCheck) -> str:
    name, held = safe(told.catalog), f"{count(told.parts)} parts, {count(told.products)} products"
    said = list(_counts(told.findings))
    return f"{name} ({held}): {', '.join(said) if said else 'everything goes together, nothing is out of line'}."


def _counts(findings: Sequence[Finding]) -> Iterator[str]:
    for weight, (one, several) in COUNTED.items():
        found = sum(finding.weight == weight for finding in findings)
        if found:
            yield f"{count(found)} {one if found == 1 else several}"


def _line(finding: Finding, measures: Measures) -> str:
    ids = safe(finding.ids[0])
    if len(finding.ids) > 1:
        ids += f" and {count(len(finding.ids) - 1)} more"
    return f"{finding.file} line {finding.line}, {ids}: {safe(measures.words(finding.what))} {safe(measures.words(finding.cure))}"
