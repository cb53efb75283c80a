"""Lines of text for a terminal: paragraphs, lists and tables at most `WIDTH` characters wide."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from itertools import zip_longest

__all__ = ["GLUE", "WIDTH", "aligned", "bullets", "columns", "cut", "finished", "glued", "paragraph"]

WIDTH = 90
GLUE = "\0"
"""Stands for a space at which no line may be broken; `errors.safe` leaves none in text from outside."""

INDENT = "  "
GAP = "  "


def glued(text: str) -> str:
    """Return `text` with spaces at which it must not be broken.

    >>> glued("702 l/h") == f"702{GLUE}l/h"
    True
    """
    return text.replace(" ", GLUE)


def finished(lines: Iterable[str]) -> str:
    """Return the lines as one text, with plain spaces, no space at the end of a line and one line end at its end.

    >>> finished([glued("a b") + "  ", "c"])
    'a b\\nc\\n'
    """
    return "".join(line.replace(GLUE, " ").rstrip() + "\n" for line in lines)


def cut(text: str, longest: int) -> str:
    """Return `text`, with "..." for what goes beyond `longest` characters.

    >>> cut("return hose", 9)
    'return...'
    """
    return text if len(text) <= longest else text[: longest - 3].rstrip() + "..."


def paragraph(text: str, first: str = "", rest: str | None = None, width: int = WIDTH) -> list[str]:
    """Return `text` in lines; `first` stands before the first line, `rest` (without it: `first`) before the others.

    >>> paragraph("one two three", first="- ", rest="  ", width=10)
    ['- one two', '  three']
    """
    return textwrap.wrap(
        text,
        width=width,
        initial_indent=first,
        subsequent_indent=first if rest is None else rest,
        break_on_hyphens=False,
    )


def bullets(texts: Iterable[str], indent: str = INDENT) -> list[str]:
    """Return each text as an item of a list, `indent` to the right.

    >>> bullets(["one", "two"])
    ['  - one', '  - two']
    """
    return [line for text in texts for line in paragraph(text, f"{indent}- ", f"{indent}  ")]


def aligned(rows: Sequence[Sequence[str]], longest: int = 36) -> list[str]:
    """Return rows of equally many cells as a table: the first column to the left, the others to the right.

    Cells of the first column are cut after `longest` characters.

    >>> aligned([("", "l/h"), ("now", "702"), ("best", "1104")])
    ['         l/h', '  now    702', '  best  1104']
    """
    short = [[cut(row[0], longest), *row[1:]] for row in rows]
    widths = [max(len(cell) for cell in column) for column in zip(*short, strict=True)]
    return [
        INDENT + GAP.join([row[0].ljust(widths[0]), *(c.rjust(w) for c, w in zip(row[1:], widths[1:], strict=True))])
        for row in short
    ]


def columns(cells: Sequence[tuple[str, int]], last: str = "", width: int = WIDTH) -> list[str]:
    """Return cells side by side, each broken into lines of its width; `last` ends the first line at the right edge.

    >>> columns([("2", 3), ("hose tail 19 mm", 10)], last="4.50", width=24)
    ['  2    hose tail    4.50', '       19 mm']
    """
    wrapped = [paragraph(text, width=max(cell, 1)) or [""] for text, cell in cells]
    lines = [
        INDENT + GAP.join(part.ljust(cell) for part, (_, cell) in zip(parts, cells, strict=True))
        for parts in zip_longest(*wrapped, fillvalue="")
    ]
    lines[0] += GAP + last.rjust(width - len(lines[0]) - len(GAP))
    return [line.rstrip() for line in lines]
