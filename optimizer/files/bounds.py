"""Whether a number lies where its field allows."""

from __future__ import annotations

import math

from optimizer.errors import BadValue
from optimizer.files.field import Field
from optimizer.units import Dimension, from_si, show

__all__ = ["check_bounds"]

SLACK = 1e-9
"""A bound given in other units must not refuse itself by the last bit."""


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
    if value < 0.0 and (field.positive or field.low == 0.0 or field.low > 0.0):
        raise BadValue(f"{shown} is negative.", cure)
    if field.positive and value <= 0.0:
        raise BadValue(f"{shown} must be above zero.", cure)
    if value < field.low - SLACK * abs(field.low):
        raise BadValue(f"{shown} is too small: at least {_bound(field, field.low, cell)}.", cure)
    if value > field.high + SLACK * abs(field.high):
        raise BadValue(f"{shown} is too large: at most {_bound(field, field.high, cell)}.", cure)


def _bound(field: Field, bound: float, cell: bool) -> str:
    if not isinstance(field.holds, Dimension):
        return f"{bound:g} {field.csv_unit}".strip()
    if cell and field.csv_unit:
        return f"{from_si(bound, field.csv_unit, field.holds):.6g}"
    return show(bound, field.holds)
