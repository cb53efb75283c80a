"""What a keeper means who leaves out a unit or adds a word: the answer as it is read, empty where more than one is possible."""

from __future__ import annotations

import re
from collections.abc import Callable

__all__ = ["between", "hose_size", "money", "wish"]

_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?", re.ASCII)
_PAIR = re.compile(r"(?P<inside>[0-9]{1,2}(?:\.[0-9])?) ?[/xX\u00d7] ?[0-9]{1,2}(?:\.[0-9])?", re.ASCII)
_MONEY = re.compile(r"(?P<before>[^0-9]*?) ?(?P<amount>[0-9][0-9.]*) ?(?P<behind>[^0-9]*)")
_SIGNS = {"\u20ac": "EUR", "\u00a3": "GBP", "euro": "EUR", "euros": "EUR", "bucks": "USD", "dollars": "USD", "pounds": "GBP"}

HOSE_MM = (9.0, 60.0)
"""A number alone is taken for the inside of a hose in mm between these; a smaller one may be its length."""


def between(*ranges: tuple[float, float, str]) -> Callable[[str], str]:
    """Return what gives a number alone its unit: that of the first range (least, most, unit) that it lies in.

    >>> between((0.3, 3.0, "m"), (40.0, 300.0, "cm"))("110")
    '110 cm'
    """

    def meant(text: str) -> str:
        if _NUMBER.fullmatch(text) is None:
            return ""
        unit = next((unit for low, high, unit in ranges if low <= float(text) <= high), "")
        return f"{text} {unit}" if unit else ""

    return meant


def hose_size(text: str) -> str:
    """Return a size in mm where it can be nothing else; hoses named in inches are written with a fraction below one.

    >>> hose_size("16/22"), hose_size("16"), hose_size("5/8")
    ('16/22 mm', '16 mm', '')
    """
    pair = _PAIR.fullmatch(text)
    if pair is not None:
        return f"{text} mm" if float(pair["inside"]) >= HOSE_MM[0] else ""
    return between((*HOSE_MM, "mm"))(text)


def money(currency: str) -> Callable[[str], str]:
    """Return what takes the name of a ``currency`` (empty: of any) off an amount.

    >>> money("EUR")("100 EUR"), money("EUR")("100 USD"), money("")("100 bucks")
    ('100', '', '100')
    """

    def meant(text: str) -> str:
        found = _MONEY.fullmatch(text)
        if found is None:
            return ""
        words = [word for word in (found["before"].strip(), found["behind"].strip()) if word]
        named = [_SIGNS.get(word.casefold(), word.upper()) for word in words]
        if len(named) != 1 or (currency and named[0] != currency.upper()) or len(words[0]) > 8:
            return ""
        return found["amount"]

    return meant


def wish(text: str) -> str:
    """Return a number alone as turnover where it is small, as a flow where it is large; between them it may be either.

    >>> wish("4"), wish("4 times"), wish("800"), wish("40")
    ('4 per hour', '4 per hour', '800 l/h', '')
    """
    times = re.fullmatch(r"(?P<count>[0-9.]+) ?(?:x|times)(?: (?:an|per|a|each) hour)?", text, re.IGNORECASE)
    if times is not None:
        return f"{times['count']} per hour"
    return between((0.1, 15.0, "per hour"), (100.0, 20000.0, "l/h"))(text)
