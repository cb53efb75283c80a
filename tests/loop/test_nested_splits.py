"""Branches within branches: scalars, batch, draws and Newton's method on node heads agree, and so do windows."""

import random
from dataclasses import replace

import numpy as np
import pytest
from band_cases import drawn, element, split_element
from branched_worlds import nested_world
from network.branched import branched_graph
from network.solver import solve_network
from split_cases import KINEMATIC_M2S, WIDE, random_split

from optimizer.bands.candidates import candidate
from optimizer.bands.installed import installed
from optimizer.bands.series import own_m3s
from optimizer.loop.element_loops import flows_of
from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.operating import operating_point
from optimizer.loop.split_point import split_flows
from optimizer.loop.split_variants import SplitVariants
from optimizer.loop.splits import Splits, rises
from optimizer.loop.standing import StandingLoop, aged_elements, elements, standing_loop
from optimizer.model.limits import Limits
from optimizer.model.losses import BranchLoss, Loss, Split
from optimizer.search.choices import choices

WORLDS = (0, 1, 3, 4, 5, 6, 7, 8)
TRICKLE, TOP = 1e-5, 8e-4


def free(split: Split) -> Split:
    """The split without throttles."""
    return replace(split, branches=tuple(replace(each, throttles=False) for each in split.branches))


def nested_split(seed: int) -> Split:
    """A split with one within a branch, or two in a row, none of whose heads falls."""
    chance = random.Random(seed)
    while True:
        made = free(random_split(chance, points=chance.choice(["meeting", "parting", "both"])))
        for _ in range(1 + seed % 2):
            outer = free(random_split(chance, points=chance.choice(["meeting", "parting", "both"])))
            low, high = Splits.of([made], KINEMATIC_M2S).window()
            which = chance.choice([0, 1])
            some = list(outer.branches)
            some[which] = replace(some[which], inner=(made,), flow_min_m3s=float(low[0]), flow_max_m3s=float(high[0]))
            made = replace(outer, branches=tuple(some))
        if rises(Splits.of([made], KINEMATIC_M2S)).all():
            return made


@pytest.mark.parametrize("seed", [*range(0, 16, 2), 5])
def test_arrays_and_scalars_divide_the_flow_alike(seed: int) -> None:
    """At many totals, one by one and all at once."""
    split = nested_split(seed)
    totals = np.geomspace(TRICKLE, TOP, 12)
    arrays = Splits.of([split], KINEMATIC_M2S)
    variants = SplitVariants.among(arrays, np.zeros(len(totals), dtype=np.intp)).state(totals)
    for n, total in enumerate(totals.tolist()):
        flows, head, _ = split_flows(split, total, KINEMATIC_M2S)
        state = arrays.state(total)
        assert state.head_m[0] == pytest.approx(head, rel=1e-9, abs=1e-12)
        assert variants.head_m[n] == pytest.approx(head, rel=1e-9, abs=1e-12)
        assert state.flow_m3s[0] == pytest.approx(flows, rel=1e-7, abs=1e-12)


@pytest.mark.parametrize("seed", range(0, 20, 2))
def test_a_window_within_is_one_of_the_whole(seed: int) -> None:
    """At both ends of the window of the outermost split every branch gets what it needs and no more than it may, and beyond them
    one does not: looked at branch by branch in scalars."""

    def kept(split: Split, flow: float, slack: float) -> bool:
        flows = split_flows(split, flow, KINEMATIC_M2S)[0]
        own = all(
            branch.flow_min_m3s * (1 - slack) <= each <= branch.flow_max_m3s * (1 + slack)
            for branch, each in zip(split.branches, flows, strict=True)
            if not branch.inner
        )
        return own and all(
            kept(inner, each, slack) for branch, each in zip(split.branches, flows, strict=True) for inner in branch.inner
        )

    split = nested_split(seed)
    (low,), (high,) = (some.tolist() for some in Splits.of([split], KINEMATIC_M2S).window())
    if low >= high:
        totals = np.geomspace(TRICKLE, 1e-2, 50).tolist()
        assert not any(kept(split, total, -1e-6) for total in totals)
        return
    for end, inside, outside in ((low, 1 + 1e-6, 1 - 1e-4), (high, 1 - 1e-6, 1 + 1e-4)):
        if 0.0 < end < 1.0:
            assert kept(split, end * inside, 1e-5)
            assert not kept(split, end * outside, 1e-7)


