"""Two quantities no unit table has: turnover (times per hour) and area per volume of a filter bed."""

from __future__ import annotations

import re
from collections.abc import Mapping

from optimizer.errors import quoted
from optimizer.quantity_text import UnitError, read, word_key

__all__ = ["parse_specific_area", "parse_turnover"]

_PER_HOUR = {"/h", "/hour", "/hr", "x/h", "x/hour", "times/hour", "times/h", "timesanhour"}
_PER_VOLUME = {"m2/m3": 1.0, "m2/l": 1000.0, "cm2/cm3": 100.0}


def parse_turnover(value: object) -> float:
    """Return how many tank volumes per hour the text asks for.

    Raises `UnitError` for anything but one number per hour, not negative.

    >>> parse_turnover("4 per hour"), parse_turnover("5.5/h")
    (4.0, 5.5)
    """
    # a slash straight behind a number is taken for a fraction elsewhere
    spaced = re.sub(r"^([^/]*[0-9]) */", r"\1 per ", value) if isinstance(value, str) else value
    return _one(spaced, value, dict.fromkeys(_PER_HOUR, 1.0), "does not say times per hour", "4 per hour")


def parse_specific_area(value: object) -> float:
    """Return the area per volume of a bed in m2/m3.

    Raises `UnitError` for anything but one such quantity, not negative.

    >>> parse_specific_area("900 m2/m3"), parse_specific_area("0.9 m2/l")
    (900.0, 900.0)
    """
    return _one(value, value, _PER_VOLUME, "is not an area per volume", "900 m2/m3")


def _one(value: object, written: object, units: Mapping[str, float], fault: str, example: str) -> float:
    """Return the number of a text with exactly one amount, times what its unit counts; `written` is the text for messages."""
    cure = f"Write for example {quoted(example)}."
    if isinstance(value, int | float) and not isinstance(value, bool):
        shown = quoted(value) if abs(value) < 1e15 else "this number"
        raise UnitError(f"{shown} has no unit.", cure)
    if not isinstance(value, str):
        raise UnitError("this is not text with a number and a unit.", cure)
    amounts = read(value, example)
    if len(amounts) != 1:
        raise UnitError(f"{quoted(value)} is not one number with a unit.", cure)
    if not amounts[0].word:
        raise UnitError(f"{quoted(value)} has no unit.", cure)
    word = word_key(amounts[0].word)
    if word not in units:
        raise UnitError(f"{quoted(written)} {fault}.", cure)
    if amounts[0].number < 0:
        raise UnitError(f"{quoted(written)} is negative.", cure)
    return float(amounts[0].number) * units[word]
