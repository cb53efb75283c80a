"""The search misses nothing: it equals a full listing of small worlds, and a mixed-integer program on large ones.

The listing shares no bound, no dominance and no loop solver with the search; the mixed-integer program (PuLP, HiGHS)
shares no bound,
no dominance and no branching with it.
"""

import random
from dataclasses import dataclass, replace

import bundle_program
import enumeration
import exhaustive
import numpy as np
import pytest
from how_many import some_of
from listed_answers import cheaper_than_listed, differences, noise_of
from small_worlds import aged_world, large_world

from optimizer.model.parts import Guard, Part
from optimizer.search import exact
from optimizer.search.best import RESOLUTION_M3S, Found, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.layers import build

WORLDS, CHUNK = 320, 10
"""Random worlds, and how many one test takes."""

LARGE_WORLDS, LARGE_CHUNK = 40, 5

HEAD_TOLERANCE_M = 1e-6
"""Surplus that the tolerances of a mixed-integer solver can leave."""


@dataclass(frozen=True)
class Listed:
    """A small world with all its affordable bundles."""

    seed: int
    menu: Choices
    bundles: enumeration.Bundles

    @property
    def best(self) -> enumeration.Best | None:
        """The preferred one of all bundles."""
        return enumeration.most_flow(self.bundles, self.menu, RESOLUTION_M3S)


def listed(seed: int) -> Listed:
    """A small world, listed."""
    rig, catalog = aged_world(seed)
    menu = choices(rig, catalog, rig.limits)
    return Listed(seed, menu, enumeration.every_bundle(menu))


