"""The money-flow front against asking for every budget, and searches with barred options against the mixed-integer program."""

from dataclasses import replace

import numpy as np
import pytest
from bundle_program import greatest_surplus
from small_worlds import world

from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import choices
from optimizer.search.front import knee, money_flow_front
from optimizer.search.layers import Problem, build

WORLDS = (1, 4, 7, 12)


def free_problem(seed: int) -> Problem:
    """A random world whose only limits are the defaults."""
    rig, catalog = world(seed, most=2000)
    return build(choices(rig, catalog, replace(rig.limits, budget=None)))


@pytest.mark.parametrize("seed", WORLDS)
def test_every_point_is_the_best_for_its_money(seed: int) -> None:
    problem = free_problem(seed)
    points = money_flow_front(Seeker(problem), 12_000)
    assert points
    assert all(point.proved for point in points)
    prices = [point.price for point in points]
    assert prices == sorted(set(prices))
    for before, after in zip(points, points[1:], strict=False):
        found = Seeker(problem).with_budget(after.price - 1).most_flow().found
        assert found is not None
        assert found.flow_m3s == pytest.approx(before.flow_m3s, abs=2 * RESOLUTION_M3S)
        assert after.flow_m3s > before.flow_m3s


def test_the_knee_lies_on_the_front() -> None:
    points = money_flow_front(Seeker(free_problem(4)), 12_000)
    chosen = knee(points)
    assert chosen is None or chosen in points


def test_a_search_that_was_stopped_before_does_not_count_against_a_point() -> None:
    """But it is not forgotten either."""
    seeker = Seeker(free_problem(4))
    seeker.tally.stopped = True
    assert all(point.proved for point in money_flow_front(seeker, 3000))
    assert seeker.tally.stopped


def test_a_front_that_is_halted_ends_at_its_dearest_points() -> None:
    whole, seen = money_flow_front(Seeker(free_problem(4)), 12_000), []
    some = money_flow_front(Seeker(free_problem(4)), 12_000, seen.append, lambda: len(seen) >= 2)
    assert len(whole) > 2
    assert [point.price for point in some] == [point.price for point in whole[-2:]]


@pytest.mark.parametrize("seed", WORLDS)
def test_barred_options_never_hide_what_is_affordable(seed: int) -> None:
    """A barred option that is cheap must not pass for the cheapest way (PuLP and HiGHS as the other route)."""
    problem = free_problem(seed)
    rng = np.random.default_rng(seed)
    for budget in (3000, 8000):
        allowed = (problem.option_plain > 0) | (rng.random(len(problem.option_plain)) < 0.6)
        flow = 250 / 3.6e6
        found = Seeker(problem).exact.least_loss(flow, budget, allowed, 0.0)
        checked = greatest_surplus(problem, flow, float(budget), allowed)
        if checked.value is None or checked.value < -1e-9:
            assert found is None
        else:
            assert found is not None
            assert -found.path.loss == pytest.approx(checked.value, abs=1e-6)
