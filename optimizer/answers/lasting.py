"""The best or the cheapest bundle by the last day before cleaning, or by the mean of an interval between cleanings."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from optimizer.answers.lasting_rows import (
    as_now,
    basis,
    both_courses,
    clean_words,
    lasting_of,
    row_of,
    tightens_day,
    told_row,
    unkept,
    walked,
)
from optimizer.answers.question import (
    ForNothing,
    Progress,
    Question,
    SolvedQuestion,
    asked_for_nothing,
    found_standing,
    result_of,
    seek,
    stands_now,
    unless_stopped,
)
from optimizer.answers.rows import Standing
from optimizer.answers.wish import wish
from optimizer.answers.words import limit_words, money
from optimizer.dirt.course import Course
from optimizer.dirt.course_readings import SLACK
from optimizer.dirt.daily import Daily, daily_of
from optimizer.loop.kinds import parts_of
from optimizer.loop.standing import StandingLoop, standing_loop
from optimizer.model.lasting import Binding, LastingRow
from optimizer.model.limits import Limits
from optimizer.model.parts import Device
from optimizer.model.results import Certificate, Conflict, Result
from optimizer.model.rig import Rig
from optimizer.model.said import Said, bare_flow, flowing
from optimizer.search.ageing import Interval
from optimizer.search.best import Found, Outcome, Seeker
from optimizer.search.over_days import Judged, OverDays, Verdict

AGREES = 1e-6
"""Agreement asked of the flow of the last day by two routes, as a share."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeOverDays:
    """What can be had for nothing, and the limits that it was found within: those of the question, or fewer where nothing keeps
    them all."""

    nothing: ForNothing
    limits: Limits

    @property
    def stands(self) -> Standing:
        """The loop with nothing spent."""
        return self.nothing.stands


@dataclass(frozen=True, slots=True, kw_only=True)
class LastingSearch:
    """The search over an interval and what it found, with the answers of the clean day and of no money beside it.

    ``binding`` says which of two targets decides: the "last" day, the "clean" one, "both", "either" alone, or "neither" (empty:
    there is but one).
    """

    question: Question
    daily: Daily
    seeker: Seeker
    over: OverDays
    verdict: Verdict
    on_clean_day: Judged | None
    now: Standing
    free: FreeOverDays
    binding: Binding

    @property
    def done(self) -> SolvedQuestion:
        """What was found, told as an answer of the clean day is. Without one it counts as stopped here: why nothing lasts is
        told by `_conflict`."""
        verdict = self.verdict
        found = None if verdict.bundle is None else Found(verdict.bundle, self.seeker.delivered(verdict.bundle))
        status = "stopped" if found is None else verdict.status
        outcome = Outcome(found, status, verdict.bound_m3s, self.seeker.tally)
        return SolvedQuestion(now=self.now, nothing=self.free.nothing, seeker=self.seeker, outcome=outcome)

    by_clean_day: ClassVar[bool] = False

    def judged_m3s(self) -> float:
        """The flow that the bundle was chosen by (0: there is none)."""
        return 0.0 if self.verdict.found is None else self.verdict.found.value_m3s

    def course(self) -> Course | None:
        """The course of the bundle over the interval (None: there is none)."""
        found = self.verdict.found
        return None if found is None else walked(loop_of(self, found), self.daily, self.question.days, self.question.limits)

    @property
    def status(self) -> str:
        """``proved`` or ``stopped``, of the bundle or that there is none."""
        return self.verdict.status

    def result(self) -> Result:
        """The whole answer."""
        question, found = self.question, self.verdict.found
        result = result_of(question, self.done)
        result = replace(
            result,
            proof=replace(result.proof, status=self.verdict.status, bound_m3s=self.verdict.bound_m3s),
            basis=(*result.basis, *basis(question, self.daily, self.over.ageing.interval)),
        )
        if found is None:
            return replace(result, conflict=_conflict(self) if self.verdict.status == "proved" else None)
        return _told(result, self, found)


