"""Whether a number lies where its field allows."""

from __future__ import annotations

import math

from optimizer.errors import BadValue
from optimizer.files.field import Field, Value
from optimizer.files.ranges import Range
from optimizer.units import LENGTH, TIME, Dimension, from_si, show

__all__ = ["check_bounds"]

SLACK = 1e-9
"""A bound given in other units must not refuse itself by the last bit."""


_MADE_OF = {Value.BORES: LENGTH, Value.INCH: LENGTH, Value.TIMES: TIME}
"""What the numbers of such a value measure."""


def check_bounds(field: Field, value: float, shown: str, *, cell: bool) -> None:
    """Return nothing when `value` (SI) lies within the bounds of `field`.

    `shown` is the value as written; `cell` tells that the cure is for a catalog cell. Raises `BadValue`.

    >>> from optimizer.units import SHARE
    >>> blocked = Field(name="blocked", holds=SHARE, meaning="", example="40 %", under_one=True)
    >>> check_bounds(blocked, 1.0, '"100 %"', cell=False)
    Traceback (most recent call last):
    optimizer.errors.BadValue: "100 %" must be less than 100 %. Write for example "40 %".
    """
    cure = field.cell_cure if cell else field.key_cure
    if not math.isfinite(value):
        raise BadValue(f"{shown} is not a finite number.", cure)
    if field.under_one and value >= 1.0:
        raise BadValue(f"{shown} must be less than 100 %.", cure)
    low, high = field.within or (field.low, field.high)
    positive = field.positive or field.within is not None
    if value < 0.0 and (positive or low >= 0.0):
        raise BadValue(f"{shown} is negative.", cure)
    if positive and value <= 0.0:
        raise BadValue(f"{shown} must be above zero.", cure)
    if value < low - SLACK * abs(low):
        raise BadValue(
            f"{shown} is too small: at least {_bound(field, low, cell)}.", _in_metres(field, value, (low, high), cell) or cure
        )
    if value > high + SLACK * abs(high):
        raise BadValue(f"{shown} is too large: at most {_bound(field, high, cell)}.", cure)


def _in_metres(field: Field, value: float, within: Range, cell: bool) -> str:
    """What to write into a column of millimetres when its number would do in metres; empty when that is no way out."""
    if not (cell and field.csv_unit == "mm" and within[0] <= value * 1e3 <= within[1]):
        return ""
    return f'The column is in mm: if these are metres, write "{value * 1e6:.6g}".'


def _bound(field: Field, bound: float, cell: bool) -> str:
    holds = _MADE_OF.get(field.holds, field.holds) if isinstance(field.holds, Value) else field.holds
    if not isinstance(holds, Dimension):
        return f"{bound:g} {field.csv_unit}".strip()
    if cell and field.csv_unit:
        return f"{from_si(bound, field.csv_unit, holds):.6g}"
    return show(bound, holds)
