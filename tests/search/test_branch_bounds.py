"""Pairs of fillings that bounds leave open: what is best is among them, whatever is asked."""

from functools import cache

import pytest
from branched_worlds import branched_world
from how_many import some_of

from optimizer.search import branch_bounds
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.branch_bounds import paired
from optimizer.search.choices import choices
from optimizer.search.exact import Tally
from optimizer.search.layers import build

WORLDS = some_of(range(100), 16)
"""Of these the first answers are compared with those of a search among all pairs."""


@pytest.fixture(autouse=True)
def all_by_bounds(monkeypatch: pytest.MonkeyPatch) -> None:
    """However few pairs there are, they are bounded; blocks are so small that there are some."""
    monkeypatch.setattr(branch_bounds, "FEW_PAIRS", 0)
    monkeypatch.setattr(branch_bounds, "BLOCK", 3)


@cache
def every_pair(seed: int) -> Seeker:
    """The search among all pairs of a world."""
    rig, catalog = branched_world(seed)
    return Seeker(build(choices(rig, catalog, rig.limits)))


def by_bounds(seed: int, target_m3s: float = 0.0) -> Seeker:
    """The search among those that bounds leave open."""
    rig, catalog = branched_world(seed)
    budget = float("inf") if rig.limits.budget is None else float(rig.limits.budget)
    return paired(choices(rig, catalog, rig.limits, pairs=False), budget, Tally(), target_m3s)


@pytest.mark.parametrize("seed", WORLDS)
def test_the_best_for_every_sum_is_among_the_open_pairs(seed: int) -> None:
    """The same best bundle for the budget and for each smaller sum at which the answer changes, up to eight of them."""
    whole, some = every_pair(seed), by_bounds(seed)
    budget = whole.budget
    for _ in range(8):
        expected, outcome = (each.with_budget(budget).most_flow() for each in (whole, some))
        assert (expected.found is None) == (outcome.found is None)
        if expected.found is None or outcome.found is None:
            break
        assert outcome.status == expected.status == "proved"
        assert outcome.found.bundle.price == expected.found.bundle.price
        assert outcome.found.flow_m3s == pytest.approx(expected.found.flow_m3s, abs=1.001 * RESOLUTION_M3S)
        budget = expected.found.bundle.price - 1
        if budget < 0:
            break
