"""A tank that is being described: the questions of `fullbore new` with what was answered by now, kept where the command keeps it.

Answers are lines, one for each question in its order, as they were typed; an empty one takes what is usual. So the command can
go on where a page stopped, and the other way round.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from optimizer.commands.interview import drafted, stem_of, told_assumed, written
from optimizer.errors import BadValue
from optimizer.files.interview import NO_UNIT, Question, Said, answered
from optimizer.files.interview_questions import question_groups
from optimizer.files.kept_answers import KeptAnswers
from optimizer.files.whole_file import beside
from optimizer.model.catalog import Catalog

__all__ = ["Described", "Item", "Page", "described", "differing"]

LONGEST_KEPT = 2_000
"""Longer texts are no answers; they are shown again, but not kept."""

_LINE_ENDS = re.compile(r"[\r\n\v\f\x1c-\x1e\x85\u2028\u2029]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A question with its answer as it was typed (None: not answered yet), what an empty one takes, what became of it, and what
    is wrong with it (empty: nothing)."""

    number: int
    question: Question
    text: str | None
    offered: str
    found: Mapping[str, Said]
    wrong: str = ""

    @property
    def guessed(self) -> tuple[str, ...]:
        """What was read from a number that had no unit."""
        return tuple(each.text for each in self.found.values() if each.assumed == NO_UNIT)

    @property
    def taken(self) -> str:
        """What stands for the answer in the file, in words."""
        return ", ".join(filter(None, (*(each.text for each in self.found.values()), "" if self.text else self.question.left)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The questions that are asked on one page."""

    number: int
    about: str
    items: tuple[Item, ...]

    @property
    def is_done(self) -> bool:
        """True when each is answered, in a way that can be used."""
        return all(item.text is not None and not item.wrong for item in self.items)

    @property
    def is_said(self) -> bool:
        """True when anything on it was said, and not all left to what is usual."""
        return any(item.text for item in self.items)


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """A tank by its answers, ``lines``, and the catalog that ids are looked up in; ``place`` is that of the rig file."""

    place: Path
    catalog: Catalog = field(repr=False)
    lines: tuple[str, ...]
    pages: tuple[Page, ...]

    @property
    def items(self) -> tuple[Item, ...]:
        """All questions."""
        return tuple(item for page in self.pages for item in page.items)

    @property
    def facts(self) -> dict[str, Said]:
        """What is known by the answers, and taken where there is none."""
        return {key: said for item in self.items for key, said in item.found.items()}

    @property
    def next_page(self) -> int:
        """The first page with something to answer or to put right; one more than there are for none."""
        return next((page.number for page in self.pages if not page.is_done), len(self.pages))

    def with_page(self, number: int, texts: Sequence[str], *, whole: bool) -> tuple[str, ...]:
        """The lines with those of a page replaced. What is behind its last text is not answered yet, unless it is sent ``whole``
        or something was answered behind it."""
        first = self.pages[number].items[0].number
        before = (*self.lines[:first], *[""] * (first - len(self.lines)))
        after = self.lines[first + len(texts) :]
        lines = [_line(text) for text in texts]
        while lines and not whole and not after and not lines[-1] and first + len(lines) > len(self.lines):
            lines.pop()
        return (*before, *lines, *after)

    def assumed(self) -> tuple[str, ...]:
        """All that is assumed in the file that would be written now. Raises InputError where no valid file comes of it."""
        with beside(self.place) as draft:
            return told_assumed(*drafted(draft, self.facts, self.catalog))

    def write(self, *, replaces: bool) -> None:
        """Write the rig file, and forget the answers that were kept for it. Raises InputError."""
        written(self.place, self.facts, self.catalog, replaces)
        KeptAnswers(self.place).forget()


def described(place: Path, catalog: Catalog, lines: Sequence[str] | None = None) -> Described:
    """A tank by the answers that are kept for its file, or by these."""
    kept = KeptAnswers(place).read() if lines is None else tuple(lines)
    facts: dict[str, Said] = {}
    pages, number = [], 0
    for page, (about, asked) in enumerate(question_groups(catalog, stem_of(place))):
        items = []
        for question in asked:
            item = _item(number, question, kept[number] if number < len(kept) else None, facts)
            facts.update(item.found)
            items.append(item)
            number += 1
        pages.append(Page(number=page, about=about, items=tuple(items)))
    return Described(place=place, catalog=catalog, lines=kept[:number], pages=tuple(pages))


def _item(number: int, question: Question, text: str | None, facts: Mapping[str, Said]) -> Item:
    offered = question.offered(facts)
    try:
        found, wrong = answered(question, text or "", facts), ""
    except BadValue as error:
        found, wrong = answered(question, "", facts), str(error)
    return Item(number=number, question=question, text=text, offered=offered, found=found, wrong=wrong)


def _line(text: str) -> str:
    """A text as one line of those that are kept."""
    return _LINE_ENDS.sub(" ", text)[:LONGEST_KEPT]


def differing(mine: Sequence[str], kept: Sequence[str]) -> dict[int, str]:
    """What is kept where both hold an answer, and not the same, by its place.

    >>> differing(["240 l", "fresh"], ["240 l", "sea"])
    {1: 'sea'}
    """
    return {n: other for n, (one, other) in enumerate(zip(mine, kept, strict=False)) if one != other}
