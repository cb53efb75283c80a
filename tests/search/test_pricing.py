"""Prices of sets of items against an integer program written here: packs, coils, hose by the metre, kits, bounded stock."""

import math
import random
from collections import Counter
from itertools import product as every

import pulp
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_worlds import fitting, hose, medium, tail, world

from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.items import DIVISIBLE, Item, capacity, hose_item, line_serves, medium_item, part_item
from optimizer.model.parts import Clamp, Part, Seal
from optimizer.search.choices import choices
from optimizer.search.layers import build
from optimizer.search.packing import Purchase
from optimizer.search.pricing import Cover, Shop
from optimizer.search.shared_item_sets import SharedItemSets
from optimizer.search.shares import Shares

PARTS: dict[str, Part] = {
    part.id: part
    for part in (
        fitting("A", "adapter", tail(16, 12), tail(12, 9)),
        fitting("B", "adapter", tail(19, 15), tail(16, 12)),
        hose("H", 16),
        hose("W", 19),
        Clamp(id="K", name="clamp", low_m=0.014, high_m=0.030),
        Clamp(id="S", name="small clamp", low_m=0.014, high_m=0.024),
        Seal(id="T", name="tape", closure="tape"),
        medium("M", 1e-7, True, 0.0),
    )
}
NARROW_CLAMP, WIDE_CLAMP = Item(("clamp", "hose", 0.022)), Item(("clamp", "hose", 0.027))
ITEMS = (
    part_item("A"),
    part_item("B"),
    hose_item("H", 1.5),
    hose_item("H", 0.55),
    hose_item("W", 1.5),
    NARROW_CLAMP,
    WIDE_CLAMP,
    Item(("tape", "Rc", 0.0127)),
    medium_item("M", 1.5e-3),
)


def random_shop(rng: random.Random) -> Shop:
    """A shop that sells some of the parts singly, in packs, by the metre, as coils, in bags and in kits."""
    products: list[Product] = []

    def offer(lines: tuple[Line, ...], low: int, high: int, step_m: float = 0.0) -> None:
        stock = rng.choice([None, None, 1, 2, 3])
        price = rng.randrange(low, high)
        products.append(Product(id=str(len(products)), price=price, lines=lines, stock=stock, step_m=step_m))

    for part_id in ("A", "B", "K", "S", "T"):
        if rng.random() < 0.85:
            offer((Line(part_id=part_id),), 50, 300)
        if rng.random() < 0.4:
            offer((Line(part_id=part_id, count=rng.choice([2, 4])),), 80, 500)
    for part_id in ("H", "W"):
        if rng.random() < 0.6:
            offer((Line(part_id=part_id),), 100, 400, step_m=rng.choice([0.1, 0.5]))
        for length in rng.sample([1.0, 2.0, 3.5], rng.choice([0, 1, 2])):
            offer((Line(part_id=part_id, amount_m=length),), 100, 900)
    for litres in rng.sample([1.0, 2.0, 4.0], rng.choice([1, 2])):
        offer((Line(part_id="M", amount_m3=litres / 1e3),), 200, 900)
    for _ in range(rng.choice([0, 1, 2])):
        contents = rng.sample(["A", "B", "K", "T", "H", "M"], rng.choice([2, 3]))
        amounts = {"H": {"amount_m": 2.0}, "M": {"amount_m3": 1e-3}}
        lines = tuple(Line(part_id=i, **amounts.get(i, {"count": rng.choice([1, 2])})) for i in contents)  # type: ignore[arg-type]
        offer(lines, 150, 900)
    return Shop.of(Catalog(parts=PARTS, products=tuple(products)))


def random_items(rng: random.Random, most: int = 6) -> list[Item]:
    """One to ``most`` needs, some alike."""
    return [rng.choice(ITEMS) for _ in range(rng.randint(1, most))]


def least_cost(shop: Shop, items: list[Item]) -> float:
    """The least price by an integer program: copies of products bought, each item assigned to a line of a copy (inf: none)."""
    needs = _together(items)
    program = pulp.LpProblem("cover", pulp.LpMinimize)
    served: dict[int, list[pulp.LpAffineExpression]] = {n: [] for n in range(len(needs))}
    cost: list[pulp.LpAffineExpression] = []
    for index, product in enumerate(shop.products):
        if product.step_m:
            cost += _cut_to_length(program, shop, index, needs, served)
            continue
        copies = 6 if product.stock is None else min(product.stock, 6)
        for copy in range(copies):
            bought = program.add_variable(f"n{index}_{copy}", cat=pulp.LpBinary)
            cost.append(product.price * bought)
            for place, line in enumerate(product.lines):
                uses = []
                for n, need in enumerate(needs):
                    if line_serves(line, shop.parts[line.part_id], need.key):
                        share = program.add_variable(f"x{n}_{index}_{copy}_{place}", 0, 1, _sort(need))
                        served[n].append(share)
                        uses.append(need.weight * share)
                program += pulp.lpSum(uses) <= capacity(line) * bought
    for shares in served.values():
        program += pulp.lpSum(shares) == 1
    program += pulp.lpSum(cost)
    program.solve(pulp.HiGHS(msg=False, gapRel=0.0))
    return float(pulp.value(program.objective)) if pulp.LpStatus[program.status] == "Optimal" else math.inf


