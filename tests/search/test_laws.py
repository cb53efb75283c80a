"""Laws that any best answer obeys, whatever the catalog: budget, dominated and unused parts, order, repetition, limits."""

import random
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from how_many import some_of
from small_worlds import LITRE_PER_HOUR, aged_world, world

from optimizer import api
from optimizer.model.catalog import Catalog, Line
from optimizer.model.limits import Limits
from optimizer.model.parts import Fitting, Guard, Outlet, Part, Pump
from optimizer.model.rig import Rig
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
SEEDS = some_of(range(400, 424), 3)
CHUNK = 8
CHUNKS = [list(SEEDS[first : first + CHUNK]) for first in range(0, len(SEEDS), CHUNK)]


@dataclass(frozen=True)
class Answer:
    """What is told to the keeper, in numbers: nothing found is a flow of 0."""

    price: int
    flow_m3s: float
    parts: tuple[str, ...] = ()

    def same(self, other: "Answer") -> bool:
        """Equal price, and flow to the resolution."""
        return self.price == other.price and abs(self.flow_m3s - other.flow_m3s) <= RESOLUTION_M3S


def free_of_ceilings(rig: Rig) -> Rig:
    """The rig without limits that only a throttle can hold: there, the best of all bundles is the answer."""
    loose = rig.limits.without("flow_max_m3s", "guard_speed_ms", "jet_speed_ms", "inlet_head_m", "device_windows")
    return replace(rig, limits=loose)


def best(rig: Rig, catalog: Catalog, limits: Limits | None = None) -> Answer:
    """The proved best answer."""
    seeker = Seeker(build(choices(rig, catalog, limits or rig.limits)))
    outcome = seeker.most_flow()
    assert outcome.status == "proved"
    if outcome.found is None:
        return Answer(0, 0.0)
    options = seeker.options_of(outcome.found.bundle)
    parts = tuple("" if option.part is None else f"{option.change} {option.part.id}" for option in options)
    return Answer(outcome.found.bundle.price, outcome.found.flow_m3s, parts)


@pytest.mark.parametrize("seeds", CHUNKS, ids=str)
def test_more_budget_never_lowers_the_best(seeds: list[int]) -> None:
    """Whoever has more can still buy the same, with ceilings and without."""
    for seed in seeds:
        rig, catalog = aged_world(seed)
        for limits in (rig.limits, free_of_ceilings(rig).limits):
            flows = [best(rig, catalog, replace(limits, budget=money)).flow_m3s for money in (0, 700, 1800, 3500, 8000, None)]
            assert all(more >= less - RESOLUTION_M3S for less, more in zip(flows, flows[1:], strict=False)), (seed, flows)


def test_more_budget_never_lowers_the_best_where_only_loss_holds_the_flow() -> None:
    """A throttle that money can buy does not bar bundles that stay under their ceiling without one."""
    rig, catalog = world(106)
    less, more = (best(rig, catalog, replace(rig.limits, budget=money)).flow_m3s for money in (3500, 8000))
    assert more >= less - RESOLUTION_M3S


@pytest.mark.parametrize("seeds", CHUNKS, ids=str)
def test_what_is_paid_is_within_the_budget_and_a_smaller_one_that_covers_it_gives_the_same(seeds: list[int]) -> None:
    """The answer for a budget is also the answer for exactly what it costs."""
    for seed in seeds:
        rig, catalog = world(seed)
        answer = best(rig, catalog)
        if answer.flow_m3s:
            assert rig.limits.budget is None or answer.price <= rig.limits.budget
            exact = best(rig, catalog, replace(free_of_ceilings(rig).limits, budget=answer.price))
            assert exact.flow_m3s >= answer.flow_m3s - RESOLUTION_M3S
            assert exact.price <= answer.price


IDLE = {"flow_max_m3s": 1.0, "guard_speed_ms": 1e3, "jet_speed_ms": 1e4, "inlet_head_m": -1e3}
"""Limits that no loop comes near: a thousand litres a second, thousands of m/s, a kilometre of water below the air's pressure."""


