"""Pages of the guide as HTML: the plain part of Markdown that they are written in, with words of the trade explained."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import groupby

from markupsafe import Markup, escape

from optimizer.guide import NAMES, Page, pages
from optimizer.guide.terminal import BULLET, MARKS, blocks
from optimizer.report.html.words import Words

__all__ = ["Found", "found_in", "html_of"]

OTHER_PAGE = re.compile(r"fullbore guide (\w+)")
MOST_FOUND = 40
SHOWN = 220


def html_of(page: Page, words: Words) -> Markup:
    """The body of a page, below its title."""
    parts = []
    for kind, group in groupby(blocks(page.body), key=_kind):
        each = list(group)
        if kind in ("ul", "ol"):
            items = Markup("").join(Markup("<li>{}</li>").format(_inline(_text(lines), words)) for lines in each)
            parts.append(Markup("<{0}>{1}</{0}>").format(Markup(kind), items))
        else:
            parts += [_block(kind, lines, words) for lines in each]
    return Markup("\n").join(parts)


def _kind(lines: list[str]) -> str:
    if lines[0].startswith("```"):
        return "pre"
    if lines[0].startswith("#"):
        return "h2"
    if not BULLET.match(lines[0]):
        return "p"
    return "ul" if lines[0].startswith("- ") else "ol"


def _block(kind: str, lines: Sequence[str], words: Words) -> Markup:
    if kind == "pre":
        return Markup('<pre tabindex="0">{}</pre>').format(escape("\n".join(lines[1:-1])))
    if kind == "h2":
        title = lines[0].lstrip("# ")
        return Markup('<h2 id="{}">{}</h2>').format(anchor(title), title.replace("`", ""))
    return Markup("<p>{}</p>").format(_inline(_text(lines), words))


def anchor(title: str) -> str:
    """The id of a heading.

    >>> anchor("How it is `written`")
    'how-it-is-written'
    """
    return re.sub("[^a-z0-9]+", "-", title.casefold()).strip("-")


def _text(lines: Sequence[str]) -> str:
    """The lines of a paragraph or an entry of a list as one, without its mark."""
    mark = BULLET.match(lines[0])
    return " ".join(line.strip() for line in lines)[mark.end() if mark else 0 :]


def _inline(text: str, words: Words) -> Markup:
    parts, at = [], 0
    for mark in MARKS.finditer(text):
        parts.append(words.known_in(text[at : mark.start()]))
        parts.append(Markup("<strong>{}</strong>").format(mark[1].replace("`", "")) if mark[1] else _code(mark[2]))
        at = mark.end()
    return Markup("").join([*parts, words.known_in(text[at:])])


def _code(code: str) -> Markup:
    page = OTHER_PAGE.fullmatch(code)
    if page is not None and page[1] in NAMES:
        return Markup('<a href="/guide/{}"><code>{}</code></a>').format(page[1], code)
    return Markup("<code>{}</code>").format(code)


class Found(tuple[str, str, str, str]):
    """One place in the guide: the name of its page, its title, the heading above it (empty: none), and what stands there."""

    __slots__ = ()


def found_in(wanted: str) -> tuple[Found, ...]:
    """Paragraphs of the guide that hold all words of a text, in the order of the guide; at most `MOST_FOUND` of them."""
    needles = wanted.casefold().split()[:10]
    hits = (each for page in pages() for each in _found(page, needles)) if needles else iter(())
    return tuple(hit for hit, _ in zip(hits, range(MOST_FOUND), strict=False))


def _found(page: Page, needles: Sequence[str]) -> Iterator[Found]:
    heading = ""
    for lines in blocks(page.body):
        kind = _kind(lines)
        if kind == "h2":
            heading = lines[0].lstrip("# ")
        text = "\n".join(lines[1:-1]) if kind == "pre" else MARKS.sub(lambda mark: mark[1] or mark[2], _text(lines))
        whole = f"{page.title} {heading} {text}".casefold()
        if all(needle in whole for needle in needles) and any(needle in text.casefold() for needle in needles):
            yield Found((page.name, page.title, heading, _around(" ".join(text.split()), needles)))


def _around(text: str, needles: Sequence[str]) -> str:
    """Some whole words of a text around the first that is looked for."""
    found = min(at for needle in needles if (at := text.casefold().find(needle)) >= 0 or needle == needles[-1])
    begins = text.rfind(" ", 0, max(found - SHOWN // 3, 0)) + 1
    ends = len(text) if begins + SHOWN >= len(text) else text.rfind(" ", 0, begins + SHOWN)
    return f"{'... ' if begins else ''}{text[begins:ends]}{' ...' if ends < len(text) else ''}"
