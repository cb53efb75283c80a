"""A tank at a glance: the next step in one sentence, whether what is asked of its flow is met, the last fill, the next cleaning.

All of it is read off three finished answers: how the rig ages, what ails it, and its log.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal

from optimizer.errors import safe
from optimizer.model.ageing import Ageing, Missing
from optimizer.model.diagnosis import Diagnosis
from optimizer.model.logbook import Logbook, NextCleaning
from optimizer.report.ageing_text import clean_within_words, hopeless_words
from optimizer.report.diagnose_text import clean_first_words, pump_first_words
from optimizer.report.log_text import due_words
from optimizer.report.measures import Measures, days_text

__all__ = ["Glance", "Step", "asked_words", "clean_again_words", "last_fill", "next_step"]

ASKED = ("target", "flow_min_m3s")
"""Names of what a keeper asks of the flow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """What is known of one tank: how it ages, what ails it, and its log (None: it has none)."""

    ageing: Ageing
    diagnosis: Diagnosis
    logbook: Logbook | None = None

    @property
    def due(self) -> NextCleaning | None:
        """The next cleaning by the log, where that can name a day or says that it is late."""
        due = None if self.logbook is None else self.logbook.next
        return due if due is not None and (due.already or due.likely) else None

    @property
    def asked(self) -> tuple[Missing, ...]:
        """What is asked of the flow, and when it is missed."""
        return tuple(miss for miss in self.ageing.missing if miss.name in ASKED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What to do next, in ``words``: look at the pump or ``clean``, ``measure``, ``ask`` what money can do, or ``wait``."""

    do: Literal["clean", "measure", "ask", "wait"]
    words: str


def next_step(told: Glance, measures: Measures, today: date) -> Step:
    """Return the one step that comes before all others: what is known to be dirty or late is cleaned, what does not fit is
    looked at, and only what cleaning cannot reach is a question of money."""
    found, due = told.diagnosis.calibrated, told.due
    if told.diagnosis.pump_first:
        return Step(do="measure", words=pump_first_words(told.diagnosis))
    if due is not None and (due.already or due.likely < today.isoformat()):
        late = "" if due.already else " That day is past: clean, then fill and log it."
        return Step(do="clean", words=due_words(due, measures) + late)
    if found.clean_first:
        return Step(do="clean", words=clean_first_words(found))
    if any(miss.day == 0.0 for miss in told.asked):
        return Step(do="ask", words=f"{hopeless_words(told.ageing, measures)} Ask what your money can do about it.")
    if not found.identified.singular:
        return Step(do="measure", words="Nothing is measured yet: time a container under the outlet.")
    return Step(do="wait", words=clean_again_words(told, measures))


def clean_again_words(told: Glance, measures: Measures) -> str:
    """Return when to clean again: by the log, or by the days from one clean of everything to the next."""
    return clean_within_words(told.ageing, measures) if told.due is None else due_words(told.due, measures)


def asked_words(told: Glance, measures: Measures) -> Iterator[str]:
    """Yield what is asked of the flow, each with whether it is met; nothing where nothing is asked."""
    for miss in told.asked:
        yield f"{safe(measures.words(miss.words))}: {_met(miss)}"


def _met(miss: Missing) -> str:
    if miss.day == 0.0:
        return "missed, even when clean"
    if miss.undone_day == 0.0:
        return "missed now, met when clean"
    return "met" if math.isinf(miss.undone_day) else f"met for about {days_text(max(math.floor(miss.undone_day), 1.0))}"


def last_fill(told: Glance) -> tuple[str, float] | None:
    """Return the day of the last fill (empty: not said) and its flow in m3/s, brought to the loop as installed; None for none."""
    logged = () if told.logbook is None else told.logbook.lines
    fills = [(line.date, line.flow_m3s) for line in logged if line.flow_m3s]
    fills += [(each.measured.date, each.installed.p50_m3s) for each in told.diagnosis.calibrated.measured]
    return max(fills, key=lambda fill: fill[0], default=None)
