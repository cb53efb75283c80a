"""The best or the cheapest bundle by the last day before cleaning, or by the mean of an interval between cleanings."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from optimizer import halting
from optimizer.answers.question import ForNothing, Progress, Question, SolvedQuestion, result_of, seek, spend_nothing, stands_now
from optimizer.answers.rows import Standing
from optimizer.answers.wish import wish
from optimizer.answers.words import limit_words, money
from optimizer.dirt.course import MOST_DAYS, Course, course
from optimizer.dirt.course_readings import Miss, mean_flow_m3s, misses, rises
from optimizer.dirt.daily import Daily, daily_of
from optimizer.dirt.held import held
from optimizer.loop.kinds import parts_of
from optimizer.loop.standing import standing_loop
from optimizer.model.answer import Asked
from optimizer.model.lasting import Lasting, LastingMiss, LastingRise, LastingRow, LastingWindow
from optimizer.model.options import Chain, Option
from optimizer.model.parts import Device
from optimizer.model.results import Certificate, Conflict, Result
from optimizer.model.rig import Rig
from optimizer.model.said import Said, bare_flow, flowing
from optimizer.search.ageing import Interval
from optimizer.search.best import Found, Outcome, Seeker
from optimizer.search.over_days import LAST, MEAN, Judged, OverDays, Verdict

MOST_RISES = 4
LEAST_RISE = 0.005
"""Places whose share of the losses rises by less are not told."""

LOOKED_DAYS = 180.0
"""Days that are looked at for what is missed, where the interval is not longer."""

AGREES = 1e-6
"""Agreement asked of the flow of the last day by two routes, as a share."""

LAID = (
    "New media are laid coarse before fine, as is usual; what each tray catches hangs on that order",
    "A throttle is set on the clean day and opened as the flow falls; where dirt tightens a limit it is closed again",
    "Days between cleanings: everything that a clean reaches is clean on the first, nothing is cleaned before the last; "
    "dirt left in the loop is no throttle to rely on",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sought:
    """The search over an interval, with the answer of the clean day beside it."""

    question: Question
    daily: Daily
    over: OverDays
    verdict: Verdict
    on_clean_day: Judged | None


def lasting_answer(question: Question, days: float, by: str = LAST, progress: Progress | None = None) -> Result:
    """The whole answer, every limit kept on the clean and on the last day. A target is to be met on the last day.

    Raises ValueError for days that cannot be.
    """
    rig = question.rig
    question = replace(question, starts_clean=True)
    now, (free, _) = stands_now(rig, question.catalog), spend_nothing(question)
    seeker = seek(question, progress, lasting=True)
    sought = _sought(question, seeker, days, by)
    told = nullcontext() if sought.verdict.found is None else halting.held()
    with told:  # what was found is put into words, whatever is pressed
        return _worded(question, seeker, sought, now, free)


def _worded(question: Question, seeker: Seeker, sought: _Sought, now: Standing, free: Standing) -> Result:
    found, interval = sought.verdict.found, sought.over.ageing.interval
    outcome = _outcome(sought, seeker)
    result = result_of(
        question, SolvedQuestion(now=now, nothing=ForNothing(stands=free, meets=False), seeker=seeker, outcome=outcome)
    )
    result = replace(
        result,
        question=asked_over(question, interval.days, sought.over.by),
        proof=replace(result.proof, status=sought.verdict.status, bound_m3s=sought.verdict.bound_m3s),
        basis=(*result.basis, *basis(question, sought.daily, interval)),
    )
    if found is None:
        return replace(result, conflict=_conflict(sought) if sought.verdict.status == "proved" else None)
    return _told(result, sought, found, free)


def asked_over(question: Question, days: float, by: str) -> Asked:
    """A question by the last day of an interval, or by its mean."""
    return replace(question.asked, days=days, by="mean" if by == MEAN else "last")


def _sought(question: Question, seeker: Seeker, days: float, by: str) -> _Sought:
    daily = daily_of(question.rig)
    over = OverDays(seeker, Interval(days=days, daily=daily), by)
    target = question.target_m3s
    clean = seeker.least_price(target) if target else seeker.most_flow()
    on_clean_day = None if clean.found is None else over.judged(clean.found.bundle)
    seeker.tally.stopped = False
    verdict = over.least_price(target) if target else over.most_flow()
    return _Sought(question=question, daily=daily, over=over, verdict=verdict, on_clean_day=on_clean_day)


def _outcome(sought: _Sought, seeker: Seeker) -> Outcome:
    """What the search over days found, as the answer of the clean day is told. Without one it counts as stopped here: why nothing
    lasts is told by `_conflict`."""
    bundle = sought.verdict.bundle
    found = None if bundle is None else Found(bundle, seeker.delivered(bundle))
    status = "stopped" if found is None else sought.verdict.status
    return Outcome(found, status, sought.verdict.bound_m3s, seeker.tally)


def _told(result: Result, sought: _Sought, found: Judged, free: Standing) -> Result:
    question, limits = sought.question, sought.question.limits
    days = sought.over.ageing.interval.days
    if result.best is None:
        raise ValueError("there is no answer to tell")
    whole, longer = (_of_judged(sought, found, each) for each in (days, looked_days(days)))
    more = {"followed": sought.verdict.judged, "tightens_day": _tightens_day(longer)}
    lasting = lasting_of(
        asked_over(question, days, sought.over.by), question, tuple(_rows(sought, found, free)), whole, longer, more
    )
    proof = replace(result.proof, certificates=(*result.proof.certificates, _by_itself(whole, found)))
    wished = None if result.wish is None else wish(question.rig, question.catalog, limits, found.last_m3s)
    return replace(result, lasting=lasting, proof=proof, wish=wished)


def looked_days(days: float) -> float:
    """Days that are looked at for what is missed."""
    return min(max(LOOKED_DAYS, 2.0 * days), MOST_DAYS)


def lasting_of(
    asked: Asked, question: Question, rows: tuple[LastingRow, ...], whole: Course, longer: Course, more: Mapping[str, Any]
) -> Lasting:
    """How an answer lasts, by its course over the ``whole`` interval and a ``longer`` one; ``more`` are further fields."""
    missed = misses(longer, question.limits, question.target_m3s or question.rig.target_m3s)
    return Lasting(
        days=asked.days,
        by=asked.by,
        rows=rows,
        windows=tuple(_windows(whole, missed)),
        misses=tuple(_missed(missed, question)),
        looked_days=looked_days(asked.days),
        rises=tuple(_risen(whole)),
        notes=daily_of(question.rig).notes,
        **more,
    )


def _of_judged(sought: _Sought, judged: Judged, days: float) -> Course:
    """A bundle of the search, day by day."""
    problem = sought.over.problem
    options = [problem.option(flat) for flat in judged.path.options]
    joints = [problem.joint(flat) for flat in judged.path.joints]
    top = judged.clean_m3s if judged.clean_own_m3s > judged.clean_m3s * (1 + 1e-9) else math.inf
    return _walked(sought, (options, joints), top, days)


def _walked(sought: _Sought, bundle: tuple[Sequence[Option], Sequence[Chain]], top_m3s: float, days: float) -> Course:
    """A bundle day by day: every statement on what it delivers and which limits it keeps is read off this. With a throttle it is
    held to ``top_m3s`` and, where dirt tightens a limit, to what that allows; without one it flows as it does."""
    question, (options, joints) = sought.question, bundle
    throttled = any(option.throttles for option in options[sought.over.problem.pump + 1 :])
    loop = standing_loop(question.rig, options, joints, top_m3s if throttled else math.inf)
    run = course(loop, sought.daily, days)
    return held(run, question.limits) if throttled else run


def _tightens_day(run: Course) -> float:
    """The first day on which a limit holds the flow below what the throttle was set to; inf when none does."""
    free = np.minimum(run.own_m3s, run.loop.ceiling_m3s)
    return float(
        next((day for day, held, own in zip(run.days, run.flow_m3s, free, strict=True) if held < own * (1 - 1e-9)), math.inf)
    )


def _rows(sought: _Sought, found: Judged, free: Standing) -> Iterator[LastingRow]:
    days = sought.over.ageing.interval.days
    if free.flow_m3s > 0.0:
        top = free.flow_m3s if free.held_by else math.inf
        yield _row("spend nothing", 0, _walked(sought, (free.options, free.joints), top, days), sought.question)
    clean = sought.on_clean_day
    if clean is not None and clean.path != found.path:
        yield _row("best when clean", round(clean.price), _of_judged(sought, clean, days), sought.question)
    yield _row("best", round(found.price), _of_judged(sought, found, days), sought.question)


def _row(name: str, price: int, run: Course, question: Question) -> LastingRow:
    missed = [miss for miss in misses(run, question.limits) if math.isfinite(miss.day)]
    return replace(row_of(name, price, run), missed=tuple(_missed(missed, question)))


def row_of(name: str, price: int, run: Course) -> LastingRow:
    """The flows of a bundle, followed day by day."""
    return LastingRow(
        name=name,
        price=price,
        clean_m3s=float(run.flow_m3s[0]),
        last_m3s=float(run.flow_m3s[-1]),
        mean_m3s=mean_flow_m3s(run),
        own_m3s=float(run.own_m3s[0]),
        last_own_m3s=float(run.own_m3s[-1]),
    )


def _missed(missed: Iterable[Miss], question: Question) -> Iterator[LastingMiss]:
    return (LastingMiss(words=_miss_words(miss, question), day=miss.day) for miss in missed)


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


def _by_itself(run: Course, found: Judged) -> Certificate:
    """The answer followed once more by the other route, part by part."""
    last = float(run.flow_m3s[-1])
    agrees = abs(last - found.last_m3s) <= AGREES * max(last, 1e-9)
    return Certificate(
        route="day by day, part by part",
        finding=Said(flowing(last, 3), " on the last day against ", bare_flow(found.last_m3s, 3), " in the search"),
        agrees=agrees,
    )


def basis(question: Question, daily: Daily, interval: Interval) -> Iterator[str]:
    """What an answer over an interval rests on."""
    yield from LAID
    yield f"Dirt: {daily.solids_kg_day * 1e3:.2g} g of dry solids and {daily.debris_kg_day * 1e3:.2g} g of debris a day"
    yield from daily.notes
    yield from interval.laws.words
    if question.rig.fills and question.rig.fitted is None:
        yield "The fills in the rig file are not counted with here: the parts lose what is stated for them"


def _conflict(sought: _Sought) -> Conflict:
    """Why nothing lasts: what the limits allow on the clean day, and what is left of it on the last."""
    from optimizer.answers.conflict import conflict

    clean, question = sought.on_clean_day, sought.question
    days, limits, rig = sought.over.ageing.interval.days, question.limits, question.rig
    if clean is None:
        return when_clean(conflict(question), days)
    words: list[str] = [Said(flowing(question.target_m3s), f" on day {days:g}")] if question.target_m3s else []
    asked = ("flow_min_m3s", "device_windows") if _has_window(rig) else ("flow_min_m3s",)
    words += [limit_words(name, limits, rig) for name in asked if name in limits.binding]
    words += [limit_words("budget", limits, rig, question.catalog.currency)] if limits.budget is not None else []
    nearest = max(sought.over.known.values(), key=lambda one: one.last_m3s)
    kept = Said(flowing(clean.clean_m3s), f" when clean, for {money(round(clean.price), question.catalog.currency)}")
    return Conflict(
        limits=tuple(words),
        closest=Said(flowing(nearest.last_m3s), f" on day {days:g} is the most of what was followed"),
        remedies=(Said("clean sooner: within all limits there is ", kept),),
    )


def when_clean(told: Conflict, days: float) -> Conflict:
    """What is told of the clean day, said to be so: what helps there may have lost too much by the last day."""
    return replace(
        told,
        closest=Said(told.closest, " when clean") if told.closest else told.closest,
        remedies=tuple(Said(remedy, f" when clean, with less left on day {days:g}") for remedy in told.remedies),
    )


def _has_window(rig: Rig) -> bool:
    return any(device.has_window for device in parts_of((position.installed for position in rig.positions), Device))