def _sort(need: Item) -> str:
    return str(pulp.LpContinuous if need.key[0] == DIVISIBLE else pulp.LpBinary)


def _together(items: list[Item]) -> list[Item]:
    volume = sum(item.weight for item in items if item.key[0] == DIVISIBLE)
    whole = [item for item in items if item.key[0] != DIVISIBLE]
    return [*whole, medium_item("M", volume)] if volume else whole


def _cut_to_length(
    program: pulp.LpProblem,
    shop: Shop,
    index: int,
    needs: list[Item],
    served: dict[int, list[pulp.LpAffineExpression]],
) -> list[pulp.LpAffineExpression]:
    """Hose by the metre: whole steps are paid, and taken from the metres in stock."""
    product, cost, steps = shop.products[index], [], []
    for n, need in enumerate(needs):
        if line_serves(product.lines[0], shop.parts[product.lines[0].part_id], need.key):
            cut = program.add_variable(f"c{n}_{index}", cat=pulp.LpBinary)
            served[n].append(cut)
            taken = math.ceil(need.weight / product.step_m - 1e-9)
            cost.append(math.ceil(product.price * taken * product.step_m - 1e-6) * cut)
            steps.append(taken * cut)
    if product.stock is not None:
        program += pulp.lpSum(steps) <= round(product.stock / product.step_m)
    return cost


@pytest.mark.parametrize("chunk", range(12))
def test_the_least_price_of_a_set_of_items_is_that_of_an_integer_program(chunk: int) -> None:
    """Random shops and sets, 240 of them; also which sets cannot be had."""
    for seed in range(chunk * 20, chunk * 20 + 20):
        rng = random.Random(seed)
        shop, items = random_shop(rng), random_items(rng)
        cover = shop.cover(items)
        assert (math.inf if cover is None else cover.price) == pytest.approx(least_cost(shop, items), abs=1e-4), seed


def test_random_sets_are_a_fair_trial() -> None:
    """Some cannot be had, many share a pack, a coil or a kit."""
    impossible = shared = kits = 0
    for seed in range(240):
        rng = random.Random(seed)
        shop, items = random_shop(rng), random_items(rng)
        cover = shop.cover(items)
        impossible += cover is None
        for purchase in () if cover is None else cover.purchases:
            shared += len(purchase.items) > 1
            kits += len(shop.products[purchase.product].lines) > 1
    assert 20 < impossible < 160
    assert shared > 30
    assert kits > 15


def check_purchases(shop: Shop, items: list[Item], cover: Cover) -> None:
    """Every item is served once, by a product that can serve it and has room; what is paid is what the purchases cost."""
    needs, served = Counter(_together(items)), Counter[Item]()
    volume, paid, room = 0.0, 0, Counter[tuple[int, int]]()
    for purchase in cover.purchases:
        product, copies = shop.products[purchase.product], _copies(shop, purchase)
        by_metre = product.step_m > 0.0
        paid += sum(product.cut_price(i.weight) for i in purchase.items) if by_metre else copies * product.price
        for place, line in enumerate(product.lines):
            room[purchase.product, place] += copies * capacity(line)
            volume += copies * line.amount_m3
        for item in purchase.items:
            assert any(line_serves(line, shop.parts[line.part_id], item.key) for line in product.lines)
            served[item] += 1
    assert paid == cover.price
    for item, count in needs.items():
        assert served[item] >= 1 if item.key[0] == DIVISIBLE else served[item] == count
    assert volume >= sum(item.weight for item in needs if item.key[0] == DIVISIBLE) - 1e-9
    _check_room(shop, cover, room)
    bought = Counter(purchase.product for purchase in cover.purchases)
    for index, count in bought.items():
        product = shop.products[index]
        if product.stock is not None and product.step_m:
            cut = [item.weight for purchase in cover.purchases if purchase.product == index for item in purchase.items]
            assert sum(math.ceil(length / product.step_m - 1e-9) for length in cut) <= round(product.stock / product.step_m)
        else:
            assert product.stock is None or count <= product.stock


