"""A limit on the speed of the jets is a ceiling like the others: the search with it equals a full listing, branches too."""

import random
from collections.abc import Iterator
from dataclasses import replace

import enumeration
import exhaustive
import pytest
from branched_worlds import branched_world
from how_many import some_of
from jets import jet_speed_ms
from small_worlds import aged_world

from optimizer.answers.question import found_standing
from optimizer.answers.rows import Standing, row, with_flows
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.parts import Clamp, Outlet
from optimizer.model.rig import Rig
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

SPEEDS_MS = (0.4, 0.7, 1.0, 1.5)
"""Around what bars and open ends of small loops have (continuity)."""


def jetted(world: tuple[Rig, Catalog], seed: int) -> tuple[Rig, Catalog]:
    """A world whose jets are limited."""
    rig, catalog = world
    speed = random.Random(f"jets {seed}").choice(SPEEDS_MS)
    return replace(rig, limits=replace(rig.limits, jet_speed_ms=speed)), catalog


def speeds_ms(stands: Standing) -> Iterator[float]:
    """The fastest water out of each outlet, by the flow that passes it."""
    for option, flow in with_flows(stands):
        if isinstance(option.part, Outlet):
            yield jet_speed_ms(option.part, option.state.film_m, flow)


@pytest.mark.parametrize("seed", some_of(range(900, 930), 3))
def test_the_best_under_a_limit_on_jets_is_that_of_a_full_listing(seed: int) -> None:
    """Price, flow and noise, and nothing where there is nothing."""
    rig, catalog = jetted(aged_world(seed, most=300), seed)
    menu = choices(rig, catalog, rig.limits)
    seeker = Seeker(build(menu))
    outcome = seeker.most_flow()
    expected = enumeration.most_flow(enumeration.every_bundle(menu), menu, RESOLUTION_M3S)
    assert outcome.status == "proved"
    assert (outcome.found is None) == (expected is None)
    if outcome.found is not None and expected is not None:
        assert outcome.found.bundle.price == expected.price
        assert outcome.found.flow_m3s == pytest.approx(expected.flow_m3s, abs=RESOLUTION_M3S * (1 + 1e-6))
        assert max(speeds_ms(found_standing(rig, seeker, outcome.found))) <= rig.limits.jet_speed_ms * (1 + 1e-6)


def with_screw_clamp(catalog: Catalog) -> Catalog:
    """The same shop with something that throttles."""
    clamp = Clamp(id="S", name="screw clamp", low_m=0.014, high_m=0.030, throttles=True)
    sold = Product(id="S", price=50, lines=(Line(part_id="S"),))
    return replace(catalog, parts={**catalog.parts, "S": clamp}, products=(*catalog.products, sold))


TWO_OUTLETS = (3, 19, 26, 27, 30, 44)
"""Branched worlds whose branches end in outlets."""


def test_jets_in_branches_go_by_the_flow_of_their_branch() -> None:
    """Limited to a share of the fastest jet of the best: of all bundles, listed and solved one by one in scalars, none is
    better, and where a throttle holds the jets they are just as fast as allowed (continuity)."""
    compared = held = 0
    for seed in TWO_OUTLETS:
        rig, catalog = branched_world(seed)
        catalog = with_screw_clamp(catalog)
        free = solved(rig, catalog)
        assert free is not None
        rig = replace(rig, limits=replace(rig.limits, jet_speed_ms=0.8 * max(speeds_ms(free))))
        best = solved(rig, catalog)
        expected = exhaustive.most_flow(choices(rig, catalog, rig.limits), RESOLUTION_M3S)
        assert (best is None) == (expected is None), seed
        if best is None or expected is None:
            continue
        compared += 1
        assert best.flow_m3s == pytest.approx(expected.flow_m3s, abs=RESOLUTION_M3S), seed
        assert max(speeds_ms(best)) <= rig.limits.jet_speed_ms * (1 + 1e-6), seed
        if best.held_by == "jet_speed_ms":
            held += 1
            assert max(speeds_ms(best)) == pytest.approx(rig.limits.jet_speed_ms, rel=1e-6), seed
    assert compared > 3
    assert held > 1


def solved(rig: Rig, catalog: Catalog) -> Standing | None:
    """The best as it stands."""
    seeker = Seeker(build(choices(rig, catalog, rig.limits)))
    found = seeker.most_flow().found
    return None if found is None else found_standing(rig, seeker, found)


def test_jets_that_are_too_fast_are_a_limit_not_met() -> None:
    """What now breaks is said with the place and its speed; the answer keeps it."""
    rig, catalog = aged_world(900, most=300)
    stands = solved(rig, catalog)
    assert stands is not None
    fastest = max(speeds_ms(stands))
    tight = replace(rig.limits, jet_speed_ms=0.5 * fastest)
    told = next(each for each in row("best", rig, tight, stands).breaks if each.limit == "jet_speed_ms")
    assert told.words == f"jets of at most {0.5 * fastest:.3g} m/s at the outlet (outlet: {fastest:.3g} m/s)"
    assert "jet_speed_ms" not in [each.limit for each in row("best", rig, replace(tight, jet_speed_ms=fastest), stands).breaks]
