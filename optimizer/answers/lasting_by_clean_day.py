"""The best bundle of the clean day, followed over an interval: for loops with branches.

The last day itself is searched for in series only (`search/over_days.py`). Dirt only takes flow away, so what the best bundle
delivers when clean is still a flow that nothing exceeds on any later day, nor on average.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from optimizer.answers.lasting import when_clean
from optimizer.answers.lasting_rows import as_now, basis, both_courses, lasting_of, row_of, told_row, unkept, walked
from optimizer.answers.question import Progress, Question, SolvedQuestion, found_standing, result_of, solved
from optimizer.answers.rows import Standing
from optimizer.answers.wish import wish
from optimizer.dirt.course import Course
from optimizer.dirt.course_readings import mean_flow_m3s
from optimizer.dirt.daily import Daily, daily_of
from optimizer.loop.standing import StandingLoop
from optimizer.model.lasting import LastingMiss, LastingRow
from optimizer.model.results import BranchFlow, Result
from optimizer.model.said import Said
from optimizer.search.ageing import Interval
from optimizer.search.best import RESOLUTION_M3S

CHOSEN = "With branches the bundle is chosen by the clean day and followed over the others; it is not proved best by those"


@dataclass(frozen=True, slots=True, kw_only=True)
class CleanDaySearch:
    """The answer of the clean day to a question over an interval."""

    question: Question
    daily: Daily
    interval: Interval
    done: SolvedQuestion

    by_clean_day: ClassVar[bool] = True

    def course(self) -> Course | None:
        """The course of the bundle over the interval (None: there is none)."""
        if self.done.outcome.found is None:
            return None
        best = found_standing(self.question.rig, self.done.seeker, self.done.outcome.found)
        return walked(_loop(best), self.daily, self.question.days, self.question.limits)

    def judged_m3s(self) -> float:
        """What is delivered on the last day, or on average (0: there is no bundle)."""
        run = self.course()
        if run is None:
            return 0.0
        return mean_flow_m3s(run) if self.question.by == "mean" else float(run.flow_m3s[-1])

    @property
    def status(self) -> str:
        """``stopped``, since nothing is proved of later days; that there is no bundle can be."""
        return "stopped" if self.done.outcome.found is not None else self.done.outcome.status

    def result(self) -> Result:
        """The whole answer, with what becomes of it."""
        question, done = self.question, self.done
        result = replace(result_of(question, done), question=question.asked)
        result = replace(result, basis=(*result.basis, CHOSEN, *basis(question, self.daily, self.interval)))
        if done.outcome.found is None:
            return result if result.conflict is None else replace(result, conflict=when_clean(result.conflict, question.days))
        best = found_standing(question.rig, done.seeker, done.outcome.found)
        bound = best.flow_m3s + RESOLUTION_M3S if done.outcome.status == "proved" else done.outcome.bound_m3s
        result = replace(result, proof=replace(result.proof, status="stopped", bound_m3s=bound))
        return _told(result, self, best)


def searched_clean(question: Question, progress: Progress | None = None) -> CleanDaySearch:
    """The answer of the clean day, targets of both days met on it. Raises ValueError for days that cannot be."""
    daily = daily_of(question.rig)
    interval = Interval(days=question.days, daily=daily)
    question = replace(question, starts_clean=True)
    floor = max(question.limits.flow_min_m3s, 0.0 if question.target_m3s else question.clean_m3s)
    target = max(question.target_m3s, question.clean_m3s) if question.target_m3s else 0.0
    asked = replace(question, target_m3s=target, limits=replace(question.limits, flow_min_m3s=floor))
    return CleanDaySearch(question=question, daily=daily, interval=interval, done=solved(asked, progress))


def _told(result: Result, search: CleanDaySearch, best: Standing) -> Result:
    question, daily = search.question, search.daily
    whole, longer = both_courses(_loop(best), daily, question)
    rows = (*_rows(search), row_of("best", best.price, whole, tuple(unkept(question, whole))))
    lasting = lasting_of(question, rows, whole, longer, {"followed": 1, "by_clean_day": True})
    wished = None if result.wish is None else wish(question.rig, question.catalog, question.limits, float(whole.flow_m3s[-1]))
    return replace(
        result,
        lasting=lasting,
        wish=wished,
        warnings=(*result.warnings, *_warnings(lasting.misses, question.days)),
        branches=(*result.branches, *_branches(result.branches, whole, question.days)),
    )


def _rows(search: CleanDaySearch) -> Iterator[LastingRow]:
    """The loop as it is, and what can be had for nothing."""
    question, free = search.question, search.done.free
    yield as_now(question, search.daily, search.done.now)
    if free.flow_m3s > 0.0:
        run = walked(_loop(free), search.daily, question.days, question.limits)
        yield told_row("spend nothing", question, free, run)


def _loop(stands: Standing) -> StandingLoop:
    return replace(stands.loop, ceiling_m3s=stands.flow_m3s if stands.held_by else math.inf)


def _warnings(missed: Sequence[LastingMiss], days: float) -> Iterator[str]:
    """What is not kept until the last day."""
    for miss in missed:
        if miss.day <= days:
            when = "from the first day" if miss.day == 0.0 else f"from day {math.floor(miss.day)} on"
            yield Said("not kept for the whole interval: ", miss.words, f", missed {when}, of {days:g} days")


def _branches(lines: Sequence[BranchFlow], run: Course, days: float) -> Iterator[BranchFlow]:
    """The lines of the best bundle once more, by the last day."""
    for n, fork in enumerate(run.loop.forks):
        for branch, name in enumerate(fork.names):
            line = next(line for line in lines if (line.row, line.place, line.branch) == ("best", fork.place, name))
            yield replace(line, day=days, flow_m3s=float(run.branches_m3s[-1, n, branch]))
