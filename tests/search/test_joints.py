"""Joints against brute force: every chain of up to three adapters, tried in every order and both ways round."""

import math
import random
from collections import Counter
from dataclasses import replace

import pytest
from enumeration import Way, every_chain
from small_worlds import fitting, single, socket, tail, thread

from optimizer.loop.terms import adapter_quadratic, change_quadratic
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import Closure, End, Gender, Standard
from optimizer.model.items import Item
from optimizer.model.options import Chain
from optimizer.model.parts import Clamp, Fitting, Part, Seal
from optimizer.search.joints import MOST_PIECES, JointBook
from optimizer.search.pricing import Shop

MALE, FEMALE = Gender.MALE, Gender.FEMALE
CLOSURES: dict[str, Part] = {
    "K": Clamp(id="K", name="clamp", low_m=0.010, high_m=0.030),
    "W": Seal(id="W", name="washer", closure="washer"),
    "T": Seal(id="T", name="tape", closure="tape"),
    "C": Seal(id="C", name="cement", closure="cement"),
}
CLOSURE_PRICE = 50


def shop_of(adapters: dict[Fitting, int], extra: tuple[Product, ...] = (), closures: bool = True) -> Shop:
    """A shop that sells adapters singly, and clamps and seals for everything."""
    parts: dict[str, Part] = {part.id: part for part in adapters} | CLOSURES
    products = [single(part, price) for part, price in adapters.items()]
    if closures:
        products += [single(part, CLOSURE_PRICE) for part in CLOSURES.values()]
    return Shop.of(Catalog(parts=parts, products=(*products, *extra)))


def book_of(shop: Shop, *goals: End, dearest: float = math.inf) -> JointBook:
    """The joints of a shop, aimed at some ends."""
    adapters = [part for part in shop.parts.values() if isinstance(part, Fitting)]
    return JointBook(
        shop=shop,
        adapters=adapters,
        change=change_quadratic,
        inside=adapter_quadratic,
        targets={goal.face for goal in goals},
        dearest=dearest,
    )


def random_end(rng: random.Random) -> End:
    """A tail, a hose, a thread of one of three families, or a glued pipe, wide or narrow."""
    gender, share = rng.choice([MALE, FEMALE]), rng.choice([0.7, 0.85])
    sort = rng.choice(["tail", "tail", "tail", "hose", "hose", "thread", "thread", "slip"])
    if sort == "tail":
        size = rng.choice([16, 19])
        return tail(size, size * share)
    if sort == "hose":
        return socket(rng.choice([16, 19]))
    if sort == "slip":
        return End(standard=rng.choice([Standard.SLIP_MM, Standard.SLIP_IN]), size_m=0.020, gender=gender, bore_m=0.016 * share)
    standards = [Standard.G, Standard.G, Standard.R, Standard.RC, Standard.NPT]
    return thread(rng.choice(standards), gender, rng.choice([0.5, 0.5, 0.75]), 16 * share)


def random_shop(rng: random.Random) -> Shop:
    """Nine random adapters, a third of which throttle; some also in packs, some short in stock."""
    adapters = {
        fitting(f"A{n}", "adapter", random_end(rng), random_end(rng), n % 3 == 0): rng.randrange(50, 400) for n in range(9)
    }
    parts = list(adapters)
    extra = [Product(id="pack", price=300, lines=(Line(part_id=parts[0].id, count=3),))] if rng.random() < 0.5 else []
    if rng.random() < 0.5:
        extra.append(Product(id="clamps", price=200, lines=(Line(part_id="K", count=10),)))
    return shop_of(adapters, tuple(extra))


Rank = tuple[float, int, Counter[Item], bool]


def rank(way: Way | Chain, shop: Shop) -> Rank:
    """Loss, price of what has a fixed price, everything else that is needed, and whether it can be throttled."""
    plain = sum(shop.alone(item) or 0 for item in way.items if shop.is_plain(item))
    return way.quadratic, plain, Counter(item for item in way.items if not shop.is_plain(item)), way.throttles


def beats(one: Rank, other: Rank) -> bool:
    """No more loss, no dearer, nothing shared that the other does not need too, and a throttle where the other has one."""
    return one[0] <= other[0] * (1 + 1e-12) and one[1] <= other[1] and one[2] <= other[2] and one[3] >= other[3]


def wide_open(ranks: list[Rank]) -> list[Rank]:
    """The same where nothing is throttled."""
    return [(loss, plain, special, False) for loss, plain, special, _ in ranks]


