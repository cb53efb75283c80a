"""What an answer says of the fills it goes by."""

from __future__ import annotations

from optimizer.errors import safe
from optimizer.model.fitted import ByFills, FittedFactor
from optimizer.model.part_names import named
from optimizer.report.layout import GLUE, Block, bullets, cut
from optimizer.report.measures import Measures, number, system

__all__ = ["by_fills_lines", "by_fills_sentences", "by_fills_text", "moved"]

LONGEST_PART = 60
MOST_DATES = 3


def by_fills_sentences(told: ByFills | None, measures: Measures) -> list[str]:
    """Return what the fills say of the loop as it is, or why they are not gone by; nothing without fills."""
    if told is None:
        return []
    if told.left_out:
        return [f"The {_fills(told)} in the rig file {_are(told)} left out: {safe(told.left_out)}."]
    delivers, stated = measures.flow_text(told.delivered_m3s), measures.flow_text(told.stated_m3s)
    return [f"By the {_fills(told)}{_dates(told)} the loop as it is delivers {delivers}; the stated figures say {stated}."]


def by_fills_text(told: ByFills, units: str = "metric") -> str:
    """Return the same as plain text. Raises ValueError for other units than "metric" and "us"."""
    return " ".join(by_fills_sentences(told, system(units))).replace(GLUE, " ")


def by_fills_lines(told: ByFills | None, measures: Measures) -> list[Block]:
    """Return the section on figures that fills moved, and on what is assumed; nothing where no fills are gone by."""
    if told is None or told.left_out:
        return []
    return ["By the fills", *bullets(moved(told)), *bullets(safe(measures.words(note)) for note in told.notes)]


def moved(told: ByFills) -> list[str]:
    """Return the stated figures that the fills moved, each with its factor, or that there are none."""
    return [_factor(each) for each in told.factors] or ["no stated figure has moved by more than a few percent"]


def _fills(told: ByFills) -> str:
    return "fill" if told.fills == 1 else f"{told.fills} fills"


def _are(told: ByFills) -> str:
    return "is" if told.fills == 1 else "are"


def _dates(told: ByFills) -> str:
    if not told.dates:
        return ""
    if len(told.dates) > MOST_DATES:
        return f" of {safe(told.dates[0])} to {safe(told.dates[-1])}"
    return f" of {' and '.join(map(safe, told.dates))}"


def _factor(each: FittedFactor) -> str:
    part = cut(safe(" - ".join(named(each.part))), LONGEST_PART)
    return f"{part}: {safe(each.unknown)}, {safe(each.scales)} {number(each.factor, 2)} times the stated"
