"""Variants of splits, each at a total of its own, against the scalar path and against `Splits`, which takes one total."""

import random

import numpy as np
import pytest
from split_cases import KINEMATIC_M2S, random_split

from optimizer.loop.runs import Reals
from optimizer.loop.split_point import split_flows
from optimizer.loop.split_variants import SplitVariants
from optimizer.loop.splits import Pairs, Splits, Windows, rises
from optimizer.model.losses import BranchLoss, Loss, Split, TeeShape

TOTALS_M3S = (0.0, 1e-7, 3e-5, 1e-4, 3e-4, 8e-4)


def varied(number: int) -> tuple[list[Split], SplitVariants]:
    """Random splits of two branches whose flow divides in one way only, as variants."""
    chance = random.Random(number)
    made = [random_split(chance, points=chance.choice(["meeting", "parting", "both"])) for _ in range(number)]
    arrays = Splits.of(made, KINEMATIC_M2S)
    sound = np.flatnonzero(rises(arrays))
    windows = Windows(arrays.least[sound], arrays.most[sound], arrays.throttles[sound])
    return [made[row] for row in sound], SplitVariants(Pairs.of(arrays, sound), windows, np.full(len(sound), np.nan))


def totals(count: int, seed: int) -> Reals:
    """A total for each of some variants."""
    return np.random.default_rng(seed).choice(TOTALS_M3S, count)


def test_each_variant_divides_its_own_total_as_the_scalar_path_does() -> None:
    """Bracketing by SciPy; the second and third look start from the shares of the one before."""
    splits, variants = varied(150)
    for seed in (1, 2, 3):
        flow = totals(len(splits), seed)
        state = variants.state(flow)
        for row, split in enumerate(splits):
            flows, head, held = split_flows(split, float(flow[row]), KINEMATIC_M2S)
            assert state.flow_m3s[row] == pytest.approx(flows, abs=1e-11 * flow[row])
            assert state.head_m[row] == pytest.approx(head, rel=1e-10, abs=1e-15)
            assert state.held[row] == held


def test_some_variants_are_what_they_are_among_all() -> None:
    splits, variants = varied(150)
    flow = totals(len(splits), 5)
    whole, rows = variants.state(flow), np.arange(3, len(splits), 7)
    part = variants.rows(rows).state(flow[rows])
    assert part.head_m == pytest.approx(whole.head_m[rows], rel=1e-11)
    assert part.flow_m3s == pytest.approx(whole.flow_m3s[rows], abs=1e-14)


def test_a_total_is_lowered_to_where_the_first_branch_has_all_it_may_have() -> None:
    """On the scalar path: a little less and no branch has too much, a little more and one does."""
    splits, variants = varied(150)
    flow = np.full(len(splits), 8e-4)
    lowered, changed = variants.within_most(flow), 0
    for split, total in zip(splits, lowered.tolist(), strict=True):
        less, more = (
            all(own <= branch.flow_max_m3s for own, branch in zip(flows, split.branches, strict=True))
            for flows in (split_flows(split, total * (1 + by), KINEMATIC_M2S)[0] for by in (-1e-8, 1e-8))
        )
        assert less
        changed += total < 8e-4
        assert total == 8e-4 or not more
    assert 30 < changed < len(splits)


def test_a_branch_that_gets_less_than_it_needs_is_seen() -> None:
    """Mouths of 4 : 1 in loss between wide tees take 2 : 1 of the flow (Q goes with the root of 1/loss)."""
    first, second = (Loss(quadratic=k) for k in (1e8, 4e8))
    wide = TeeShape(run_bore_m=20.0, branch_bore_m=20.0)
    branches = (BranchLoss(losses=(first,)), BranchLoss(losses=(second,), flow_min_m3s=1e-4))
    arrays = Splits.of([Split(branches=branches, parting=wide)] * 2, KINEMATIC_M2S)
    variants = SplitVariants.of(Pairs.of(arrays, np.arange(2)), arrays.least[0], arrays.most[0], arrays.throttles[0])
    assert variants.keeps(np.array([2.9e-4, 3.1e-4])).tolist() == [False, True]