def all_ways(shop: Shop, start: End, goal: End) -> list[Way]:
    """Every chain whose pieces can all be had."""
    adapters = [part for part in shop.parts.values() if isinstance(part, Fitting)]
    return [way for way in every_chain(adapters, start, goal) if None not in map(shop.alone, way.items)]


@pytest.mark.parametrize("chunk", range(6))
def test_no_chain_is_missing_and_none_is_made_up(chunk: int) -> None:
    """Every possible chain is beaten or equalled by one that is offered; every one offered is possible."""
    for seed in range(chunk * 20, chunk * 20 + 20):
        rng = random.Random(seed)
        shop, ends = random_shop(rng), [random_end(rng) for _ in range(4)]
        book = book_of(shop, *ends)
        for start in ends:
            for goal in ends:
                offered = [rank(chain, shop) for chain in book.chains(start, goal)]
                ways = [rank(way, shop) for way in all_ways(shop, start, goal)]
                assert all(any(beats(one, way) for one in offered) for way in ways), (seed, start.label, goal.label)
                assert all(any(beats(way, one) for way in ways) for one in offered), (seed, start.label, goal.label)
                fewer, plain = wide_open([rank(c, shop) for c in book.chains_wide_open(start, goal)]), wide_open(ways)
                assert all(any(beats(one, way) for one in fewer) for way in plain), (seed, start.label, goal.label)
                assert not any(beats(one, other) for one in fewer for other in fewer if one is not other)


def test_the_trial_is_fair() -> None:
    """Brute force finds joints of nought, one, two and three adapters, and many pairs that never close."""
    pieces: Counter[int] = Counter()
    closed = open_pairs = 0
    for seed in range(120):
        rng = random.Random(seed)
        shop, ends = random_shop(rng), [random_end(rng) for _ in range(4)]
        for start in ends:
            for goal in ends:
                ways = all_ways(shop, start, goal)
                pieces.update(len(way.pieces) for way in ways)
                closed += bool(ways)
                open_pairs += not ways
    assert all(pieces[n] > 30 for n in range(MOST_PIECES + 1))
    assert closed > 200
    assert open_pairs > 200


@pytest.mark.parametrize("seed", range(40))
def test_a_chain_offered_really_closes(seed: int) -> None:
    """Its pieces in the order of the water mate one by one; its loss, price and needs are those of its pieces."""
    rng = random.Random(seed)
    shop, ends = random_shop(rng), [random_end(rng) for _ in range(3)]
    book = book_of(shop, *ends)
    for start in ends:
        for goal in ends:
            possible = {way.pieces: way for way in all_ways(shop, start, goal)}
            for chain in book.chains(start, goal):
                way = possible[tuple((turned.part.id, turned.flipped) for turned in chain.adapters)]
                assert chain.quadratic == pytest.approx(way.quadratic, rel=1e-12)
                assert Counter(chain.items) == Counter(way.items)
                assert len(chain.matings) == len(chain.adapters) + 1
                assert chain.plain == rank(chain, shop)[1]
                assert Counter(chain.special) == rank(chain, shop)[2]


@pytest.mark.parametrize("seed", range(30))
def test_steering_by_the_ends_to_be_reached_loses_nothing(seed: int) -> None:
    """Aimed at every face there is, the same chains are found: pruning by hops is only a matter of speed."""
    rng = random.Random(seed)
    shop, ends = random_shop(rng), [random_end(rng) for _ in range(2)]
    adapters = [part for part in shop.parts.values() if isinstance(part, Fitting)]
    everything = [end for part in adapters for end in (part.inlet, part.outlet)]
    everything += [replace(end, gender=MALE if end.gender is FEMALE else FEMALE) for end in everything]
    aimed, unaimed = book_of(shop, ends[1]), book_of(shop, *ends, *everything)
    assert costs(aimed.chains(*ends)) == costs(unaimed.chains(*ends))


def costs(chains: tuple[Chain, ...]) -> list[tuple[float, int, tuple[Item, ...]]]:
    """What tells chains apart."""
    return sorted((round(chain.quadratic, 6), chain.plain, chain.special) for chain in chains)


def closes(adapters: dict[Fitting, int], start: End, goal: End) -> bool:
    """True when a joint can be closed."""
    return bool(book_of(shop_of(adapters), goal).chains(start, goal))


def to_tail(standard: Standard, gender: Gender) -> Fitting:
    """A thread on one side, a 16 mm tail on the other."""
    return fitting(f"{standard.value} {gender.value}", "adapter", thread(standard, gender, 0.5, 14), tail(16, 12))


