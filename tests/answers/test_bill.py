"""The bill adds up: what it lists costs what the bundle costs, and every product bought stands on it."""

import pytest
from small_worlds import bar, fitting, hose, large_world, tail, world

from optimizer.answers.bill import bill_lines
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.items import Item, hose_item, medium_item, part_item
from optimizer.model.parts import Part
from optimizer.report.plan_lines import quantity_text
from optimizer.search.best import Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build
from optimizer.search.packing import Purchase
from optimizer.search.pricing import Cover, Shop


@pytest.mark.parametrize("chunk", range(6))
def test_the_bill_of_an_answer_adds_up_to_its_price(chunk: int) -> None:
    """Packs, cut lengths, coils, bags, kits, spares and paid adjustments, on random worlds small and large."""
    wrong = {}
    for seed in range(chunk * 20, chunk * 20 + 20):
        rig, catalog = large_world(seed) if seed % 4 == 3 else world(seed)
        menu = choices(rig, catalog, rig.limits)
        seeker = Seeker(build(menu))
        found = seeker.most_flow_with(seeker.all)
        if found is None:
            continue
        joints = [seeker.problem.joint(row) for row in found.bundle.path.joints]
        lines = bill_lines(menu.shop, seeker.options_of(found.bundle), joints, found.bundle.cover)
        if sum(line.price for line in lines) != found.bundle.price:
            wrong[seed] = (found.bundle.price, [(line.name, quantity_text(line), line.price) for line in lines])
        assert all(line.price == 0 for line in lines if line.owned)
        bought = {menu.shop.products[purchase.product].id for purchase in found.bundle.cover.purchases}
        assert {line.product_id for line in lines if line.product_id} == bought
    assert not wrong


PARTS: dict[str, Part] = {
    part.id: part for part in (fitting("A", "adapter", tail(16, 12), tail(12, 9)), hose("H", 16), bar("B", tail(16, 12), 12, 3.0))
}
KIT = Product(id="kit", price=500, lines=(Line(part_id="A"), Line(part_id="H", amount_m=2.0)))


def listed(shop: Shop, purchases: tuple[Purchase, ...]) -> list[tuple[str, str, int]]:
    """Name, quantity and price of the lines of a bill."""
    lines = bill_lines(shop, (), (), Cover(0, purchases))
    return [(line.product_id, quantity_text(line), line.price) for line in lines]


def test_a_kit_bought_twice_is_one_line_of_two() -> None:
    """The cheapest cover may hold a kit twice."""
    shop = Shop.of(Catalog(parts=PARTS, products=(KIT,)))
    cover = shop.cover([part_item("A"), part_item("A"), hose_item("H", 1.5), hose_item("H", 1.5)])
    assert cover is not None
    assert cover.price == 1000
    assert listed(shop, cover.purchases) == [("kit", "2", 1000)]


def test_bags_of_a_medium_are_counted_once() -> None:
    """Three litres out of bags of two: two bags, however the cover lists them, with bounded stock or without."""
    for stock in (None, 5):
        bag = Product(id="bag", price=300, lines=(Line(part_id="A", amount_m3=2e-3),), stock=stock)
        shop = Shop.of(Catalog(parts=PARTS, products=(bag,)))
        cover = shop.cover([medium_item("A", 1.5e-3), medium_item("A", 1.5e-3)])
        assert cover is not None
        assert cover.price == 600
        assert listed(shop, cover.purchases) == [("bag", "2", 600)]


def test_cut_lengths_are_listed_one_by_one() -> None:
    """By hand: 1.55 m and 0.40 m at 300 a metre in steps of 0.1 m."""
    by_metre = Product(id="cut", price=300, lines=(Line(part_id="H"),), step_m=0.1)
    shop = Shop.of(Catalog(parts=PARTS, products=(by_metre,)))
    items: list[Item] = [hose_item("H", 1.55), hose_item("H", 0.4)]
    cover = shop.cover(items)
    assert cover is not None
    assert listed(shop, cover.purchases) == [("cut", "1.55 m + 0.40 m", 600)]
