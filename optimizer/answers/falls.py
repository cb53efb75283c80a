"""How the flow falls between two cleanings, of the loop as it is and of the best bundle, by the model of dirt."""

import math
from collections.abc import Mapping
from dataclasses import replace

from optimizer.answers.question import Question
from optimizer.answers.rows import Standing
from optimizer.dirt.course import Course, courses
from optimizer.dirt.daily import daily_of
from optimizer.dirt.held import held
from optimizer.model.dossiers import Fall, Falls

SPAN_DAYS = 56.0
"""Canisters are cleaned every four to eight weeks (common practice, no published source); shown is the longer time."""


def walked(question: Question, rows: Mapping[str, Standing]) -> dict[str, Course]:
    """Each row day by day after a cleaning of everything, over the interval that is asked about or a usual one."""
    tops = [stands.flow_m3s if stands.held_by else math.inf for stands in rows.values()]
    loops = [
        replace(stands.loop, ceiling_m3s=top, name=name).cleaned() for (name, stands), top in zip(rows.items(), tops, strict=True)
    ]
    runs = courses(loops, daily_of(question.rig), question.days or SPAN_DAYS)
    return {
        loop.name: held(run, question.limits) if question.days and loop.throttled and not loop.forks else run
        for loop, run in zip(loops, runs, strict=True)
    }


def falls(question: Question, walks: Mapping[str, Course]) -> Falls:
    """The courses as lines for a figure, with what they rest on."""
    wanted = question.target_m3s or question.limits.flow_min_m3s or question.rig.target_m3s
    laws = next(iter(walks.values())).laws
    return Falls(
        falls=tuple(_fall(name, walk) for name, walk in walks.items()),
        wanted_m3s=wanted,
        notes=(*laws.words, *daily_of(question.rig).notes),
    )


def _fall(name: str, walk: Course) -> Fall:
    days, flows = (tuple(float(each) for each in column) for column in (walk.days, walk.flow_m3s))
    return Fall(name=name, days=days, flows_m3s=flows)
