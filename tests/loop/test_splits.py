"""Many splits at once against the scalar path, one by one, and by their laws."""

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from split_cases import KINEMATIC_M2S, WIDE, random_split

from optimizer.loop.roots import Ints, Reals, falling_roots
from optimizer.loop.split_point import branch_heads_m, split_flows
from optimizer.loop.splits import FREE, Splits, rises
from optimizer.model.losses import BranchLoss, Loss, Split, TeeShape

FLOWS_M3S = (0.0, 1e-7, 2e-5, 8e-5, 2e-4, 4e-4, 1.1e-3)
SEEDS = st.integers(0, 10**9)


def many(seed: int, number: int, throttles: bool = True) -> list[Split]:
    """Random splits of which every branch that divides does so in one way (several roots are not one answer)."""
    chance = random.Random(seed)
    made = [random_split(chance, throttles) for _ in range(number)]
    free = [replace(split, branches=tuple(replace(b, throttles=False) for b in split.branches)) for split in made]
    return [split for split, sound in zip(made, rises(Splits.of(free, KINEMATIC_M2S)).tolist(), strict=True) if sound]


@pytest.mark.parametrize("flow", FLOWS_M3S)
def test_many_splits_at_once_are_those_of_the_scalar_path(flow: float) -> None:
    """`split_point.split_flows`, a bracketing method of scipy: hoses, lifts, tees, wyes, throttles."""
    splits = many(1, 400)
    assert len(splits) > 370
    state = Splits.of(splits, KINEMATIC_M2S).state(flow)
    for row, split in enumerate(splits):
        flows, head, held = split_flows(split, flow, KINEMATIC_M2S)
        assert state.flow_m3s[row, : len(flows)] == pytest.approx(flows, abs=1e-11 * flow)
        assert state.head_m[row] == pytest.approx(head, rel=1e-10, abs=1e-15)
        assert state.held[row] == held
    assert {-1, 0, 1} == set(state.held.tolist()) or flow < 2e-5


def test_more_splits_than_a_piece_are_each_solved() -> None:
    """Heads of a long list are those of its rows alone, in any order."""
    splits = Splits.of(many(2, 300) * 31, KINEMATIC_M2S)
    rows = np.random.default_rng(2).permutation(len(splits.pair))[:500]
    assert len(splits.pair) > 2 * 4096
    for flow in (1e-4, 5e-4):
        assert splits.rows(rows).at(flow) == pytest.approx(splits.at(flow)[rows], rel=1e-11)
        assert splits.rows(rows).flows(flow) == pytest.approx(splits.flows(flow)[rows], abs=1e-11 * flow)
    assert len(splits.rows([]).at(1e-4)) == 0


def test_both_branches_lose_the_same_head_or_one_is_still() -> None:
    """Without throttles, every head by `branch_heads_m`: a still branch would lose more than there is."""
    splits = many(3, 200, throttles=False)
    arrays, still = Splits.of(splits, KINEMATIC_M2S), 0
    for total in (6e-5, 3e-4):
        state = arrays.state(total)
        for split, both, head in zip(splits, state.flow_m3s.tolist(), state.head_m.tolist(), strict=True):
            flows = tuple(both[: len(split.branches)])
            assert sum(flows) == pytest.approx(total, rel=1e-14)
            for own, flow in zip(branch_heads_m(split, flows, KINEMATIC_M2S), flows, strict=True):
                still += flow == 0.0
                assert own == pytest.approx(head, rel=1e-9) if flow > 0.0 else own >= head
    assert still > 20


def test_a_throttle_is_a_valve_in_the_branch_that_it_holds() -> None:
    """A naive way: a quadratic loss in the held branch, shut until its natural flow is what was asked for."""
    checked = 0
    for split in many(4, 120):
        flows, head, held = split_flows(split, 3e-4, KINEMATIC_M2S)
        if held == FREE or not min(flows) > 1e-6:
            continue
        branch, other = split.branches[held], split.branches[1 - held]
        limits = (branch.flow_max_m3s, 3e-4 - other.flow_min_m3s)
        assert flows[held] == pytest.approx(min(limits), rel=1e-12)
        valve = brentq(lambda k, s=split, h=held, f=flows: _with_valve(s, h, k)[0][h] - f[h], 0.0, 1e13, xtol=1e-3, rtol=1e-14)
        valved, valved_head = _with_valve(split, held, valve)
        assert valved == pytest.approx(flows, rel=1e-6)
        assert valved_head == pytest.approx(head, rel=1e-6)
        checked += 1
    assert checked > 20


