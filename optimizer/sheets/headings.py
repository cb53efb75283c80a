"""Which row of a sheet heads it, and what each column holds: by the words of its heading, near ones, or the look of its cells."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from optimizer.errors import near_names
from optimizer.sheets.grammar import SIZE
from optimizer.sheets.tables import Sheet, text_of
from optimizer.sheets.words import FIELDS
from optimizer.sheets.workbooks import Cell

__all__ = ["LEFT_OUT", "Heading", "find_heading"]

LEFT_OUT = "leave out"
DEEPEST = 40
"""So many rows are looked at for a heading: titles and greetings are shorter."""

_UNITS = {"litres per hour": "l/h", "liters per hour": "l/h", "watts": "w", "litres": "l", "liters": "l"}
_UNIT = re.compile(r"(?<![a-z])(mm|cm|m|in|l/h|gph|w|l|db|ft|kw)\)?$")
_OF_SIZE = re.compile(rf"{SIZE}|\d+(?:[.,]\d+)? ?[/x×–-] ?{SIZE}|\d+ ?/ ?\d+|.*[½¼¾].*|(?:g|r|npt) ?{SIZE}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """The heading of a sheet: the row below it (counted in the rows of the sheet), the names of its columns ("": none; the second
    of two alike has a number), the field of each column, and the unit that a name gives to bare numbers."""

    below: int
    names: tuple[str, ...]
    fields: tuple[str, ...]
    units: tuple[str, ...]

    def columns(self, field: str) -> tuple[int, ...]:
        """The columns of a field."""
        return tuple(place for place, each in enumerate(self.fields) if each == field)

    @property
    def doubtful(self) -> str:
        """The field that several columns could be, of which only one counts ("": none)."""
        return next((field for field in ("price", "id", "stock") if len(self.columns(field)) > 1), "")


def find_heading(sheet: Sheet, known: Mapping[str, str]) -> Heading | None:
    """The heading of a sheet, with the fields of names that are ``known`` from its mapping; None where no row heads it."""
    best: tuple[int, int, Heading] | None = None
    for row in range(min(len(sheet.rows), DEEPEST)):
        for deep in (1, 2):
            if row + deep > len(sheet.rows):
                continue
            names = _names(sheet.rows[row : row + deep])
            if names is None:
                continue
            found = _heading(sheet, names, row + deep, known)
            score = len({field for field in found.fields if field != LEFT_OUT})
            sold = any(found.columns(field) for field in ("price", "price a metre"))
            named = any(found.columns(field) for field in ("text", "size", "inside", "kind"))
            if sold and named and (best is None or score > best[0]):
                best = (score, row, found)
    return best[2] if best else None


def _names(rows: Sequence[tuple[Cell, ...]]) -> tuple[str, ...] | None:
    """The names that one row, or one below the other, gives to the columns; None where numbers stand there."""
    if any(isinstance(cell, float) or (re.match(r"\W*[0-9]", cell) and not _field(cell)) for cell in rows[-1]):
        return None
    lower = [text_of(cell) for cell in rows[-1]]
    if len(rows) > 1:
        upper, last = [], ""
        for cell in rows[0]:
            last = text_of(cell) or last
            upper.append(last)
        lower = [below if _field(below) else f"{above} {below}".strip() for above, below in zip(upper, lower, strict=True)]
    counts: Counter[str] = Counter()
    names = []
    for name in lower:
        counts[name] += 1
        names.append(f"{name} ({counts[name]})" if name and counts[name] > 1 else name)
    return tuple(names) if sum(map(bool, names)) > 1 else None


def _heading(sheet: Sheet, names: tuple[str, ...], below: int, known: Mapping[str, str]) -> Heading:
    fields = []
    for place, name in enumerate(names):
        cells = [row[place] for row in sheet.rows[below:] if row[place] != ""]
        # what a mapping does not name is no column that anybody confirmed
        fields.append((known.get(name, LEFT_OUT) if known else _by_look(name, cells)) if name else LEFT_OUT)
    if not known:
        fields = _settled(fields, names)
    units = tuple(_UNITS.get(_plain(name)) or (found[1] if (found := _UNIT.search(_plain(name))) else "") for name in names)
    return Heading(below=below, names=names, fields=tuple(fields), units=units)


def _settled(fields: list[str], names: tuple[str, ...]) -> list[str]:
    """Of several columns that could be the price, that of customers counts: the one with tax, where another is without."""
    gross = [place for place, field in enumerate(fields) if field == "price" and re.search("gross|incl", _plain(names[place]))]
    if len(gross) == 1:
        return [LEFT_OUT if field == "price" and place != gross[0] else field for place, field in enumerate(fields)]
    first: dict[str, int] = {}
    for place, field in enumerate(fields):
        first.setdefault(field, place)
    return [LEFT_OUT if field == "id" and first[field] != place else field for place, field in enumerate(fields)]


def _by_look(name: str, cells: Sequence[Cell]) -> str:
    """The field that a heading names; one that names two, or none, is told by what stands below it."""
    found = _field(name)
    words = [cell for cell in cells if isinstance(cell, str) and re.search("[A-Za-z]{2}", cell)]
    if (_plain(name) in FIELDS["id"] and _plain(name) in FIELDS["text"]) or found in ("id", "text"):
        if found == "id" and cells and sum(" " in cell for cell in words) * 2 > len(cells):
            return "text"
        if _plain(name) in FIELDS["id"] and cells and not words:
            return "id"
    if found:
        return found
    sizes = sum(_OF_SIZE.fullmatch(text_of(cell).casefold()) is not None for cell in cells)
    return "size" if cells and sizes * 3 > len(cells) * 2 else LEFT_OUT


def _plain(name: str) -> str:
    """A heading without signs: "Art.-No." and "art no" are one."""
    folded = re.sub(r" \(\d\)$", "", name).casefold().replace("#", " no ")
    folded = re.sub(r"[€£$¥]", " ", folded)
    return " ".join(re.sub(r"[.:*_-]+", " ", folded).split())


@cache
def _field(name: str) -> str:
    """The field that a heading names ("": none): the same word, one that is near, or one that it holds."""
    plain = _plain(name)
    bare = " ".join(re.sub(r"\([^)]*\)", " ", plain).split())
    for field, words in FIELDS.items():
        if plain in words or bare in words:
            return field
    every = {word: field for field, words in FIELDS.items() for word in words}
    near = near_names(bare, [word for word in every if len(word) > 3]) if len(bare) > 3 else ()
    if near and _alike(bare, near[0]):
        return every[near[0]]
    held = [word for word in every if len(word) > 3 and re.search(rf"(?<![a-z]){re.escape(word)}(?![a-z])", bare)]
    return every[max(held, key=len)] if held and len(bare) <= 30 else ""


def _alike(one: str, other: str) -> bool:
    """Nearer than names that are merely offered: these are taken, once they were shown."""
    from difflib import SequenceMatcher

    return SequenceMatcher(None, one, other).ratio() >= 0.84
