"""A throttle sold as an adapter can hold a ceiling from within a joint: against a full listing, and by hand."""

from dataclasses import dataclass, replace
from functools import cache

import enumeration
import pytest
from small_worlds import world

from optimizer.loop.standing import standing_loop
from optimizer.model.parts import Fitting
from optimizer.model.rig import Position
from optimizer.search.best import RESOLUTION_M3S, Outcome, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.layers import build

SEEDS = range(30, 54)


def valved(seed: int) -> Choices:
    """A small world under a ceiling of some two thirds of what it could deliver. Nothing throttles but every other adapter."""
    rig, catalog = world(seed, most=700)
    parts = dict(catalog.parts)
    for n, part_id in enumerate(sorted(parts)):
        part = parts[part_id]
        if isinstance(part, Fitting):
            parts[part_id] = replace(part, throttles=part.role == "adapter" and n % 2 == seed % 2)
    catalog = replace(catalog, parts=parts)
    free = Seeker(build(choices(rig, catalog, rig.limits))).most_flow().found
    if free is not None:
        share = (0.55, 0.7, 0.85)[seed % 3]
        ceiling = max(share * free.delivered.own_m3s, rig.limits.flow_min_m3s)
        rig = replace(rig, limits=replace(rig.limits, flow_max_m3s=ceiling))
    positions = tuple(unthrottled(position) for position in rig.positions)
    return choices(replace(rig, positions=positions), catalog, rig.limits)


def unthrottled(position: Position) -> Position:
    """A place whose own fitting does not throttle."""
    part = position.installed
    return replace(position, installed=replace(part, throttles=False)) if isinstance(part, Fitting) else position


@dataclass(frozen=True)
class Solved:
    """A world with its listing, its search and the answer to it."""

    menu: Choices
    bundles: enumeration.Bundles
    seeker: Seeker
    outcome: Outcome


@cache
def solved(seed: int) -> Solved:
    """One world, solved once for all questions."""
    menu = valved(seed)
    seeker = Seeker(build(menu))
    return Solved(menu, enumeration.every_bundle(menu), seeker, seeker.most_flow())


@pytest.mark.parametrize("seed", SEEDS)
def test_with_throttling_adapters_the_search_finds_what_a_full_listing_finds(seed: int) -> None:
    """Most flow, and the least price of a flow that must be held."""
    each = solved(seed)
    expected = enumeration.most_flow(each.bundles, each.menu, RESOLUTION_M3S)
    check(each.outcome, expected)
    if expected is not None:
        target = 0.95 * expected.flow_m3s
        cheapest, outcome = enumeration.least_price(each.bundles, each.menu, target), each.seeker.least_price(target)
        assert cheapest is not None
        assert outcome.found is not None
        check(outcome, replace(cheapest, flow_m3s=outcome.found.flow_m3s))


def check(outcome: Outcome, expected: enumeration.Best | None) -> None:
    """An answer has the price, and to the resolution the flow, that the listing has; or both have none."""
    assert outcome.status == "proved"
    assert (outcome.found is None) == (expected is None)
    if outcome.found is not None and expected is not None:
        assert outcome.found.bundle.price == expected.price
        assert outcome.found.flow_m3s == pytest.approx(expected.flow_m3s, abs=RESOLUTION_M3S * (1 + 1e-6))


def test_such_worlds_often_turn_on_a_joint() -> None:
    """In a good share of them the answer is held by an adapter."""
    assert sum(held_by_an_adapter(solved(seed)) for seed in SEEDS) >= 5


def held_by_an_adapter(each: Solved) -> bool:
    """Whether the answer would run above its ceiling and a joint on the outlet side throttles."""
    found, problem = each.outcome.found, each.seeker.problem
    if found is None:
        return False
    joints = [problem.joint(flat) for flat in found.bundle.path.joints]
    above = found.delivered.own_m3s > found.flow_m3s * (1 + 1e-9)
    return above and any(joint.throttles for joint in joints[problem.pump + 1 :])


def test_a_loop_that_an_adapter_can_throttle_says_so() -> None:
    """Days and draws hold a standing loop to its limits only where it has a throttle; one in a joint counts as one in a place."""
    held = [each for seed in SEEDS if held_by_an_adapter(each := solved(seed))]
    for each in held:
        assert each.outcome.found is not None
        problem, path = each.seeker.problem, each.outcome.found.bundle.path
        options = [problem.option(flat) for flat in path.options]
        joints = [problem.joint(flat) for flat in path.joints]
        assert standing_loop(each.menu.rig, options, joints).throttled
        assert not standing_loop(each.menu.rig, options, [replace(joint, adapters=()) for joint in joints]).throttled or any(
            option.throttles for option in options[problem.pump + 1 :]
        )
