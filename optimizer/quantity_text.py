"""From the text a keeper writes to exact numbers with unit words. Standard library only; knows no unit.

The grammar is closed: what does not match is refused, and nothing is ever evaluated.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from optimizer.errors import BadValue, quoted

__all__ = ["Amount", "UnitError", "clean", "read", "read_two", "word_key"]

LONGEST_TEXT = 64
LARGEST_NUMBER = 10**9

# Characters that mean the same in a keeper's text.
# A fraction gets a space before it: one and a half, not eleven halves.
_SAME = str.maketrans(
    {
        **dict.fromkeys("\t\n\r\u00a0\u2002\u2003\u2007\u2009\u200a\u202f", " "),
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"),
        **dict.fromkeys("\u2044\u2215", "/"),
        **dict.fromkeys("\u2032\u2019\u2018", "'"),
        **dict.fromkeys("\u2033\u201d\u201c", '"'),
        "\u00d7": "x",
        **dict.fromkeys("\u00ba\u02da", "°"),
        "\u2103": "°C",
        "\u2109": "°F",
        "\u2113": "l",
        "\u03bc": "u",
        "\u00b5": "u",
        "\u2082": "2",
        "½": " 1/2",
        "¼": " 1/4",
        "¾": " 3/4",
        "⅛": " 1/8",
        "⅜": " 3/8",
        "⅝": " 5/8",
        "⅞": " 7/8",
        "⅓": " 1/3",
        "⅔": " 2/3",
    }
)

_ENDED = r"(?![0-9.,/])"
_MIXED = re.compile(rf"(?P<whole>[0-9]{{1,3}})[ -](?P<top>[0-9]{{1,2}})/(?P<bottom>[0-9]{{1,2}}){_ENDED}")
_FRACTION = re.compile(rf"(?P<top>[0-9]{{1,3}})/(?P<bottom>[0-9]{{1,3}}){_ENDED}")
# thousands in groups: with spaces, or with commas where these cannot be a decimal comma
_GROUPED = re.compile(
    r"(?P<number>[1-9][0-9]{0,2}"
    r"(?:(?: [0-9]{3})+(?:[.,][0-9]+)?|(?:,[0-9]{3})+\.[0-9]+|(?:,[0-9]{3}){2,}))" + _ENDED
)
_PLAIN = re.compile(r"(?P<number>[0-9]+(?:[.,][0-9]+)?|\.[0-9]+)(?:[eE](?P<power>[+-]?[0-9]+))?" + _ENDED)
_THOUSANDS_OR_DECIMALS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_SIGN = re.compile(r"(?P<sign>[+-]?) ?")
_LARGER_WORD = re.compile(r"(?P<word>ft|foot|feet|'|weeks?|days?|d|hours?|hrs?|h|minutes?|mins?)\.?[ -]?(?=[0-9])", re.IGNORECASE)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)(?![a-z])", re.IGNORECASE)
_SLASH_PAIR = re.compile(r"(?P<first>[0-9]+(?:[.,][0-9]+)?) ?/ ?(?P<second>[0-9]+(?:[.,][0-9]+)?)(?P<rest> ?[^0-9].*)?")
_CROSS_PAIR = re.compile(r"(?P<first>[^xX]+?) ?[xX] ?(?P<second>[^xX]+)")
_WORD_BEHIND = re.compile(r"[^0-9.,/ -].*")


class UnitError(BadValue):
    """A quantity that cannot be read, with `what` is wrong and the `cure`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """One number and the unit word behind it ("" when none); `bottom` is the denominator of its fraction."""

    number: Fraction
    word: str
    bottom: int | None = None


def clean(text: str) -> str:
    """Return `text` with trade spellings made alike: spaces, dashes, slashes, inch marks, fractions.

    >>> clean(" 1½″ "), clean("700 mm²"), clean("3/4''")
    ('1 1/2"', '700 mm2', '3/4"')
    """
    # a superscript counts only behind its unit: 10² must not turn into 102
    superscripts = re.sub("(?<=m)²", "2", re.sub("(?<=m)³", "3", text))
    same = superscripts.translate(_SAME).replace("''", '"')
    return re.sub(" +", " ", same).strip()


def word_key(word: str) -> str:
    """Return the form in which a unit word is looked up: no case, no spaces, no full stop, "per" as a slash.

    >>> word_key("Imp. gal per hour"), word_key("dB (A)"), word_key("per cent")
    ('impgal/hour', 'db(a)', 'percent')
    """
    folded = re.sub(r"\.(?= |/|\)|$)", "", word.casefold().strip())
    joined = re.sub(r" ?\bper\b ?", "/", folded.replace("per cent", "percent"))
    return joined.replace(" ", "")


