"""One value behind a key of a rig file, as TOML gives it, to the value its field holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, datetime
from types import MappingProxyType

from optimizer.errors import BadValue, quoted
from optimizer.files.cell_text import checked_id, checked_text, chosen
from optimizer.files.curve_text import parse_curve_list, parse_point, parse_window
from optimizer.files.end_text import parse_end
from optimizer.files.field import Field, Value
from optimizer.files.rates import parse_specific_area, parse_turnover
from optimizer.money import parse_energy_price, parse_money
from optimizer.quantity_text import read
from optimizer.unit_table import LENGTH, TIME, Dimension
from optimizer.units import parse, parse_bore_pair, parse_box

__all__ = ["read_value"]


def read_value(field: Field, raw: object) -> object:
    """Return the value of `field` from what TOML holds: SI floats for quantities (one of the words of the field where that
    stands instead), minor units for money.

    Raises `BadValue` for a value of the wrong type, without its unit, of the wrong kind or out of bounds.

    >>> from optimizer.files.part_kinds import HOSE
    >>> read_value(HOSE[0], "16/22 mm")
    (0.016, 0.022)
    """
    if field.words:
        return _word_or(field, raw)
    if isinstance(field.holds, Dimension):
        return field.check(parse(raw, field.holds), quoted(raw))
    return _READERS[field.holds](field, raw)


def _word_or(field: Field, raw: object) -> object:
    """Return one of the words of a field, or what else it holds."""
    if isinstance(raw, str) and (word := " ".join(raw.split()).casefold()) in field.words:
        return word
    try:
        return read_value(replace(field, words=()), raw)
    except BadValue as error:
        raise BadValue(error.what, f"{error.cure} Or write {' or '.join(map(quoted, field.words))}.") from None


def _bounded(reads: Callable[[object], float]) -> Callable[[Field, object], float]:
    """Return the reader of one number within the bounds of its field."""
    return lambda field, raw: field.check(reads(raw), quoted(raw))


def _plain(field: Field, raw: object) -> float:
    return field.check(_number(field, raw), quoted(raw))


def _bores(field: Field, raw: object) -> tuple[float, float]:
    inside, outside = parse_bore_pair(raw)
    return field.check(inside, quoted(raw)), field.check(outside, quoted(raw))


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


def _flag(_: Field, raw: object) -> bool:
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
    return tuple(field.check(_seconds(field, one), quoted(one)) for one in each)


def _seconds(field: Field, raw: object) -> float:
    return _number(field, raw) if isinstance(raw, int | float) else parse(raw, TIME)


def _words(field: Field, raw: object) -> tuple[str, ...]:
    each = raw.split(",") if isinstance(raw, str) else raw
    if not isinstance(each, list) or not all(isinstance(word, str) for word in each):
        raise BadValue(f"{_described(raw)} stands where words are expected.", field.key_cure)
    return tuple(dict.fromkeys(chosen(field.choices, word.strip()) for word in each))


def _places(field: Field, raw: object) -> tuple[str, ...]:
    if not isinstance(raw, list) or len(raw) != 2 or not all(isinstance(name, str) and name.strip() for name in raw):
        raise BadValue("these are not the names of two places.", field.key_cure)
    return tuple(checked_text(name.strip()) for name in raw)


def _pieces(field: Field, raw: object) -> list[dict[str, object]]:
    """Return pieces as tables; an id alone stands for a part of the catalog."""
    each = raw if isinstance(raw, list) else None
    if not each or not all(isinstance(piece, dict | str) for piece in each):
        raise BadValue("this is not a list of ids or of tables.", field.key_cure)
    return [piece if isinstance(piece, dict) else {"part": piece} for piece in each]


def _names(field: Field, raw: object) -> tuple[str, ...]:
    each = raw.split(",") if isinstance(raw, str) else raw
    if not isinstance(each, list) or not all(isinstance(word, str) and word.strip() for word in each):
        raise BadValue(f"{_described(raw)} stands where words are expected.", f"Write for example {field.example}.")
    return tuple(dict.fromkeys(word.strip() for word in each))


def _date(_: Field, raw: object) -> str:
    """Return a day as ISO 8601 has it."""
    if isinstance(raw, date):
        return (raw.date() if isinstance(raw, datetime) else raw).isoformat()
    try:
        return date.fromisoformat(raw.strip() if isinstance(raw, str) else "").isoformat()
    except ValueError:
        shown = quoted(raw) if isinstance(raw, str) else _described(raw)
        raise BadValue(f"{shown} is no date.", "Write year, month and day, for example 2026-03-01.") from None


def _described(raw: object) -> str:
    """Return what kind of TOML value this is, in words."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, int | float):
        return f"the number {raw}" if abs(raw) < 1e15 else "a number"
    if isinstance(raw, str):
        return "text"
    return "a list" if isinstance(raw, list) else "a table" if isinstance(raw, dict) else "a date or time"


_READERS: Mapping[Value, Callable[[Field, object], object]] = MappingProxyType(
    {
        **dict.fromkeys((Value.TEXT, Value.ID, Value.CHOICE, Value.END), _from_text),
        Value.YES_NO: _flag,
        Value.NUMBER: _plain,
        Value.MONEY: lambda _, raw: parse_money(raw),
        Value.ENERGY_PRICE: lambda _, raw: parse_energy_price(raw),
        Value.CURVE: lambda _, raw: parse_curve_list(raw),
        Value.POINT: lambda _, raw: parse_point(raw),
        Value.WINDOW: lambda _, raw: parse_window(raw),
        Value.BORES: _bores,
        Value.BOX: lambda _, raw: parse_box(raw),
        Value.INCH: _bounded(lambda raw: parse(raw, LENGTH)),
        Value.TURNOVER: _bounded(parse_turnover),
        Value.SPECIFIC_AREA: _bounded(parse_specific_area),
        Value.LIST: _tables,
        Value.TIMES: _times,
        Value.WORDS: _words,
        Value.NAMES: _names,
        Value.DATE: _date,
        Value.TABLE: _table,
        Value.PLACES: _places,
        Value.PIECES: _pieces,
    }
)
