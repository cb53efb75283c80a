"""Fillings of the trays against brute force: every tray kept, emptied or given any medium on offer."""

import math
import random
from collections import Counter
from dataclasses import dataclass
from itertools import product as every

import pytest
from small_worlds import medium, tail

from optimizer.loop.terms import tray_loss
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.items import Item, medium_item
from optimizer.model.limits import Limits
from optimizer.model.parts import Canister, Medium
from optimizer.model.rig import Tray
from optimizer.model.state import State
from optimizer.physics.water import Water
from optimizer.search.pricing import Shop
from optimizer.search.stacks import Stack, bio_area_m2, stacks

WATER = Water(temperature_c=24.0, salinity_gkg=0.0)
FREE = Limits(mechanical_stage=False, mature_media=False)


def body(trays: int) -> Canister:
    """A canister with trays of 1.5 l."""
    return Canister(
        id="body", name="body", inlet=tail(16, 12), outlet=tail(16, 12), trays=trays, tray_area_m2=0.03, tray_height_m=0.05
    )


@dataclass(frozen=True)
class Case:
    """One canister with its trays, the media on offer, and what is asked."""

    canister: Canister
    trays: tuple[Tray, ...]
    media: tuple[Medium, ...]
    limits: Limits
    shop: Shop

    def found(self) -> list[Stack]:
        """The fillings that are offered."""
        return stacks(self.canister, self.trays, self.media, self.limits, WATER, self.shop)


def random_case(seed: int) -> Case:
    """One to four trays, some empty, some dirty; up to three media in bags, sometimes short in stock."""
    rng = random.Random(seed)
    canister = body(rng.choice([1, 2, 3, 3, 4]))
    own = [
        medium("own-foam", 1.2e-7, True, 0.0),
        medium("own-rings", 4e-7, False, 500.0),
        medium("own-felt", 0.6e-7, True, 200.0),
        None,
    ]
    trays = tuple(Tray(medium=rng.choice(own), state=State(filled=rng.choice([0.0, 0.0, 0.6]))) for _ in range(canister.trays))
    kinds = [("M1", True, 0.0), ("M2", False, 700.0), ("M3", True, 300.0)]
    media = tuple(
        medium(name, 10.0 ** rng.uniform(-7.5, -6.0), *kind) for name, *kind in rng.sample(kinds, rng.choice([1, 2, 3]))
    )
    products = [
        Product(
            id=f"{m.id} {litres}",
            price=rng.randrange(200, 1500),
            lines=(Line(part_id=m.id, amount_m3=litres / 1e3),),
            stock=rng.choice([None, None, None, 2]),
        )
        for m in media
        for litres in rng.sample([1.0, 2.0, 5.0], 1)
    ]
    limits = Limits(bio_area_m2=rng.choice([0.0, 0.5, 1.5]), mechanical_stage=rng.random() < 0.5, mature_media=rng.random() < 0.5)
    return Case(canister, trays, media, limits, Shop.of(Catalog(parts={m.id: m for m in media}, products=tuple(products))))


@dataclass(frozen=True)
class Filling:
    """One filling by brute force."""

    linear: float
    quadratic: float
    volume: Counter[str]
    area: float


def every_filling(case: Case) -> list[Filling]:
    """All fillings that keep the rules: floors, at least half of the mature trays kept, none of them left empty."""
    found = []
    if meets([tray.medium for tray in case.trays], case):
        found.append(filling([(tray.medium, tray.state) for tray in case.trays], Counter(), case))
    for choice in every(["keep", "empty", *case.media], repeat=len(case.trays)):
        if not _keeps_the_rules(choice, case):
            continue
        media = [tray.medium if what == "keep" else what for what, tray in zip(choice, case.trays, strict=True)]
        media = [None if what == "empty" else what for what in media]
        volume = Counter(what.id for what in choice if isinstance(what, Medium))
        if meets(media, case):
            found.append(filling([(m, State()) for m in media], volume, case))
    return found


