"""The whole money-flow front in one pass against asking the single search for every point of it, in processor time."""

import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from time import process_time
from typing import Any

import demo
import pytest
from asked_front import asked_front

from benchmarks.clock import Times
from benchmarks.conftest import Report
from benchmarks.worlds import problem, sized
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import choices
from optimizer.search.front import FrontPoint, money_flow_front
from optimizer.search.layers import Problem, build

SIZES = ("1e6", "1e9", "1e12")
REPEATS = 3
RIGS = ("community_180", "planted_300", "reading_corner_130", "rift_lake_450", "shrimp_and_fry_240")
RIG_BUDGET = 10_000
TELLING_S = 0.5
"""A front is repeated until it took so long in all, so that its processor time is worth something."""


def _problem_of(name: str) -> Problem:
    """A benchmark world by its size, or a demo rig by its name, built anew."""
    if name in SIZES:
        return problem(*sized(name))
    rig = demo.rig(name)
    return build(choices(rig, demo.shop(), replace(rig.limits, budget=RIG_BUDGET)), RIG_BUDGET)


def _spent(name: str, front: Callable[[Seeker, int], list[FrontPoint]]) -> tuple[Times, list[FrontPoint]]:
    """Processor seconds of each repeat of a whole front, every problem built anew, and its points."""
    seconds: list[float] = []
    while not seconds or (sum(seconds) < TELLING_S and len(seconds) < REPEATS):
        built = _problem_of(name)
        start = process_time()
        points = front(Seeker(built), built.choices.limits.budget or 0)
        seconds.append(process_time() - start)
    return Times(tuple(seconds)), points


@pytest.mark.parametrize("name", [*SIZES, *RIGS])
def test_front_against_asking_for_every_point(benchmark: Any, report: Report, name: str) -> None:
    """The same points, each proved, by one pass and by the single search for one sum after the other, in processor time."""
    asked, all_asked = _spent(name, asked_front)
    whole, points = _spent(name, money_flow_front)
    built = _problem_of(name)
    tracemalloc.start()
    benchmark.pedantic(lambda: money_flow_front(Seeker(built), built.choices.limits.budget or 0), rounds=1)
    megabytes = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    benchmark.extra_info |= {"points": len(points), "points a second": len(points) / whole.least, "megabytes": megabytes}
    remark = f"{asked.least:.2f} s / {whole.least:.2f} s, {len(points) / whole.least:.0f} points a second, {megabytes:.0f} MB"
    report(f"asking for every point / front, {name}", asked, whole, "at least 10", remark)
    assert all(point.proved for point in points)
    assert [(p.price, p.flow_m3s) for p in points] == [
        (p.price, pytest.approx(p.flow_m3s, abs=RESOLUTION_M3S)) for p in all_asked
    ]
