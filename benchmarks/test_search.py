"""One search against a mixed-integer program per round, enumeration, a genetic algorithm, and bare evaluation."""

from collections.abc import Callable
from time import perf_counter
from typing import Any

import numpy as np
import pytest

from benchmarks.clock import Times, in_turn
from benchmarks.conftest import Report
from benchmarks.listing import Scorer
from benchmarks.rivals import Climbed, enumerated, genetic, milp_climb
from benchmarks.worlds import SIZED, catalog, problem, rig, sized
from optimizer.search.best import RESOLUTION_M3S, Outcome, Seeker
from optimizer.search.layers import Problem

pytestmark = pytest.mark.filterwarnings("ignore:.*PuLP 4.0.*:DeprecationWarning")

SIZES = tuple(SIZED)
SEARCHES = 7
ROUGHLY = 10.0
"""A world may be off its nominal number of bundles by this factor."""

Fresh = Callable[[], Problem]


@pytest.fixture(params=SIZES)
def size(request: pytest.FixtureRequest) -> str:
    """Nominal number of bundles."""
    return str(request.param)


@pytest.fixture
def fresh(size: str) -> Fresh:
    """Makes the problem anew, so that no search profits from what an earlier one remembered."""
    home, offers = sized(size)
    return lambda: problem(home, offers)


def _searches(fresh: Fresh, repeats: int) -> tuple[Times, Outcome]:
    """Times of searches, each on a problem of its own, and what the last one found."""
    seconds = []
    for _ in range(repeats):
        built = fresh()
        start = perf_counter()
        outcome = Seeker(built).most_flow()
        seconds.append(perf_counter() - start)
    return Times(tuple(seconds)), outcome


def _flow(outcome: Outcome) -> float:
    assert outcome.status == "proved"
    assert outcome.found is not None
    return outcome.found.flow_m3s


def test_search_against_milp(benchmark: Any, report: Report, fresh: Fresh, size: str) -> None:
    """The same climb with HiGHS at each round ends at the same flow (PuLP 3, HiGHS 1)."""
    built = fresh()
    assert 1 / ROUGHLY < built.combinations() / float(size) < ROUGHLY
    milp: list[Climbed] = []
    today = Scorer(built).today_m3s()
    spent = in_turn(lambda: milp.append(milp_climb(built, today)), repeats=1)[0]
    times, outcome = _searches(fresh, SEARCHES)
    benchmark.pedantic(lambda ready: Seeker(ready).most_flow(), setup=lambda: ((fresh(),), {}), rounds=3)
    benchmark.extra_info["bundles"] = built.combinations()
    remark = f"{spent.least * 1e3:.0f} ms ({milp[0].rounds} programs) / {times.least * 1e3:.1f} ms"
    report(f"PuLP + HiGHS / search, {size}", spent, times, "at least 20", remark)
    assert _flow(outcome) == pytest.approx(milp[0].flow_m3s, abs=1.1 * RESOLUTION_M3S)
    assert outcome.found is not None
    assert outcome.found.bundle.price == pytest.approx(milp[0].price)


def test_search_against_bare_evaluation(benchmark: Any, report: Report, fresh: Fresh, size: str) -> None:
    """A search against evaluating all parts' losses once per round of it."""
    times, outcome = _searches(fresh, SEARCHES)
    built = fresh()
    rounds, flow = outcome.tally.rounds, _flow(outcome)
    flows = np.linspace(0.3, 1.0, rounds) * flow
    bare = in_turn(lambda: [built.heads.at(float(at)) for at in flows], repeats=3 * SEARCHES)[0]
    benchmark.pedantic(lambda ready: Seeker(ready).most_flow(), setup=lambda: ((fresh(),), {}), rounds=3)
    remark = f"{times.least * 1e3:.1f} ms / {bare.least * 1e3:.2f} ms for {rounds} rounds"
    report(f"search / bare evaluation of losses, {size}", times, bare, "at most 10", remark)


def test_large_catalog_against_bare_evaluation(benchmark: Any, report: Report) -> None:
    """The same with 2 000 parts of each kind, where arrays and not calls take the time."""
    home, offers = rig(), catalog(2_000, seed=1)
    times, outcome = _searches(lambda: problem(home, offers), 3)
    built = problem(home, offers)
    rounds = outcome.tally.rounds
    flows = np.linspace(0.3, 1.0, rounds) * _flow(outcome)
    bare = in_turn(lambda: [built.heads.at(float(at)) for at in flows], repeats=20)[0]
    benchmark.pedantic(lambda: Seeker(built).most_flow(), rounds=2)
    remark = f"{times.least * 1e3:.1f} ms / {bare.least * 1e3:.2f} ms for {rounds} rounds"
    report(f"search / bare evaluation, {len(built.option_plain):,} options", times, bare, "at most 10", remark)


def test_build_and_search(benchmark: Any, report: Report, fresh: Fresh, size: str) -> None:
    """Choices, joints, arrays and search together, against the search alone."""
    whole = in_turn(lambda: Seeker(fresh()).most_flow(), repeats=5)[0]
    times, _ = _searches(fresh, 5)
    benchmark.pedantic(lambda: Seeker(fresh()).most_flow(), rounds=2)
    report(f"build and search / search, {size}", whole, times, "for information")


def test_search_against_enumeration(benchmark: Any, report: Report) -> None:
    """Every bundle priced and every affordable one solved gives the same flow, at 1e6 bundles."""
    home, offers = sized("1e6")
    found: list[float] = []
    spent = in_turn(lambda: found.append(enumerated(problem(home, offers))), repeats=2)[0]
    times, outcome = _searches(lambda: problem(home, offers), SEARCHES)
    benchmark.pedantic(lambda ready: Seeker(ready).most_flow(), setup=lambda: ((problem(home, offers),), {}), rounds=3)
    report("full batch enumeration / search, 1e6", spent, times, "for information")
    assert _flow(outcome) == pytest.approx(found[0], abs=1.1 * RESOLUTION_M3S)


def test_search_against_genetic(benchmark: Any, report: Report, fresh: Fresh, size: str) -> None:
    """A genetic algorithm (pymoo) given 3 s finds no better bundle; how far it stays below the proved one."""
    built = fresh()
    reached: list[float] = []
    spent = in_turn(lambda: reached.append(genetic(built, 3.0, seed=1)), repeats=1)[0]
    times, outcome = _searches(fresh, 3)
    benchmark.pedantic(lambda ready: Seeker(ready).most_flow(), setup=lambda: ((fresh(),), {}), rounds=2)
    below = round(100.0 * (1.0 - reached[0] / _flow(outcome)), 1) + 0.0
    benchmark.extra_info["genetic algorithm below the optimum, %"] = below
    report(f"genetic algorithm / search, {size}", spent, times, "for information", f"ends {below:.1f} % below")
    assert reached[0] <= _flow(outcome) + RESOLUTION_M3S
