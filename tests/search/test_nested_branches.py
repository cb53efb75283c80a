"""Branches within branches in the search: it misses nothing that a full listing of all fillings finds."""

import math
from dataclasses import replace

import exhaustive
import numpy as np
import pytest
from branched_worlds import NESTED, nested_world
from how_many import some_of

from optimizer.answers.rows import standing
from optimizer.loop.split_point import split_flows
from optimizer.model.limits import Limits
from optimizer.model.losses import Split
from optimizer.search import branch_bounds, branch_fillings
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.branch_bounds import Pair, _Asked, _AtFlow, _Bound, _Bounded, _least_heads, _Open, _Rows, paired
from optimizer.search.branch_pairs import Group, fill_inside, sound
from optimizer.search.choices import Choices, choices
from optimizer.search.exact import Tally
from optimizer.search.layers import build

CHUNK, MOST = 5, 60
CHUNKS = some_of(range(24), 12)
"""Chunks of so many worlds; those with more bundles are left out, to keep the listing short."""

SEEDS, LOOKS = some_of((0, 1, 3, 2, 5, 4), 2), 20
"""Worlds of which all pairs are looked at, and so many of those of each group that no window lets through."""


def every_way(seed: int, monkeypatch: pytest.MonkeyPatch) -> Choices:
    """The choices of a world with no filling of a branch left out because another beats it, in whatever branch."""
    rig, catalog = nested_world(seed)
    with monkeypatch.context() as patched:
        patched.setattr(branch_fillings, "_unbeaten", lambda some, _: list(some))
        return choices(rig, catalog, rig.limits)


def keeps(split: Split, flow_m3s: float, nu: float) -> bool:
    """Whether every branch, and those within it, get what they need and no more than they allow."""
    flows = split_flows(split, flow_m3s, nu)[0]
    return all(
        branch.flow_min_m3s * (1 - 1e-6) <= flow <= branch.flow_max_m3s * (1 + 1e-6)
        and all(keeps(inner, flow, nu) for inner in branch.inner)
        for branch, flow in zip(split.branches, flows, strict=True)
    )


@pytest.fixture(autouse=True)
def all_by_bounds(monkeypatch: pytest.MonkeyPatch) -> None:
    """However few pairs there are, they are bounded; blocks are so small that there are some."""
    monkeypatch.setattr(branch_bounds, "FEW_PAIRS", 0)
    monkeypatch.setattr(branch_bounds, "BLOCK", 3)
    monkeypatch.setattr(branch_bounds, "INNER", 2)


