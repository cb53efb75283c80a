"""The blocks of a text as HTML: what a terminal shows below its headings, a page shows as sections of lists and tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from markupsafe import Markup

from optimizer.report.html.quantities import said
from optimizer.report.layout import Block, Columns, Paragraph, Table

__all__ = ["Section", "sections"]

WIDE = Markup('<div class="wide" role="region" tabindex="0" aria-label="{}"><table class="rows">{}</table></div>')


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """What stands under one heading (empty: under none)."""

    heading: str
    body: Markup


def sections(blocks: Iterable[Block]) -> tuple[Section, ...]:
    """Return blocks as sections, in their order.

    >>> from optimizer.report.layout import aligned, bullets
    >>> found = sections(["", "Mind", *bullets(["a < b"]), "", *aligned([("", "l/h"), ("now", "702")], heads=1)])
    >>> found[0].heading, found[0].body
    ('Mind', Markup('<ul>\\n<li>a &lt; b</li>\\n</ul>\\n'))
    """
    found: list[tuple[str, list[Block]]] = [("", [])]
    after_gap = True
    for block in blocks:
        heading = _heading(block)
        if heading:
            found.append((heading, []))
        elif block == "":
            after_gap = True
            continue
        else:
            if after_gap and found[-1][1]:
                found.append(("", []))
            found[-1][1].append(block)
        after_gap = False
    return tuple(Section(heading=heading, body=_body(heading, inner)) for heading, inner in found if inner)


def _heading(block: Block) -> str:
    if isinstance(block, Paragraph):
        return block.text if block.heading else ""
    return block if isinstance(block, str) else ""


def _body(heading: str, blocks: Iterable[Block]) -> Markup:
    shown = []
    for is_item, group in groupby(blocks, _is_item):
        items = [_shown(block, heading) for block in group]
        shown += [Markup("<ul>\n"), *items, Markup("</ul>\n")] if is_item else items
    return Markup("").join(shown)


def _is_item(block: Block) -> bool:
    return isinstance(block, Paragraph) and block.first.strip() == "-"


def _shown(block: Block, heading: str) -> Markup:
    if isinstance(block, Paragraph):
        return Markup("<li>{}</li>\n" if _is_item(block) else "<p>{}</p>\n").format(said(block.text.strip()))
    if isinstance(block, Table):
        return WIDE.format(said(heading or "Table"), Markup("").join(_rows(block)))
    cells = [text for text, _ in block.cells] + [block.last] if isinstance(block, Columns) else [block]
    return Markup("<p>{}</p>\n").format(said(" ".join(filter(None, cells))))


def _rows(table: Table) -> Iterator[Markup]:
    heads, rows = table.rows[: table.heads], table.rows[table.heads :]
    if heads:
        yield Markup("<thead>{}</thead>").format(_row("col", [_head(column) for column in zip(*heads, strict=True)]))
    yield Markup("<tbody>{}</tbody>").format(Markup("").join(_row("row", [said(cell.strip()) for cell in row]) for row in rows))


def _head(column: tuple[str, ...]) -> Markup:
    """The heads of a column that stand below each other, as one."""
    return Markup("<br>").join(said(cell.strip()) for cell in column if cell.strip())


def _row(scope: str, cells: Sequence[Markup]) -> Markup:
    """A row: its first cell names it, unless it is empty, and so are heads that say nothing."""
    first, *others = cells
    tag = Markup("th" if scope == "col" else "td")
    how = Markup('th scope="col" class="n"' if scope == "col" else 'td class="n"')
    shown = [Markup('<th scope="{}">{}</th>').format(scope, first) if first else Markup("<td></td>")]
    shown += [Markup("<{}>{}</{}>").format(how, cell, tag) if cell else Markup("<td></td>") for cell in others]
    return Markup("<tr>{}</tr>").format(Markup("").join(shown))
