"""Text for a terminal as blocks (paragraphs, tables, columns), which are laid out at the end, for the width of the screen.

Blocks know no width: `finished` alone asks for it, so that one answer can be put on any screen.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

__all__ = [
    "BOLD",
    "DIM",
    "END",
    "GLUE",
    "PLAIN",
    "REST",
    "WIDTH",
    "Block",
    "Columns",
    "Paragraph",
    "Screen",
    "Table",
    "aligned",
    "apart",
    "bullets",
    "columns",
    "cut",
    "finished",
    "folded",
    "glued",
    "long_heading",
    "paragraph",
    "weighted",
]

WIDTH = 80
"""Where no terminal says how wide it is."""

GLUE = "\0"
"""Stands for a space at which no line may be broken; `errors.safe` leaves none in text from outside."""

BOLD, DIM, END = "\1", "\2", "\3"
"""Stand around a line with weight, for a screen that has it; `errors.safe` leaves none in text from outside."""

REST = 0
"""Width of the cell that takes what the others leave of a line."""

INDENT = "  "
GAP = "  "
LEAST_FIRST = 16
"""The first column of a table is broken inside its words before it is narrower than this; the others never are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """What a text is put on: the characters of a line, and whether lines can have weight."""

    width: int = WIDTH
    weighted: bool = False


