"""Answers of commands on a page: their sentences and what stands below them, in the words that `report` prints them with."""

from __future__ import annotations

import importlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request

from optimizer.desk.desk import WAIT_S, desk_of
from optimizer.desk.jobs import Job
from optimizer.desk.worker import Answered
from optimizer.model.ageing import Ageing
from optimizer.model.answer import Answer
from optimizer.model.diagnosis import Diagnosis
from optimizer.model.logbook import Logbook
from optimizer.model.measured import Measured
from optimizer.model.saved import taken_back
from optimizer.model.verified import Verified
from optimizer.report.html.blocks import Section, sections
from optimizer.report.measures import Measures, system
from optimizer.report.spoken import spoken

__all__ = ["TEXTS", "Asking", "asking", "measures_of"]

TEXTS: dict[str, tuple[type[Answer], str]] = {
    "ageing": (Ageing, "ageing_text"),
    "diagnose": (Diagnosis, "diagnose_text"),
    "log": (Logbook, "log_text"),
    "measure": (Measured, "measure_text"),
    "verify": (Verified, "verify_text"),
}
"""Commands whose answers are shown so: the kind of answer, and the module of `report` that words it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """A question on a page. Once it is answered: ``told`` the answer with its places in words (None: there is none, but
    problems), its sentences, and the sections below them."""

    job: Job
    answer: Answered | None
    told: Any = None
    sentences: tuple[str, ...] = ()
    sections: tuple[Section, ...] = ()

    def section(self, heading: str) -> tuple[Section, ...]:
        """The sections whose heading begins so; for an empty one those without a heading."""
        return tuple(each for each in self.sections if (each.heading.startswith(heading) if heading else not each.heading))


async def asking(request: Request, words: Sequence[str], *files: str) -> Asking:
    """The question of a command of `TEXTS` which hangs on these files, with its answer where that is known soon."""
    desk = desk_of(request)
    job = desk.ask(words, *files)
    answer = await desk.jobs.until_known(job, WAIT_S)
    if answer is None or not answer.body:
        return Asking(job=job, answer=answer)
    kind, module = TEXTS[words[0]]
    told, text = spoken(taken_back(kind, answer.body)), importlib.import_module(f"optimizer.report.{module}")
    measures = measures_of(request)
    sentences = tuple(text.sentences(told, measures))
    return Asking(job=job, answer=answer, told=told, sentences=sentences, sections=sections(text.blocks(told, measures)))


def measures_of(request: Request) -> Measures:
    """The system of units that was chosen."""
    return system(desk_of(request).units(request))