@pytest.fixture(scope="module", params=some_of(range(WORLDS // CHUNK), 4))
def worlds(request: pytest.FixtureRequest) -> list[Listed]:
    """Some small worlds, listed once for all questions."""
    return [listed(seed) for seed in range(request.param * CHUNK, (request.param + 1) * CHUNK)]


MESHED = range(8)


def meshed(part: Part) -> Part:
    """A guard as a fine mesh of a tenth of the face, whose loss is mostly linear in the flow; anything else as it is."""
    if not isinstance(part, Guard):
        return part
    return replace(part, form="mesh", opening_m=0.3e-3, face_area_m2=part.face_area_m2 / 10.0)


@pytest.mark.parametrize("seed", some_of(MESHED, 2))
def test_the_search_finds_what_a_full_listing_finds_behind_meshes(seed: int) -> None:
    """A mesh in slow water loses in proportion to the flow, where slots lose with its square."""
    rig, catalog = aged_world(seed)
    places = tuple(replace(each, installed=each.installed and meshed(each.installed)) for each in rig.positions)
    rig = replace(rig, positions=places, spares=tuple(replace(each, part=meshed(each.part)) for each in rig.spares))
    catalog = replace(catalog, parts={key: meshed(part) for key, part in catalog.parts.items()})
    menu = choices(rig, catalog, rig.limits)
    lossy = [option.loss.linear for options in menu.options for option in options if isinstance(option.part, Guard)]
    each, seeker = Listed(seed, menu, enumeration.every_bundle(menu)), Seeker(build(menu))
    outcome = seeker.most_flow()
    assert lossy and min(lossy) > 0.0
    assert differences(outcome, each.best, noise_of(seeker, outcome.found)) == []


def test_the_search_finds_what_a_full_listing_finds(worlds: list[Listed]) -> None:
    """Same price, same flow to the resolution, same noise, and nothing where there is nothing."""
    wrong = {}
    for each in worlds:
        seeker = Seeker(build(each.menu))
        outcome = seeker.most_flow()
        wrong[each.seed] = differences(outcome, each.best, noise_of(seeker, outcome.found))
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


def test_it_finds_the_same_where_every_question_is_crowded(worlds: list[Listed], monkeypatch: pytest.MonkeyPatch) -> None:
    """With next to no partial paths allowed, every question is split by pump, and put elsewhere first as too hard for a hurry:
    ways that large worlds alone take otherwise."""
    monkeypatch.setattr(exact, "FEW_LABELS", 0)
    monkeypatch.setattr(exact, "HURRIED_LABELS", 1)
    monkeypatch.setattr(exact, "BEAM", 2)
    wrong = {}
    for each in worlds[::2]:
        seeker = Seeker(build(each.menu))
        outcome = seeker.most_flow()
        wrong[each.seed] = differences(outcome, each.best, noise_of(seeker, outcome.found))
        target = 0.8 * float(max(each.bundles.flow_m3s, default=1e-4))
        outcome = seeker.least_price(target)
        expected = enumeration.least_price(each.bundles, each.menu, target)
        wrong[each.seed] += cheaper_than_listed(outcome, expected, target, noise_of(seeker, outcome.found))
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


def test_a_bound_from_shared_out_prices_is_never_below_the_best(worlds: list[Listed]) -> None:
    """What a stopped search says could still exist is at least what a full listing finds."""
    for each in worlds[::2]:
        seeker = Seeker(build(each.menu))
        top = float(each.bundles.flow_m3s.max(initial=0.0))
        assert seeker.bound() >= min(top, seeker.limits.flow_max_m3s) * (1 - 1e-9), each.seed


def test_the_least_price_for_a_target_is_that_of_a_full_listing(worlds: list[Listed]) -> None:
    """For a target drawn from what the world can deliver, now and then above it."""
    wrong = {}
    for each in worlds:
        top = float(max(each.bundles.flow_m3s, default=1e-4))
        target = top * random.Random(each.seed).uniform(0.4, 1.05)
        seeker = Seeker(build(each.menu))
        outcome = seeker.least_price(target)
        expected = enumeration.least_price(each.bundles, each.menu, target)
        wrong[each.seed] = cheaper_than_listed(outcome, expected, target, noise_of(seeker, outcome.found))
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


def test_worlds_are_rich_and_mostly_have_an_answer() -> None:
    """The comparison is worth something: dozens to thousands of bundles each, two in three with an answer, most of
    them bought."""
    some = [listed(seed) for seed in range(0, WORLDS, 8)]
    sizes = [enumeration.number_of_bundles(each.menu) for each in some]
    assert np.median(sizes) > 120
    assert max(sizes) > 1000
    answers = [each.best for each in some if each.best is not None]
    assert len(answers) > 0.65 * len(some)
    assert sum(answer.price > 0 for answer in answers) > 0.65 * len(answers)


@pytest.mark.parametrize("seed", range(12))
def test_both_listings_agree(seed: int) -> None:
    """The plain enumeration of the package, one bundle after another in scalars, and the one in arrays."""
    rig, catalog = aged_world(1000 + seed, most=100)
    menu = choices(rig, catalog, rig.limits)
    bundles = enumeration.every_bundle(menu)
    budget = float("inf") if rig.limits.budget is None else rig.limits.budget
    plain = [each for each in exhaustive.all_bundles(menu, budget) if each.flow_m3s > 1e-9]
    flows = [np.unique(np.round(f, 13)) for f in ([each.flow_m3s for each in plain], bundles.flow_m3s)]
    assert all(np.abs(flows[1] - flow).min() < 1e-11 for flow in flows[0])
    assert all(np.abs(flows[0] - flow).min() < 1e-11 for flow in flows[1])
    one, other = exhaustive.most_flow(menu, RESOLUTION_M3S), enumeration.most_flow(bundles, menu, RESOLUTION_M3S)
    assert (one is None) == (other is None)
    if one is not None and other is not None:
        assert (one.price, one.noise_dba) == (other.price, other.noise_dba)
        assert one.flow_m3s == pytest.approx(other.flow_m3s, rel=1e-9)


@pytest.mark.parametrize("chunk", some_of(range(LARGE_WORLDS // LARGE_CHUNK), 2))
def test_a_mixed_integer_program_finds_nothing_better_in_large_worlds(chunk: int) -> None:
    """At the winning flow and a little above, no affordable bundle has head to spare; none that delivers it is cheaper."""
    wrong = {}
    for seed in range(chunk * LARGE_CHUNK, (chunk + 1) * LARGE_CHUNK):
        rig, catalog = large_world(seed, aged=True)
        seeker = Seeker(build(choices(rig, catalog, rig.limits)))
        found = seeker.most_flow_with(seeker.all)
        wrong[seed] = ["search stopped"] if seeker.tally.stopped else _refuted(seeker, found)
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


def _refuted(seeker: Seeker, found: Found | None) -> list[str]:
    problem = seeker.problem
    floor = max(seeker.limits.flow_min_m3s, 1e-7)
    won = floor if found is None else found.flow_m3s
    above = won if found is None else won + RESOLUTION_M3S
    wrong = []
    if above <= seeker.limits.flow_max_m3s:
        allowed = (problem.high > above) & (problem.low <= above)
        surplus = bundle_program.greatest_surplus(problem, above, float(seeker.budget), allowed).value
        if surplus is not None and surplus > HEAD_TOLERANCE_M:
            wrong.append(f"{surplus} m of head to spare at {above}")
    if found is not None:
        allowed = (problem.high >= won * (1 - 1e-9)) & (problem.low <= won * (1 + 1e-9))
        price = bundle_program.least_price(problem, won * (1 - 1e-9), allowed).value
        if price is None or abs(price - found.bundle.price) > 0.5:
            wrong.append(f"price {found.bundle.price} against {price}")
    return wrong


def test_large_worlds_are_too_large_to_list() -> None:
    """A hundred thousand to a thousand million bundles, most of them."""
    sizes = []
    for seed in range(LARGE_WORLDS):
        rig, catalog = large_world(seed, aged=True)
        sizes.append(build(choices(rig, catalog, rig.limits)).combinations())
    assert np.median(sizes) > 1e5
    assert max(sizes) > 1e9
