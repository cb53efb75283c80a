"""Pairs of fillings that bounds leave open: what is best is among them, whatever is asked."""

from functools import cache

import numpy as np
import pytest
from branched_worlds import branched_world
from how_many import some_of

from optimizer.model.rig import Position
from optimizer.search import branch_bounds, branch_pairs
from optimizer.search.best import RESOLUTION_M3S, Outcome, Seeker
from optimizer.search.branch_bounds import Masking, paired
from optimizer.search.bundle_flows import BundleFlows
from optimizer.search.choices import Choices, choices
from optimizer.search.exact import FLOWS_KEPT, Tally
from optimizer.search.fewest_changes import left_alone
from optimizer.search.front import money_flow_front
from optimizer.search.front_pass import covers
from optimizer.search.layers import build

WORLDS = some_of(range(100), 16)
"""Of these the first answers are compared with those of a search among all pairs."""

ASKED = 5
"""So many points from the top of a front are asked for one by one."""


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


@cache
def unpaired(seed: int) -> Choices:
    """The choices of a world with nothing paired."""
    rig, catalog = branched_world(seed)
    return choices(rig, catalog, rig.limits, pairs=False)


def by_bounds(seed: int, target_m3s: float = 0.0, masking: Masking = lambda seeker: seeker.all) -> Seeker:
    """The search among those that bounds leave open."""
    menu = unpaired(seed)
    budget = float("inf") if menu.limits.budget is None else float(menu.limits.budget)
    return paired(menu, budget, Tally(), target_m3s, masking)


def same(expected: Outcome, outcome: Outcome) -> bool:
    """Whether two searches found the same, both proved."""
    if expected.found is None or outcome.found is None:
        return expected.found is outcome.found
    alike = abs(expected.found.flow_m3s - outcome.found.flow_m3s) <= 1.001 * RESOLUTION_M3S
    return alike and expected.found.bundle.price == outcome.found.bundle.price and outcome.status == "proved"


@pytest.mark.parametrize("seed", WORLDS)
def test_the_best_for_every_sum_is_among_the_open_pairs(seed: int) -> None:
    """The same front, read off the pass, as asking among all pairs for one sum after the other; and the same best bundle that
    leaves the first place of the loop alone."""
    whole, some = every_pair(seed), by_bounds(seed)
    assert same(whole.most_flow(), some.most_flow())
    best = some.most_flow().found
    if best is None:
        return
    assert covers(some.problem)
    points = money_flow_front(some, best.bundle.price)
    for point in points[: -ASKED - 1 : -1]:
        expected = whole.with_budget(point.price).most_flow().found
        assert expected is not None and point.proved
        assert expected.bundle.price == point.price
        assert point.flow_m3s == pytest.approx(expected.flow_m3s, abs=1.001 * RESOLUTION_M3S)
    if len(points) > 1:
        between = whole.with_budget(points[-1].price - 1).most_flow().found
        assert between is not None and between.bundle.price == points[-2].price


@pytest.mark.parametrize("seed", WORLDS[:4])
def test_a_mask_and_a_target_have_open_pairs_of_their_own(seed: int) -> None:
    """The best bundle that leaves a place alone, and the cheapest for a flow, as among all pairs."""
    whole = every_pair(seed)
    best = whole.most_flow().found
    for place in (0, len(whole.problem.layers) - 1):
        mask = left_alone(whole, place)
        if mask is not None:
            inside = by_bounds(seed, masking=lambda seeker, where=place: left_alone(seeker, where))  # type: ignore[misc]
            assert same(whole.inside(mask).most_flow(), inside.most_flow())
    if best is not None:
        wanted = 0.9 * best.flow_m3s
        assert same(whole.least_price(wanted), by_bounds(seed, wanted).least_price(wanted))


def test_no_number_of_pairs_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a full list would be refused, bounds list what is needed."""
    expected = every_pair(WORLDS[1]).most_flow()
    monkeypatch.setattr(branch_pairs, "MOST_WAYS", 0)
    assert same(expected, by_bounds(WORLDS[1]).most_flow())


def _branched(positions: tuple[Position, ...]) -> int:
    return next(place for place, position in enumerate(positions) if position.branches)


@pytest.mark.parametrize("seed", WORLDS)
def test_no_pair_loses_less_than_its_bound(seed: int) -> None:
    """The bound by cells of shares of all pairs between all tees, at a trickle and at full flow, against their solved heads."""
    menu = unpaired(seed)
    pairing = menu.unpaired[_branched(menu.rig.positions)]
    sides = branch_bounds._Sides(pairing.groups, menu.water.kinematic_m2s)
    for flow in (1e-6, 5e-5, 2e-4, 4e-4):
        at = sides.at(flow)
        for number, group in enumerate(pairing.groups):
            first, second = at.group(number)
            bound = branch_bounds._least_heads(first, second).ravel()
            shape = (len(group.first), len(group.second))
            pairs = np.array([(number, one, other) for one, other in np.ndindex(shape)])
            splits = sides.splits(pairs)
            state = splits.state(flow)
            fits = (state.flow_m3s <= splits.most * (1 + 1e-9)).all(axis=1)
            head = state.head_m + group.common.quadratic * flow * flow
            assert (bound[fits] <= head[fits] * (1 + 1e-9) + 1e-12).all()
            assert bound[fits].max(initial=1.0) > 0.0


@pytest.mark.parametrize("seed", WORLDS)
def test_bundles_with_branches_deliver_the_same_from_arrays(seed: int) -> None:
    """Flows of the best bundles of some budgets, all at once, against the search that solves them one by one."""
    whole = every_pair(seed)
    top = whole.most_flow().found
    budgets = [] if top is None else [top.bundle.price, top.bundle.price // 2, top.bundle.price // 4]
    found = [some for budget in budgets if (some := whole.with_budget(budget).most_flow().found) is not None]
    if not found:
        return
    options, joints = (np.array([getattr(some.bundle.path, name) for some in found]) for name in ("options", "joints"))
    flows = BundleFlows(whole.problem)
    own = flows.own(options, joints)
    assert own.tolist() == pytest.approx([some.delivered.own_m3s for some in found], rel=1e-9)
    high = np.minimum(own, np.minimum(whole.problem.high[options].min(axis=1), whole.limits.flow_max_m3s))
    assert flows.under_suction(options, joints, high).tolist() == pytest.approx([some.flow_m3s for some in found], rel=1e-8)


def test_questions_at_a_flow_asked_before_rest_on_the_same_heads() -> None:
    """Heads that are remembered are those of their own flow, in whatever order they are asked, and more than are kept."""
    seeker = every_pair(0)
    flows = [1e-4 + 1e-5 * n for n in (0, 0, 1, 2, 3, 4, 0, 5, 4, 1)]
    for flow in flows:
        losses = seeker.exact.weights(flow, seeker.all).option_loss
        assert np.array_equal(losses[seeker.all], seeker.problem.heads.at(flow)[seeker.all])
    assert len(seeker.exact._heads) <= FLOWS_KEPT


def test_a_bundle_that_is_met_again_delivers_what_it_did() -> None:
    """What a bundle delivers is found once, and is what its rows deliver."""
    seeker = every_pair(0)
    found = seeker.most_flow().found
    assert found is not None
    path = found.bundle.path
    again = seeker.delivered(found.bundle)
    assert again is seeker.inside(seeker.all).delivered(found.bundle)
    assert again == seeker.delivered_by(path.options, path.joints)
