"""The best bundle of the clean day, followed over an interval: for loops with branches.

The last day itself is searched for in series only (`search/over_days.py`). Dirt only takes flow away, so what the best bundle
delivers when clean is still a flow that nothing exceeds on any later day, nor on average.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer import halting
from optimizer.answers.lasting import asked_over, basis, lasting_of, looked_days, row_of, when_clean
from optimizer.answers.question import Progress, Question, SolvedQuestion, found_standing, result_of, solved
from optimizer.answers.rows import Standing
from optimizer.answers.wish import wish
from optimizer.dirt.course import Course, course
from optimizer.dirt.daily import Daily, daily_of
from optimizer.model.lasting import LastingMiss
from optimizer.model.results import BranchFlow, Result
from optimizer.model.said import Said
from optimizer.search.ageing import Interval
from optimizer.search.best import RESOLUTION_M3S

CHOSEN = "With branches the bundle is chosen by the clean day and followed over the others; it is not proved best by those"


def by_clean_day(question: Question, days: float, by: str, progress: Progress | None = None) -> Result:
    """The answer of the clean day with what becomes of it. Raises ValueError for days that cannot be."""
    question = replace(question, starts_clean=True)
    daily = daily_of(question.rig)
    interval = Interval(days=days, daily=daily)
    done = solved(question, progress)
    with halting.held():  # what was found is put into words, whatever is pressed
        return _worded(question, done, daily, interval, by)


def _worded(question: Question, done: SolvedQuestion, daily: Daily, interval: Interval, by: str) -> Result:
    days, result = interval.days, result_of(question, done)
    result = replace(
        result,
        question=asked_over(question, days, by),
        basis=(*result.basis, CHOSEN, *basis(question, daily, interval)),
    )
    if done.outcome.found is None:
        return result if result.conflict is None else replace(result, conflict=when_clean(result.conflict, days))
    best = found_standing(question.rig, done.seeker, done.outcome.found)
    bound = best.flow_m3s + RESOLUTION_M3S if done.outcome.status == "proved" else done.outcome.bound_m3s
    result = replace(result, proof=replace(result.proof, status="stopped", bound_m3s=bound))
    return _told(result, question, daily, days, by, (done.free, best))


def _told(result: Result, question: Question, daily: Daily, days: float, by: str, rows: tuple[Standing, Standing]) -> Result:
    free, best = rows
    whole, longer = (_walked(daily, best, each) for each in (days, looked_days(days)))
    still = [row_of("spend nothing", free.price, _walked(daily, free, days))] if free.flow_m3s > 0.0 else []
    told = (*still, row_of("best", best.price, whole))
    more = {"followed": 1, "by_clean_day": True}
    lasting = lasting_of(asked_over(question, days, by), question, told, whole, longer, more)
    last_m3s = float(whole.flow_m3s[-1])
    wished = None if result.wish is None else wish(question.rig, question.catalog, question.limits, last_m3s)
    return replace(
        result,
        lasting=lasting,
        wish=wished,
        warnings=(*result.warnings, *_warnings(lasting.misses, days)),
        branches=(*result.branches, *_branches(result.branches, whole, days)),
    )


def _walked(daily: Daily, stands: Standing, days: float) -> Course:
    held = stands.flow_m3s if stands.held_by else math.inf
    return course(replace(stands.loop, ceiling_m3s=held), daily, days)


def _warnings(missed: Sequence[LastingMiss], days: float) -> Iterator[str]:
    """What is not kept until the last day."""
    for miss in missed:
        if miss.day < days:
            when = "from the first day" if miss.day == 0.0 else f"from day {math.floor(miss.day)} on"
            yield Said("not kept for the whole interval: ", miss.words, f", missed {when}, of {days:g} days")


def _branches(lines: Sequence[BranchFlow], run: Course, days: float) -> Iterator[BranchFlow]:
    """The lines of the best bundle once more, by the last day."""
    for n, fork in enumerate(run.loop.forks):
        for branch, name in enumerate(fork.names):
            line = next(line for line in lines if (line.row, line.place, line.branch) == ("best", fork.place, name))
            yield replace(line, day=days, flow_m3s=float(run.branches_m3s[-1, n, branch]))