@pytest.mark.parametrize("chunk", CHUNKS)
def test_the_search_finds_what_a_listing_of_all_fillings_finds(chunk: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Same price and flow as all bundles listed one by one and solved in scalars by bracketing; windows kept in all branches."""
    wrong, listed, answered = {}, 0, 0
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        menu = every_way(seed, monkeypatch)
        if math.prod(map(len, menu.options)) > MOST:
            continue
        listed += 1
        best = exhaustive.most_flow(menu, RESOLUTION_M3S)
        answered += best is not None
        for how, seeker in (("all", every_pair(seed, menu.limits)), ("open", by_bounds(seed, menu.limits))):
            what_is_wrong = against(best, seeker)
            if what_is_wrong:
                wrong[seed, how] = what_is_wrong
    assert not wrong
    assert listed > 0.6 * CHUNK and answered >= 0.2 * CHUNK


def every_pair(seed: int, limits: Limits) -> Seeker:
    """The search among all pairs of fillings."""
    return Seeker(build(choices(*nested_world(seed), limits)))


def by_bounds(seed: int, limits: Limits) -> Seeker:
    """The search among those that bounds leave open, with what is within a branch bounded too."""
    menu = choices(*nested_world(seed), limits, pairs=False)
    return paired(menu, math.inf if limits.budget is None else float(limits.budget), Tally())


def against(best: exhaustive.Listed | None, seeker: Seeker) -> str:
    """What a search has otherwise than a listing; empty: nothing."""
    outcome, choices_ = seeker.most_flow(), seeker.problem.choices
    found = outcome.found
    if best is None or found is None:
        return "" if best is None and found is None else f"search {found is not None}, listing {best is not None}"
    alike = abs(best.flow_m3s - found.flow_m3s) <= RESOLUTION_M3S * (1 + 1e-6)
    if outcome.status != "proved" or best.price != found.bundle.price or not alike:
        return f"{found.bundle.price}, {found.flow_m3s} against {best.price}, {best.flow_m3s}"
    options = seeker.options_of(found.bundle)
    joints = [seeker.problem.joint(row) for row in found.bundle.path.joints]
    held = (found.flow_m3s, found.delivered.held_by)
    stands = standing(choices_.rig, choices_.water, options, joints, found.bundle.price, held)
    splits = [element.split for element in stands.elements if element.split is not None]
    kept = all(keeps(split, stands.flow_m3s, choices_.water.kinematic_m2s) for split in splits)
    return "" if kept else "a window is left"


def test_worlds_are_of_every_sort_and_what_beats_what_matters(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison is worth something: inner branches that are there, others that the search adds, and fillings left out."""
    added, fewer, deepest = 0, 0, 0
    for seed in range(4 * len(NESTED)):
        rig, catalog = nested_world(seed)
        limits = replace(rig.limits.without(*rig.limits.binding), budget=None)
        menu = choices(rig, catalog, limits)
        place = next(n for n, position in enumerate(rig.positions) if position.branches)
        fewer += len(menu.options[place]) < len(every_way(seed, monkeypatch).options[place])
        for option in menu.options[place]:
            assert option.ways is not None
            inner = [each.ways for way in option.ways.branches for each in way.options if each.ways is not None]
            added += any(len(ways.branches) == 2 and ways.meeting is not None and ways.meeting.change == "add" for ways in inner)
            deepest = max(deepest, len(option.ways.joints))
    assert added and fewer and deepest > 4


def bounded(seed: int, monkeypatch: pytest.MonkeyPatch) -> list[tuple[_Bounded, set[Pair]]]:
    """All steps of a search by bounds, with the pairs that they leave open."""
    seen: list[tuple[_Bounded, set[Pair]]] = []
    opened = _Bounded.open

    def noted(steps: _Bounded) -> _Open:
        found = opened(steps)
        seen.append((steps, set(found.pairs())))
        return found

    with monkeypatch.context() as patched:
        patched.setattr(_Bounded, "open", noted)
        by_bounds(seed, nested_world(seed)[0].limits)
    return seen


def numbers(steps: _Bounded, which: int, group: int, at: _AtFlow) -> _Rows:
    """Every filling of a branch of a group, one by one, with the bound on what it loses and its price."""
    side, sides = steps.sides.sides[which], steps.sides
    number = np.arange(len(side.fillings[group]))
    row, pairs = side.taken(group, number)
    bound, price = at.group(group)[which].rows(row), steps.prices[which][group][row].astype(float)
    for within in set(pairs[pairs[:, 0] >= 0, 0].tolist()):
        rows = np.flatnonzero(pairs[:, 0] == within)
        assert at.inside is not None and sides.inner is not None
        lost = _Bound.through(which, at.inside.group(within).heads(pairs[rows, 1], pairs[rows, 2]))
        bound.cells[rows] += lost.cells
        bound.alone[rows] += lost.alone
        price[rows] += steps.inner[within][0][pairs[rows, 1]] + steps.inner[within][1][pairs[rows, 2]]
    return _Rows(number, bound, price)


def allows(group: Group, one: int, other: int, flow_m3s: float, nu: float) -> bool:
    """Whether the windows of all parts of a pair, those within a branch too, let a flow through."""
    inside = [some.inside(each)[1] for some, each in zip(group.sides, (one, other), strict=True)]
    fill_inside([each for each in inside if each is not None], nu)
    if any(each is not None and each[0].filled[each[1:]] is None for each in inside):
        return False
    option = sound([group.made(group.first[one], group.second[other])], nu)[0][0]
    return option is not None and option.flow_max_m3s >= flow_m3s * (1 + 1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_pairs_that_are_left_open_are_those_of_a_look_at_all(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every pair that truly keeps to some step is open, and none loses less than its bound, whatever frames it is made of."""
    for steps, pairs in bounded(seed, monkeypatch):
        expected, tests, nu = set[Pair](), steps._tests(), steps.problem.choices.water.kinematic_m2s
        for flow in np.unique(steps.columns.flow).tolist():
            at, columns = steps.sides.at(flow), np.flatnonzero(steps.columns.flow == flow)
            for n, group in enumerate(steps.sides.groups):
                first, second = (numbers(steps, which, n, at) for which in (0, 1))
                every = np.array([(n, *pair) for pair in np.ndindex(len(first.number), len(second.number))])
                splits, least = steps.sides.splits(every), _least_heads(first.bound, second.bound).ravel()
                state = splits.state(flow)
                fits = (state.flow_m3s <= splits.most * (1 + 1e-9)).all(axis=1)
                head = state.head_m + group.common.quadratic * flow * flow
                let = np.isfinite(least)
                assert (least[let & fits] <= head[let & fits] * (1 + 1e-9) + 1e-12).all()
                assert not any(allows(group, *pair, flow, nu) for _, *pair in every[~let & fits][:LOOKS].tolist())
                price = np.add.outer(first.price, second.price).ravel()
                asked = _Asked(n, at, at.groups(), columns, tests)
                expected |= set(steps._solved(every[let], price[let], asked).pairs())
        assert pairs == expected
