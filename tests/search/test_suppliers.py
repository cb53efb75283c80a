"""Several suppliers with postage, sums from which it falls away, and least orders: the search against full listings."""

import random

import enumeration
import pytest
from how_many import some_of
from supplied import listing_menu, supplied_world
from test_exactness import _cheaper_than_listed, differences, noise_of

from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import choices
from optimizer.search.front import money_flow_front
from optimizer.search.layers import build

WORLDS, CHUNK = 200, 4


@pytest.mark.parametrize("first", some_of(range(0, WORLDS, CHUNK), 4))
def test_best_cheapest_and_front_are_those_of_a_full_listing(first: int) -> None:
    """Same price with all postage, same flow to the resolution, same noise; on the front every point, and no other."""
    wrong = {}
    for seed in range(first, first + CHUNK):
        rig, catalog = supplied_world(seed)
        menu, bundles = listing_menu(rig, catalog), None
        bundles = enumeration.every_bundle(menu)
        seeker = Seeker(build(choices(rig, catalog, rig.limits)))
        outcome = seeker.most_flow()
        wrong[seed] = differences(outcome, enumeration.most_flow(bundles, menu, RESOLUTION_M3S), noise_of(seeker, outcome.found))
        target = float(max(bundles.flow_m3s, default=1e-4)) * random.Random(seed).uniform(0.4, 1.05)
        outcome = seeker.least_price(target)
        expected = enumeration.least_price(bundles, menu, target)
        wrong[seed] += _cheaper_than_listed(outcome, expected, target, noise_of(seeker, outcome.found))
        wrong[seed] += front_differences(seeker, bundles, menu)
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


def front_differences(seeker: Seeker, bundles: enumeration.Bundles, menu: enumeration.Choices) -> list[str]:
    """What a front has otherwise than the best of a listing for its budgets."""
    budget = seeker.budget if seeker.budget < 10**9 else 6000
    found = [(point.price, point.flow_m3s, point.proved) for point in money_flow_front(seeker, budget)]
    wrong = [f"not proved: {point}" for point in found if not point[2]]
    for price, flow, _ in reversed(found):
        best = enumeration.most_flow(bundles.take(bundles.price <= budget), menu, RESOLUTION_M3S)
        if best is None or best.price != price or abs(best.flow_m3s - flow) > RESOLUTION_M3S * (1 + 1e-6):
            return [*wrong, f"front {price} {flow} against {best} for {budget}"]
        budget = price - 1
    rest = enumeration.most_flow(bundles.take(bundles.price <= budget), menu, RESOLUTION_M3S)
    if rest is not None and (not found or found[0][0] > 0):
        wrong.append(f"the front lacks {rest}")
    return wrong