def _with_valve(split: Split, held: int, quadratic: float) -> tuple[tuple[float, ...], float]:
    branches = [replace(branch, throttles=False) for branch in split.branches]
    branches[held] = replace(branches[held], losses=(*branches[held].losses, Loss(quadratic=quadratic)))
    return split_flows(replace(split, branches=tuple(branches)), 3e-4, KINEMATIC_M2S)[:2]


def test_the_window_is_where_every_branch_gets_what_it_needs() -> None:
    """A naive scan over totals, each divided by the scalar path."""
    splits = many(5, 80)
    arrays = Splits.of(splits, KINEMATIC_M2S)
    sound = rises(arrays)
    low, high = arrays.window()
    totals = np.geomspace(5e-6, 3e-3, 15)
    inside = 0
    for row in np.flatnonzero(sound).tolist():
        for total in totals.tolist():
            if min(abs(total / low[row] - 1.0) if low[row] else 1.0, abs(total / high[row] - 1.0)) < 1e-6:
                continue
            flows = split_flows(splits[row], total, KINEMATIC_M2S)[0]
            served = all(
                branch.flow_min_m3s * (1 - 1e-12) <= flow <= branch.flow_max_m3s * (1 + 1e-12)
                for branch, flow in zip(splits[row].branches, flows, strict=True)
            )
            assert served == (low[row] <= total <= high[row])
            inside += served
    assert 100 < inside < len(totals) * int(sound.sum()) - 100


def test_at_the_ends_of_a_window_a_branch_takes_just_what_it_needs_or_may() -> None:
    """Natural flows by the scalar path at window ends of splits without throttles."""
    splits = many(6, 200, throttles=False)
    low, high = Splits.of(splits, KINEMATIC_M2S).window()
    ends = 0
    for split, *window in zip(splits, low.tolist(), high.tolist(), strict=True):
        for total, name in zip(window, ("flow_min_m3s", "flow_max_m3s"), strict=True):
            if 0.0 < total < 0.01:
                flows = split_flows(split, total, KINEMATIC_M2S)[0]
                off = [
                    abs(flow / getattr(b, name) - 1.0) for flow, b in zip(flows, split.branches, strict=True) if getattr(b, name)
                ]
                assert min(off) < 1e-9
                ends += 1
    assert ends > 100


def test_a_branch_that_never_gets_its_flow_closes_the_window() -> None:
    """Needs above what it may take, or a way round without any loss."""
    mouth = BranchLoss(losses=(Loss(quadratic=1e7),), flow_min_m3s=1e-4)
    shut = replace(mouth, flow_max_m3s=5e-5)
    free = BranchLoss(losses=(Loss(),))
    splits = [Split(branches=(shut, free), parting=WIDE), Split(branches=(mouth, free), parting=WIDE), Split(branches=(shut,))]
    low, high = Splits.of(splits, KINEMATIC_M2S).window()
    assert low.tolist() == [math.inf, math.inf, math.inf]
    assert high[2] == 5e-5


@given(SEEDS, st.floats(0.0, 2e-3), st.floats(0.0, 2e-3))
def test_heads_and_flows_rise_with_the_total(seed: int, one: float, other: float) -> None:
    """Where tees lose nothing the losses of branches only rise, so this holds for any split: throttles too."""
    splits = Splits.of([random_split(random.Random(seed + n), wide=True) for n in range(5)], KINEMATIC_M2S)
    less, more = splits.state(min(one, other)), splits.state(max(one, other))
    assert (less.head_m <= more.head_m * (1.0 + 1e-9)).all()
    assert (less.flow_m3s <= more.flow_m3s + 1e-11 * max(one, other)).all()