def _copies(shop: Shop, purchase: Purchase) -> int:
    """A volume of a medium whose price hangs on nothing else is one purchase of several bags."""
    alone = [item for item in purchase.items if item.key[0] == DIVISIBLE and shop.is_plain(item)]
    return math.ceil(alone[0].weight / capacity(shop.products[purchase.product].lines[0]) - 1e-9) if alone else 1


def _check_room(shop: Shop, cover: Cover, room: Counter[tuple[int, int]]) -> None:
    used = Counter[int]()
    for purchase in cover.purchases:
        if not shop.products[purchase.product].step_m:
            used[purchase.product] += sum(item.weight for item in purchase.items if item.key[0] != DIVISIBLE)  # type: ignore[assignment]
    for index, amount in used.items():
        lines = range(len(shop.products[index].lines))
        assert amount <= sum(room[index, place] for place in lines) + 1e-9


@pytest.mark.parametrize("chunk", range(5))
def test_the_purchases_listed_serve_every_item_and_cost_the_price(chunk: int) -> None:
    """What is bought is what the bill will show."""
    for seed in range(1000 + chunk * 100, 1100 + chunk * 100):
        rng = random.Random(seed)
        shop, items = random_shop(rng), random_items(rng, most=9)
        cover = shop.cover(items)
        if cover is not None:
            check_purchases(shop, items, cover)


@pytest.mark.parametrize("chunk", range(3))
def test_shares_never_add_up_to_more_than_the_price_nor_lone_prices_to_less(chunk: int) -> None:
    """Weak duality: the cheapest share of each item is a lower bound; buying each item for itself is an upper bound."""
    for seed in range(2000 + chunk * 100, 2100 + chunk * 100):
        rng = random.Random(seed)
        shop, items = random_shop(rng), random_items(rng)
        needs = _together(items)
        use: dict[tuple[int, int], float] = {}
        for item in needs:
            for server in shop.servers(item.key):
                place = (server.product, server.line)
                use[place] = use.get(place, 0.0) + item.weight
        cover = shop.cover(items)
        if cover is not None:
            assert sum(min(shop.shares(item, use).values()) for item in needs) <= cover.price + 1e-6, seed
            alone = [shop.alone(item) for item in needs]
            bounded = any(product.stock is not None for product in shop.products)
            if not bounded and None not in alone:
                assert cover.price <= sum(price or 0 for price in alone), seed


@pytest.mark.parametrize("seed", range(20))
def test_shares_along_any_path_of_a_problem_never_exceed_its_true_price(seed: int) -> None:
    """The same bound where it is used: random paths through the layers of random worlds."""
    rig, catalog = world(seed, most=1000)
    problem, rng = build(choices(rig, catalog, rig.limits)), random.Random(seed)
    shares = Shares(problem, SharedItemSets(problem))
    option_price, joint_price = shares.priced_rows(shares.unit_prices())
    for _ in range(40):
        options, joints = random_path(problem, rng)
        if not options:
            continue
        items = [item for row in options for item in problem.option(row).items]
        items += [item for row in joints for item in problem.joint(row).items]
        cover = problem.shop.cover(items)
        if cover is not None:
            own = sum(problem.option(row).own_price for row in options)
            charged = option_price[options].sum() + joint_price[joints].sum()
            assert charged <= cover.price + own + 1e-6


def random_path(problem, rng: random.Random) -> tuple[list[int], list[int]]:  # type: ignore[no-untyped-def]
    """Places of the options and joints of a random way through the layers; nothing where it ends blind."""
    state, options, joints = 0, [], []
    for place, layer in enumerate(problem.layers):
        ahead = [
            (joint, option)
            for joint, option in every(range(len(layer.joints)), range(len(layer.options)))
            if layer.joint_from[joint] == state and layer.joint_to[joint] == layer.entry[option]
        ]
        if not ahead:
            return [], []
        joint, option = rng.choice(ahead)
        joints.append(problem.joint_at[place] + joint)
        options.append(problem.option_at[place] + option)
        state = int(layer.leave[option])
    return options, joints


@settings(max_examples=60)
@given(st.integers(0, 10**6))
def test_the_price_of_items_does_not_depend_on_their_order_and_never_falls_when_one_is_added(seed: int) -> None:
    """A set is a set; more needs cost no less."""
    rng = random.Random(seed)
    shop, items = random_shop(rng), random_items(rng)
    cover = shop.cover(items)
    shuffled = items[:]
    rng.shuffle(shuffled)
    again = Shop(parts=shop.parts, products=shop.products).cover(shuffled)
    assert (cover and cover.price) == (again and again.price)
    more = shop.cover([*items, rng.choice(ITEMS)])
    if more is not None:
        assert cover is not None
        assert cover.price <= more.price


