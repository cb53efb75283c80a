"""Tanks x budgets over processes: throughput of one core, and how much two cores do in the time of one."""

from dataclasses import replace
from pathlib import Path
from typing import Any

from benchmarks.clock import in_turn
from benchmarks.conftest import Report
from optimizer import api
from optimizer.model.shop import Store
from optimizer.tanks.fingerprint import fingerprint
from optimizer.tanks.pool import Hire, SolvedTask, kept_on, processes, solve_all
from optimizer.tanks.population import grid, packed
from optimizer.tanks.solves import work

ROOT = Path(__file__).resolve().parent.parent
BUDGETS = tuple(range(1500, 6001, 500))
REPEATS = 3


def _store() -> Store:
    shop = api.read_shop(ROOT / "parts_demo/shops/all_customers.toml", api.read_catalog(ROOT / "parts_demo/catalog"))
    return replace(shop, budgets=BUDGETS)


def _solved(store: Store, shared: bytes, basis: str, hire: Hire) -> SolvedTask:
    asked = {f"{tank} {budget}": {"ask": "bundles", "tank": tank, "budget": budget, "most": 1} for tank, budget in grid(store)}
    return solve_all(work, shared, asked, hire, basis=basis)


def test_two_cores_against_one(benchmark: Any, report: Report) -> None:
    """The same questions, by a pool of one process and by a pool of two, both warm."""
    store = _store()
    shared, basis = packed(store), fingerprint(store)
    with kept_on(processes(1)) as one, kept_on(processes(2)) as two:
        answers = _solved(store, shared, basis, one).answers
        assert answers == _solved(store, shared, basis, two).answers
        single, double = in_turn(
            lambda: _solved(store, shared, basis, one), lambda: _solved(store, shared, basis, two), repeats=REPEATS
        )
        benchmark.pedantic(lambda: _solved(store, shared, basis, two), rounds=1)
    each = f"{len(answers)} tanks x budgets, {len(answers) / single.least:.3g} a second and core"
    report("pool of one process / of two", single, double, "at least 1.8", each)