def test_npt_never_meets_g_or_r_however_many_adapters_there_are() -> None:
    """60 against 55 degree threads (ASME B1.20.1, ISO 7-1, ISO 228-1): only an adapter with NPT on one side leads
    away from NPT."""
    whitworth = {
        to_tail(standard, gender): 100 for standard in (Standard.G, Standard.R, Standard.RC, Standard.RP) for gender in Gender
    }
    stub = {fitting("stub", "adapter", socket(16), socket(16)): 50}
    for gender in Gender:
        assert not closes(whitworth | stub, thread(Standard.NPT, gender, 0.5, 14), tail(16, 12))
    true_one = {to_tail(Standard.NPT, FEMALE): 100}
    assert closes(whitworth | stub | true_one, thread(Standard.NPT, MALE, 0.5, 14), tail(16, 12))


def test_metric_glued_pipe_never_meets_inch_pipe() -> None:
    """Common practice, no published source: they do not fit, whatever it looks like on the bench."""
    ends = {
        standard: [End(standard=standard, size_m=0.025, gender=g, bore_m=0.02) for g in Gender]
        for standard in (Standard.SLIP_MM, Standard.SLIP_IN)
    }
    sleeves = {fitting(f"{s.value} sleeve", "adapter", ends[s][1], ends[s][1]): 100 for s in ends}
    male_mm, male_in = ends[Standard.SLIP_MM][0], ends[Standard.SLIP_IN][0]
    assert closes(sleeves, male_mm, male_mm)
    assert not closes(sleeves, male_mm, male_in)
    across = {fitting("across", "adapter", ends[Standard.SLIP_MM][1], ends[Standard.SLIP_IN][1]): 300}
    assert closes(sleeves | across, male_mm, male_in)
    assert closes(sleeves | across, male_in, male_mm), "turned round"


@pytest.mark.parametrize("pieces", range(1, MOST_PIECES + 2))
def test_a_joint_of_more_than_three_adapters_is_not_offered(pieces: int) -> None:
    """It leaks and rattles: common practice, no published source. Keys of maker's unions allow exactly one way."""

    def union(number: int, gender: Gender) -> End:
        return End(standard=Standard.UNION, size_m=0.02, gender=gender, bore_m=0.015, key=str(number))

    steps = {fitting(f"A{n}", "adapter", union(n, FEMALE), union(n + 1, MALE)): 10 for n in range(pieces)}
    assert closes(steps, union(0, MALE), union(pieces, FEMALE)) == (pieces <= MOST_PIECES)


def test_every_bore_on_the_way_counts() -> None:
    """A 16 mm hose on tails of different bores loses differently, and so does every step inside a chain."""
    hose_end = socket(16)
    losses = []
    for bore in (10.0, 12.0, 14.0, 16.0):
        (chain,) = book_of(shop_of({}), tail(16, bore)).chains(hose_end, tail(16, bore))
        losses.append(chain.quadratic)
    assert losses == sorted(losses, reverse=True)
    assert losses[-1] == 0.0
    for where in range(2):
        chains = []
        for bore in (10.0, 13.0):
            bores = [14.0, 14.0]
            bores[where] = bore
            reducer = fitting("A", "adapter", tail(16, bores[0]), tail(19, bores[1]))
            (chain,) = book_of(shop_of({reducer: 10}), socket(19)).chains(socket(16), socket(19))
            chains.append(chain.quadratic)
        assert chains[0] > chains[1] > 0.0


def test_the_way_round_of_an_adapter_counts() -> None:
    """A step up loses less or more than a step down (Borda and Carnot, Crane TP-410)."""
    reducer = fitting("A", "adapter", tail(16, 9.0), tail(19, 18.0))
    book = book_of(shop_of({reducer: 10}), socket(16), socket(19))
    (up,), (down,) = book.chains(socket(16), socket(19)), book.chains(socket(19), socket(16))
    assert up.quadratic != down.quadratic
    assert (up.adapters[0].flipped, down.adapters[0].flipped) == (False, True)


def test_every_hose_joint_needs_a_clamp_for_that_hose() -> None:
    """Hose fits its tail and is clamped: common practice, no published source. Two hoses on one reducer: two clamps,
    two sizes."""
    reducer = fitting("A", "adapter", tail(16, 12), tail(19, 15))
    book = book_of(shop_of({reducer: 10}), socket(19))
    (chain,) = book.chains(socket(16), socket(19))
    assert [pair.closure for pair in chain.matings] == [Closure.CLAMP, Closure.CLAMP]
    assert sorted(item.key for item in chain.items if item.key[0] == "clamp") == [
        ("clamp", "hose", 0.022),
        ("clamp", "hose", 0.027),
    ]
    assert chain.plain == 10 + 2 * CLOSURE_PRICE


