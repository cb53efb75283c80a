"""Decimal commas and decimal points: how the numbers of a file are written, and which of them can be read in two ways.

Where the other numbers of a file have decimal commas, 1.000 is as likely a thousand as it is one, and refused like 1,000; where
they have decimal points it is one. A table that is separated by semicolons comes from a spreadsheet that writes decimal commas,
unless a number in it says otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from optimizer.errors import BadValue, quoted
from optimizer.files.field import Field, Value
from optimizer.unit_table import Dimension

__all__ = [
    "TWO_WAYS",
    "Dotted",
    "check_answer",
    "check_two_ways",
    "decimal_signs",
    "holds_numbers",
    "number_of_toml",
    "table_has_commas",
    "tree_has_commas",
    "two_ways",
    "with_points",
]

_ONLY_DECIMALS = r"(?<![0-9.,])(?:[0-9]+{sign}(?:[0-9]{{1,2}}|[0-9]{{4,}})|(?:0|[0-9]{{4,}}){sign}[0-9]{{3}})(?![0-9.,])"
_COMMA, _POINT = (re.compile(_ONLY_DECIMALS.format(sign=sign)) for sign in (",", r"\."))
TWO_WAYS = re.compile(r"(?<![0-9.,])(?P<whole>[1-9][0-9]{0,2})[.,](?P<rest>[0-9]{3})(?![0-9.,])")
_DOTTED = re.compile(r"[+-]?[1-9][0-9]{0,2}\.[0-9]{3}")
_BEGINS = re.compile(r"[+-]?[0-9]")
_NUMBERS = frozenset(
    {
        Value.NUMBER,
        Value.MONEY,
        Value.ENERGY_PRICE,
        Value.BOX,
        Value.END,
        Value.CURVE,
        Value.POINT,
        Value.WINDOW,
        Value.BORES,
        Value.INCH,
        Value.TURNOVER,
    }
    | {Value.SPECIFIC_AREA, Value.CONTENTS, Value.TIMES}
)


class Dotted(float):
    """A number that TOML takes for a decimal, with the text it was written as: 1.000 and the like."""

    text: str


def number_of_toml(text: str) -> float:
    """Return a decimal number of a TOML file; one that could be a thousand to its writer keeps its text.

    >>> number_of_toml("1.5"), number_of_toml("1.000").text
    (1.5, '1.000')
    """
    if _DOTTED.fullmatch(text) is None:
        return float(text)
    number = Dotted(text)
    number.text = text
    return number


def holds_numbers(field: Field) -> bool:
    """True when the values of a field are made of numbers, so that a dot or a comma in one has a meaning."""
    return isinstance(field.holds, Dimension) or field.holds in _NUMBERS


def decimal_signs(text: str) -> str:
    """The signs that are surely decimal ones in a text: "", ",", "." or ",.".

    >>> decimal_signs("1,5 l and 2.25 m"), decimal_signs("1.000")
    (',.', '')
    """
    return ("," if _COMMA.search(text) else "") + ("." if _POINT.search(text) else "")


def table_has_commas(cells: Iterable[str], separator: str) -> bool:
    """True when the numbers of a table have decimal commas, as far as they tell.

    >>> table_has_commas(["16", "3,5"], ";"), table_has_commas(["2.4", "1.000"], ";"), table_has_commas(["1.000"], ";")
    (True, False, True)
    """
    points = separator != ";"
    for cell in cells:
        if "," in cell and _COMMA.search(cell) is not None:
            return True
        points = points or ("." in cell and _POINT.search(cell) is not None)
    return not points


def tree_has_commas(tree: object) -> bool:
    """True when any text in the tables of a TOML file begins with a number and has one with a decimal comma.

    >>> tree_has_commas({"tank": {"volume": "120,5 l"}}), tree_has_commas({"name": "Tank 3,5"})
    (True, False)
    """
    stack = [tree]
    while stack:
        one = stack.pop()
        if isinstance(one, dict):
            stack.extend(one.values())
        elif isinstance(one, list):
            stack.extend(one)
        elif isinstance(one, str) and "," in one and _BEGINS.match(one.strip()) and _COMMA.search(one):
            return True
    return False


def check_two_ways(value: object) -> None:
    """Raise `BadValue` for a value that is, or holds, a number with three digits behind a dot or a comma: where the other numbers
    have decimal commas it may be a thousand, or one.

    >>> check_two_ways("1.500")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    optimizer.errors.BadValue: "1.500" may be thousands or decimals: other numbers here have decimal commas. Write "1500" or ...
    """
    for each in value if isinstance(value, list) else [value]:
        text = each.text if isinstance(each, Dotted) else each if isinstance(each, str) else ""
        found = TWO_WAYS.search(text)
        if found is not None:
            raise two_ways(text, found, " other numbers here have decimal commas.", ",")


def with_points(answer: str) -> str:
    """Return the answer of somebody who is asked, its decimal commas as points.

    >>> with_points("1,5 m")
    '1.5 m'
    """
    return _COMMA.sub(lambda number: number[0].replace(",", "."), answer)


def check_answer(answer: str, can_be: Callable[[str], bool]) -> None:
    """Raise `BadValue` for an answer with a number like 1.200 where a thousand, as `can_be` tells, is possible as well."""
    found = TWO_WAYS.search(answer)
    if found is not None:
        thousands = f"{answer[: found.start()]}{found['whole']}{found['rest']}{answer[found.end() :]}"
        if can_be(thousands):
            raise two_ways(answer, found, "", ".")


def two_ways(text: str, found: re.Match[str], reason: str, sign: str) -> BadValue:
    """What is wrong with a number (groups ``whole`` and ``rest``) that may be thousands or decimals, with both as the cure."""
    before, behind = text[: found.start()], text[found.end() :]
    decimals = found["rest"].rstrip("0")
    # three decimals would be refused again; a fourth one tells
    decimals = "" if not decimals else f"{sign}{decimals}0" if len(decimals) == 3 else f"{sign}{decimals}"
    thousands, one = (f"{before}{number}{behind}" for number in (found["whole"] + found["rest"], found["whole"] + decimals))
    what = f"{quoted(text)} may be thousands or decimals{':' if reason else '.'}{reason}"
    return BadValue(what, f"Write {quoted(thousands)} or {quoted(one)}.")
