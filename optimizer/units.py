"""Quantities with units at the border: text in, SI floats out, and back. The only module that imports pint.

Inside the program every number is a float in the unit its dimension names (`Dimension.si`). Factors come from
`unit_table`; pint is asked only about a unit that is not listed there, by its name, never by text from a file.
"""

from __future__ import annotations

import math
import re
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from optimizer.errors import near_sentence, quoted
from optimizer.quantity_text import Amount, UnitError, clean, read, read_two, word_key
from optimizer.unit_table import (
    BY_NAME,
    COUNT,
    DIMENSIONS,
    HEAD,
    LENGTH,
    PRESSURE,
    UNITS,
    WORDS,
    Dimension,
    to_base,
)

if TYPE_CHECKING:
    import pint

__all__ = ["UnitError", "from_si", "gallon_note", "head_note", "help_lines", "parse", "parse_bore_pair", "parse_box", "show"]

LARGEST = 1e9
BOUND_DIGITS = 3
EXACT_DIGITS = 12
SMALLEST_SHOWN = Decimal("1e-12")
"""Below this a number in a keeper's unit is noise and shown as 0, not as a row of zeros."""
BORE_EXAMPLE = "16/22 mm"
BOX_EXAMPLE = "40 x 30 x 45 cm"
KINDS: dict[str, Dimension] = {dimension.name: dimension for dimension in DIMENSIONS}

# what a division of two units is, by the kinds above and below the line
_RATES = {("volume", "time"): "flow", ("length", "time"): "speed", ("mass", "time"): "feed"}
_SUMS = {("foot", "inch"), ("week", "day"), ("day", "hour"), ("hour", "minute"), ("minute", "second")}
_USUAL_BOTTOMS = {2, 3, 4, 8, 16, 32, 64}
_METRIC_LENGTHS = {"metre", "centimetre", "millimetre", "micrometre"}
_INCH_LENGTHS = {"inch", "foot"}
_UNIT_BEHIND = re.compile(r"[^0-9., /-]+$")


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry[Fraction]:
    """Return the registry of exactly the units in the table, built on first use: importing must do no work.

    It counts in fractions, so that a conversion is exact and only its result is rounded.
    """
    import pint  # loading it lasts longer than to read a rig, and all units of the table have their factor there

    lines = [f"{unit.name} = {unit.definition}" for unit in UNITS]
    return pint.UnitRegistry(lines, non_int_type=Fraction)


@lru_cache(maxsize=1024)
def _scale(name: str, target: str) -> tuple[Fraction, Fraction]:
    """Return factor and offset with which a number in unit `name` becomes one in unit `target`."""
    here, there = to_base(name), to_base(target)
    if here is None or there is None:
        return _scale_by_pint(name, target)
    return here[0] / there[0], (here[1] - there[1]) / there[0]


def _scale_by_pint(name: str, target: str) -> tuple[Fraction, Fraction]:
    offset = Fraction(_registry().convert(Fraction(0), name, target))
    return Fraction(_registry().convert(Fraction(1), name, target)) - offset, offset


@lru_cache(maxsize=1024)
def _unit(word: str) -> tuple[str, str] | None:
    """Return the registry's name for a unit word and the kind it measures, or None if it is not known."""
    key = word_key(word)
    known = WORDS.get(key)
    if known is not None:
        return known.name, known.kind
    above, _, below = key.partition("/")
    top, bottom = WORDS.get(above), WORDS.get(below)
    if not above or not below or top is None or bottom is None:
        return None
    kind = _RATES.get((top.kind, bottom.kind))
    return None if kind is None else (f"{top.name}/{bottom.name}", kind)


