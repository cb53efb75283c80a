"""A page of the guide as plain text: paragraphs filled to a width, examples as they are printed."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator

from optimizer.guide import Page

__all__ = ["BULLET", "MARKS", "WIDTH", "blocks", "contents", "in_plain_text"]

WIDTH = 80
BULLET = re.compile(r"(- |\d+\. )")
MARKS = re.compile(r"\*\*(.+?)\*\*|`([^`]+)`")


def contents(pages: tuple[Page, ...]) -> str:
    """The list of pages, a line each.

    >>> contents((Page(name="fills", title="A bucket and a watch", body=""),))
    '  fills  A bucket and a watch\\n'
    """
    longest = max(len(page.name) for page in pages)
    return "".join(f"  {page.name:<{longest}}  {page.title}\n" for page in pages)


def in_plain_text(page: Page, width: int = WIDTH) -> str:
    """The page without marks of Markdown; lines of examples stay as they are, all others have at most `width` characters.

    >>> print(in_plain_text(Page(name="a", title="Title", body="## Part\\n\\nSome **bold** `code`.\\n")), end="")
    Title
    =====
    <BLANKLINE>
    Part
    ----
    <BLANKLINE>
    Some bold "code".
    """
    text = _headed(page.title, "=")
    before = ""
    for block in blocks(page.body):
        in_list = BULLET.match(before) and BULLET.match(block[0])
        text += ("\n" if in_list else "\n\n") + _block(block, width)
        before = block[0]
    return text + "\n"


def blocks(body: str) -> Iterator[list[str]]:
    """The lines of each paragraph, list entry, heading or example, examples with their fences."""
    block: list[str] = []
    fenced = False
    for line in body.splitlines():
        if line.startswith("```"):
            fenced = not fenced
            block.append(line)
        elif fenced or (line and not line.startswith("#") and not (block and BULLET.match(line))):
            block.append(line)
        else:
            if block:
                yield block
            block = [line] if line else []
    if block:
        yield block


def _block(lines: list[str], width: int) -> str:
    first = lines[0]
    if first.startswith("```"):
        return "\n".join(lines[1:-1])
    if first.startswith("#"):
        return _headed(_plain(first.lstrip("# ")), "-")
    bullet = BULLET.match(first)
    text = _plain(" ".join(line.strip() for line in lines))
    indent = " " * len(bullet[0]) if bullet else ""
    return textwrap.fill(text, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)


def _headed(title: str, mark: str) -> str:
    return f"{title}\n{mark * len(title)}"


def _plain(text: str) -> str:
    return MARKS.sub(lambda found: found[1] or _said(found[2]), text)


def _said(code: str) -> str:
    """A piece of code in a sentence, in quotes where that does not confuse.

    >>> _said("fullbore guide"), _said('flow = "600 l/h"')
    ('"fullbore guide"', 'flow = "600 l/h"')
    """
    return code if '"' in code else f'"{code}"'
