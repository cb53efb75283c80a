"""The best over an interval between cleanings against the same search as it listed before: over all pumps at once, with the least
dirt gathered day by day and no good bundle looked for among those that can be held before the first list is made."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import demo
import pytest

from benchmarks.clock import Times
from benchmarks.conftest import Report
from benchmarks.memory import Spent, of_work
from optimizer.dirt.daily import daily_of
from optimizer.search import hull, least_dirt
from optimizer.search.ageing import Interval
from optimizer.search.best import Seeker
from optimizer.search.choices import choices
from optimizer.search.hull import Hull
from optimizer.search.layers import Problem, build
from optimizer.search.over_days import LAST, MEAN, Judged, OverDays
from optimizer.search.rounds import Corridor, Path, TooManyPaths, Weights

RIGS = ("community_180", "shrimp_and_fry_240", "barbs_96", "display_600")
BY_MEAN = ("planted_300", "community_180")
RIG_BUDGET = 10_000
MOST_LISTED, MOST_PROBED = 60_000, 200_000


class Unsplit(OverDays):
    """The search as it was: every list over all pumps, every bound by itself, one place that can hold a flow after the other."""

    def _bounded(self, _: tuple[int, bool], weights: Weights, budget: float) -> Hull | None:
        bound = hull.by_price(self.exact.rounds, weights, budget)
        return bound if bound is not None and bound.bound <= 0.0 else None

    def _every(self, weights: Weights, corridor: Corridor) -> list[Path]:
        try:
            return self.exact.rounds.front(weights, replace(corridor, most=MOST_LISTED), every=True)
        except TooManyPaths:
            pass
        try:
            probed = self.exact.probed(weights, corridor)
            return self.exact.rounds.front(probed, replace(corridor, most=MOST_PROBED), every=True)
        except TooManyPaths:
            self.tally.stopped = True
            return []

    def _top_held(self) -> Judged | None:
        top: Judged | None = None
        for mask in self.seeker.throttle_masks():
            top = self._swept(mask, self._climbed(mask, top))
        return self._swept(self.seeker.all, self._climbed(self.seeker.all, top, free=True), free=True)


def _problem_of(name: str) -> Problem:
    rig = demo.rig(name)
    return build(choices(rig, demo.shop(), replace(rig.limits, budget=RIG_BUDGET), lasting=True, starts_clean=True), RIG_BUDGET)


def _answer(problem: Problem, by: str, kind: type[OverDays], step_days: float) -> Callable[[], tuple[str, int, float]]:
    def work() -> tuple[str, int, float]:
        least_dirt.STEP_DAYS = step_days  # in a process of its own, see `of_work`
        seeker, rig = Seeker(problem), problem.choices.rig
        over = kind(seeker, Interval(days=60.0, daily=daily_of(rig)), by)
        clean = seeker.most_flow().found
        if clean is not None:
            over.judged(clean.bundle)
        verdict = over.most_flow()
        return verdict.status, -1 if verdict.bundle is None else verdict.bundle.price, verdict.bound_m3s

    return work


def _said(spent: Spent) -> str:
    return f"{spent.processor_s:.1f} s, {spent.megabytes:.0f} MB ({spent.result[0]})"


@pytest.mark.parametrize(("name", "by"), [*((name, LAST) for name in RIGS), *((name, MEAN) for name in BY_MEAN)])
def test_days_against_lists_over_all_pumps(benchmark: Any, report: Report, name: str, by: str) -> None:
    """Proved, the same price where both are, and a flow that the other way does not rule out."""
    problem = _problem_of(name)
    before = of_work(_answer(problem, by, Unsplit, 1.0))
    now = of_work(_answer(problem, by, OverDays, least_dirt.STEP_DAYS))
    benchmark.pedantic(lambda: None, rounds=1)
    benchmark.extra_info |= {"megabytes": now.megabytes, "megabytes before": before.megabytes}
    remark = f"{_said(before)} / {_said(now)}"
    what = f"lists over all pumps / pump by pump, {name}, by the {by}"
    report(what, Times((before.processor_s,)), Times((now.processor_s,)), "at most 5 s, 500 MB", remark)
    assert now.result[0] == "proved"
    assert now.result[2] <= before.result[2] * (1 + 1e-9)
    assert before.result[0] == "stopped" or before.result[:2] == now.result[:2]
