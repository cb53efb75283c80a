"""Candidates with branches: every draw is the scaled loop solved by itself on the scalar path, which shares no solver."""

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from band_cases import KINEMATIC_M2S, bundles, candidates, drawn, element, random_branched, split_element
from how_many import some_of

from optimizer.answers.question import stands_now
from optimizer.bands.band import line_of
from optimizer.bands.candidates import BranchPieces, Candidate, SplitPieces, candidate
from optimizer.bands.draws import Factors
from optimizer.bands.installed import installed
from optimizer.bands.series import branches_keep, delivered_m3s, own_m3s
from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.operating import operating_point
from optimizer.loop.pieces import Piece
from optimizer.loop.split_point import split_flows
from optimizer.loop.standing import elements as elements_of
from optimizer.loop.standing import standing_loop
from optimizer.model.catalog import Catalog
from optimizer.model.losses import Loss, TeeShape
from optimizer.model.parts import PumpCurve
from optimizer.model.unknowns import FITTING_BORES, FITTINGS, PUMP_FLOW, PUMP_HEAD

WORLDS = some_of(range(60), 3)
RANDOM, CHUNK = 80, 10
ROWS = (0, 5, 9)


def elements(one: Candidate, factors: Factors, row: int) -> list[Element]:
    """The loop of one draw."""
    in_series = [element(piece, factors, row) for piece in one.pieces]
    return [*in_series, *(split_element(split, factors, row) for split in one.splits)]


def bracketed_m3s(one: Candidate, factors: Factors, row: int) -> float:
    """The operating point of one draw by bracketing."""
    return operating_point(loop_graph(elements(one, factors, row)), one.kinematic_m2s).flow_m3s


def branch_flows(one: Candidate, factors: Factors, row: int, total_m3s: float) -> list[tuple[float, float, float]]:
    """Flow of every branch of one draw, with what it needs and what it allows."""
    found = []
    for made in elements(one, factors, row)[len(one.pieces) :]:
        assert made.split is not None
        flows = split_flows(made.split, total_m3s, one.kinematic_m2s)[0]
        found += [(flow, each.flow_min_m3s, each.flow_max_m3s) for flow, each in zip(flows, made.split.branches, strict=True)]
    return found


