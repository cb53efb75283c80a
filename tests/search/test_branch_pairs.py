"""Branches in the search: it misses nothing that a full listing of all fillings finds, and networks agree with its flows."""

import math
from dataclasses import dataclass
from functools import cache

import exhaustive
import numpy as np
import pytest
from branched_worlds import WHERE, branched_world
from how_many import some_of
from network.branched import branched_graph
from network.solver import solve_network

from optimizer.answers.rows import standing
from optimizer.errors import InputError
from optimizer.loop.splits import Splits
from optimizer.loop.standing import elements, standing_loop
from optimizer.model.catalog import Catalog
from optimizer.model.losses import Split
from optimizer.model.rig import Rig
from optimizer.search import branch_fillings, branch_pairs
from optimizer.search.best import RESOLUTION_M3S, Outcome, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.layers import build

WORLDS, CHUNK = 100, 5
CHUNKS = some_of(range(WORLDS // CHUNK), 4)
TRIED = [chunk * CHUNK + n for chunk in CHUNKS for n in range(CHUNK)]
"""The worlds of this run."""

MOST = 400
"""Worlds with more bundles are left out, to keep the listing short."""


@dataclass(frozen=True)
class Searched:
    """A branched world with what the search finds in it."""

    rig: Rig
    catalog: Catalog
    menu: Choices
    seeker: Seeker
    outcome: Outcome


@cache
def searched(seed: int) -> Searched:
    """Search one world."""
    rig, catalog = branched_world(seed)
    menu = choices(rig, catalog, rig.limits)
    seeker = Seeker(build(menu))
    return Searched(rig, catalog, menu, seeker, seeker.most_flow())


def every_way(world: Searched, monkeypatch: pytest.MonkeyPatch) -> Choices:
    """The same choices with no filling of a branch left out because another beats it."""
    with monkeypatch.context() as patched:
        patched.setattr(branch_fillings, "_unbeaten", lambda some, _: list(some))
        return choices(world.rig, world.catalog, world.rig.limits)


def _count(menu: Choices) -> int:
    return math.prod(len(options) for options in menu.options)


@pytest.mark.parametrize("chunk", CHUNKS)
def test_the_search_finds_what_a_listing_of_all_fillings_finds(chunk: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Same price and flow as all bundles listed one by one and solved in scalars by bracketing."""
    wrong, listed = {}, 0
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        world = searched(seed)
        menu = every_way(world, monkeypatch)
        if _count(menu) > MOST:
            continue
        listed += 1
        best, found = exhaustive.most_flow(menu, RESOLUTION_M3S), world.outcome.found
        if (best is None) != (found is None):
            wrong[seed] = f"search {found is not None}, listing {best is not None}"
        elif best is not None and found is not None:
            alike = abs(best.flow_m3s - found.flow_m3s) <= RESOLUTION_M3S * (1 + 1e-6)
            if world.outcome.status != "proved" or best.price != found.bundle.price or not alike:
                wrong[seed] = f"{found.bundle.price}, {found.flow_m3s} against {best.price}, {best.flow_m3s}"
    assert not wrong
    assert listed, "no world of these is small enough to be listed"


def test_worlds_are_of_every_sort_and_the_search_adds_branches() -> None:
    """The comparison is worth something: branches of each sort, added and not, throttled in a branch now and then."""
    sorts, added, throttled, answered = set(), 0, 0, 0
    for seed in TRIED:
        world = searched(seed)
        sorts.add(next(p.name for p in world.rig.positions if p.branches))
        if world.outcome.found is None:
            continue
        answered += 1
        options = world.seeker.options_of(world.outcome.found.bundle)
        group = next(option for option in options if option.ways is not None)
        assert group.ways is not None
        new = not world.rig.positions[group.position].branches[1].installed
        added += new and len(group.ways.branches) == 2
        throttled += any(branch.throttles for branch in group.ways.split.branches)
    assert sorts == {"intakes", "uv", "outlets"} and len(WHERE) == 3
    assert answered > 0.5 * len(TRIED)
    assert added > 0.05 * len(TRIED)
    assert throttled > 0


@pytest.mark.parametrize("chunk", range(len(TRIED) // 25))
def test_a_network_solver_delivers_the_same_through_every_branch(chunk: int) -> None:
    """Newton on node heads (checked against EPANET elsewhere) on the graph with tees: same flow in all, and in each branch, where
    nothing is throttled."""
    compared = 0
    for seed in TRIED[chunk * 25 : (chunk + 1) * 25]:
        world = searched(seed)
        found = world.outcome.found
        if found is None or found.delivered.held_by:
            continue
        options = world.seeker.options_of(found.bundle)
        joints = [world.seeker.problem.joint(row) for row in found.bundle.path.joints]
        stands = standing(world.rig, world.menu.water, options, joints, found.bundle.price, None)
        if any(held >= 0 for _, _, held in stands.branch_flows):
            continue
        graph = branched_graph(elements(standing_loop(world.rig, options, joints)))
        solved = solve_network(graph, world.menu.water.kinematic_m2s)
        assert solved.status == "flows", seed
        pumped = [solved.flow_m3s[u, v, k] for u, v, k, data in graph.edges(keys=True, data=True) if _pump(data)]
        assert pumped == [pytest.approx(found.flow_m3s, rel=1e-6)], seed
        for _, flows, _ in stands.branch_flows:
            edges = [(tuple(key), data) for *key, data in graph.edges(keys=True, data=True) if "branch" in data]
            through = {data["branch"]: solved.flow_m3s[key] for key, data in edges}
            assert [through[0], through[1]] == pytest.approx(list(flows), rel=1e-5, abs=1e-5 * found.flow_m3s), seed
            compared += 1
    assert compared > 3


def _pump(data: dict[str, object]) -> bool:
    return getattr(data.get("element"), "curve", None) is not None


def test_devices_in_branches_get_what_they_need_and_no_more() -> None:
    """Windows of devices hold at the delivered flow, per branch, whatever the search buys."""
    seen = 0
    for seed in TRIED:
        world = searched(seed)
        found = world.outcome.found
        if found is None:
            continue
        options = world.seeker.options_of(found.bundle)
        joints = [world.seeker.problem.joint(row) for row in found.bundle.path.joints]
        stands = standing(
            world.rig, world.menu.water, options, joints, found.bundle.price, (found.flow_m3s, found.delivered.held_by)
        )
        group = next(option for option in options if option.ways is not None)
        flows = stands.branch_flows[0][1] if stands.branch_flows else (stands.flow_m3s,)
        assert group.ways is not None
        for branch, flow in zip(group.ways.split.branches, flows, strict=True):
            seen += branch.flow_min_m3s > 0.0 or math.isfinite(branch.flow_max_m3s)
            assert branch.flow_min_m3s * (1 - 1e-6) <= flow <= branch.flow_max_m3s * (1 + 1e-6), seed
    assert seen > 0.2 * len(TRIED)


def test_too_many_ways_are_refused_and_not_cut_short(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is not looked at cannot be proved."""
    monkeypatch.setattr(branch_pairs, "MOST_WAYS", 0)
    rig, catalog = branched_world(1)
    with pytest.raises(InputError, match="stays = true"):
        choices(rig, catalog, rig.limits)


def last(split: Split) -> str:
    """The losses of the last branch, as a name for it."""
    return repr(split.branches[-1].losses)


def test_ways_that_are_left_out_as_unsteady_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those of the list that are missing where every third last branch (by its losses) is taken for unsteady."""
    rig, catalog = branched_world(1)
    whole = choices(rig, catalog, rig.limits)
    group = next(place for place, position in enumerate(rig.positions) if position.branches)
    splits = [option.ways.split for option in whole.options[group] if option.ways is not None]
    taken = sorted({last(split) for split in splits})[::3]

    def unsteady(split: Split) -> bool:
        return last(split) in taken

    kept = Splits.of

    def of(splits: list[Split], kinematic_m2s: float) -> Splits:
        seen.extend(splits)
        return kept(splits, kinematic_m2s)

    seen: list[Split] = []
    monkeypatch.setattr(Splits, "of", of)
    monkeypatch.setattr(branch_pairs, "rises", lambda _: np.array([not unsteady(split) for split in seen]))
    fewer = choices(rig, catalog, rig.limits)
    gone = [split for split in splits if unsteady(split)]
    assert 0 < len(gone) < len(splits), "all or nothing is unsteady by this rule"
    assert whole.left_out == 0
    assert len(whole.options[group]) - len(fewer.options[group]) == len(gone)
    assert fewer.left_out >= len(gone)