def test_three_alike_branches_get_a_third_each() -> None:
    """Where tees lose nothing nested branches are side by side."""
    mouth = BranchLoss(losses=(Loss(quadratic=4e8),))
    pair = Split(branches=(mouth, mouth), parting=WIDE)
    three = Split(branches=(mouth, BranchLoss(losses=(Loss(),), inner=(pair,))), parting=WIDE)
    flows, head, _ = split_flows(three, 3e-4, KINEMATIC_M2S)
    assert flows == pytest.approx((1e-4, 2e-4), rel=1e-6)
    assert head == pytest.approx(4.0, rel=1e-6)
    assert Splits.of([three], KINEMATIC_M2S).at(3e-4)[0] == pytest.approx(4.0, rel=1e-6)


def bundles(seed: int) -> list[StandingLoop]:
    """The loop of a nested world as it is, and with the most and the least that could be done in its branches."""
    rig, catalog = nested_world(seed)
    rig = replace(rig, limits=rig.limits.without(*rig.limits.binding))
    menu = choices(rig, catalog, replace(rig.limits, budget=None))
    place = next(n for n, position in enumerate(rig.positions) if position.branches)
    found = []
    for option in {id(each): each for each in (menu.options[place][0], menu.options[place][-1])}.values():
        from exhaustive import all_bundles

        some = [options[:1] if n != place else (option,) for n, options in enumerate(menu.options)]
        for one in all_bundles(replace(menu, options=tuple(some))):
            found.append(standing_loop(rig, one.options, one.joints))
            break
    return found


def by_network(edges: list[Element], kinematic_m2s: float) -> float:
    """Flow at the pump."""
    graph = branched_graph(edges)
    solved = solve_network(graph, kinematic_m2s)
    pumps = [(u, v, key) for u, v, key, data in graph.edges(keys=True, data=True) if getattr(data["element"], "curve", None)]
    return solved.flow_m3s[pumps[0]]


def opened(loop: StandingLoop) -> StandingLoop:
    """The loop with all its throttles wide open."""
    return replace(loop, forks=tuple(replace(fork, throttles=(False, False)) for fork in loop.forks), throttled=False)


@pytest.mark.parametrize("seed", WORLDS)
def test_batch_scalars_draws_and_network_agree(seed: int) -> None:
    """On standing loops with branches in branches, some of whose last branches are not there."""
    for loop in map(opened, bundles(seed)):
        nu = loop.water.kinematic_m2s
        edges = aged_elements(loop, [one.state for one in loop.stands], [tray.state for tray in loop.trays])
        scalar = operating_point(loop_graph(edges), nu).flow_m3s
        assert float(flows_of([edges], nu)[0]) == pytest.approx(scalar, rel=1e-9, abs=1e-12)
        assert operating_point(loop_graph(elements(loop)), nu).flow_m3s == pytest.approx(scalar, rel=1e-9)
        assert by_network(edges, nu) == pytest.approx(scalar, rel=1e-6, abs=1e-9)
        made = candidate(loop, Limits().without(*Limits().binding), "loop")
        factors = drawn([made], 4, seed)
        draws = own_m3s(made, factors)
        for row in range(2):
            splits = [split_element(split, factors, row) for split in made.splits]
            one = [element(piece, factors, row) for piece in made.pieces]
            assert draws[row] == pytest.approx(operating_point(loop_graph([*one, *splits]), nu).flow_m3s, rel=1e-8, abs=1e-12)


@pytest.mark.parametrize("seed", WORLDS)
def test_the_loop_as_it_is_needs_no_search(seed: int) -> None:
    """What bands and fills are drawn from is the same loop as that of the search with nothing done."""
    rig, catalog = nested_world(seed)
    rig = replace(rig, limits=replace(rig.limits.without(*rig.limits.binding), budget=0))
    menu = choices(rig, catalog, rig.limits)
    kept = [[option for option in options if option.change == "keep"][:1] for options in menu.options]
    from exhaustive import all_bundles

    one = next(all_bundles(replace(menu, options=tuple(map(tuple, kept)))))
    loop = opened(standing_loop(rig, one.options, one.joints))
    made = installed(rig)
    factors = drawn([made], 2, seed)
    still = replace(factors, draws=replace(factors.draws, normals=np.zeros_like(factors.draws.normals)))
    flow = operating_point(loop_graph(elements(loop)), loop.water.kinematic_m2s).flow_m3s
    assert float(own_m3s(made, still)[0]) == pytest.approx(flow, rel=1e-9)
    within = {fork.within for fork in loop.forks}
    assert loop.forks and (within == {None} or within > {None})
