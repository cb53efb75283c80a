"""What a sheet that nobody has mapped yet seems to say: headings, signs, currency, and short words by their likeness. All
of it is shown before any of it counts.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

from optimizer.sheets.grammar import NO_PLACE, kind_of, worded
from optimizer.sheets.headings import Heading, find_heading
from optimizer.sheets.mapping import SheetMap
from optimizer.sheets.numbers import numbers_of
from optimizer.sheets.rows import End, Row, currency_of, read_rows
from optimizer.sheets.tables import Sheet
from optimizer.sheets.words import KINDS, SHORT

__all__ = ["headed", "proposed", "rows_of"]

Headed = list[tuple[Sheet, Heading]]
_UNITS = ("cm", "mm", "kg", "pc", "ft", "in")
_OTHER_WORDS = ("slots", "mesh", "male", "female", "holes")


def headed(sheets: Sequence[Sheet], by: SheetMap) -> tuple[Headed, list[Sheet]]:
    """The sheets with their headings, and those that have none."""
    found = [(sheet, find_heading(sheet, by.columns.get(sheet.name, {}))) for sheet in sheets]
    return [(sheet, heading) for sheet, heading in found if heading], [sheet for sheet, heading in found if not heading]


def rows_of(sheets: Headed, by: SheetMap) -> list[Row]:
    """What becomes of every row of these sheets."""
    return [row for sheet, heading in sheets for row in read_rows(sheet, heading, by)]


def proposed(path: Path, sheets: Sequence[Sheet]) -> SheetMap:
    """How a sheet is read where nothing else is said."""
    signs = numbers_of(cell for sheet in sheets for row in sheet.rows for cell in row if isinstance(cell, str))
    by = SheetMap(source=path.stem, decimal=signs.decimal, thousands=signs.thousands)
    found, _ = headed(sheets, by)
    columns = {
        sheet.name: {name: field for name, field in zip(heading.names, heading.fields, strict=True) if name}
        for sheet, heading in found
    }
    money = next((code for each in found if (code := currency_of(*each))), "")
    kinds = {sheet.name: kind for sheet, _ in found if (kind := kind_of(worded(sheet.name, {}))) and kind != NO_PLACE}
    hundredths = bool(found) and all(_in_hundredths(*each) for each in found)
    by = replace(by, currency=money, in_hundredths=hundredths, kinds=kinds, columns=columns)
    return replace(by, words=_short_words(rows_of(found, by)))


def _in_hundredths(sheet: Sheet, heading: Heading) -> bool:
    """True for prices of a till: digits alone, filled up with noughts."""
    cells = [row[place] for row in sheet.rows[heading.below :] for place in heading.columns("price") if row[place] != ""]
    return bool(cells) and all(isinstance(cell, str) and re.fullmatch(r"-?0\d{3,}", cell) for cell in cells)


def _short_words(rows: Sequence[Row]) -> dict[str, str]:
    """Words of rows that say no kind, with the word that they are short for, where there is one and no other."""
    unknown = {word for row in rows if row.end is End.REFUSED and not row.kind for word in _words(row)}
    return {word: meaning for word in sorted(unknown) if (meaning := _meant(word))}


def _words(row: Row) -> list[str]:
    return re.findall("[a-z]{2,}", worded(row.text, {}))


@cache
def _meant(word: str) -> str:
    """The word of a part that a word is short for, or a typing error of ("": none, or several)."""
    if any(word in words.split("|") for _, words in KINDS) or word in SHORT or word in _OTHER_WORDS:
        return ""
    for tries in (_skeleton_is, _skeleton_begins, _initials_are, _letters_are):
        meant = {kind: phrase for phrase, kind in _phrases() if tries(word, phrase)}
        if meant:
            return next(iter(meant.values())) if len(meant) == 1 else ""
    return ""


@cache
def _phrases() -> tuple[tuple[str, str], ...]:
    """Words of parts, longest last so that the shortest of a kind is taken."""
    every = [(phrase, kind) for kind, words in KINDS if kind != NO_PLACE for phrase in words.split("|")]
    singles = [part for phrase, kind in every if kind in _MANY for part in phrase.split(" ") if len(part) > 5]
    every += [(word, word) for word in _OTHER_WORDS] + [(part, _skeleton(part)) for part in singles]
    return tuple(sorted(dict(every).items(), key=lambda each: (-len(each[0]), each[0])))


_MANY = ("sponge guard", "rings")
"""Kinds whose words are shortened one by one."""


def _skeleton(text: str) -> str:
    """First letter and consonants, each once in a row: what is left of a word on a till."""
    letters = re.sub("[^a-z]", "", text)
    return re.sub(r"(.)\1+", r"\1", letters[:1] + re.sub("[aeiouy]", "", letters[1:]))


def _skeleton_is(word: str, phrase: str) -> bool:
    return _skeleton(word) == _skeleton(phrase) and _left_of(word, phrase)


def _skeleton_begins(word: str, phrase: str) -> bool:
    return (
        len(_skeleton(word)) > 2
        and " " not in phrase
        and _left_of(word, phrase)
        and _skeleton(phrase).startswith(_skeleton(word))
    )


def _left_of(word: str, phrase: str) -> bool:
    """Whether a word is what is left of a phrase once letters are taken out."""
    letters = iter(phrase)
    return all(letter in letters for letter in word)


def _initials_are(word: str, phrase: str) -> bool:
    return len(word) > 1 and word not in _UNITS and word == "".join(part[0] for part in phrase.split())


def _letters_are(word: str, phrase: str) -> bool:
    return len(word) > 3 and sorted(word) == sorted(phrase)
