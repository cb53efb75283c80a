"""One cell of a catalog file to its value: plain numbers in the unit of the header, words, ends, points."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from types import MappingProxyType

from optimizer.errors import BadValue, near_sentence, quoted
from optimizer.files.curve_text import parse_curve_cell
from optimizer.files.end_text import parse_end
from optimizer.files.field import Field, Value
from optimizer.files.kit_text import parse_contents
from optimizer.money import parse_money
from optimizer.unit_table import COUNT, LENGTH, Dimension
from optimizer.units import from_si, parse

__all__ = ["cell_reader", "checked_id", "checked_text", "chosen"]

LONGEST_TEXT = 200
_ID = re.compile(r"[^\W_][\w.+/-]{0,63}")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_TWO_WAYS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")
_FLAGS = {"yes": True, "true": True, "no": False, "false": False}


def cell_reader(field: Field) -> Callable[[str], object]:
    """Return the function that turns the stripped, non-empty text of a cell of `field` into its value.

    Quantities come back as floats in SI (a count as a float too), money in minor units. The function raises `BadValue`.

    >>> from optimizer.files.part_kinds import by_column
    >>> cell_reader(by_column("clamps.csv")["low_mm"])("20")
    0.02
    """
    if isinstance(field.holds, Dimension) or field.holds in (Value.NUMBER, Value.SPECIFIC_AREA):
        return _number_reader(field)
    if field.holds is Value.CHOICE:
        return lambda text: chosen(field.choices, text)
    if field.holds is Value.WORDS:
        return lambda text: tuple(dict.fromkeys(chosen(field.choices, each) for each in re.split("[;,]", text)))
    return _WORD_READERS[field.holds]


def _number_reader(field: Field) -> Callable[[str], float]:
    # one call of the unit table for a whole column: a cell holds nothing but a number
    unit_only = isinstance(field.holds, Dimension) and bool(field.csv_unit)
    per_si = from_si(1.0, field.csv_unit, field.holds) if unit_only and isinstance(field.holds, Dimension) else 1.0
    least, most = field.surely
    counts = field.holds is COUNT

    def read(text: str) -> float:
        value = _plain_number(field, text) / per_si
        if not least <= value <= most:
            field.check(value, quoted(text), cell=True)
        if counts and value != math.floor(value):
            raise BadValue(f"{quoted(text)} is not a whole number.", field.cell_cure)
        return value

    return read


def _plain_number(field: Field, text: str) -> float:
    if _NUMBER.fullmatch(text) is not None:
        if "," in text and _TWO_WAYS.fullmatch(text) is not None:
            cure = f"Write {quoted(text.replace(',', ''))} or {quoted(text.replace(',', '.').rstrip('0').rstrip('.'))}."
            raise BadValue(f"{quoted(text)} can be read with a thousands comma or with a decimal comma.", cure)
        return float(text.replace(",", "."))
    if text.casefold().lstrip("+-") in {"nan", "inf", "infinity"}:
        raise BadValue(f"{quoted(text)} is not a finite number.", field.cell_cure)
    unit = f" The unit stands in the header ({field.csv_unit})." if field.csv_unit and any(map(str.isdigit, text)) else ""
    raise BadValue(f"{quoted(text)} is not a plain number.{unit}", field.cell_cure)


def checked_text(text: str) -> str:
    """Return the text of a name. Raises `BadValue` when it is too long or holds characters that do not print.

    >>> checked_text("hose tail")
    'hose tail'
    """
    if len(text) > LONGEST_TEXT:
        raise BadValue(f"{quoted(text)} is longer than {LONGEST_TEXT} characters.", "Write a shorter name.")
    if not text.isprintable():
        raise BadValue(f"{quoted(text)} has characters that do not print.", "Type the name again.")
    return text


def checked_id(text: str) -> str:
    """Return an id. Raises `BadValue` for anything but one word of letters, digits and . + / - _ .

    >>> checked_id("HOSE-16-22")
    'HOSE-16-22'
    """
    if _ID.fullmatch(text) is None:
        raise BadValue(
            f"{quoted(text)} is not an id.",
            'Write one word of up to 64 letters, digits and . + / - _, for example "TAIL-16-G34".',
        )
    return text


def chosen(choices: tuple[str, ...], text: str) -> str:
    """Return the one of `choices` that `text` is, upper and lower case alike. Raises `BadValue` with near names.

    >>> chosen(("washer", "tape"), "Washer")
    'washer'
    """
    key = " ".join(text.split()).casefold()
    for choice in choices:
        if choice.casefold() == key:
            return choice
    near = near_sentence(text, choices)
    raise BadValue(f"{quoted(text)} is not known here.", f"{near} Write one of: {', '.join(choices)}.".strip())


def _flag(text: str) -> bool:
    if text.casefold() not in _FLAGS:
        raise BadValue(f"{quoted(text)} is neither yes nor no.", "Write yes or no.")
    return _FLAGS[text.casefold()]


def _inches(text: str) -> float:
    return parse(f"{text} in", LENGTH, minimum=0.0, maximum=0.2)


_WORD_READERS: Mapping[Value, Callable[[str], object]] = MappingProxyType(
    {
        Value.TEXT: checked_text,
        Value.ID: checked_id,
        Value.YES_NO: _flag,
        Value.MONEY: parse_money,
        Value.END: parse_end,
        Value.CURVE: parse_curve_cell,
        Value.INCH: _inches,
        Value.CONTENTS: parse_contents,
    }
)