@pytest.mark.parametrize("seeds", CHUNKS, ids=str)
def test_an_idle_limit_never_changes_the_answer(seeds: list[int]) -> None:
    """What is on offer to hold a limit is there for all of them, so a limit that binds nothing adds nothing."""
    for seed in seeds:
        rig, catalog = aged_world(seed)
        for limits in (rig.limits, free_of_ceilings(rig).limits):
            plain = best(rig, catalog, limits)
            for name, value in IDLE.items():
                if limits.without(name) == limits:
                    assert best(rig, catalog, replace(limits, **{name: value})).same(plain), (seed, name)


def test_an_idle_limit_does_not_bring_a_screw_clamp_that_was_not_there() -> None:
    """The tank in the reading corner without its ceiling: the clamp holds the pressure at the pump's inlet, whatever the flow is
    limited to."""
    shop = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(DEMO / "rigs" / "reading_corner_130.toml", shop)
    loose = replace(rig.limits, budget=15000, flow_max_m3s=float("inf"))
    idle = replace(loose, flow_max_m3s=500.0 * rig.tank.net_m3 / 3600.0)
    one, other = best(rig, shop, loose), best(rig, shop, idle)
    assert one.flow_m3s > 0.0
    assert one.same(other)


def worse(part: Part) -> Part:
    """A part with the same ends that loses more: a narrower passage, a smaller face, weaker, fewer holes."""
    if isinstance(part, Guard):
        return replace(part, id=f"{part.id}-worse", face_area_m2=part.face_area_m2 * 0.6)
    if isinstance(part, Fitting):
        return replace(part, id=f"{part.id}-worse", passage_m=part.passage_m * 0.8)
    if isinstance(part, Outlet):
        return replace(part, id=f"{part.id}-worse", hole_m=part.hole_m * 0.8)
    raise ValueError(f"{part.id} cannot be made worse")


def with_worse(catalog: Catalog, rng: random.Random) -> Catalog:
    """The catalog and, of up to three parts sold singly, a worse one at the same price or a higher one."""
    sold = [
        p for p in catalog.products if p.is_single and isinstance(catalog.parts[p.lines[0].part_id], Guard | Fitting | Outlet)
    ]
    parts, products = dict(catalog.parts), list(catalog.products)
    for product in rng.sample(sold, min(3, len(sold))):
        part = worse(catalog.parts[product.lines[0].part_id])
        parts[part.id] = part
        line = Line(part_id=part.id)
        products.append(replace(product, id=part.id, price=product.price + rng.choice([0, 50]), lines=(line,)))
    return Catalog(parts=parts, products=tuple(products), name=catalog.name)


@pytest.mark.parametrize("seeds", CHUNKS, ids=str)
def test_a_dominated_part_never_changes_the_answer(seeds: list[int]) -> None:
    """Same ends, more loss, no lower price. Not where the flow must be held without a throttle: there, loss may serve."""
    for seed in seeds:
        rig, catalog = world(seed)
        rig = free_of_ceilings(rig)
        assert best(rig, with_worse(catalog, random.Random(seed))).same(best(rig, catalog)), seed


@pytest.mark.parametrize("seeds", CHUNKS, ids=str)
def test_taking_out_what_the_answer_does_not_use_never_changes_it(seeds: list[int]) -> None:
    """Products that the winner does not buy may go, one at a time and all together."""
    for seed in seeds:
        rig, catalog = world(seed)
        rig = free_of_ceilings(rig)
        seeker = Seeker(build(choices(rig, catalog, rig.limits)))
        found = seeker.most_flow().found
        if found is None:
            continue
        shop = seeker.problem.shop
        bought = {shop.products[purchase.product].id for purchase in found.bundle.cover.purchases}
        answer = Answer(found.bundle.price, found.flow_m3s)
        unused = [product for product in catalog.products if product.id not in bought]
        for gone in ([random.Random(seed).choice(unused)] if unused else [], unused):
            rest = tuple(product for product in catalog.products if product not in gone)
            assert best(rig, replace(catalog, products=rest)).same(answer), seed