def test_a_side_branch_that_is_dragged_along_is_refused() -> None:
    """Held at a small flow by the throttle of the other, the side is sucked by a main stream that grows (Crane's K < 0)."""
    run = BranchLoss(losses=(Loss(quadratic=1e6),), throttles=True)
    side = BranchLoss(losses=(Loss(quadratic=3e8),), flow_min_m3s=5e-5)
    narrow = TeeShape(run_bore_m=0.016, branch_bore_m=0.016)
    dragged, wide = Split(branches=(run, side), meeting=narrow), Split(branches=(run, side), meeting=WIDE)
    heads = [split_flows(dragged, flow, KINEMATIC_M2S)[1] for flow in (3e-4, 6e-4)]
    assert heads[1] < heads[0]
    assert rises(Splits.of([dragged, wide], KINEMATIC_M2S)).tolist() == [False, True]


def test_a_wye_that_loses_less_the_more_it_takes_is_refused() -> None:
    """At a wye of 30 degrees K of the leaving branch falls with its share (Crane): beside nothing else it may flow either
    way."""
    mouth = BranchLoss(losses=(Loss(quadratic=1e4),))
    wye = TeeShape(run_bore_m=0.016, branch_bore_m=0.016, angle_deg=30.0)
    split = Split(branches=(mouth, mouth), parting=wye)
    gaps = [np.subtract(*branch_heads_m(split, (3e-4 * (1.0 - x), 3e-4 * x), KINEMATIC_M2S)) for x in (0.1, 0.4)]
    assert gaps[1] > gaps[0]
    assert rises(Splits.of([split], KINEMATIC_M2S)).tolist() == [False]


def test_flows_that_are_none_and_tees_that_are_none_are_refused() -> None:
    """By words."""
    mouth = BranchLoss(losses=(Loss(quadratic=1e7),))
    splits = Splits.of([Split(branches=(mouth,))], KINEMATIC_M2S)
    for flow in (-1e-5, math.nan, math.inf):
        with pytest.raises(ValueError, match="below nothing"):
            splits.at(flow)
    with pytest.raises(ValueError, match="none above that of its run"):
        Splits.of([Split(branches=(mouth, mouth), parting=TeeShape(run_bore_m=0.01, branch_bore_m=0.02))], KINEMATIC_M2S)


class Falling:
    """Functions made for trouble: a power of x, with a kink at its root, less what it is there."""

    def __init__(self, at: Reals, power: Reals, steeper: Reals) -> None:
        self.root, self.power, self.steeper = at, power, steeper

    def at(self, here: Reals) -> Reals:
        """Values."""
        rise = here**self.power - self.root**self.power
        return -rise * np.where(here > self.root, self.steeper, 1.0)

    def rows(self, rows: Ints) -> "Falling":
        """Some."""
        return Falling(self.root[rows], self.power[rows], self.steeper[rows])


@pytest.mark.parametrize("kink", [1.0, 3.0, 100.0])
def test_roots_of_kinked_and_flat_functions_are_found(kink: float) -> None:
    """Their roots are known by how they are made; the last step may miss by its length times the kink."""
    rng = np.random.default_rng(7)
    root = np.concatenate([rng.uniform(0.0, 1.0, 3000), 10.0 ** -rng.uniform(1.0, 7.0, 1000)])
    steeper = kink ** rng.uniform(-1.0, 1.0, 4000)
    gap = Falling(root, rng.uniform(0.6, 3.0, 4000), steeper)
    found = falling_roots(gap, *(np.full(4000, x) for x in (0.0, 1.0, 0.5, -1.0, 1e-12, 0.0)))
    assert found == pytest.approx(root, abs=(1.0 + kink) * 1e-12)


def test_values_that_are_no_numbers_raise() -> None:
    """Instead of going on for ever."""
    gap = Falling(np.array([np.nan]), np.array([1.0]), np.array([1.0]))
    with pytest.raises(ArithmeticError, match="1 of 1 roots"):
        falling_roots(gap, *(np.array([x]) for x in (0.0, 1.0, 0.5, -1.0, 0.0, 0.0)))
