"""Prices: decimals held as integer minor units, so that sums are exact.

A catalog has one currency; it is never named here.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal

from optimizer.errors import BadValue, quoted

__all__ = ["MoneyError", "parse_energy_price", "parse_money", "show_money"]

EXAMPLE = "12.50"
LARGEST = Decimal(10) ** 9
LONGEST_TEXT = 40
CURE = f'Write for example "{EXAMPLE}".'
ENERGY_CURE = 'Write for example "0.32 EUR/kWh".'
DEAREST_ENERGY = Decimal(1000)
"""More than a kilowatt-hour costs in any currency with hundredths worth naming: common practice, no published source."""

_AMOUNT = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?")
_PER_KWH = re.compile(r"(?P<amount>\S+)\s+(?P<currency>[^\W\d_]{1,8}|[$€£¥])\s*(?:/|per)\s*kwh", re.IGNORECASE)
_THREE_AFTER_SIGN = re.compile(r"(?P<whole>[1-9][0-9]{0,2})(?:(?P<sign>,)(?P<rest>[0-9]{3})|\.(?P<tens>[0-9]{2}0))")


class MoneyError(BadValue):
    """An amount of money that cannot be read."""


def parse_money(value: object) -> int:
    """Return the amount in minor units (hundredths).

    `value` is text with a decimal point or comma (three digits behind either may be thousands and are refused), or an int
    or float as TOML gives it (a float is taken at its shortest decimal form). Raises `MoneyError` for anything else:
    negative, more than two decimals, more than 1e9, a currency, no number.

    >>> parse_money("12.50"), parse_money("12,5"), parse_money(12), parse_money(0.1)
    (1250, 1250, 1200, 10)
    """
    text, amount = _decimal(value)
    if amount.is_signed() and amount != 0:
        raise MoneyError(f"{text} is negative.", f'Write 0 or more, for example "{EXAMPLE}".')
    if amount > LARGEST:
        raise MoneyError(f"{text} is more than 1000000000.", CURE)
    minor = amount * 100
    if minor != minor.to_integral_value():
        cure = f'Write at most two, for example "{EXAMPLE}".'
        raise MoneyError(f"{text} has more than two decimals.", cure)
    return int(minor)


def parse_energy_price(value: object) -> tuple[float, str]:
    """Return what a kilowatt-hour costs, in minor units (a fraction of one counts), and the currency as written.

    A price needs both its currency and "/kWh" ("per kWh"), so that nobody's cents are taken for euros. Raises `MoneyError`.

    >>> parse_energy_price("0.32 EUR/kWh"), parse_energy_price("0,2875 EUR per kWh")
    ((32.0, 'EUR'), (28.75, 'EUR'))
    """
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise MoneyError("this is not a price of energy.", ENERGY_CURE)
    text = " ".join(value.split()) if isinstance(value, str) else str(value)[:LONGEST_TEXT]
    found = _PER_KWH.fullmatch(text) if len(text) <= LONGEST_TEXT else None
    if found is None:
        raise MoneyError(f"{quoted(text)} does not say in what currency and per kWh.", ENERGY_CURE)
    try:
        amount = _decimal(found["amount"])[1]
    except MoneyError as error:
        raise MoneyError(error.what, ENERGY_CURE) from None
    if amount < 0 or amount > DEAREST_ENERGY:
        raise MoneyError(f"{quoted(text)} is {'negative' if amount < 0 else f'more than {DEAREST_ENERGY}'}.", ENERGY_CURE)
    return float(amount * 100), found["currency"]


def show_money(minor: int) -> str:
    """Return an amount of minor units as text with two decimals.

    >>> show_money(1250), show_money(5), show_money(-1250)
    ('12.50', '0.05', '-12.50')
    """
    whole, rest = divmod(abs(minor), 100)
    return f"{'-' if minor < 0 else ''}{whole}.{rest:02d}"


def _decimal(value: object) -> tuple[str, Decimal]:
    """Return the value as shown in messages, and as a finite decimal."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise MoneyError("this is not an amount of money.", CURE)
    if isinstance(value, int):
        if abs(value) > LARGEST:  # a long integer is not even written out: that may take time or be refused
            raise MoneyError(f"the amount is {'negative' if value < 0 else 'more than 1000000000'}.", CURE)
        return quoted(value), Decimal(value)
    text = value.strip() if isinstance(value, str) else float.__repr__(value)
    shown = quoted(text)
    if text.casefold().lstrip("+-") in {"nan", "inf", "infinity"}:
        raise MoneyError(f"{shown} is not a finite number.", CURE)
    return shown, Decimal(_plain(text, shown) if isinstance(value, str) else text)


def _plain(text: str, shown: str) -> str:
    """Return the text with a decimal point, once it is known to be one plain amount."""
    if not text:
        raise MoneyError("the amount is empty.", CURE)
    if len(text) > LONGEST_TEXT:
        raise MoneyError(f"{shown} is longer than {LONGEST_TEXT} characters.", CURE)
    both = _THREE_AFTER_SIGN.fullmatch(text)
    if both is not None:
        rest = both["rest"] or both["tens"]
        cure = f'Write "{both["whole"]}{rest}" or "{both["whole"]}.{rest[:2]}".'
        sign = "comma" if both["sign"] else "point"
        raise MoneyError(f"{shown} can be read with a thousands {sign} or with a decimal {sign}.", cure)
    if _AMOUNT.fullmatch(text) is None:
        if _names_currency(text):
            cure = f'Write the number alone, for example "{EXAMPLE}".'
            raise MoneyError(f"{shown} names a currency.", cure)
        raise MoneyError(f"{shown} is not an amount of money.", CURE)
    return text.replace(",", ".")


def _names_currency(text: str) -> bool:
    """Say whether the text is digits together with a currency sign or letters."""
    has_digit = any(c in "0123456789" for c in text)
    return has_digit and any(unicodedata.category(c) == "Sc" or c.isalpha() for c in text)
