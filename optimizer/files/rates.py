"""Two quantities no unit table has: turnover (times per hour) and area per volume of a filter bed."""

from __future__ import annotations

import re

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
    number, word = _one(spaced, "4 per hour")
    if word not in _PER_HOUR:
        raise UnitError(f"{quoted(value)} does not say times per hour.", 'Write for example "4 per hour".')
    return _not_negative(number, value, "4 per hour")


def parse_specific_area(value: object) -> float:
    """Return the area per volume of a bed in m2/m3.

    Raises `UnitError` for anything but one such quantity, not negative.

    >>> parse_specific_area("900 m2/m3"), parse_specific_area("0.9 m2/l")
    (900.0, 900.0)
    """
    number, word = _one(value, "900 m2/m3")
    if word not in _PER_VOLUME:
        raise UnitError(f"{quoted(value)} is not an area per volume.", 'Write for example "900 m2/m3".')
    return _not_negative(number * _PER_VOLUME[word], value, "900 m2/m3")


def _one(value: object, example: str) -> tuple[float, str]:
    """Return number and unit key of a text with exactly one amount."""
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
    return float(amounts[0].number), word_key(amounts[0].word)


def _not_negative(number: float, value: object, example: str) -> float:
    if number < 0.0:
        raise UnitError(f"{quoted(value)} is negative.", f"Write for example {quoted(example)}.")
    return number
