"""Words of the trade in a page: each is explained where a section first uses it, and once more in a list at the end."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from markupsafe import Markup

from optimizer.glossary import GLOSSARY, Term, term_of
from optimizer.report.html.quantities import said
from optimizer.report.measures import Measures

__all__ = ["Words"]

LINKED = Markup('<a class="word" href="{}#{}"><abbr title="{}">{}</abbr></a>')
_NAMES = sorted({name for term in GLOSSARY.values() for name in (term.term, *term.also)}, key=len, reverse=True)
_KNOWN = re.compile(rf"\b({'|'.join(map(re.escape, _NAMES))})\b")
SECTION = Markup('<section id="{}"{}>')


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Marks words of the glossary for one page, in its units, and remembers which it used. ``page`` is where their list stands
    (empty: further down on the same)."""

    measures: Measures
    page: str = ""
    _page: set[str] = field(default_factory=set, init=False)
    _section: set[str] = field(default_factory=set, init=False)

    def section(self, name: str, kind: str = "") -> Markup:
        """The start of a section, in which every word is new again."""
        self._section.clear()
        return SECTION.format(name, Markup(' class="{}"').format(kind) if kind else "")

    def __call__(self, shown: str, word: str = "") -> Markup:
        """A word as it is ``shown``, explained as ``word`` (empty: by itself) when the section has not used that term before.

        Raises KeyError for a word that is not in the glossary.

        >>> from optimizer.report.measures import system
        >>> words = Words(measures=system("metric"))
        >>> words("per hour", "turnover")[:57]
        Markup('<a class="word" href="#word-turnover"><abbr title="n, 1/h')
        >>> words("turnover")
        Markup('turnover')
        """
        term = term_of(word or shown)
        if term is None:
            raise KeyError(f"{word or shown} is not in the glossary")
        if term.term in self._section:
            return said(shown)
        self._section.add(term.term)
        self._page.add(term.term)
        return LINKED.format(self.page, self.anchor(term), self._in_units(term).explained, shown)

    def within(self, text: str, *words: str) -> Markup:
        """A text of the program's own with these words of it marked.

        Raises KeyError for a word that is not in the glossary, ValueError for one that is not in the text.
        """
        if not words:
            return said(text)
        pieces = re.split(rf"\b({'|'.join(map(re.escape, words))})\b", text)
        if missing := set(words).difference(pieces[1::2]):
            raise ValueError(f"not in the text: {', '.join(sorted(missing))}")
        return Markup("").join(self(piece) if n % 2 else said(piece) for n, piece in enumerate(pieces))

    def known_in(self, text: str) -> Markup:
        """A text with every word of the glossary in it explained where this section uses it first.

        >>> from optimizer.report.measures import system
        >>> Words(measures=system("metric")).known_in("A priming pump.")[:58]
        Markup('A <a class="word" href="#word-priming"><abbr title="Fillin')
        """
        pieces = _KNOWN.split(text)
        return Markup("").join(self(piece) if n % 2 else said(piece) for n, piece in enumerate(pieces))

    @property
    def used(self) -> tuple[Term, ...]:
        """The terms that were explained so far, in the order of the glossary, in the units of the page."""
        return tuple(self._in_units(term) for name, term in GLOSSARY.items() if name in self._page)

    @staticmethod
    def anchor(term: Term) -> str:
        """The id of a term in the list."""
        return f"word-{re.sub('[^a-z0-9]+', '-', term.term.casefold())}"

    def _in_units(self, term: Term) -> Term:
        units = {"l/h": self.measures.flow, "m": self.measures.head, "mm": self.measures.bore}
        return replace(term, unit=units.get(term.unit, term.unit))