def parse(value: object, dimension: Dimension, *, minimum: float | None = None, maximum: float | None = None) -> float:
    """Return the quantity `value` as a float in `dimension.si`.

    `value` is text such as "1 1/2 in"; only a dimension marked `bare` also takes a number without unit.
    `minimum` and `maximum` are inclusive, in `dimension.si`; without them the bounds of nature in the table
    hold. A head may be written as a length or as a pressure, then taken in conventional water, 9806.65 Pa per
    m (NIST SP 811). Raises `UnitError` for everything that is not exactly one such quantity.

    >>> from optimizer.unit_table import LENGTH, TEMPERATURE, VOLUME
    >>> parse("240 l", VOLUME), parse("1 1/2 in", LENGTH), parse("26 °C", TEMPERATURE)
    (0.24, 0.0381, 26.0)
    """
    text = _as_text(value, dimension)
    amounts = read(text, dimension.example)
    names = [_checked_unit(text, amount, dimension) for amount in amounts]
    if len(names) == 2 and (names[0], names[1]) not in _SUMS:
        raise UnitError(f"{quoted(text)} has two units that do not add up.", _for_example(dimension))
    si = float(sum(_inside(a.number, name, dimension) for a, name in zip(amounts, names, strict=True)))
    low = dimension.lowest if minimum is None else minimum
    high = dimension.highest if maximum is None else maximum
    _check_range(si, text, amounts[0].word, dimension, (low, high))
    if dimension is COUNT and si != math.floor(si):
        raise UnitError(f"{quoted(text)} is not a whole number.", _for_example(dimension))
    return si


def parse_bore_pair(value: object) -> tuple[float, float]:
    """Return inside and outside diameter of a hose, in m, from "16/22 mm", "16 x 22 mm" or "5/8 x 7/8 in".

    Raises `UnitError` for one diameter, a missing or wrong unit, or an inside that is not the smaller one.

    >>> parse_bore_pair("16/22 mm")
    (0.016, 0.022)
    """
    cure = f"Write for example {quoted(BORE_EXAMPLE)}."
    text = _as_text(value, LENGTH, cure)
    if not isinstance(value, str):
        raise UnitError(f"{quoted(text)} has no unit.", cure)
    halves = read_two(text, BORE_EXAMPLE)
    if halves is None or (halves[2] == "/" and _unit_name(halves[0]) in _INCH_LENGTHS):
        raise UnitError(f"{quoted(text)} gives one diameter; a hose needs inside and outside.", cure)
    inside, outside = (_half(half, text) for half in halves[:2])
    if not 0.0 < inside < outside:
        raise UnitError(f"{quoted(text)} does not give an inside smaller than its outside.", cure)
    return inside, outside


def parse_box(value: object) -> tuple[float, float, float]:
    """Return length, width and height in m, from "40 x 30 x 45 cm"; a unit behind the last counts for those without.

    Raises `UnitError` for anything but three lengths above zero.

    >>> parse_box("40 x 30 x 45 cm")
    (0.4, 0.3, 0.45)
    """
    cure = f"Write for example {quoted(BOX_EXAMPLE)}."
    text = _as_text(value, LENGTH, cure)
    sides = [side.strip() for side in clean(text).replace("X", "x").split("x")]
    if not isinstance(value, str) or len(sides) != 3:
        raise UnitError(f"{quoted(text)} is not length x width x height.", cure)
    unit = _UNIT_BEHIND.search(sides[-1])
    named = [f"{side} {unit[0]}" if unit is not None and _UNIT_BEHIND.search(side) is None else side for side in sides]
    try:
        length, width, height = (parse(side, LENGTH) for side in named)
    except UnitError as error:
        raise UnitError(error.what, cure) from None
    if min(length, width, height) <= 0.0:
        raise UnitError(f"{quoted(text)} has a side that is not above zero.", cure)
    return length, width, height


def from_si(value_si: float, unit: str, dimension: Dimension) -> float:
    """Return the finite `value_si`, in `dimension.si`, as a number in the unit word `unit`.

    Raises `UnitError` if the word is unknown or of another kind.

    >>> from_si(0.016, "mm", LENGTH)
    16.0
    """
    name = _output_unit(unit, dimension)
    factor, offset = _scale(name, _base(name, dimension))
    return float((Fraction(value_si) - offset) / factor)