@pytest.mark.parametrize("chunk", some_of(range(RANDOM // CHUNK), 4))
def test_every_draw_is_the_operating_point_of_its_own_loop(chunk: int) -> None:
    """One or two random splits in a loop: hoses, coils, lifts, tees, wyes, windows, throttles in the branches."""
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        one = random_branched(seed, throttled=False)
        factors = drawn([one], 10, seed)
        flows = delivered_m3s(one, factors)
        for row in ROWS:
            assert flows[row] == pytest.approx(bracketed_m3s(one, factors, row), rel=1e-8), (seed, row)


@pytest.mark.parametrize("chunk", range(2))
def test_bundles_of_random_worlds_are_drawn_as_their_own_loops(chunk: int) -> None:
    """Second guards, bypasses and second outlets as the search fills them."""
    compared = 0
    for seed in list(WORLDS)[chunk::2]:
        made = candidates(seed, 3, branched=True)
        factors = drawn(made, 10, seed)
        for one in made:
            flows = delivered_m3s(one, factors)
            for row in ROWS if one.splits else ():
                compared += 1
                expected = min(bracketed_m3s(one, factors, row), one.ceiling_m3s)
                assert flows[row] == pytest.approx(expected, rel=1e-6, abs=1e-12), (seed, one.name, row)
    assert compared > 4


def test_a_throttle_on_the_outlet_side_holds_every_branch_to_what_it_allows() -> None:
    """A little less and no branch gets too much, a little more and one does; or the flow is that of the operating point."""
    lowered = 0
    for seed in some_of(range(60), 2):
        one = random_branched(seed)
        factors = drawn([one], 10, seed)
        flows, own = delivered_m3s(one, factors), own_m3s(one, factors)
        for row in ROWS:
            less, more = (
                all(flow <= most for flow, _, most in branch_flows(one, factors, row, float(flows[row]) * (1 + by)))
                for by in (-1e-7, 1e-7)
            )
            assert less, (seed, row)
            if flows[row] < own[row]:
                lowered += 1
                assert not more, (seed, row)
    assert lowered > 6


def test_draws_that_starve_or_flood_a_branch_are_out_of_limits() -> None:
    seen = set()
    for seed in some_of(range(20), 2):
        one = random_branched(seed, throttled=False)
        factors = drawn([one], 10, seed)
        flows = delivered_m3s(one, factors)
        kept = branches_keep(one, factors, flows)
        for row in ROWS:
            each = branch_flows(one, factors, row, float(flows[row]))
            within = all(least * (1 - 2e-9) <= flow <= most * (1 + 2e-9) for flow, least, most in each)
            seen.add(within)
            assert kept[row] == within, (seed, row)
        line = line_of(one, draws=10, seed=seed)
        assert line.within_share == pytest.approx(float(kept.mean()))
        assert line.held_share == 0.0
    assert seen == {True, False}


def test_the_share_of_draws_that_a_throttle_holds_counts_those_held_for_a_branch() -> None:
    held = 0
    for seed in some_of(range(20), 2):
        one = random_branched(seed)
        factors = drawn([one], 10, seed)
        lowered = delivered_m3s(one, factors) < own_m3s(one, factors) * (1 - 1e-9)
        line = line_of(one, draws=10, seed=seed)
        assert line.held_share == pytest.approx(float(lowered.mean()))
        held += line.held_share > 0.0
    assert held > 1


@pytest.mark.parametrize("chunk", range(2))
def test_pieces_add_up_to_the_elements_of_the_loop(chunk: int) -> None:
    """Term by term against ``elements``, which knows nothing of pieces; the stated flow is that of the scalar path."""
    split_ones, plain_ones = 0, 0
    for seed in list(WORLDS)[chunk::2]:
        menu, listed = bundles(seed, 3, branched=True)
        for one in listed:
            made = candidate(standing_loop(menu.rig, one.options, one.joints), menu.rig.limits, "bundle")
            theirs = elements_of(standing_loop(menu.rig, one.options, one.joints))
            double = [each.split for each in theirs if each.split is not None]
            single = [ways for ways in (option.ways for option in one.options) if ways is not None and len(ways.branches) == 1]
            same_terms([piece.loss for piece in made.pieces], [each.loss for each in theirs])
            assert len(double) == len(made.splits)
            for ours, split in zip(made.splits, double, strict=True):
                for branch, its in zip(ours.branches, split.branches, strict=True):
                    same_terms([piece.loss for piece in branch.pieces], list(its.losses))
                    assert (branch.flow_min_m3s, branch.flow_max_m3s) == (its.flow_min_m3s, its.flow_max_m3s)
                    assert branch.throttles == its.throttles
                assert [None if tee is None else tee.tee for tee in (ours.parting, ours.meeting)] == [
                    split.parting,
                    split.meeting,
                ]
            split_ones, plain_ones = split_ones + len(double), plain_ones + len(single)
            own = operating_point(loop_graph(theirs), menu.water.kinematic_m2s).flow_m3s
            stated = line_of(replace(made, throttled=False), draws=10).stated_m3s
            assert stated == pytest.approx(min(own, made.ceiling_m3s), rel=1e-8)
    assert split_ones + plain_ones > 2


def test_a_bundle_that_is_held_for_a_branch_is_held_in_every_draw_for_that_branch() -> None:
    """Stated, at the total that the search allows the position; drawn, at the total at which the branch has enough in a draw."""
    held = 0
    for seed in some_of(range(99, -1, -1), 2):
        menu, listed = bundles(seed, 3, branched=True)
        for one in listed:
            pair = next((option for option in one.options if option.ways is not None and len(option.ways.branches) == 2), None)
            if pair is None or not math.isfinite(pair.flow_max_m3s):
                continue
            options = (*one.options[:-1], replace(one.options[-1], throttles=True))
            made = candidate(standing_loop(menu.rig, options, one.joints), menu.rig.limits, "bundle", pair.flow_max_m3s)
            own = operating_point(
                loop_graph(elements_of(standing_loop(menu.rig, one.options, one.joints))), made.kinematic_m2s
            ).flow_m3s
            line = line_of(made, draws=20)
            assert line.stated_m3s == pytest.approx(min(own, pair.flow_max_m3s, made.ceiling_m3s), rel=1e-8)
            factors = drawn([made], 20, 1)
            flows = delivered_m3s(made, factors)
            if own > pair.flow_max_m3s:
                held += 1
                assert len(set(flows.round(9))) > 10
                assert (flows < own_m3s(made, factors) * (1 - 1e-9)).any()
    assert held > 1


def same_terms(ours: list[Loss], theirs: list[Loss]) -> None:
    """The same lift, linear and quadratic loss in all, and the same hoses."""
    for term in ("lift_m", "linear", "quadratic"):
        sums = [sum(getattr(loss, term) for loss in group) for group in (ours, theirs)]
        assert sums[0] == pytest.approx(sums[1], rel=1e-12, abs=1e-12)
    runs = [Counter(loss.run for loss in group if loss.run is not None) for group in (ours, theirs)]
    assert runs[0] == runs[1]


def test_every_loss_is_scaled_by_something_known() -> None:
    for seed in WORLDS:
        for made in candidates(seed, 3, branched=True):
            for piece in made.all_pieces:
                assert piece.resistance or not (piece.loss.linear or piece.loss.quadratic)
                assert (piece.bore and piece.friction) or piece.loss.run is None
                assert piece.tee is None or (piece.resistance, piece.bore) == (FITTINGS, FITTING_BORES)


def pump(head_m: float = 2.0) -> Piece:
    """A pump whose curve is drawn."""
    curve = PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(head_m, 0.0), shape=2.0)
    return Piece(part="pump", installed=True, curve=curve, head=PUMP_HEAD, flow=PUMP_FLOW)


def mouths(*branches: BranchPieces) -> Candidate:
    """A pump and two branches behind a tee."""
    shape = TeeShape(run_bore_m=0.016, branch_bore_m=0.016)
    tee = Piece(part="tee", installed=True, resistance=FITTINGS, bore=FITTING_BORES, tee=shape)
    split = SplitPieces(branches=branches, parting=tee)
    return Candidate(name="mouths", pieces=(pump(),), kinematic_m2s=KINEMATIC_M2S, splits=(split,))


def mouth(name: str, lift_m: float = 0.0) -> Piece:
    """A mouth that may stand above the water."""
    return Piece(part=name, installed=True, loss=Loss(lift_m=lift_m, quadratic=1e7), resistance=FITTINGS)


def test_a_pump_that_can_lift_into_neither_branch_gives_no_flow() -> None:
    """Both mouths at the pump's own head: about half of the draws stand still."""
    one = mouths(*(BranchPieces(pieces=(mouth(name, 2.0),)) for name in "ab"))
    flows = delivered_m3s(one, drawn([one], 200, 1))
    assert 0.3 < float((flows == 0.0).mean()) < 0.7
    high = mouths(BranchPieces(pieces=(mouth("a"),)), BranchPieces(pieces=(mouth("b", 5.0),)))
    assert (delivered_m3s(high, drawn([high], 200, 1)) > 0.0).all()


def test_a_throttle_that_must_feed_a_branch_out_of_reach_stops_the_flow() -> None:
    """The second needs water that the pump cannot lift to it, and the first must leave it all of it."""
    one = mouths(BranchPieces(pieces=(mouth("a"),), throttles=True), BranchPieces(pieces=(mouth("b", 5.0),), flow_min_m3s=1e-3))
    factors = drawn([one], 20, 1)
    assert (delivered_m3s(one, factors) == 0.0).all()
    assert bracketed_m3s(one, factors, 3) < 1e-9


def test_a_draw_has_the_same_flow_whoever_is_drawn_beside_it() -> None:
    one = random_branched(3)
    factors = drawn([one], 5000, 1)
    some = np.arange(10, 5000, 501)
    few = Factors(replace(factors.draws, normals=factors.draws.normals[some]), factors.priors)
    assert delivered_m3s(one, few).tolist() == delivered_m3s(one, factors)[some].tolist()


def test_what_cannot_be_drawn_is_refused() -> None:
    one = random_branched(1)
    factors = drawn([one], 5, 1)
    with pytest.raises(ArithmeticError, match="no operating point"):
        delivered_m3s(replace(one, kinematic_m2s=math.nan), factors)
    branch = BranchPieces(pieces=(mouth("a"),))
    tee = one.splits[0].parting or one.splits[0].meeting
    for wrong in (
        {"branches": (branch, branch)},
        {"branches": (branch,), "parting": tee},
        {"branches": (branch,) * 2, "parting": mouth("b")},
    ):
        with pytest.raises(ValueError, match="side by side"):
            SplitPieces(**wrong)
    with pytest.raises(ValueError, match="no pump"):
        SplitPieces(branches=(branch, BranchPieces(pieces=(pump(),))), parting=tee)


def test_the_installed_loop_is_drawn_with_its_branches() -> None:
    """Stated, it is what keeping everything gives on the scalar path; its pieces are those of what the search keeps."""
    doubles = 0
    for seed in range(30):
        rig = bundles(seed, 3, branched=True)[0].rig
        made = installed(rig, "now")
        doubles += len(made.splits)
        assert made.ceiling_m3s == math.inf and not made.throttled
        factors = drawn([made], 10, seed)
        for row in ROWS[:2]:
            expected = bracketed_m3s(made, factors, row)
            assert delivered_m3s(made, factors)[row] == pytest.approx(expected, rel=1e-8, abs=1e-12)
        stands = stands_now(rig, Catalog(parts={}, products=()))
        theirs = candidate(stands.loop, rig.limits, "now")
        assert made.pieces == theirs.pieces
        assert [(split.pieces, split.parting, split.meeting) for split in made.splits] == [
            (split.pieces, split.parting, split.meeting) for split in theirs.splits
        ]
    assert 5 < doubles < 25
