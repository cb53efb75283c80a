"""What of the answers to its questions stands on the card of a tank."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import quote

from markupsafe import Markup

from optimizer.desk.standing import restored
from optimizer.desk.tanks_there import Tank
from optimizer.desk.worker import Answered
from optimizer.model.ageing import Ageing
from optimizer.model.answer import Answer
from optimizer.model.diagnosis import Diagnosis
from optimizer.model.logbook import Logbook
from optimizer.report import glance_text
from optimizer.report.ageing_text import is_dirty
from optimizer.report.glance_text import Glance
from optimizer.report.html.quantities import Quantities, said
from optimizer.report.measures import system
from optimizer.report.spoken import spoken

__all__ = ["Look", "look_of"]

LEADS = {
    "clean": ("log", "Log the cleaning"),
    "measure": ("measure", "Measure"),
    "ask": ("ask", "Ask"),
    "wait": ("tank", "The loop"),
}
"""The page that each next step leads to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What stands on a card: the next step with the page it leads to, facts by their labels; or what is wrong with the files."""

    step: str = ""
    page: str = ""
    leads: str = ""
    facts: tuple[tuple[str, Markup], ...] = ()
    problems: tuple[Any, ...] = ()
    lost: str = ""


def look_of(tank: Tank, answers: Sequence[Answered], units: str) -> Look:
    """What stands on the card of a tank by all of its answers."""
    wrong = next((each for each in answers if each.problems), None)
    if wrong is not None:
        return Look(problems=wrong.problems)
    ageing, diagnosis = (_taken(kind, each) for kind, each in zip((Ageing, Diagnosis), answers, strict=False))
    logbook = _taken(Logbook, answers[2]) if len(answers) > 2 else None
    if not isinstance(ageing, Ageing) or not isinstance(diagnosis, Diagnosis):
        return Look(lost=next((each.text for each in answers if each.text), "This could not be worked out."))
    told = Glance(ageing=ageing, diagnosis=diagnosis, logbook=logbook if isinstance(logbook, Logbook) else None)
    return _look(tank, told, units)


def _taken(kind: type[Answer], answered: Answered) -> Answer | None:
    return spoken(restored(kind, answered))


def _look(tank: Tank, told: Glance, units: str) -> Look:
    measures = system(units)
    shown = Quantities(measures=measures, currency="")
    step = glance_text.next_step(told, measures, date.today())
    where, leads = LEADS[step.do]
    return Look(step=step.words, page=f"/{where}/{quote(tank.name)}", leads=leads, facts=tuple(_facts(told, shown, step.words)))


def _facts(told: Glance, shown: Quantities, step: str) -> Iterator[tuple[str, Markup]]:
    """The figures of a card; when to clean again only where the next ``step`` has not told it."""
    first = told.ageing.rows[0]
    yield "Now", shown.flow(first.undone_m3s)
    if is_dirty(told.ageing):
        yield "Cleaned", shown.flow(first.flow_m3s)
    for words in glance_text.asked_words(told, shown.measures):
        yield "Asked of it", said(words)
    fill = glance_text.last_fill(told)
    yield "Last fill", Markup("{}, {}").format(shown.flow(fill[1]), said(fill[0] or "no date")) if fill else said("none yet")
    again = glance_text.clean_again_words(told, shown.measures)
    if again not in step:
        yield "Clean again", said(again)
