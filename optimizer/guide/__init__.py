"""The manual, by task: pages of Markdown that stand beside this file, for terminals, pages of the web, and whoever imports them.

>>> from optimizer.guide import pages
>>> [page.name for page in pages()][:2]
['start', 'desk']
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from optimizer.errors import COMMAND_LINE, InputError, Problem, near_sentence, quoted
from optimizer.glossary import GLOSSARY

__all__ = ["NAMES", "Page", "page_of", "pages"]

NAMES = (
    "start", "desk", "best", "reading", "front", "why", "order", "bands", "fills", "diagnose", "verify", "log", "ageing", "drill",
    "branches", "share", "kits", "stock", "files", "output", "proof", "safety", "questions", "words",
)  # fmt: skip
"""Every page, in the order in which they are best read; a page is the file of its name in `pages/`."""

TERMS = "<!-- every term of the glossary -->"
"""Stands in a page for the list of terms, which is written down once, in `optimizer/glossary.py`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page: the name it is asked for by, its title, and its body in Markdown, without the title."""

    name: str
    title: str
    body: str


@cache
def pages() -> tuple[Page, ...]:
    """All pages, in the order in which they are best read.

    >>> len({page.title for page in pages()}) == len(NAMES)
    True
    """
    return tuple(map(_read, NAMES))


def page_of(name: str) -> Page:
    """The page of a name, upper or lower case. Raises InputError with near names for none.

    >>> page_of("Fills").name
    'fills'
    """
    wanted = name.strip().casefold()
    if wanted in NAMES:
        return pages()[NAMES.index(wanted)]
    cure = near_sentence(wanted, NAMES) or 'Write "fullbore guide" for a list of the pages.'
    raise InputError(COMMAND_LINE, [Problem(where="page", what=f"{quoted(name)} is no page of the guide.", cure=cure)])


def _read(name: str) -> Page:
    text = files(__name__).joinpath("pages", f"{name}.md").read_text(encoding="utf-8")
    title, _, body = text.replace(TERMS, _terms()).partition("\n")
    body = re.sub(r"<!--.*?-->\n", "", body, flags=re.DOTALL)
    return Page(name=name, title=title.removeprefix("# "), body=f"{body.strip()}\n")


def _terms() -> str:
    lines = []
    for term in GLOSSARY.values():
        measured = f" ({term.measured})" if term.measured else ""
        lines.append(f"- **{term.term}**{measured}: {term.means}")
    return "\n".join(lines)
