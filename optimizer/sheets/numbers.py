"""How the numbers of one file are written: which sign stands before decimals, which between thousands, and what proves it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from optimizer.errors import BadValue, quoted
from optimizer.files.decimals import TWO_WAYS, decimal_signs, two_ways

__all__ = ["Numbers", "numbers_of"]

_NUMBER = re.compile(r"(?<![0-9.,'])[0-9]+(?:[.,'][0-9]+)+(?![0-9])")
_ENDLESS = re.compile(r"[0-9]{19}")
_GROUPS = re.compile(r"[1-9][0-9]{0,2}(?P<sign>[.,'])[0-9]{3}(?:(?P=sign)[0-9]{3})*(?P<decimals>(?!(?P=sign))[.,][0-9]+)?")


@dataclass(frozen=True, slots=True)
class Numbers:
    """``decimal``: the sign before decimals ("": none is proven, ",.": both are used); ``thousands``: the sign that is proven to
    stand between thousands ("": none)."""

    decimal: str = ""
    thousands: str = ""

    def plain(self, text: str) -> str:
        """The text with every number in digits and a decimal point. Raises `BadValue` for one that can be read in two ways.

        >>> Numbers(",", ".").plain("1.400 l/h, 1,9 m"), Numbers().plain("2'600 l/h"), Numbers(",.").plain("1.089,00")
        ('1400 l/h, 1.9 m', '2600 l/h', '1089.00')
        >>> Numbers(",.").plain("1.400 l/h")  # doctest: +ELLIPSIS
        Traceback (most recent call last):
        optimizer.errors.BadValue: "1.400" may be thousands or decimals: nothing in the file tells which. Write "1400" or "1.4".
        """
        if _ENDLESS.search(text):
            raise BadValue(f"{quoted(text)} has a number of very many digits.", "Correct it, or leave its column out.")
        return _NUMBER.sub(self._one, text)

    def _one(self, found: re.Match[str]) -> str:
        text = found[0]
        both = TWO_WAYS.fullmatch(text)
        if both is not None:
            sign = text[len(both["whole"])]
            if sign == self.thousands:
                return both["whole"] + both["rest"]
            # a point before three digits is one where all other numbers have decimal points, as in a catalog
            if sign == self.decimal and (sign == "." or self.thousands):
                return text.replace(sign, ".")
            raise two_ways(text, both, " nothing in the file tells which.", sign)
        groups = _GROUPS.fullmatch(text)
        if groups is not None:
            whole = text[: groups.start("decimals")] if groups["decimals"] else text
            return whole.replace(groups["sign"], "") + (groups["decimals"] or "").replace(",", ".")
        return text.replace(",", ".") if text.count(",") + text.count(".") == 1 and "'" not in text else text


def numbers_of(texts: Iterable[str]) -> Numbers:
    """How the numbers in these texts are written, by those that can be read in one way only.

    >>> numbers_of(["3,20", "1.149,00"])
    Numbers(decimal=',', thousands='.')
    """
    signs, thousands = "", set()
    for text in texts:
        signs += decimal_signs(text)
        for found in _NUMBER.finditer(text):
            groups = _GROUPS.fullmatch(found[0])
            if groups is not None and (groups["decimals"] or found[0].count(groups["sign"]) > 1 or groups["sign"] == "'"):
                thousands.add(groups["sign"])
    decimal = "".join(sign for sign in ",." if sign in signs)
    only = thousands.pop() if len(thousands) == 1 else ""
    return Numbers(decimal, only if only != decimal and len(decimal) < 2 else "")
