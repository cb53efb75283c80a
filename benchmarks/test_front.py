"""The whole money-flow front against asking a mixed-integer program for every point of it."""

from dataclasses import replace
from time import perf_counter
from typing import Any

import numpy as np
import pytest

from benchmarks.clock import Times
from benchmarks.conftest import Report
from benchmarks.listing import Scorer
from benchmarks.rivals import Climbed, milp_climb
from benchmarks.worlds import problem, sized
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.front import FrontPoint, money_flow_front
from optimizer.search.layers import Problem

pytestmark = pytest.mark.filterwarnings("ignore:.*PuLP 4.0.*:DeprecationWarning")

SIZES = ("1e6", "1e9", "1e12")
FRONTS = 3
ASKED = 5
"""So many points, evenly spread over the front, are asked for by mixed-integer programs; the others are taken to last as long."""


def _front(built: Problem) -> list[FrontPoint]:
    return money_flow_front(Seeker(built), built.choices.limits.budget or 0)


def _asked(built: Problem, budget: int, today_m3s: float) -> tuple[float, Climbed]:
    """Seconds that the climb by mixed-integer programs takes for one budget, and where it ends."""
    limits = replace(built.choices.limits, budget=budget)
    changed = replace(built, choices=replace(built.choices, limits=limits))
    start = perf_counter()
    climbed = milp_climb(changed, today_m3s)
    return perf_counter() - start, climbed


@pytest.mark.parametrize("size", SIZES)
def test_front_against_milp_for_every_point(benchmark: Any, report: Report, size: str) -> None:
    """Every point proved; those that HiGHS is asked for too have the same flow and price (PuLP 3, HiGHS 1)."""
    home, offers = sized(size)
    seconds = []
    for _ in range(FRONTS):
        built = problem(home, offers)
        start = perf_counter()
        points = _front(built)
        seconds.append(perf_counter() - start)
    benchmark.pedantic(lambda ready: _front(ready), setup=lambda: ((problem(home, offers),), {}), rounds=2)
    today = Scorer(built).today_m3s()
    some = [points[n] for n in np.unique(np.linspace(0, len(points) - 1, ASKED).astype(int)).tolist() if points[n].price]
    asked = [_asked(built, point.price, today) for point in some]
    spent = [each for each, _ in asked]
    whole = Times((float(np.mean(spent)) * len(points),))
    benchmark.extra_info["points"] = len(points)
    times = Times(tuple(seconds))
    remark = f"{whole.least:.1f} s ({len(some)} of {len(points)} points, the rest by their mean) / {times.least:.2f} s"
    report(f"PuLP + HiGHS for every point / front, {size}", whole, times, "at least 20", remark)
    assert all(point.proved for point in points)
    for point, (_, climbed) in zip(some, asked, strict=True):
        assert point.flow_m3s == pytest.approx(climbed.flow_m3s, abs=1.1 * RESOLUTION_M3S)
        assert point.price == pytest.approx(climbed.price)
