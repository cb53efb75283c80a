"""Two branches: pairs of fillings that bounds leave open against a list of all, in processor time, on the branched demo rigs."""

from collections.abc import Callable
from dataclasses import replace
from time import process_time
from typing import Any

import demo
import pytest
from asked_front import asked_front

from benchmarks.clock import Times
from benchmarks.conftest import Report
from optimizer.search.best import RESOLUTION_M3S, Outcome, Seeker
from optimizer.search.branch_bounds import paired
from optimizer.search.choices import choices
from optimizer.search.exact import Tally
from optimizer.search.front import money_flow_front
from optimizer.search.layers import build

RIGS = ("ricefish_160", "stem_plants_200")
BUDGET = 10_000
FRONT_BUDGET = 6_000
"""Minor units; a front that asks all pairs for every point takes minutes at more."""


def _listed(name: str, budget: int) -> Seeker:
    """A search among all pairs."""
    rig = demo.rig(name)
    return Seeker(build(choices(rig, demo.shop(), replace(rig.limits, budget=budget)), budget))


def _open(name: str, budget: int) -> Seeker:
    """A search among those that bounds leave open."""
    rig = demo.rig(name)
    return paired(choices(rig, demo.shop(), replace(rig.limits, budget=budget), pairs=False), budget, Tally())


def _best(name: str, made: Callable[[str, int], Seeker]) -> tuple[Times, Outcome]:
    start = process_time()
    outcome = made(name, BUDGET).most_flow()
    return Times((process_time() - start,)), outcome


@pytest.mark.parametrize("name", RIGS)
def test_open_pairs_against_all(benchmark: Any, report: Report, name: str) -> None:
    """The same best bundle from a rig and a catalog, choices included."""
    every, expected = _best(name, _listed)
    some, outcome = _best(name, _open)
    benchmark.pedantic(lambda: _open(name, BUDGET).most_flow(), rounds=1)
    report(f"all pairs / open pairs, best {name}", every, some, "at least 3", f"{every.least:.2f} s / {some.least:.2f} s")
    assert expected.found is not None
    assert outcome.found is not None
    assert outcome.status == "proved"
    assert outcome.found.bundle.price == expected.found.bundle.price
    assert abs(outcome.found.flow_m3s - expected.found.flow_m3s) <= 1.001 * RESOLUTION_M3S


@pytest.mark.parametrize("name", RIGS)
def test_front_of_open_pairs_against_asking_all_for_every_point(benchmark: Any, report: Report, name: str) -> None:
    """The same points, each proved, choices included."""
    start = process_time()
    asked = asked_front(_listed(name, FRONT_BUDGET), FRONT_BUDGET)
    every, start = Times((process_time() - start,)), process_time()
    points = money_flow_front(_open(name, FRONT_BUDGET), FRONT_BUDGET)
    some = Times((process_time() - start,))
    benchmark.pedantic(lambda: money_flow_front(_open(name, FRONT_BUDGET), FRONT_BUDGET), rounds=1)
    remark = f"{every.least:.2f} s / {some.least:.2f} s, {len(points)} points"
    report(f"all pairs for every point / front, {name}", every, some, "at least 10", remark)
    assert all(point.proved for point in points)
    assert [point.price for point in points] == [point.price for point in asked]