def show(value_si: float, dimension: Dimension, unit: str | None = None, digits: int | None = None) -> str:
    """Return `value_si`, in `dimension.si`, as text that `parse` reads back.

    `unit` is any accepted unit word; without it the table picks one that suits the size. `digits` counts
    significant digits, without it the table decides; zeros at the end of decimals are left out. Raises
    `UnitError` for an unsuitable unit, `ValueError` for a number not finite or `digits` outside 1 to 17.

    >>> from optimizer.unit_table import FLOW, HEAD, LENGTH
    >>> show(2.0e-4, FLOW), show(0.0165, LENGTH), show(1.2234, HEAD), show(2.0e-4, FLOW, unit="gph")
    ('720 l/h', '16.5 mm', '1.22 m', '190 gph')
    """
    if not math.isfinite(value_si):
        raise ValueError(f"{value_si} is not a finite number")
    figures = dimension.digits if digits is None else digits
    if not 1 <= figures <= 17:
        raise ValueError(f"digits must be 1 to 17, not {figures}")
    word = unit if unit is not None else next(w for bound, w in dimension.shown if abs(value_si) < bound)
    return f"{_rounded(from_si(value_si, word, dimension), figures, ROUND_HALF_EVEN)} {word}".rstrip()


def gallon_note(value: object) -> str | None:
    """Return which gallon a text was read with, or None when it holds none (or cannot be read).

    US gallon 3.785411784 l, imperial gallon 4.54609 l: NIST SP 811 (2008).

    >>> gallon_note("300 gph"), gallon_note("20 imp gal"), gallon_note("75 l")
    ('gal read as US gallon (3.785 l)', 'imp gal read as imperial gallon (4.546 l)', None)
    """
    name = _unit_name(value)
    if "us_gallon" in name:
        return "gal read as US gallon (3.785 l)"
    return "imp gal read as imperial gallon (4.546 l)" if "imp_gallon" in name else None


def head_note(value: object) -> str | None:
    """Return how a head given as a pressure was read, or None when it is a length (or cannot be read).

    >>> head_note("3 psi"), head_note("2.2 m")
    ('pressure read as head of conventional water (9806.65 Pa per m)', None)
    """
    name = _unit_name(value)
    return "pressure read as head of conventional water (9806.65 Pa per m)" if _is_pressure(name) else None


def help_lines() -> tuple[str, ...]:
    """Return one line for each dimension: its name, an example, the unit words.

    >>> help_lines()[1]
    'volume: for example "120 l"; units l, ml, m3, cm3, gal, imp gal; inside m3'
    """
    line = "{d.name}: for example {example}; units {words}; inside {d.si}"
    return tuple(line.format(d=d, example=quoted(d.example), words=", ".join(d.words)) for d in DIMENSIONS)


def _for_example(dimension: Dimension) -> str:
    return f"Write for example {quoted(dimension.example)}."


def _number_text(value: float) -> str:
    """Return a number as its file has it."""
    return repr(value) if isinstance(value, int) else float.__repr__(float(value))


def _as_text(value: object, dimension: Dimension, cure: str = "") -> str:
    if isinstance(value, str):
        return value
    cure = cure or _for_example(dimension)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise UnitError("this is not text with a number and a unit.", cure)
    if isinstance(value, float) and not math.isfinite(value):
        raise UnitError(f"{quoted(_number_text(value))} is not a finite number.", cure)
    if abs(value) > LARGEST:  # a long integer is not even written out: that may take time or be refused
        raise UnitError("the number is too large.", cure)
    return _number_text(value)


def _checked_unit(text: str, amount: Amount, dimension: Dimension) -> str:
    """Return the registry's name of the amount's unit, once it suits the dimension and the number."""
    if not amount.word and not dimension.bare:
        raise UnitError(f"{quoted(text)} has no unit.", _for_example(dimension))
    found = _unit(amount.word)
    if found is None:
        near = near_sentence(amount.word, _words_for(dimension), "Near units")
        cure = f"{near} {_for_example(dimension)}".strip()
        raise UnitError(f"{quoted(text)} has an unknown unit {quoted(amount.word)}.", cure)
    name, kind = found
    if not _suits(kind, dimension):
        what = f"{quoted(text)} is {KINDS[kind].phrase}, not {dimension.phrase}."
        raise UnitError(what, _for_example(dimension))
    if amount.bottom is not None:
        _check_fraction(text, name, amount.bottom, dimension)
    return name


