"""What is said of a bundle over an interval between cleanings, all of it read off its course day by day."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from optimizer.answers.question import Question
from optimizer.answers.rows import Standing, row
from optimizer.answers.words import limit_words
from optimizer.dirt.course import MOST_DAYS, Course, course
from optimizer.dirt.course_readings import SLACK, Miss, mean_flow_m3s, misses, rises
from optimizer.dirt.daily import Daily, daily_of
from optimizer.dirt.held import held
from optimizer.loop.standing import StandingLoop
from optimizer.model.lasting import Lasting, LastingMiss, LastingRise, LastingRow, LastingWindow
from optimizer.model.limits import Limits
from optimizer.model.parts import Device
from optimizer.model.results import Broken
from optimizer.model.said import Said, flowing
from optimizer.search.ageing import Interval

MOST_RISES = 4
LEAST_RISE = 0.005
"""Places whose share of the losses rises by less are not told."""

LOOKED_DAYS = 180.0
"""Days that are looked at for what is missed, where the interval is not longer."""

LAID = (
    "New media are laid coarse before fine, as is usual; what each tray catches hangs on that order",
    "A throttle is set on the clean day and opened as the flow falls; where dirt tightens a limit it is closed again",
    "Days between cleanings: everything that a clean reaches is clean on the first, nothing is cleaned before the last; "
    "dirt left in the loop is no throttle to rely on",
)

WATCHED = ("flow_min_m3s", "flow_max_m3s", "device_windows", "guard_speed_ms", "inlet_head_m")
"""Limits that hang on the flow, so on the day; a bundle breaks the others on every day or on none."""


def walked(loop: StandingLoop, daily: Daily, days: float, limits: Limits) -> Course:
    """A bundle day by day: every statement on what it delivers and which limits it keeps is read off this. A throttle in series
    holds it to the ceiling of its loop and, where dirt tightens a limit, to what that allows; without one it flows as it does."""
    run = course(loop, daily, days)
    return held(run, limits) if loop.throttled and not loop.forks else run


def both_courses(loop: StandingLoop, daily: Daily, question: Question) -> tuple[Course, Course]:
    """A bundle over the interval, and over the days that are looked at for what is missed later."""
    longer = walked(loop, daily, looked_days(question.days), question.limits)
    if question.days == int(question.days):
        return longer.until(int(question.days)), longer
    return walked(loop, daily, question.days, question.limits), longer


def kept_over(whole: Course, longer: Course, question: Question) -> tuple[Miss, ...]:
    """What is asked of the flow, each with the first day on which it is missed: on the days of the interval by its ``whole``
    course, all of its days looked at, and only after them by a ``longer`` one. Nothing else says whether a limit is kept."""
    limits, target = question.limits, question.target_m3s or question.rig.target_m3s
    end = float(whole.days[-1])
    later = {(miss.name, miss.place): max(miss.day, math.nextafter(end, math.inf)) for miss in misses(longer, limits, target)}
    found = [
        miss if math.isfinite(miss.day) else replace(miss, day=later[miss.name, miss.place])
        for miss in misses(whole, limits, target)
    ]
    return tuple(sorted(found, key=lambda miss: (miss.day, miss.name, miss.place)))


def unkept(question: Question, run: Course, breaks: Sequence[Broken] = ()) -> Iterator[LastingMiss]:
    """What a bundle does not keep on all days of the interval; ``breaks`` are what it breaks on its first."""
    for broken in breaks:
        if broken.limit not in WATCHED:
            yield LastingMiss(words=broken.words, day=0.0)
    if float(run.flow_m3s[0]) < question.clean_m3s * (1.0 - SLACK):
        yield LastingMiss(words=clean_words(question.clean_m3s), day=0.0)
    for miss in misses(run, question.limits, question.target_m3s):
        if math.isfinite(miss.day):
            yield LastingMiss(words=_miss_words(miss, question), day=miss.day)


def clean_words(clean_m3s: float) -> str:
    """What is asked of the clean day."""
    return Said(flowing(clean_m3s), " on the clean day")


def told_row(name: str, question: Question, stands: Standing, run: Course) -> LastingRow:
    """The flows of a bundle, followed day by day, and what it does not keep to."""
    breaks = row(name, question.rig, question.limits, stands).breaks
    return row_of(name, stands.price, run, tuple(unkept(question, run, breaks)))


def row_of(name: str, price: int, run: Course, missed: tuple[LastingMiss, ...]) -> LastingRow:
    """A row of the table over an interval: its flows of the clean day, the last one and the mean, and the limits it misses."""
    return LastingRow(
        name=name,
        price=price,
        clean_m3s=float(run.flow_m3s[0]),
        last_m3s=float(run.flow_m3s[-1]),
        mean_m3s=mean_flow_m3s(run),
        own_m3s=float(run.own_m3s[0]),
        last_own_m3s=float(run.own_m3s[-1]),
        missed=missed,
    )


def as_now(question: Question, daily: Daily, now: Standing) -> LastingRow:
    """The loop as it is, if it is not cleaned now either."""
    return told_row("now", question, now, course(now.loop, daily, question.days))


def looked_days(days: float) -> float:
    """Days that are looked at for what is missed."""
    return min(max(LOOKED_DAYS, 2.0 * days), MOST_DAYS)


def lasting_of(
    question: Question, rows: tuple[LastingRow, ...], whole: Course, longer: Course, more: Mapping[str, Any]
) -> Lasting:
    """How an answer lasts, by its course over the ``whole`` interval and a ``longer`` one; ``more`` are further fields."""
    missed = kept_over(whole, longer, question)
    return Lasting(
        days=question.days,
        by=question.by,
        clean_m3s=question.clean_m3s,
        rows=rows,
        windows=tuple(_windows(whole, missed)),
        misses=tuple(LastingMiss(words=_miss_words(miss, question), day=miss.day) for miss in missed),
        looked_days=looked_days(question.days),
        rises=tuple(_risen(whole)),
        notes=daily_of(question.rig).notes,
        **more,
    )


def tightens_day(run: Course) -> float:
    """The first day on which a limit holds the flow below what the throttle was set to; inf when none does."""
    free = np.minimum(run.own_m3s, run.loop.ceiling_m3s)
    return float(
        next((day for day, held, own in zip(run.days, run.flow_m3s, free, strict=True) if held < own * (1 - 1e-9)), math.inf)
    )


def _windows(run: Course, missed: Sequence[Miss]) -> Iterator[LastingWindow]:
    """The windows of devices, each kept or not by what is ``missed`` when."""
    for n, one, part in run.loop.each(Device):
        place, passing = one.position.name, run.passing_m3s(n)
        if part.has_window:
            days = [miss.day for miss in missed if (miss.place, miss.name) == (place, "device_windows")]
            yield LastingWindow(
                place=place,
                device=part.name,
                clean_m3s=float(passing[0]),
                last_m3s=float(passing[-1]),
                flow_min_m3s=part.flow_min_m3s,
                flow_max_m3s=part.flow_max_m3s,
                kept=all(day > float(run.days[-1]) for day in days),
            )


def _miss_words(miss: Miss, question: Question) -> str:
    """What is asked of the flow, in words."""
    rig, limits = question.rig, question.limits
    if miss.name == "target":
        wanted = question.target_m3s or rig.target_m3s
        return Said(flowing(wanted), f" delivered ({rig.turnover_per_hour(wanted):.2f} per hour)")
    if miss.name == "device_windows":
        return f"the flow window of {miss.place}"
    return limit_words(miss.name, limits, rig)


def _risen(run: Course) -> Iterator[LastingRise]:
    """Places whose share of the losses rises most."""
    for rise in rises(run)[:MOST_RISES]:
        if rise.risen >= LEAST_RISE:
            yield LastingRise(place=rise.place, clean_share=rise.first_share, last_share=rise.later_share)


def basis(question: Question, daily: Daily, interval: Interval) -> Iterator[str]:
    """What an answer over an interval rests on."""
    yield from LAID
    yield f"Dirt: {daily.solids_kg_day * 1e3:.2g} g of dry solids and {daily.debris_kg_day * 1e3:.2g} g of debris a day"
    yield from daily.notes
    yield from interval.laws.words
    if question.rig.fills and question.rig.fitted is None:
        yield "The fills in the rig file are not counted with here: the parts lose what is stated for them"