def searched(question: Question, progress: Progress | None = None) -> LastingSearch:
    """The best or the cheapest bundle of a loop in series by its interval, every limit kept on all days of it. A target is to be
    met on the last day, ``clean_m3s`` on the first.

    Raises ValueError for days that cannot be.
    """
    question = replace(question, starts_clean=True)
    daily = daily_of(question.rig)
    seeker = seek(question, progress, lasting=True)
    over = OverDays(seeker, Interval(days=question.days, daily=daily), question.by, question.clean_m3s)
    now, free = stands_now(question.rig, question.catalog), _for_nothing(question, daily)
    target = max(question.target_m3s, question.clean_m3s)
    clean = seeker.least_price(target) if question.target_m3s else seeker.most_flow()
    unless_stopped(seeker)
    on_clean_day = None if clean.found is None else over.judged(clean.found.bundle)
    seeker.tally.stopped = False
    verdict, binding = _verdict(question, over)
    return LastingSearch(
        question=question,
        daily=daily,
        seeker=seeker,
        over=over,
        verdict=verdict,
        on_clean_day=on_clean_day,
        now=now,
        free=free,
        binding=binding,
    )


def _verdict(question: Question, over: OverDays) -> tuple[Verdict, Binding]:
    """What the search finds, and which target decides: what each of them would lead to alone is asked too. What was followed
    for one question is known to the next."""
    target = question.target_m3s
    found = over.least_price(target) if target else over.most_flow()
    if not question.clean_m3s or found.found is None or found.status != "proved":
        return found, ""
    alone = over.without_clean_target()
    last = alone.least_price(target) if target else alone.most_flow()
    by_last = last.found is not None and last.found.path == found.found.path
    if not target:
        return found, "neither" if by_last else "clean"
    clean = over.least_price(over.floor)
    by_clean = clean.found is not None and clean.found.path == found.found.path
    if by_last:
        return found, "either" if by_clean else "last"
    return found, "clean" if by_clean else "both"


def _for_nothing(question: Question, daily: Daily) -> FreeOverDays:
    """The best by the interval that can be had for nothing, as `for_nothing` finds that of the clean day."""
    for number, asked in enumerate(asked_for_nothing(replace(question, clean_m3s=0.0))):
        seeker = seek(asked, lasting=True)
        found = OverDays(seeker, Interval(days=question.days, daily=daily), question.by).most_flow().bundle
        unless_stopped(seeker)
        if found is not None:
            one = Found(found, seeker.delivered(found))
            stands = found_standing(question.rig, seeker, one)
            nothing = ForNothing(stands=stands, meets=number == 0, seeker=seeker, found=one)
            return FreeOverDays(nothing=nothing, limits=asked.limits)
    nothing = ForNothing(stands=stands_now(question.rig, question.catalog), meets=False)
    return FreeOverDays(nothing=nothing, limits=Limits())


def _told(result: Result, sought: LastingSearch, found: Judged) -> Result:
    question = sought.question
    if result.best is None:
        raise ValueError("there is no answer to tell")
    whole, longer = both_courses(loop_of(sought, found), sought.daily, question)
    more = {"followed": sought.verdict.judged, "tightens_day": tightens_day(longer), "binding": sought.binding}
    lasting = lasting_of(question, tuple(_rows(sought, found, whole)), whole, longer, more)
    proof = replace(result.proof, certificates=(*result.proof.certificates, _by_itself(whole, found)))
    wished = None if result.wish is None else wish(question.rig, question.catalog, question.limits, found.last_m3s)
    return replace(result, lasting=lasting, proof=proof, wish=wished)


def loop_of(sought: LastingSearch, judged: Judged) -> StandingLoop:
    """A bundle of the search as it stands, held to what it delivers on the clean day."""
    problem = sought.over.problem
    options = [problem.option(flat) for flat in judged.path.options]
    joints = [problem.joint(flat) for flat in judged.path.joints]
    top = judged.clean_m3s if judged.throttled and judged.clean_own_m3s > judged.clean_m3s * (1 + 1e-9) else math.inf
    return standing_loop(sought.question.rig, options, joints, top)


def _rows(sought: LastingSearch, found: Judged, whole: Course) -> Iterator[LastingRow]:
    """The loop as it is, and what starts clean: for nothing, by the clean day alone, and the answer with its ``whole`` course."""
    question, daily = sought.question, sought.daily
    yield as_now(question, daily, sought.now)
    free = sought.free.stands
    if free.flow_m3s > 0.0:
        loop = replace(free.loop, ceiling_m3s=free.flow_m3s if free.held_by else math.inf)
        yield told_row("spend nothing", question, free, walked(loop, daily, question.days, sought.free.limits))
    clean = sought.on_clean_day
    if clean is not None and clean.path != found.path:
        run = walked(loop_of(sought, clean), daily, question.days, question.limits)
        yield row_of("best when clean", round(clean.price), run, tuple(unkept(question, run)))
    yield row_of("best", round(found.price), whole, tuple(unkept(question, whole)))