PLAIN = Screen()


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """A text to be broken into lines; ``first`` stands before the first line, ``rest`` before the others. One that is a
    ``heading`` is too long for a line."""

    text: str
    first: str = ""
    rest: str = ""
    weight: str = ""
    heading: bool = False

    def lines(self, width: int) -> list[str]:
        """The lines, at most `width` characters each."""
        return _wrapped(self.text, width, self.first, self.rest)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of equally many cells, the first ``heads`` of them heads: the first column to the left, the others to the right."""

    rows: tuple[tuple[str, ...], ...]
    weight: str = ""
    heads: int = 0

    def lines(self, width: int) -> list[str]:
        """The table, or where it is too wide even with its cells broken, tables below each other with the same first column."""
        room = width - len(INDENT)
        natural = [max(map(len, column)) for column in zip(*self.rows, strict=True)]
        least = [max(map(_longest_word, column)) for column in zip(*self.rows, strict=True)]
        least[0] = min(least[0], LEAST_FIRST)
        if _together(natural) <= room:
            return list(self._lines(natural))
        fits = len(least)
        while fits > 2 and _together(least[:fits]) > room:
            fits -= 1
        lines = list(replace(self, rows=tuple(row[:fits] for row in self.rows))._lines(_narrowed(natural[:fits], least, room)))
        if fits == len(least):
            return lines
        others = replace(self, rows=tuple((row[0], *row[fits:]) for row in self.rows))
        return [*lines, "", *others.lines(width)]

    def _lines(self, widths: Sequence[int]) -> Iterator[str]:
        for row in self.rows:
            parts = [_wrapped(cell, width) or [""] for cell, width in zip(row, widths, strict=True)]
            for first, *others in zip_longest(*parts, fillvalue=""):
                yield INDENT + GAP.join([first.ljust(widths[0]), *(c.rjust(w) for c, w in zip(others, widths[1:], strict=True))])


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """Cells side by side, each with its width; ``last`` ends the first line at the right edge."""

    cells: tuple[tuple[str, int], ...]
    last: str = ""
    weight: str = ""

    def lines(self, width: int) -> list[str]:
        """The lines; a cell whose width is `REST` gets what is left."""
        taken = sum(each for _, each in self.cells) + len(GAP) * (len(self.cells) - 1) + len(INDENT)
        taken += len(GAP) + len(self.last) if self.last else 0
        cells = [(text, each or max(width - taken, 1)) for text, each in self.cells]
        wrapped = [_wrapped(text, each) or [""] for text, each in cells]
        lines = [
            INDENT + GAP.join(part.ljust(each) for part, (_, each) in zip(parts, cells, strict=True))
            for parts in zip_longest(*wrapped, fillvalue="")
        ]
        lines[0] += GAP + self.last.rjust(width - len(lines[0]) - len(GAP)) if self.last else ""
        return [line.rstrip() for line in lines]


Block = str | Paragraph | Table | Columns
"""What a text is made of; a line by itself is a heading, an empty one a gap."""


def finished(blocks: Iterable[Block], screen: Screen = PLAIN) -> str:
    """Return the blocks as one text, with plain spaces, no space at the end of a line and one line end at its end.

    >>> finished([glued("a b") + "  ", "c"])
    'a b\\nc\\n'
    >>> finished(["Bill"], Screen(weighted=True)) == f"{BOLD}Bill{END}\\n"
    True
    """
    return "".join(f"{line}\n" for block in blocks for line in _laid_out(block, screen))


def _laid_out(block: Block, screen: Screen) -> Iterator[str]:
    lines, weight = ([block], BOLD) if isinstance(block, str) else (block.lines(screen.width), block.weight)
    for line in lines:
        shown = line.replace(GLUE, " ").rstrip()
        yield f"{weight}{shown}{END}" if screen.weighted and weight and shown else shown


def apart(sections: Iterable[Sequence[Block]]) -> list[Block]:
    """Return the sections that hold anything, with a gap between two of them.

    >>> apart([["one"], [], ["two"]])
    ['one', '', 'two']
    """
    return [block for section in sections if section for block in ("", *section)][1:]


def weighted(blocks: Iterable[Block], weight: str) -> list[Block]:
    """Return the same blocks with all their lines `BOLD` or `DIM`, where the screen has that.

    >>> finished(weighted(paragraph("so it is"), DIM))
    'so it is\\n'
    """
    return [replace(Paragraph(text=each) if isinstance(each, str) else each, weight=weight) for each in blocks]


def folded(text: str, screen: Screen) -> str:
    """Return a text that has its lines already, with those that are too long broken below where their last column begins.

    >>> print(folded("  id   name of the part\\n", Screen(width=14)), end="")
      id   name of
           the
           part
    """
    lines = []
    for line in text.splitlines():
        found = _HANGS.match(line)
        hang = " " * min(found.end() if found else 0, screen.width // 2)
        wide = textwrap.wrap(
            line, screen.width, subsequent_indent=hang, drop_whitespace=True, replace_whitespace=False, break_on_hyphens=False
        )
        lines += wide or [""]
    return "".join(f"{line}\n" for line in lines)


_HANGS = re.compile(r" *(?:\S(?:\S| (?! ))*  +)?(?:- )?")
"""What stands before the last column of a line: its indent, and a first column if there are two spaces behind it."""


def glued(text: str) -> str:
    """Return `text` with spaces at which it must not be broken.

    >>> glued("702 l/h") == f"702{GLUE}l/h"
    True
    """
    return text.replace(" ", GLUE)


def cut(text: str, longest: int) -> str:
    """Return `text`, with "..." for what goes beyond `longest` characters.

    >>> cut("return hose", 9)
    'return...'
    """
    return text if len(text) <= longest else text[: longest - 3].rstrip() + "..."


def paragraph(text: str, first: str = "", rest: str | None = None) -> list[Block]:
    """Return `text` to be broken into lines; `first` stands before the first, `rest` (without it: `first`) before the others.

    >>> finished(paragraph("one two three", first="- ", rest="  "), Screen(width=10))
    '- one two\\n  three\\n'
    """
    return [Paragraph(text=text, first=first, rest=first if rest is None else rest)]


def long_heading(text: str) -> list[Block]:
    """Return a heading that may need more than one line.

    >>> finished(long_heading("what it is by"), Screen(width=8))
    'what it\\n  is by\\n'
    """
    return [Paragraph(text=text, rest=INDENT, heading=True)]


def bullets(texts: Iterable[str], indent: str = INDENT) -> list[Block]:
    """Return each text as an item of a list, `indent` to the right.

    >>> finished(bullets(["one", "two"]))
    '  - one\\n  - two\\n'
    """
    return [block for text in texts for block in paragraph(text, f"{indent}- ", f"{indent}  ")]


def aligned(rows: Sequence[Sequence[str]], longest: int = 36, heads: int = 0) -> list[Block]:
    """Return rows of equally many cells as a table: the first column to the left, the others to the right.

    Cells of the first column are cut after `longest` characters; where the screen is too narrow, cells are broken. The first
    `heads` rows are heads, which a page shows as such.

    >>> print(finished(aligned([("", "l/h"), ("now", "702"), ("best", "1104")])), end="")
             l/h
      now    702
      best  1104
    """
    return [Table(rows=tuple((cut(row[0], longest), *row[1:]) for row in rows), heads=heads)] if rows else []


def columns(cells: Sequence[tuple[str, int]], last: str = "") -> list[Block]:
    """Return cells side by side, each broken into lines of its width; `last` ends the first line at the right edge.

    >>> print(finished(columns([("2", 3), ("hose tail 19 mm", REST)], last="4.50"), Screen(width=24)), end="")
      2    hose tail    4.50
           19 mm
    """
    return [Columns(cells=tuple(cells), last=last)]


def _wrapped(text: str, width: int, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(text, max(width, 1), initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


def _longest_word(cell: str) -> int:
    return max(map(len, cell.split()), default=0)


def _together(widths: Sequence[int]) -> int:
    return sum(widths) + len(GAP) * (len(widths) - 1)


def _narrowed(natural: Sequence[int], least: Sequence[int], room: int) -> list[int]:
    """Widths that fit: the widest column that may still be narrower gives way, one character after the other."""
    widths = list(natural)
    while _together(widths) > room:
        spare = [(width, n) for n, width in enumerate(widths) if width > least[n]]
        if not spare:
            break
        widths[max(spare)[1]] -= 1
    return widths