def test_a_pack_is_bought_once_for_all_that_it_serves() -> None:
    """By hand: eight clamps, singly 90 each, ten for 400."""
    single = Product(id="1", price=90, lines=(Line(part_id="K"),))
    pack = Product(id="10", price=400, lines=(Line(part_id="K", count=10),))
    shop = Shop.of(Catalog(parts=PARTS, products=(single, pack)))
    prices = [cover.price for n in (0, 1, 4, 5, 8, 11) if (cover := shop.cover([NARROW_CLAMP] * n)) is not None]
    assert prices == [0, 90, 360, 400, 400, 490]


def test_a_run_of_hose_comes_from_one_piece() -> None:
    """By hand: a coil of 4 m holds two runs of 1.8 m but not three, and two coils of 2 m hold one run each."""
    coils = (
        Product(id="4", price=1000, lines=(Line(part_id="H", amount_m=4.0),)),
        Product(id="2", price=600, lines=(Line(part_id="H", amount_m=2.0),)),
    )
    shop = Shop.of(Catalog(parts=PARTS, products=coils))
    run = hose_item("H", 1.8)
    prices = [cover.price for n in (1, 2, 3, 4) if (cover := shop.cover([run] * n)) is not None]
    assert prices == [600, 1000, 1600, 2000]
    assert shop.cover([hose_item("H", 4.1)]) is None


@pytest.mark.parametrize(
    ("stock", "step_m", "runs", "price"),
    [
        (3, 0.1, (1.2, 1.3), 750),
        (3, 0.1, (1.2, 1.8), 900),
        (3, 0.1, (1.25, 1.75), None),
        (3, 0.5, (1.2, 1.3), 900),
        (3, 0.5, (1.6, 1.2), None),
        (3, 0.1, (1.0, 1.0, 1.0), 900),
        (3, 0.1, (3.05,), None),
    ],
)
def test_cuts_take_from_the_roll_what_is_cut(stock: int, step_m: float, runs: tuple[float, ...], price: int | None) -> None:
    """By hand, 3.00 a metre: 1.2 and 1.3 m come from a roll of 3 m, 1.25 and 1.75 m in steps of 0.1 m (1.3 + 1.8) do not."""
    roll = Product(id="cut", price=300, lines=(Line(part_id="H"),), step_m=step_m, stock=stock)
    shop = Shop.of(Catalog(parts=PARTS, products=(roll,)))
    cover = shop.cover([hose_item("H", run) for run in runs])
    assert (None if cover is None else cover.price) == price
    assert (shop.alone(hose_item("H", max(runs))) is None) == (max(runs) > stock)


def test_bags_of_media_are_shared_between_trays() -> None:
    """By hand: three trays of 1.5 l out of bags of 2 l at 5.00 take three bags, not six."""
    shop = Shop.of(Catalog(parts=PARTS, products=(Product(id="M", price=500, lines=(Line(part_id="M", amount_m3=2e-3),)),)))
    cover = shop.cover([medium_item("M", 1.5e-3)] * 3)
    assert cover is not None
    assert cover.price == 1500


def test_a_kit_serves_as_many_items_as_it_holds_and_the_rest_is_bought() -> None:
    """By hand: the kit (two adapters, 2 m of hose) for 500 beats 300 + 300 + 400; a third adapter comes on top."""
    kit = Product(id="kit", price=500, lines=(Line(part_id="A", count=2), Line(part_id="H", amount_m=2.0)), stock=1)
    singles = (
        Product(id="A", price=300, lines=(Line(part_id="A"),)),
        Product(id="H", price=266, lines=(Line(part_id="H"),), step_m=0.1),
    )
    shop = Shop.of(Catalog(parts=PARTS, products=(kit, *singles)))
    items = [part_item("A")] * 3 + [hose_item("H", 1.5)]
    cover = shop.cover(items)
    assert cover is not None
    assert cover.price == 800
    check_purchases(shop, items, cover)
    by_kit = next(p for p in cover.purchases if shop.products[p.product].id == "kit")
    assert Counter(item.key[1] for item in by_kit.items) == {"A": 2, "H": 1}


def test_what_is_out_of_stock_is_not_on_offer() -> None:
    """A shelf that is empty sells nothing."""
    gone = Product(id="K", price=90, lines=(Line(part_id="K"),), stock=0)
    shop = Shop.of(Catalog(parts=PARTS, products=(gone,)))
    assert shop.alone(NARROW_CLAMP) is None
    assert shop.cover([NARROW_CLAMP]) is None