def _check_fraction(text: str, name: str, bottom: int, dimension: Dimension) -> None:
    """Refuse a fraction that is more likely a hose size: "16/22 mm" must not become 0.7 mm."""
    if name in _METRIC_LENGTHS:
        what = f"{quoted(text)} reads as two diameters of a hose or as a fraction."
        raise UnitError(what, f"Write one length with decimals, for example {quoted(dimension.example)}.")
    if bottom not in _USUAL_BOTTOMS:
        what = f"{quoted(text)} is not a usual fraction."
        raise UnitError(what, f"Write it with decimals, for example {quoted(dimension.example)}.")


def _words_for(dimension: Dimension) -> tuple[str, ...]:
    """Return every word that would have suited: those of the help first, then all in the table."""
    units = (unit for unit in UNITS if _suits(unit.kind, dimension))
    return (*dimension.words, *(word for unit in units for word in unit.words))


def _suits(kind: str, dimension: Dimension) -> bool:
    return kind == dimension.name or (dimension is HEAD and kind in {"length", "pressure"})


def _output_unit(word: str, dimension: Dimension) -> str:
    found = _unit(word)
    if found is None or not _suits(found[1], dimension):
        cure = f"Use one of: {', '.join(dimension.words)}."
        raise UnitError(f"{quoted(word)} is not a unit of {dimension.name}.", cure)
    return found[0]


def _is_pressure(name: str) -> bool:
    return name in BY_NAME and BY_NAME[name].kind == PRESSURE.name


def _base(name: str, dimension: Dimension) -> str:
    """Return the unit used inside; a head given as a pressure becomes metres of conventional water."""
    return "metre_of_water" if dimension is HEAD and _is_pressure(name) else dimension.base


def _inside(number: Fraction, name: str, dimension: Dimension) -> Fraction:
    """Return the exact number in `dimension.si` for a number in the registry's unit `name`."""
    factor, offset = _scale(name, _base(name, dimension))
    return number * factor + offset


def _half(half: str, text: str) -> float:
    """Return one diameter of a hose in m; an error shows the whole text, not the half nobody wrote."""
    try:
        return parse(half, LENGTH)
    except UnitError as error:
        cure = error.cure.replace(quoted(LENGTH.example), quoted(BORE_EXAMPLE))
        raise UnitError(error.what.replace(quoted(half), quoted(text)), cure) from None


def _unit_name(value: object) -> str:
    """Return the registry's name of the unit in a text, "" when there is none."""
    if not isinstance(value, str):
        return ""
    try:
        found = _unit(read(value, "")[-1].word)
    except UnitError:
        return ""
    return "" if found is None else found[0]


def _check_range(si: float, text: str, word: str, dimension: Dimension, bounds: tuple[float, float]) -> None:
    """Refuse a value outside the bounds (SI), told in the unit the keeper used and rounded to the inside."""
    low, high = bounds
    slack = 1e-9  # a bound given in other units must not refuse itself by the last bit
    if si < low - slack * abs(low):
        least = _rounded(from_si(low, word, dimension), BOUND_DIGITS, ROUND_CEILING)
        fault = "is negative" if low == 0.0 else "is too small"
        raise UnitError(f"{quoted(text)} {fault}.", f"Write at least {quoted(f'{least} {word}'.rstrip())}.")
    if si > high + slack * abs(high):
        most = _rounded(from_si(high, word, dimension), BOUND_DIGITS, ROUND_FLOOR)
        cure = f"Write at most {quoted(f'{most} {word}'.rstrip())}."
        raise UnitError(f"{quoted(text)} is too large.", cure)


def _rounded(number: float, digits: int, rounding: str) -> str:
    """Return the number in plain decimals, to so many significant digits."""
    # twelve digits first: 10.000000000000002 must not be rounded up to 10.1
    exact = Decimal(f"{number:.{max(digits, EXACT_DIGITS) - 1}e}")
    if abs(exact) < SMALLEST_SHOWN:
        return "0"
    place = Decimal(1).scaleb(exact.adjusted() - digits + 1)
    text = f"{exact.quantize(place, rounding):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
