"""What one column or key is: meaning, unit, bounds, example. Reader, messages and reference are made from it."""

from __future__ import annotations

import math
import re
import sys
from dataclasses import KW_ONLY, dataclass
from enum import Enum

from optimizer.errors import BadValue, quoted
from optimizer.files.ranges import Range
from optimizer.unit_table import LENGTH, TIME, Dimension
from optimizer.units import from_si, show

__all__ = ["Field", "Value"]

SLACK = 1e-9
"""A bound given in other units must not refuse itself by the last bit."""


class Value(Enum):
    """What a field holds when it is not one quantity with a unit; the text says it to the keeper."""

    TEXT = "text"
    ID = "one word, the same in every file"
    CHOICE = "one of the words listed"
    YES_NO = "yes or no"
    NUMBER = "a plain number"
    MONEY = "an amount of money"
    ENERGY_PRICE = "money per kWh"
    END = "an end of a part"
    CURVE = "points of a pump curve"
    POINT = "one flow and the head lost at it"
    WINDOW = "two flows"
    BORES = "inside and outside diameter"
    BOX = "length x width x height"
    INCH = "a size in inches"
    TURNOVER = "times per hour"
    SPECIFIC_AREA = "area per volume"
    CONTENTS = "parts of a kit"
    LIST = "a list of tables"
    TIMES = "one time or a list of times"
    WORDS = "some of the words listed"
    NAMES = "a list of words"
    DATE = "a date"
    TABLE = "a table"
    PLACES = "two names of places"
    PIECES = "a list of ids, or of tables"


_MADE_OF = {Value.BORES: LENGTH, Value.INCH: LENGTH, Value.TIMES: TIME}
"""What the numbers of such a value measure."""


@dataclass(frozen=True, slots=True)
class Field:
    """One column of a catalog file, and the key of the same name in a rig file.

    `holds` is a `Dimension` for a quantity with a unit, else a `Value`. `csv_unit` is the unit of the column; the
    column is named after it unless `csv_column` says otherwise. A value below `low` or above `high` (SI, inclusive),
    not above zero when `positive`, not `within` what such a thing can be, or not below 1 when `under_one`, is refused. A
    field that is not `required` has the `default` (None: left out); `usual` says what is taken where that is a rule of
    `optimizer.model.usual_figures` (empty: there is none). `words` may stand in a rig file in place of a quantity.
    `in_csv` and `in_rig` tell where it may be written.

    >>> from optimizer.unit_table import LENGTH
    >>> Field("inlet_bore", LENGTH, "open inside diameter", "12", csv_unit="mm").column
    'inlet_bore_mm'
    """

    name: str
    holds: Dimension | Value
    meaning: str
    example: str
    _: KW_ONLY
    csv_unit: str = ""
    csv_column: str = ""
    rig_example: str = ""
    required: bool = False
    default: object = None
    choices: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    low: float = -math.inf
    high: float = math.inf
    positive: bool = False
    within: Range | None = None
    under_one: bool = False
    in_csv: bool = True
    in_rig: bool = True
    usual: str = ""

    @property
    def column(self) -> str:
        """Name of the column in a catalog file: the field's name and its unit, in lower case."""
        if self.csv_column or not self.csv_unit:
            return self.csv_column or self.name
        unit = {"%": "pct"}.get(self.csv_unit, re.sub("[()]", "", self.csv_unit.replace("/", "_")).lower())
        return f"{self.name}_{unit}"

    @property
    def cell_example(self) -> str:
        """The example as a cell of a catalog file has it: a number without its unit.

        >>> from optimizer.unit_table import LENGTH
        >>> Field("bore", LENGTH, "", "12 mm", csv_unit="mm").cell_example
        '12'
        """
        unit = f" {self.csv_unit}"
        return self.example.removesuffix(unit) if self.csv_unit else self.example

    @property
    def cell_cure(self) -> str:
        """What to write into a cell of the column instead."""
        return self._cure(self.cell_example, "yes or no")

    @property
    def key_cure(self) -> str:
        """What to write behind the key of a rig file instead."""
        return self._cure(self.key_example, "true or false")

    @property
    def key_example(self) -> str:
        """The example as a rig file has it: with its unit, and true or false for yes or no."""
        flags = {"yes": "true", "no": "false"} if self.holds is Value.YES_NO else {}
        return self.rig_example or flags.get(self.example, self.example)

    def _cure(self, example: str, flag: str) -> str:
        if self.choices and self.holds is Value.WORDS:
            return f"Write some of: {', '.join(self.choices)}."
        if self.choices:
            return f"Write one of: {', '.join(self.choices)}."
        shown = example if example.startswith("[") else quoted(example)
        return f"Write {flag}." if self.holds is Value.YES_NO else f"Write for example {shown}."

    @property
    def surely(self) -> tuple[float, float]:
        """The least and the greatest value (SI) between which `check` finds nothing: most values of a column are told by two
        comparisons. What lies outside may be right all the same, by its slack.

        >>> from optimizer.unit_table import SHARE
        >>> Field("blocked", SHARE, "", "40 %", low=0.0, under_one=True).surely
        (0.0, 0.9999999999999999)
        """
        low, high = self.within or (self.low, self.high)
        if self.positive or self.within is not None:
            low = max(low, math.nextafter(0.0, 1.0))
        most = math.nextafter(1.0, 0.0) if self.under_one else sys.float_info.max
        return max(low, -sys.float_info.max), min(high, most)

    def check(self, value: float, shown: str, *, cell: bool = False) -> float:
        """Return `value` (SI) when it lies within the bounds. `shown` is the value as written; `cell` tells that the cure is for
        a catalog cell. Raises `BadValue`.

        >>> from optimizer.unit_table import SHARE
        >>> Field("blocked", SHARE, "", "40 %", under_one=True).check(1.0, '"100 %"')
        Traceback (most recent call last):
        optimizer.errors.BadValue: "100 %" must be less than 100 %. Write for example "40 %".
        """
        cure = self.cell_cure if cell else self.key_cure
        if not math.isfinite(value):
            raise BadValue(f"{shown} is not a finite number.", cure)
        if self.under_one and value >= 1.0:
            raise BadValue(f"{shown} must be less than 100 %.", cure)
        low, high = self.within or (self.low, self.high)
        positive = self.positive or self.within is not None
        if value < 0.0 and (positive or low >= 0.0):
            raise BadValue(f"{shown} is negative.", cure)
        if positive and value <= 0.0:
            raise BadValue(f"{shown} must be above zero.", cure)
        if value < low - SLACK * abs(low):
            if cell and self.csv_unit == "mm" and low <= value * 1e3 <= high:
                cure = f'The column is in mm: if these are metres, write "{value * 1e6:.6g}".'
            raise BadValue(f"{shown} is too small: at least {self._bound(low, cell)}.", cure)
        if value > high + SLACK * abs(high):
            raise BadValue(f"{shown} is too large: at most {self._bound(high, cell)}.", cure)
        return value

    def _bound(self, bound: float, cell: bool) -> str:
        holds = _MADE_OF.get(self.holds, self.holds) if isinstance(self.holds, Value) else self.holds
        if not isinstance(holds, Dimension):
            return f"{bound:g} {self.csv_unit}".strip()
        if cell and self.csv_unit:
            return f"{from_si(bound, self.csv_unit, holds):.6g}"
        return show(bound, holds)
