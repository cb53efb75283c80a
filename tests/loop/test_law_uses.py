"""The values that laws are used at: of every part with the flow that passes it, and of the trays."""

from math import pi

import pytest
from branched_worlds import branched_world
from small_worlds import world

from optimizer.answers.question import stands_now
from optimizer.answers.rows import Standing
from optimizer.loop.law_uses import law_uses
from optimizer.model.parts import Hose
from optimizer.physics.hose import REYNOLDS_RANGE
from optimizer.physics.validity import Validity


def used(stands: Standing, validity: Validity) -> dict[str, float]:
    """The values that a law is used at, by place."""
    flows = {place: flows for place, flows, _ in stands.branch_flows}
    return {use.place: use.value for use in law_uses(stands.loop, stands.flow_m3s, flows) if use.validity is validity}


def test_a_hose_in_a_branch_has_the_reynolds_number_of_its_own_flow() -> None:
    """4 Q / (pi D nu) by its definition; the flows of two branches are those that the head at their ends divides."""
    told = 0
    for seed in range(30):
        rig, catalog = branched_world(seed)
        stands = stands_now(rig, catalog)
        numbers = used(stands, REYNOLDS_RANGE)
        for fork in stands.loop.forks:
            flows = next(each for place, each, _ in stands.branch_flows if place == fork.place)
            assert sum(flows) == pytest.approx(stands.flow_m3s)
            for flow, (first, last) in zip(flows, fork.parts, strict=True):
                for one in stands.loop.stands[first:last]:
                    if isinstance(one.part, Hose):
                        bore = one.part.inside_m - 2.0 * one.state.film_m
                        by_hand = 4.0 * flow / (pi * bore * stands.loop.water.kinematic_m2s)
                        assert numbers[one.position.name] == pytest.approx(by_hand)
                        told += 1
    assert told >= 10


def test_a_loop_that_does_not_flow_is_not_asked_at_what_flow_its_laws_hold() -> None:
    rig, catalog = world(1)
    stands = stands_now(rig, catalog)
    still = [use for use in law_uses(stands.loop, 0.0, {}) if use.validity is REYNOLDS_RANGE]
    assert used(stands, REYNOLDS_RANGE) and still == []