def test_a_joint_without_its_clamp_or_seal_on_sale_does_not_close() -> None:
    """A part that fits is no joint yet."""
    nothing = book_of(shop_of({}, closures=False), tail(16, 12))
    assert nothing.chains(socket(16), tail(16, 12)) == ()
    small = Product(id="small", price=10, lines=(Line(part_id="K"),))
    clamped = Shop.of(Catalog(parts={"K": Clamp(id="K", name="clamp", low_m=0.01, high_m=0.02)}, products=(small,)))
    assert book_of(clamped, tail(16, 12)).chains(socket(16), tail(16, 12)) == (), "the clamp is too small for 22 mm"


def test_a_makers_union_needs_nothing_to_close() -> None:
    """Its seal comes with it."""
    male = End(standard=Standard.UNION, size_m=0.02, gender=MALE, bore_m=0.015, key="CQM")
    (chain,) = book_of(shop_of({}, closures=False), male).chains(replace(male, gender=FEMALE), male)
    assert (chain.items, chain.plain, chain.quadratic) == ((), 0, 0.0)


def test_joints_dearer_than_the_budget_are_left_out() -> None:
    """Nobody can buy them."""
    reducer = fitting("A", "adapter", tail(16, 12), tail(19, 15))
    shop = shop_of({reducer: 900})
    assert book_of(shop, socket(19), dearest=1000).chains(socket(16), socket(19))
    assert not book_of(shop, socket(19), dearest=999).chains(socket(16), socket(19))


def test_of_two_adapters_with_the_same_ends_the_dearer_and_narrower_is_dropped() -> None:
    """And the dearer but wider one is kept beside the cheap one."""
    ends = (tail(16, 14), tail(19, 16))
    cheap, worse, wide = (
        fitting(name, "adapter", *ends, passage_mm=bore) for name, bore in (("cheap", 11), ("worse", 10), ("wide", 14))
    )
    book = book_of(shop_of({cheap: 100, worse: 120, wide: 300}), socket(19))
    assert [chain.adapters[0].part.id for chain in book.chains(socket(16), socket(19))] == ["cheap", "wide"]


@pytest.mark.parametrize(
    ("count", "stock", "price"),
    [(1, None, 2 * 200 + 70), (2, None, 200 + 70), (1, 1, None), (1, 2, 2 * 200 + 70), (2, 1, 200 + 70)],
)
def test_an_adapter_used_twice_in_a_joint_is_paid_and_billed_twice(count: int, stock: int | None, price: int | None) -> None:
    """By hand: two hoses are joined by a tail, a double socket and the same tail turned round, two clamps and two washers.
    Out of a pack of two one purchase serves both, and of the last single tail there is only one."""
    stub, double = fitting("A", "adapter", tail(16, 13), thread(Standard.G, MALE, 0.5, 13)), thread(Standard.G, FEMALE, 0.5, 13)
    parts: dict[str, Part] = {"A": stub, "B": fitting("B", "adapter", double, double)} | CLOSURES
    products = [single(parts["B"], 70), *(single(part, CLOSURE_PRICE) for part in CLOSURES.values())]
    shop = Shop.of(Catalog(parts=parts, products=(single(stub, 200, count=count, stock=stock), *products)))
    book = JointBook(
        shop=shop,
        adapters=[part for part in parts.values() if isinstance(part, Fitting)],
        change=change_quadratic,
        inside=adapter_quadratic,
        targets={socket(16).face},
        dearest=math.inf,
    )
    (chain,) = book.chains(socket(16), socket(16))
    assert [(turned.part.id, turned.flipped) for turned in chain.adapters if turned.part.id == "A"] == [("A", False), ("A", True)]
    cover = shop.cover(chain.items)
    assert (None if cover is None else cover.price) == (None if price is None else price + 4 * CLOSURE_PRICE)
    if cover is not None:
        served = [item for purchase in cover.purchases for item in purchase.items if item == Item(("part", "A", 0.0))]
        assert len(served) == 2


def test_tape_for_r_closes_a_joint_of_r_and_rc() -> None:
    """ISO 7-1; the same joint cannot be closed with tape for NPT."""
    for standard, closed in (("R", 1), ("Rc", 1), ("NPT", 0)):
        tape = Seal(id="T", name="tape", closure="tape", standard=standard)
        shop = Shop.of(Catalog(parts={"T": tape}, products=(single(tape, 120),)))
        female = thread(Standard.RC, FEMALE, 0.5, 13)
        assert len(book_of(shop, female).chains(thread(Standard.R, MALE, 0.5, 13), female)) == closed
