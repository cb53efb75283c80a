"""One value behind a key of a rig file, as TOML gives it, to the value its field holds."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

from optimizer.errors import BadValue, quoted
from optimizer.files.bounds import check_bounds
from optimizer.files.cell_text import checked_id, checked_text, chosen
from optimizer.files.curve_text import parse_curve_list, parse_point, parse_window
from optimizer.files.end_text import parse_end
from optimizer.files.field import Field, Value
from optimizer.files.rates import parse_specific_area, parse_turnover
from optimizer.money import parse_money
from optimizer.quantity_text import read
from optimizer.units import LENGTH, TIME, Dimension, parse, parse_bore_pair

__all__ = ["read_value"]


def read_value(field: Field, raw: object) -> object:
    """Return the value of `field` from what TOML holds: SI floats for quantities, minor units for money.

    Raises `BadValue` for a value of the wrong type, without its unit, of the wrong kind or out of bounds.

    >>> from optimizer.files.part_kinds import HOSE
    >>> read_value(HOSE[0], "16/22 mm")
    (0.016, 0.022)
    """
    if isinstance(field.holds, Dimension):
        return _bounded(field, parse(raw, field.holds), raw)
    if field.holds is Value.NUMBER:
        return _bounded(field, _number(field, raw), raw)
    if field.holds in (Value.SPECIFIC_AREA, Value.TURNOVER):
        reader = parse_turnover if field.holds is Value.TURNOVER else parse_specific_area
        return _bounded(field, reader(raw), raw)
    if field.holds is Value.INCH:
        return _bounded(field, parse(raw, LENGTH), raw)
    if field.holds is Value.YES_NO:
        return _flag(raw)
    if field.holds is Value.LIST:
        return _tables(field, raw)
    if field.holds is Value.TABLE:
        return _table(field, raw)
    if field.holds is Value.BORES:
        inside, outside = parse_bore_pair(raw)
        return _bounded(field, inside, raw), _bounded(field, outside, raw)
    if field.holds in _FIELD_READERS:
        return _FIELD_READERS[field.holds](field, raw)
    if field.holds in _OWN_READERS:
        return _OWN_READERS[field.holds](raw)
    return _from_text(field, raw)


_OWN_READERS: dict[Value, Callable[[object], object]] = {
    Value.MONEY: parse_money,
    Value.CURVE: parse_curve_list,
    Value.POINT: parse_point,
    Value.WINDOW: parse_window,
}


def _from_text(field: Field, raw: object) -> object:
    if not isinstance(raw, str):
        raise BadValue(f"{_described(raw)} stands where text is expected.", field.key_cure)
    text = raw.strip()
    if not text:
        raise BadValue("the value is empty.", field.key_cure)
    if field.holds is Value.CHOICE:
        return chosen(field.choices, text)
    if field.holds is Value.END:
        return parse_end(text)
    return checked_id(text) if field.holds is Value.ID else checked_text(text)


def _bounded(field: Field, value: float, raw: object) -> float:
    check_bounds(field, value, quoted(raw), cell=False)
    return value


def _number(field: Field, raw: object) -> float:
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        raise BadValue(f"{_described(raw)} stands where a number is expected.", field.key_cure)
    if isinstance(raw, str):
        amounts = read(raw, field.example)
        if len(amounts) != 1 or amounts[0].word:
            raise BadValue(f"{quoted(raw)} is not a plain number.", field.key_cure)
        return float(amounts[0].number)
    if abs(raw) > 1e9:
        raise BadValue("the number is too large.", field.key_cure)
    return float(raw)


def _flag(raw: object) -> bool:
    if not isinstance(raw, bool):
        shown = quoted(raw) if isinstance(raw, str) else _described(raw)
        raise BadValue(f"{shown} stands where true or false is expected.", "Write true or false, without quotes.")
    return raw


def _tables(field: Field, raw: object) -> list[dict[str, object]]:
    if not isinstance(raw, list) or not all(isinstance(entry, dict) for entry in raw):
        raise BadValue("this is not a list of tables.", f"Write for example {field.example}.")
    return raw


def _table(field: Field, raw: object) -> dict[str, object]:
    if not isinstance(raw, dict):
        raise BadValue("this is not a table.", f"Write for example {field.example}.")
    return raw


def _times(field: Field, raw: object) -> tuple[float, ...]:
    """Return times in s; a number alone counts seconds, as a stopwatch shows them."""
    each = raw if isinstance(raw, list) else [raw]
    if not each:
        raise BadValue("the list is empty.", field.key_cure)
    return tuple(_bounded(field, _seconds(field, one), one) for one in each)


def _seconds(field: Field, raw: object) -> float:
    return _number(field, raw) if isinstance(raw, int | float) else parse(raw, TIME)


def _words(field: Field, raw: object) -> tuple[str, ...]:
    each = raw.split(",") if isinstance(raw, str) else raw
    if not isinstance(each, list) or not all(isinstance(word, str) for word in each):
        raise BadValue(f"{_described(raw)} stands where words are expected.", field.key_cure)
    return tuple(dict.fromkeys(chosen(field.choices, word.strip()) for word in each))


def _date(_: Field, raw: object) -> str:
    """Return a day as ISO 8601 has it."""
    if isinstance(raw, date):
        return (raw.date() if isinstance(raw, datetime) else raw).isoformat()
    try:
        return date.fromisoformat(raw.strip() if isinstance(raw, str) else "").isoformat()
    except ValueError:
        shown = quoted(raw) if isinstance(raw, str) else _described(raw)
        raise BadValue(f"{shown} is no date.", "Write year, month and day, for example 2026-03-01.") from None


_FIELD_READERS: dict[Value, Callable[[Field, object], object]] = {Value.TIMES: _times, Value.WORDS: _words, Value.DATE: _date}


def _described(raw: object) -> str:
    """Return what kind of TOML value this is, in words."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, int | float):
        return f"the number {raw}" if abs(raw) < 1e15 else "a number"
    if isinstance(raw, str):
        return "text"
    return "a list" if isinstance(raw, list) else "a table" if isinstance(raw, dict) else "a date or time"
