"""What passes each branch and each device, as the answer says it, against the limits and against one another."""

from dataclasses import replace
from functools import cache
from unittest import mock

import pytest
from branched_worlds import branched_world
from how_many import some_of
from small_worlds import large_world

from optimizer.answers import question
from optimizer.answers.question import Question, answer, found_standing
from optimizer.answers.rows import Standing, with_flows
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.parts import Guard
from optimizer.model.results import Conflict, Result
from optimizer.model.rig import Rig
from optimizer.report.text import render
from optimizer.search.best import Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

SEEDS = some_of(range(40), 2)
SLOW_MS = 0.03


@cache
def answered(seed: int) -> Result:
    """The answer for a random branched rig, without the reasons of one that there is none for: they are no matter of flows, and
    take most of the time (`test_conflict` has those of a rig with branches)."""
    rig, catalog = branched_world(seed)
    unexplained = Conflict(limits=(), closest="", remedies=())
    with mock.patch.object(question, "conflict", return_value=unexplained):
        return answer(Question(rig=rig, catalog=catalog, limits=rig.limits))


@pytest.mark.parametrize("chunk", range(4))
def test_branches_share_the_whole_flow_and_stay_in_their_windows(chunk: int) -> None:
    """In every row the branches carry what the loop delivers (continuity); in the best one all windows are kept."""
    seen = 0
    for seed in SEEDS[chunk::4]:
        result = answered(seed)
        rows = {row.name: row for row in (result.now, result.spend_nothing, result.best) if row is not None}
        for name, row in rows.items():
            flows = [line.flow_m3s for line in result.branches if line.row == name]
            if flows:
                seen += 1
                assert sum(flows) == pytest.approx(row.flow_m3s, rel=1e-9), seed
        if result.best is not None:
            assert all(line.kept for line in result.windows if line.row == "best"), seed
            assert not result.best.breaks, seed
    assert seen > 1


@pytest.mark.parametrize("seed", SEEDS[:12])
def test_the_bill_of_a_branched_bundle_adds_up(seed: int) -> None:
    """What the lines cost is what the verdict says, and every line says where it goes."""
    result = answered(seed)
    if result.best is None:
        return
    assert sum(line.price for line in result.bill) == result.best.price
    assert all(line.places for line in result.bill if not line.owned)
    added = [change.position for change in result.changes if change.change == "add" and "tee" in change.position]
    between = {place for line in result.joints for place in line.between}
    assert set(added) <= between


def test_a_branch_that_passes_nothing_is_cautioned_about() -> None:
    """Its mouth stands higher than its pump lifts water at no flow, so nothing can come out there."""
    rig, _ = next(world for world in map(branched_world, SEEDS) if world[0].positions[-1].branches and _both(world[0]))
    last = rig.positions[-1]
    outlet = last.branches[1].positions[-1]
    high = replace(last.branches[1], positions=(*last.branches[1].positions[:-1], replace(outlet, height_m=3.0, adjusts=())))
    raised = replace(last, branches=(last.branches[0], high), stays=True)
    dry = replace(rig, positions=(*rig.positions[:-1], raised), target_m3s=0.0)
    result = answer(Question(rig=dry, catalog=Catalog(parts={}, products=()), limits=Limits()))
    flows = {line.branch: line.flow_m3s for line in result.branches if line.row == "now"}
    assert flows[high.name] == pytest.approx(0.0, abs=1e-9)
    assert result.now.flow_m3s > 1e-6
    caution = next(line for line in result.cautions if line.startswith(f"Branch {high.name} passes nothing"))
    assert "above what its share of the head reaches" in caution
    assert f"now: nothing passes {high.name}." in render(result, full=True)
    assert not any("passes nothing" in line for line in answered(SEEDS[0]).cautions)


def _both(rig: Rig) -> bool:
    return all(branch.installed for branch in rig.positions[-1].branches)


def test_a_throttle_for_the_speed_at_a_guard_is_named_so() -> None:
    """At the flow it is held to, some guard passes just the speed allowed over its free area (continuity)."""
    seen = 0
    for world in (branched_world, large_world):
        for seed in range(5):
            rig, catalog = world(seed)
            stands = stands_at_limit(rig, catalog)
            if stands is None or stands.held_by != "guard_speed_ms":
                continue
            seen += 1
            speeds = [
                flow / (option.part.face_area_m2 * (1.0 - option.state.blocked))
                for option, flow in with_flows(stands)
                if isinstance(option.part, Guard)
            ]
            assert max(speeds) == pytest.approx(SLOW_MS, rel=1e-6)
    assert seen


def stands_at_limit(rig: Rig, catalog: Catalog) -> Standing | None:
    """The best for a sum under a limit on the speed at the guard alone."""
    limits = replace(Limits().without(*Limits().binding), guard_speed_ms=SLOW_MS, budget=3000)
    seeker = Seeker(build(choices(rig, catalog, limits)))
    found = seeker.most_flow().found
    return None if found is None else found_standing(rig, seeker, found)
