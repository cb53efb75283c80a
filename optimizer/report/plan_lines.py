"""What a front, a list of alternatives and a buying order have in common when they are shown."""

from __future__ import annotations

from collections.abc import Iterable

from optimizer.errors import safe
from optimizer.model.answer import Asked
from optimizer.model.results import BillLine, Change
from optimizer.model.said import Said, flowing, length
from optimizer.money import show_money
from optimizer.report.layout import Block, cut, paragraph
from optimizer.report.measures import SYSTEMS, Measures

__all__ = [
    "LEAST_GAIN_M3S",
    "LEAST_WORDS",
    "LONGEST_NAME",
    "catalog_line",
    "changed",
    "cut_texts",
    "heading",
    "opening",
    "quantity_text",
    "question_words",
]

LONGEST_NAME = 200

LEAST_GAIN_M3S = 1.0e-3 / 3600.0
"""A line of a table that brings less than this (1 l/h) over the one before is left out: no keeper can measure it."""
LEAST_WORDS = "less than 1 l/h (0.3 gph)"


def changed(changes: Iterable[Change]) -> str:
    """Return changes in a few words, in the order of the water.

    >>> changed([Change(position="pump", change="swap", part_id="P", text="pump"), Change(position="tap", change="keep",
    ...     part_id="T", text="tap")])
    'pump swap P; tap keep'
    """
    return "; ".join(_words(change) for change in changes)


def _words(change: Change) -> str:
    what = change.part_id or change.text
    said = change.change in ("swap", "add", "adjust")
    # of an adjustment the text says what is done, of a part bought the id is what a shop knows
    what = change.text if change.change == "adjust" else what
    return safe(f"{change.place} {change.change} {what}" if said and what else f"{change.place} {change.change}")


def cut_texts(line: BillLine, measures: Measures) -> list[str]:
    """Return the lengths of a thing that is cut from a roll; nothing for one that is counted."""
    return [measures.words(Said(length(each, f"{each:.2f} m"))) for each in line.cuts_m]


def quantity_text(line: BillLine, measures: Measures = SYSTEMS["metric"]) -> str:
    """Return how much of a thing is bought.

    >>> line = BillLine(product_id="H", name="hose", count=0, price=1, owned=False, places=(), cuts_m=(1.2, 0.85))
    >>> quantity_text(line), quantity_text(line, SYSTEMS["us"])
    ('1.20 m + 0.85 m', '47.2 in + 33.5 in')
    """
    return " + ".join(cut_texts(line, measures)) or str(line.count)


def question_words(asked: Asked, measures: Measures) -> str:
    """Return a question in one line.

    >>> from optimizer.report.measures import system
    >>> question_words(Asked(budget=4000), system("metric"))
    'most delivered flow for 40.00'
    >>> question_words(Asked(target_m3s=0.0002, days=60.0, by="last"), system("us"))
    'cheapest way to deliver 190 gph on day 60, the last before cleaning'
    """
    if asked.target_m3s:
        said = measures.words(Said("cheapest way to deliver ", flowing(asked.target_m3s)))
    else:
        said = "the step to take" if asked.advised else "most delivered flow"
        said += "" if asked.budget is None else f" for {'at most ' * asked.advised}{show_money(asked.budget)}"
    clean = measures.words(Said(", with at least ", flowing(asked.clean_m3s), " when clean")) if asked.clean_m3s else ""
    if asked.by == "mean":
        return f"{said} on average over {asked.days:g} days between cleanings{clean}"
    return f"{said} on day {asked.days:g}, the last before cleaning{clean}" if asked.by else said


def opening(rig: str, question: str, sentences: Iterable[str]) -> list[Block]:
    """Return the first lines of an answer: whose question it is, then the verdict sentence by sentence."""
    return [line for text in (heading(rig, question), *sentences) for line in paragraph(text, rest="  ")]


def catalog_line(catalog: str) -> list[Block]:
    """Return the last lines of an answer from a catalog."""
    return ["", *paragraph(f"Catalog: {cut(safe(catalog), LONGEST_NAME)}", rest="  ")]


def heading(rig: str, question: str) -> str:
    """Return whose question this is; the question is our own text.

    >>> heading("Hall tank", "what each sum buys")
    'Hall tank: what each sum buys'
    """
    return f"{cut(safe(rig), LONGEST_NAME)}: {question}"