@pytest.mark.parametrize("seeds", CHUNKS, ids=str)
def test_the_order_of_the_catalog_never_changes_the_answer(seeds: list[int]) -> None:
    """Rows may be sorted any way: same price, same flow, same parts."""
    for seed in seeds:
        rig, catalog = world(seed)
        rng, products, parts = random.Random(seed), list(catalog.products), list(catalog.parts.values())
        rng.shuffle(products)
        rng.shuffle(parts)
        mixed = Catalog(parts={part.id: part for part in parts}, products=tuple(products), name=catalog.name)
        one, other = best(rig, catalog), best(rig, mixed)
        assert (one.price, one.parts) == (other.price, other.parts), seed
        assert other.flow_m3s == pytest.approx(one.flow_m3s, rel=1e-12)


@pytest.mark.parametrize("seeds", CHUNKS, ids=str)
def test_the_same_question_twice_gives_the_same_answer_to_the_last_digit(seeds: list[int]) -> None:
    """Same input, same output: nothing hangs on memory, hashes or what was asked before."""
    for seed in seeds:
        one, other = world(seed), world(seed)
        assert best(*one) == best(*other)
        seeker = Seeker(build(choices(*one, one[0].limits)))
        first, second = seeker.most_flow().found, seeker.most_flow().found
        assert (first and (first.bundle.path.options, first.bundle.cover)) == (
            second and (second.bundle.path.options, second.bundle.cover)
        )


TIGHTER = {
    "noise_dba": 36.5,
    "power_w": 25.0,
    "opening_m": 2.1e-3,
    "bio_area_m2": 0.7,
    "mature_media": True,
    "flow_max_m3s": 400.0 * LITRE_PER_HOUR,
    "budget": 900,
}


@pytest.mark.parametrize("name", TIGHTER)
def test_a_tighter_limit_never_raises_the_flow(name: str) -> None:
    """Each limit set on its own against none of its kind; ceilings are held on worlds where a throttle is there already."""
    for seed in range(400, 412):
        rig, catalog = world(seed)
        if name == "flow_max_m3s":
            rig = with_throttle(rig)
        loose = free_of_ceilings(rig).limits.without(name, "flow_min_m3s")
        tight = replace(loose, **{name: TIGHTER[name]})
        before, after = best(rig, catalog, loose), best(rig, catalog, tight)
        assert after.flow_m3s <= before.flow_m3s + RESOLUTION_M3S, seed
        if name == "flow_max_m3s":
            assert after.flow_m3s == pytest.approx(min(before.flow_m3s, tight.flow_max_m3s), abs=RESOLUTION_M3S)


def with_throttle(rig: Rig) -> Rig:
    """The rig with its last hose behind a tap that stays."""
    pump, outlet = rig.index("pump"), rig.positions[-1]
    own = rig.positions[pump].installed
    assert isinstance(own, Pump)
    tap = Fitting(
        id="tap",
        name="tap",
        role="valve",
        shape="straight",
        inlet=own.outlet,
        outlet=own.outlet,
        passage_m=own.outlet.bore_m,
        throttles=True,
    )
    place = replace(
        rig.positions[1], name="tap", kind="fitting", role="valve", installed=tap, stays=True, state=outlet.state, length_m=0.0
    )
    kept = [p for p in rig.positions if p.kind != "fitting"]
    return replace(rig, positions=(*kept[: pump + 2], place, *kept[pump + 2 :]))


@pytest.mark.parametrize("seed", range(400, 412))
def test_a_target_within_reach_is_met_for_no_more_than_the_best_costs(seed: int) -> None:
    """The cheapest bundle for what the best delivers costs what the best costs; for less, no more."""
    rig, catalog = world(seed)
    rig = free_of_ceilings(rig)
    top = best(rig, catalog)
    if not top.flow_m3s:
        return
    prices = []
    for share in (0.5, 0.8, 1.0):
        outcome = Seeker(build(choices(rig, catalog, rig.limits))).least_price(share * top.flow_m3s * (1 - 1e-9))
        assert outcome.found is not None
        assert outcome.found.flow_m3s >= share * top.flow_m3s * (1 - 1e-8)
        prices.append(outcome.found.bundle.price)
    assert prices == sorted(prices)
    assert prices[-1] == top.price