def _keeps_the_rules(choice: tuple[object, ...], case: Case) -> bool:
    mature = [n for n, tray in enumerate(case.trays) if tray.medium is not None and tray.medium.biological]
    kept = sum(choice[n] == "keep" for n in mature)
    if case.limits.mature_media and kept < math.ceil(len(mature) / 2):
        return False
    return all(choice[n] != "empty" for n in mature)


def meets(media: list[Medium | None], case: Case) -> bool:
    """True when a filling has the surface and the mechanical stage that are asked for."""
    area = sum(m.area_m2m3 * 1.5e-3 for m in media if m is not None and m.biological)
    mechanical = any(m is not None and m.mechanical for m in media)
    return area >= case.limits.bio_area_m2 - 1e-12 and (mechanical or not case.limits.mechanical_stage)


def filling(layers: list[tuple[Medium | None, State]], volume: Counter[str], case: Case) -> Filling:
    """What a filling loses and needs."""
    losses = [tray_loss(m, state, case.canister, WATER) for m, state in layers if m is not None]
    area = sum(m.area_m2m3 * 1.5e-3 for m, _ in layers if m is not None and m.biological)
    return Filling(sum(h.linear for h in losses), sum(h.quadratic for h in losses), volume, area)


def needs(stack: Stack) -> Counter[str]:
    """Trays of each new medium in an offered filling."""
    return Counter({item.key[1]: round(item.weight / 1.5e-3) for item in stack.items})


def price_of(volume: Counter[str], shop: Shop) -> float:
    """What new media cost, inf when they cannot be had."""
    cover = shop.cover([Item(medium_item(name, n * 1.5e-3).key, round(n * 1.5e-3, 12)) for name, n in volume.items()])
    return math.inf if cover is None else cover.price


def covers(stack: Stack, other: Filling, shop: Shop) -> bool:
    """True when an offered filling is at least as good as another whatever else is in the bundle."""
    loses = stack.loss.linear <= other.linear * (1 + 1e-9) and stack.loss.quadratic <= other.quadratic * (1 + 1e-9)
    return loses and price_of(needs(stack), shop) <= price_of(other.volume, shop)


@pytest.mark.parametrize("chunk", range(8))
def test_every_filling_that_keeps_the_rules_is_offered_or_beaten(chunk: int) -> None:
    """160 random canisters: nothing worth having is dropped."""
    missed = {}
    for seed in range(chunk * 20, chunk * 20 + 20):
        case = random_case(seed)
        offered = case.found()
        lost = [
            f
            for f in every_filling(case)
            if price_of(f.volume, case.shop) < math.inf and not any(covers(s, f, case.shop) for s in offered)
        ]
        if lost:
            missed[seed] = (len(lost), lost[0])
    assert not missed


@pytest.mark.parametrize("chunk", range(8))
def test_every_filling_offered_keeps_the_rules(chunk: int) -> None:
    """And its loss, surface and needs are those of its trays."""
    for seed in range(chunk * 20, chunk * 20 + 20):
        case = random_case(seed)
        possible = {(round(f.linear, 9), round(f.quadratic, 6), frozenset(f.volume.items())) for f in every_filling(case)}
        for stack in case.found():
            key = (round(stack.loss.linear, 9), round(stack.loss.quadratic, 6), frozenset(needs(stack).items()))
            assert key in possible
            assert [fill.tray for fill in stack.fills] == list(range(len(case.trays)))
            assert stack.bio_area_m2 == pytest.approx(sum(bio_area_m2(fill.medium, case.canister) for fill in stack.fills))
            swapped = Counter(fill.medium.id for fill in stack.fills if fill.change == "swap" and fill.medium is not None)
            assert swapped == needs(stack)


