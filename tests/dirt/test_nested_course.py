"""Branches within branches over time: three guards, each catching by its share of the flow, and what each part takes."""

from dataclasses import replace

import numpy as np
import pytest
from branched_worlds import nested_world
from dirt_cases import fed

from optimizer.answers.question import stands_now
from optimizer.dirt.course import Course, course
from optimizer.dirt.course_readings import rises
from optimizer.loop.operating import element_head_m
from optimizer.loop.split_point import split_flows
from optimizer.model.catalog import Catalog
from optimizer.model.losses import Split

DAILY, DAYS = fed(8.0, 0.4), 6.0


def followed(seed: int) -> Course:
    """The course of a nested world as it is, with its last branch there."""
    rig = nested_world(seed)[0]
    loop = stands_now(rig, Catalog(parts={}, products=())).loop
    return course(replace(loop, throttled=False), DAILY, DAYS)


GUARDS = [
    seed for seed in range(0, 36, 3) if len(stands_now(nested_world(seed)[0], Catalog(parts={}, products=())).loop.guards) == 3
][:3]
"""Worlds with three guards that are there."""


def flows_of(split: Split, flow_m3s: float, nu: float) -> list[tuple[float, ...]]:
    """Flows of both branches, and of those within them, by bracketing."""
    flows, _, _ = split_flows(split, flow_m3s, nu)
    inside = [
        each for branch, flow in zip(split.branches, flows, strict=True) for s in branch.inner for each in flows_of(s, flow, nu)
    ]
    return [flows, *inside]


@pytest.mark.parametrize("seed", GUARDS)
def test_three_guards_share_water_and_dirt(seed: int) -> None:
    """Every day the water divides as the scalar path has it, and nothing of what is fed gets lost."""
    run = followed(seed)
    nu = run.loop.water.kinematic_m2s
    for day in (0, -1):
        split = next(element.split for element in run.elements(day) if element.split is not None)
        expected = flows_of(split, float(run.flow_m3s[day]), nu)
        assert run.branches_m3s[day] == pytest.approx(np.array(expected), rel=1e-6, abs=1e-12)
    ledger = run.ledger
    assert ledger is not None and len(ledger.guards_kg) == 3 and min(ledger.guards_kg) > 0.0
    assert sum(ledger.guards_kg) + sum(ledger.trays_kg) + ledger.left_kg == pytest.approx(ledger.made_kg, rel=1e-9)


@pytest.mark.parametrize("seed", GUARDS)
def test_what_the_parts_take_is_what_the_loop_takes(seed: int) -> None:
    """Each part in a branch counts by the share of the water that passes it, and together they take the head of the loop."""
    run = followed(seed)
    nu, flow = run.loop.water.kinematic_m2s, float(run.flow_m3s[0])
    whole = [element_head_m(each, flow, nu) - each.loss.lift_m for each in run.elements(0) if each.curve is None]
    assert sum(rise.first_m for rise in rises(run)) == pytest.approx(sum(whole), rel=1e-9)


def test_there_are_worlds_with_three_guards() -> None:
    assert len(GUARDS) == 3
