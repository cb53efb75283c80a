"""What the answers about measurements have in common when they are shown: bands, fills, notes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from optimizer.errors import safe
from optimizer.model.fill import fill_label
from optimizer.model.measuring import CorrectedFlow, FlowBand, MeasuredFlow, RatioBand
from optimizer.report.layout import GLUE, Block, aligned, bullets
from optimizer.report.measures import Measures, gain, number

__all__ = ["assumed", "band_text", "fill_table", "fill_warnings", "label_text", "relative_text", "spaced", "upper"]


def band_text(band: FlowBand, measures: Measures) -> str:
    """Return a flow with the band that holds it in 8 of 10 cases."""
    low, high = measures.bare_flow(band.p10_m3s), measures.flow_text(band.p90_m3s)
    return f"{measures.flow_text(band.p50_m3s)} (8 of 10: {low} to {high})"


def gain_text(gained: RatioBand) -> str:
    """Return what a flow is multiplied by as a gain with its band.

    >>> gain_text(RatioBand(p10=1.1, p50=1.2, p90=1.35)).replace(GLUE, " ")
    '+20 % (+10 % to +35 %)'
    """
    return f"{gain(gained.p50, 1.0)} ({gain(gained.p10, 1.0)} to {gain(gained.p90, 1.0)})"


def relative_text(relative: float) -> str:
    """Return a relative uncertainty.

    >>> relative_text(0.0123).replace(GLUE, " ")
    '1.2 %'
    """
    return f"{number(100.0 * relative, 1)}{GLUE}%"


def spaced(text: str) -> str:
    """Return text with a space between a number and its percent sign, as everywhere in a report.

    >>> spaced("28% of it").replace(GLUE, " ")
    '28 % of it'
    """
    return re.sub(r"(?<=[0-9]) ?%", f"{GLUE}%", text)


def upper(text: str) -> str:
    """Return text that begins with a capital."""
    return f"{text[:1].upper()}{text[1:]}"


def fill_table(fills: Sequence[CorrectedFlow], measures: Measures) -> list[Block]:
    """Return the fills as a table, each as it was read and as it would be with everything on, the outlet in its place."""
    heads = [
        ("", "took", "measured", "+/- 95 %", "as installed", "8 of 10"),
        ("", "s", measures.flow, measures.flow, measures.flow, measures.flow),
    ]
    return aligned([*heads, *(_fill_row(each, measures) for each in fills)], heads=2)


def _fill_row(each: CorrectedFlow, measures: Measures) -> tuple[str, ...]:
    found, band = each.measured, each.installed
    return (
        # in a table the water line goes without saying
        safe(measures.words(fill_label(found.date, found.state, found.height_m, line=""))),
        number(found.seconds, 1),
        measures.bare_flow(found.flow_m3s),
        measures.bare_flow(found.expanded_m3s),
        measures.bare_flow(band.p50_m3s),
        f"{measures.bare_flow(band.p10_m3s)} to {measures.bare_flow(band.p90_m3s)}",
    )


def label_text(found: MeasuredFlow, measures: Measures) -> str:
    """Return a fill in a few words."""
    return measures.words(fill_label(found.date, found.state, found.height_m))


def fill_warnings(fills: Iterable[CorrectedFlow], measures: Measures) -> list[Block]:
    """Return what should be done better next time, each with the fills it is about."""
    about: dict[str, list[str]] = {}
    for each in fills:
        for warning in each.measured.warnings:
            about.setdefault(measures.words(warning), []).append(label_text(each.measured, measures))
    return bullets(f"{safe('; '.join(dict.fromkeys(labels)))}: {safe(warning)}" for warning, labels in about.items())


def assumed(notes: Iterable[str], measures: Measures) -> list[Block]:
    """Return what was assumed, under its heading; nothing when nothing was."""
    lines = bullets(spaced(safe(measures.words(note))) for note in notes)
    return ["", "Assumed", *lines] if lines else []