@pytest.mark.parametrize("seed", range(40))
def test_media_as_they_are_stay_an_option_whenever_they_meet_the_limits(seed: int) -> None:
    """Spending nothing and cleaning nothing is always an answer, also where cleaning is better."""
    case = random_case(seed)
    kept = [stack for stack in case.found() if stack.change == "keep"]
    assert len(kept) == meets([tray.medium for tray in case.trays], case)


def offer(*media: Medium, limits: Limits, trays: tuple[Tray, ...]) -> list[Stack]:
    """Fillings with media sold in bags that fill one tray, for 10.00 each."""
    products = tuple(Product(id=m.id, price=1000, lines=(Line(part_id=m.id, amount_m3=1.5e-3),)) for m in media)
    shop = Shop.of(Catalog(parts={m.id: m for m in media}, products=products))
    return Case(body(len(trays)), trays, media, limits, shop).found()


RINGS = Tray(medium=medium("rings", 4e-7, False, 500.0))
FOAM = Tray(medium=medium("foam", 1e-7, True, 0.0))
AIRY = medium("airy", 4e-6, False, 800.0)


def test_of_three_mature_trays_at_least_two_stay() -> None:
    """At least half of the mature biological media stays: common practice, no published source."""
    kept = [
        sum(fill.change in ("keep", "clean") for fill in stack.fills)
        for stack in offer(AIRY, limits=Limits(mechanical_stage=False), trays=(RINGS,) * 3)
    ]
    assert min(kept) == 2
    free = offer(AIRY, limits=FREE, trays=(RINGS,) * 3)
    assert min(sum(fill.change == "keep" for fill in stack.fills) for stack in free) == 0


def test_a_biological_tray_is_never_just_emptied() -> None:
    """Bacteria are swapped, not thrown away: common practice, no published source."""
    for stack in offer(AIRY, limits=FREE, trays=(RINGS, FOAM)):
        assert stack.fills[0].medium is not None
    assert any(stack.fills[1].medium is None for stack in offer(AIRY, limits=FREE, trays=(RINGS, FOAM)))


def test_the_mechanical_stage_stays() -> None:
    """One medium that catches solids is always in the way: common practice, no published source."""
    for stack in offer(AIRY, limits=Limits(), trays=(RINGS, FOAM)):
        assert any(fill.medium is not None and fill.medium.mechanical for fill in stack.fills)


def test_the_floor_of_surface_for_bacteria_holds() -> None:
    """Trays of 1.5 l: rings 0.75 m2, airy 1.2 m2; asked 1.5 m2."""
    found = offer(AIRY, limits=Limits(bio_area_m2=1.5), trays=(RINGS, FOAM, FOAM))
    assert found
    assert all(stack.bio_area_m2 >= 1.5 for stack in found)
    assert all(stack.change == "swap" for stack in found), "as it is there are only 0.75 m2"


def test_new_media_stand_mechanical_first_and_coarse_before_fine() -> None:
    """The water meets coarse before fine, bacteria last: common practice, no published source."""
    fine, coarse = medium("fine", 1e-7, True, 0.0), medium("coarse", 1e-6, True, 0.0)
    trays = (Tray(medium=None),) * 3
    orders = [
        [fill.medium.id for fill in s.fills if fill.medium]
        for s in offer(fine, coarse, AIRY, limits=Limits(bio_area_m2=1.0), trays=trays)
    ]
    assert ["coarse", "airy"] in orders
    assert all(order == sorted(order, key=["coarse", "fine", "airy"].index) for order in orders)


def test_cleaning_is_offered_when_a_tray_is_dirty_and_only_then() -> None:
    """Clean first, spend nothing."""
    dirty = Tray(medium=FOAM.medium, state=State(filled=0.5))
    assert [stack.change for stack in offer(limits=Limits(), trays=(dirty, RINGS))] == ["keep", "clean"]
    assert [stack.change for stack in offer(limits=Limits(), trays=(FOAM, RINGS))] == ["keep"]
