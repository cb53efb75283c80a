"""Several suppliers with postage, sums from which it falls away, and least orders: the search against full listings."""

import random
from dataclasses import replace

import enumeration
import numpy as np
import pytest
from how_many import some_of
from listed_answers import cheaper_than_listed, differences, noise_of
from small_worlds import single, world
from supplied import listing_menu, supplied_world

from optimizer.model.catalog import Catalog, Supplier
from optimizer.model.items import Item
from optimizer.model.parts import Clamp
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import choices
from optimizer.search.front import money_flow_front
from optimizer.search.layers import build
from optimizer.search.pricing import Shop
from optimizer.search.suppliers import orders

WORLDS, CHUNK = [seed for seed in range(201) if seed != 35], 4
"""Random worlds (of one of them all purchases are too many to try), and how many one test takes."""


@pytest.mark.parametrize("first", some_of(range(0, len(WORLDS), CHUNK), 4))
def test_best_cheapest_and_front_are_those_of_a_full_listing(first: int) -> None:
    """Same price with all postage, same flow to the resolution, same noise; on the front every point, and no other."""
    wrong = {}
    for seed in WORLDS[first : first + CHUNK]:
        rig, catalog = supplied_world(seed)
        menu = listing_menu(rig, catalog)
        bundles = enumeration.every_bundle(menu)
        seeker = Seeker(build(choices(rig, catalog, rig.limits)))
        outcome = seeker.most_flow()
        wrong[seed] = differences(outcome, enumeration.most_flow(bundles, menu, RESOLUTION_M3S), noise_of(seeker, outcome.found))
        target = float(max(bundles.flow_m3s, default=1e-4)) * random.Random(seed).uniform(0.4, 1.05)
        outcome = seeker.least_price(target)
        expected = enumeration.least_price(bundles, menu, target)
        wrong[seed] += cheaper_than_listed(outcome, expected, target, noise_of(seeker, outcome.found))
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


def test_the_worlds_ask_what_they_are_there_for() -> None:
    """Among the answers there are orders from two suppliers, postage that is paid, postage that is not due any more, and goods
    that serve nothing but the sum."""
    paid = free = two = spare = 0
    for seed in range(80):
        rig, catalog = supplied_world(seed)
        seeker = Seeker(build(choices(rig, catalog, rig.limits)))
        found = seeker.most_flow().found
        if found is None:
            continue
        cover, products = found.bundle.cover, seeker.problem.shop.products
        sellers = {products[each.product].supplier for each in cover.purchases if not products[each.product].owned}
        charging = {each.id for each in catalog.suppliers if each.postage}
        paid += bool(cover.postage)
        free += bool(sellers & charging - dict(cover.postage).keys())
        two += len(sellers) > 1
        served = sum(len(each.items) for each in cover.purchases)
        spare += served < sum(1 for each in cover.purchases if len(products[each.product].lines) == 1)
    assert min(paid, free, two) >= 8 and spare >= 2


@pytest.mark.parametrize(("free_from", "price", "spare"), [(None, 1590, 0), (1000, 1000, 0), (1005, 1010, 1), (1600, 1590, 0)])
def test_what_is_missing_to_free_postage_is_bought_only_where_that_costs_less(
    free_from: int | None, price: int, spare: int
) -> None:
    """Goods for 10.00 and postage of 5.90: with a clamp for 0.10 on offer an order is filled up to 10.05, not up to 16.00."""
    valve, clamp = Clamp(id="V", name="clamp", low_m=0.02, high_m=0.024), Clamp(id="C", name="clamp", low_m=0.01, high_m=0.014)
    north = Supplier(id="N", name="North", postage=590, free_from=free_from)
    products = tuple(replace(single(part, price), supplier="N") for part, price in ((valve, 1000), (clamp, 10)))
    shop = Shop.of(Catalog(parts={"V": valve, "C": clamp}, products=products, suppliers=(north,)))
    ways = [replace(shop, order=order) for order in orders((north,), 5000.0)]
    covers = [cover for way in ways if (cover := way.cover([Item(("clamp", "hose", 0.022))])) is not None]
    best = min(covers, key=lambda cover: cover.price)
    assert (best.price, len(best.purchases) - 1) == (price, spare)


def test_prices_that_count_a_part_of_a_sum_never_exceed_what_a_bundle_costs() -> None:
    """Of bundles found in random worlds, at several parts of the sum; with some of them they say more than the goods do."""
    counted = sharper = 0
    for seed in some_of(range(200), 5):
        rig, catalog = supplied_world(seed)
        seeker = Seeker(build(choices(rig, catalog, rig.limits)))
        shares, found = seeker.exact.shares, [seeker.most_flow().found, seeker.least_price(1e-5).found]
        none = np.zeros(len(shares.products), dtype=bool)
        if not len(none):
            continue
        for each in (one.bundle for one in found if one is not None):
            options, joints = list(each.path.options), list(each.path.joints)
            asking = {name for name, _ in seeker.problem.shop_of(options[0]).order.floors}
            if not asking or not asking <= {seeker.problem.shop.products[some.product].supplier for some in each.cover.purchases}:
                continue  # what orders nothing there is priced in another way, at no more
            sums = [
                float(option[options].sum() + joint[joints].sum())
                for option, joint in (shares.mixed_rows(none, part) for part in (0.0, 0.25, 0.5, 0.75, 1.0))
            ]
            assert max(sums) <= each.price + 1e-6, seed
            counted, sharper = counted + 1, sharper + (max(sums[1:]) > sums[0] + 1.0)
    assert counted > 5 and sharper > 1, (counted, sharper)


def test_a_supplier_who_asks_for_nothing_changes_nothing() -> None:
    """Prices by supplier without postage are those of one shop: one way to order, the same problem."""
    rig, catalog = world(3)
    named = tuple(replace(product, supplier="N") for product in catalog.products)
    also = replace(catalog, products=named, suppliers=(Supplier(id="N", name="North"),))
    one, other = (build(choices(rig, each, rig.limits)) for each in (catalog, also))
    assert len(other.shops) == 1 and not other.choices.ways
    assert np.array_equal(one.option_plain, other.option_plain) and one.specials == other.specials


def test_a_pack_that_reaches_a_least_order_by_itself_is_bought() -> None:
    """Four clips at 0.60 come to 2.40, with a least order of 4.50 to 4.80 by eight of them; the pack of ten for 4.50 is cheaper,
    though a pack seems dear for its first clip."""
    clip = Clamp(id="C", name="clip", low_m=0.02, high_m=0.024)
    north = Supplier(id="N", name="North", least_order=450)
    products = tuple(replace(each, supplier="N") for each in (single(clip, 60), single(clip, 450, count=10, id="C-10")))
    shop = Shop.of(Catalog(parts={"C": clip}, products=products, suppliers=(north,)))
    ways = [replace(shop, order=order) for order in orders((north,), 5000.0)]
    covers = [cover for way in ways if (cover := way.cover([Item(("clamp", "hose", 0.022))] * 4)) is not None]
    assert min(cover.price for cover in covers) == 450