def _by_itself(run: Course, found: Judged) -> Certificate:
    """The answer followed once more by the other route, part by part."""
    last = float(run.flow_m3s[-1])
    agrees = abs(last - found.last_m3s) <= AGREES * max(last, 1e-9)
    return Certificate(
        route="day by day, part by part",
        finding=Said(flowing(last, 3), " on the last day against ", bare_flow(found.last_m3s, 3), " in the search"),
        agrees=agrees,
    )


def _conflict(sought: LastingSearch) -> Conflict:
    """Why nothing lasts: what the limits allow on the clean day, and what is left of it on the last."""
    from optimizer.answers.conflict import conflict

    clean, question = sought.on_clean_day, sought.question
    days, limits, rig = question.days, question.limits, question.rig
    if clean is None or clean.clean_m3s < question.clean_m3s * (1.0 - SLACK):
        return when_clean(conflict(replace(question, target_m3s=max(question.target_m3s, question.clean_m3s))), days)
    words: list[str] = [Said(flowing(question.target_m3s), f" on day {days:g}")] if question.target_m3s else []
    words += [clean_words(question.clean_m3s)] if question.clean_m3s else []
    asked = ("flow_min_m3s", "device_windows") if _has_window(rig) else ("flow_min_m3s",)
    words += [limit_words(name, limits, rig) for name in asked if name in limits.binding]
    words += [limit_words("budget", limits, rig, question.catalog.currency)] if limits.budget is not None else []
    return Conflict(limits=tuple(words), closest=_most_left(sought), remedies=(_cleaned_sooner(sought, clean),))


def _cleaned_sooner(sought: LastingSearch, clean: Judged) -> str:
    """The longest time between cleanings for which something meets all limits, in whole days, and the cheapest that does.
    Dirt only takes flow away, so what lasts for some days lasts for fewer: the days are halved. ``clean`` does when clean."""
    question, found, known, sure = sought.question, clean, 0, True
    low, high = 0, math.ceil(question.days)
    while high - low > 1 and not sought.over.tally.interrupted:
        middle = (low + high) // 2
        over = OverDays(sought.seeker, Interval(days=middle, daily=sought.daily), clean_m3s=question.clean_m3s)
        sought.over.tally.stopped = False
        verdict = over.least_price(question.target_m3s)
        sure = sure and verdict.status == "proved"
        low, high = (low, middle) if verdict.found is None else (middle, high)
        found, known = (found, known) if verdict.found is None else (verdict.found, middle)
    price = money(round(found.price), question.catalog.currency)
    if not known:
        return Said("clean sooner: within all limits there is ", flowing(found.clean_m3s), f" when clean, for {price}")
    longest = (
        "the longest there is a bundle for within all limits" if sure else "for that long there is a bundle within all limits"
    )
    every = "every day" if known == 1 else f"every {known} days"
    return Said(f"clean {every}, {longest}: ", flowing(found.last_m3s), f" on day {known}, for {price}")


def _most_left(sought: LastingSearch) -> str:
    """The most that any bundle has left on the last day where no flow is asked for, within all other limits: what was followed on
    the way to "none" may be far below it, since most of it was ruled out by bounds."""
    question = sought.question
    free = replace(question, limits=question.limits.without("flow_min_m3s"), target_m3s=0.0, clean_m3s=0.0)
    most = OverDays(seek(free, lasting=True), Interval(days=question.days, daily=sought.daily)).most_flow()
    found, day = most.found, f" on day {question.days:g}"
    if found is None:
        nearest = max(sought.over.known.values(), key=lambda one: one.last_m3s)
        return Said(flowing(nearest.last_m3s), day, " is the most of what was followed")
    price = money(round(found.price), question.catalog.currency)
    more = "the most that is left" if most.status == "proved" else "the most that was found to be left"
    return Said(flowing(found.last_m3s), day, f", for {price}, is {more} within the other limits")


def when_clean(told: Conflict, days: float) -> Conflict:
    """What is told of the clean day, said to be so: what helps there may have lost too much by the last day."""
    return replace(
        told,
        closest=Said(told.closest, " when clean") if told.closest else told.closest,
        remedies=tuple(Said(remedy, f" when clean, with less left on day {days:g}") for remedy in told.remedies),
    )


def _has_window(rig: Rig) -> bool:
    return any(device.has_window for device in parts_of((position.installed for position in rig.positions), Device))