def read(text: str, example: str) -> tuple[Amount, ...]:
    """Return the amounts in `text`: one, or two for "5 ft 6 in". `example` is shown in the cure.

    Raises `UnitError` for empty or over-long text, no number, more than one number, a comma that may stand
    for thousands or decimals, a number that is not finite or too large.

    >>> read("1 1/2 in", "16 mm")
    (Amount(number=Fraction(3, 2), word='in', bottom=2),)
    >>> [str(amount.number) for amount in read("-5' 6\\"", "16 mm")]
    ['-5', '-6']
    """
    cleaned = _checked(text, example)
    sign = _SIGN.match(cleaned)
    start = sign.end() if sign else 0
    first, rest = _number(cleaned[start:], text, example)
    amounts = [Amount(number=first.number, word=rest, bottom=first.bottom)]
    larger = _LARGER_WORD.match(rest)
    if larger is not None:
        second, rest = _number(rest[larger.end() :], text, example)
        amounts = [
            Amount(number=first.number, word=larger["word"], bottom=first.bottom),
            Amount(number=second.number, word=rest, bottom=second.bottom),
        ]
    if rest[:1] and rest[0] in "0123456789.,+-/":
        raise UnitError(f"{quoted(text)} is not one number with a unit.", _for_example(example))
    if sign is not None and sign["sign"] == "-":
        return tuple(Amount(number=-a.number, word=a.word, bottom=a.bottom) for a in amounts)
    return tuple(amounts)


def read_two(text: str, example: str) -> tuple[str, str, str] | None:
    """Return the halves of "16/22 mm" or "5/8 x 7/8 in" and the sign between them, or None if not two.

    A unit behind the second half counts for both. Whether "5/8 in" is two sizes or a fraction depends on the
    unit: the caller decides. Raises `UnitError` for empty or over-long text.

    >>> read_two("16/22 mm", "16/22 mm")
    ('16 mm', '22 mm', '/')
    >>> read_two('5/8 x 7/8"', "16/22 mm")
    ('5/8 "', '7/8"', 'x')
    """
    cleaned = _checked(text, example)
    cross = _CROSS_PAIR.fullmatch(cleaned)
    if cross is not None:
        first, second = cross["first"], cross["second"]
        word = _WORD_BEHIND.search(second)
        return (first if word is None or _WORD_BEHIND.search(first) else f"{first} {word[0]}"), second, "x"
    slash = _SLASH_PAIR.fullmatch(cleaned)
    if slash is None:
        return None
    unit = (slash["rest"] or "").strip()
    return f"{slash['first']} {unit}".strip(), f"{slash['second']} {unit}".strip(), "/"


def _for_example(example: str) -> str:
    return f"Write for example {quoted(example)}."


def _checked(text: str, example: str) -> str:
    """Return the cleaned text, once it is known to be short, not empty, and not a word for no number."""
    if len(text) > LONGEST_TEXT:
        raise UnitError(f"{quoted(text)} is longer than {LONGEST_TEXT} characters.", _for_example(example))
    cleaned = clean(text)
    if not cleaned:
        raise UnitError("the value is empty.", _for_example(example))
    if _NOT_FINITE.match(cleaned):
        raise UnitError(f"{quoted(text)} is not a finite number.", _for_example(example))
    return cleaned


def _number(cleaned: str, text: str, example: str) -> tuple[Amount, str]:
    """Return the number `cleaned` begins with, and the rest of it; `text` is what the keeper wrote."""
    found = _MIXED.match(cleaned) or _FRACTION.match(cleaned)
    if found is not None:
        amount = _fraction(found, text, example)
    else:
        found = _GROUPED.match(cleaned) or _PLAIN.match(cleaned)
        if found is None:
            fault = "is not one number with a unit" if re.search("[0-9]", cleaned) else "has no number"
            raise UnitError(f"{quoted(text)} {fault}.", _for_example(example))
        amount = Amount(number=_decimal(found, cleaned[found.end() :], text, example), word="")
    if amount.number > LARGEST_NUMBER:
        raise UnitError(f"{quoted(text)} is too large a number.", _for_example(example))
    return amount, cleaned[found.end() :].strip()


def _fraction(found: re.Match[str], text: str, example: str) -> Amount:
    parts = found.groupdict(default="0")
    whole, top, bottom = int(parts.get("whole", "0")), int(parts["top"]), int(parts["bottom"])
    if bottom == 0:
        raise UnitError(f"{quoted(text)} divides by zero.", _for_example(example))
    if "whole" in parts and top >= bottom:
        fault = "has a fraction of one or more behind a whole number"
        raise UnitError(f"{quoted(text)} {fault}.", _for_example(example))
    return Amount(number=whole + Fraction(top, bottom), word="", bottom=bottom)


def _decimal(found: re.Match[str], rest: str, text: str, example: str) -> Fraction:
    written = found["number"]
    if _THOUSANDS_OR_DECIMALS.fullmatch(written):
        thousands, decimals = written.replace(",", ""), written.replace(",", ".").rstrip("0").rstrip(".")
        cure = f"Write {quoted(thousands + rest)} or {quoted(decimals + rest)}."
        raise UnitError(f"{quoted(text)} can be read with a thousands comma or with a decimal comma.", cure)
    power = found.groupdict().get("power") or "0"
    if len(power.lstrip("+-")) > 2:  # never build a number of astronomical length
        raise UnitError(f"{quoted(text)} has too large an exponent.", _for_example(example))
    digits = written.replace(" ", "")
    digits = digits.replace(",", "." if digits.count(",") == 1 and "." not in digits else "")
    return Fraction(f"{digits}e{power}")
