"""A shop's kit that opens the loop of canisters on 16 mm hose, 350 to 450 l, for at most 60: an invented shop file.

What a shop must never do: sell a kit with a joint that stock cannot close, screw G into NPT, glue metric sleeves on inch pipe,
put a 19 mm hose on 12 mm tails, exchange a piece without saying so, or state one figure without a band (common practice, no
published source; which threads mate: ISO 228-1, ISO 7-1, ASME B1.20.1).
"""

import csv
import math
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from exhaustive import all_bundles

from optimizer import api
from optimizer.model.catalog import Catalog
from optimizer.model.kits import Kit, KitPlan
from optimizer.model.shop import Store
from optimizer.search.choices import choices
from optimizer.tanks.population import kit_catalog
from optimizer.tanks.solves import seeker_for

DEMO = Path(__file__).parents[2] / "parts_demo"
MEDIUM, NPT, INCH, METRIC = "medium G 1/2", "NPT ports", "inch PVC", "metric PVC"


@pytest.fixture(scope="module")
def store() -> Store:
    return api.read_shop(DEMO / "shops" / "open_the_loop.toml", api.read_catalog(DEMO / "catalog"))


@pytest.fixture(scope="module")
def plan(store: Store) -> KitPlan:
    return api.kits(store)


@pytest.fixture(scope="module")
def ends() -> dict[str, tuple[str, str]]:
    """Inlet and outlet of every tail, as its row of the catalog has them."""
    with open(DEMO / "catalog" / "tails.csv", encoding="utf-8", newline="") as file:
        return {row["id"]: (row["inlet"], row["outlet"]) for row in csv.DictReader(file)}


def kit_for(plan: KitPlan, canister: str) -> Kit:
    return next(kit for kit in plan.kits if kit.made_for.startswith(canister))


def refusal(kit: Kit, canister: str) -> tuple[str, str]:
    """Why a kit does not fit a tank, and what would, each as one text."""
    (found,) = (each for each in kit.does_not_fit if each.tank.startswith(canister))
    return "\n".join(found.why), "\n".join(found.would_fit)


def test_every_kit_comes_from_stock_for_at_most_its_shelf_price(plan: KitPlan, store: Store) -> None:
    prices = {product.id: product for product in store.catalog.products}
    assert plan.status == "proved"
    assert plan.kits
    for kit in plan.kits:
        total = 0
        for piece in kit.pieces:
            product = prices[piece.product_id]
            assert piece.in_stock is not None
            assert piece.quantity <= piece.in_stock
            # by hand: hose in whole steps of 10 cm at its price for a metre, everything else by the piece
            total += round(product.price * piece.quantity) if piece.metres else product.price * int(piece.quantity)
        assert total == kit.price <= kit.shelf_price == 6000
        assert kit.makes == min(int(piece.in_stock // piece.quantity) for piece in kit.pieces if piece.in_stock is not None)


def test_every_joint_that_is_opened_is_closed_by_what_is_in_the_box(plan: KitPlan) -> None:
    """Clamps, washers and glue counted joint by joint, against the number in the box."""
    kit = kit_for(plan, MEDIUM)
    box = {piece.product_id: piece.quantity for piece in kit.pieces}
    for tank in kit.fits:
        closed = Counter(word.split()[0] for joint in tank.joints if not joint.as_is for word in joint.tight_by)
        assert set(closed) == {"clamp", "washer"}
        assert (closed["clamp"], closed["washer"]) == (box["CLAMP-20-32"], box["WASH-G12"]) == (4, 4)
        new = [change for change in tank.changes if change.change == "swap"]
        assert sum(change.cut_m > 0.0 for change in new) == 2
        assert sum(change.part_id == "TAIL-19-G12W" for change in new) == 4 == 2 * box["TAIL-19-G12W"]


def test_the_best_use_of_each_kit_is_that_of_a_full_listing(plan: KitPlan, store: Store) -> None:
    """Every way to use nothing but the pieces of the kit, listed one by one, on tanks it fits and tanks it does not."""
    for kit in plan.kits:
        pieces = tuple((piece.product_id, piece.quantity) for piece in kit.pieces)
        fits = {tank.tank: tank for tank in kit.fits}
        for customer in store.customers:
            limits = customer.rig.limits
            assert limits.budget is None
            menu = choices(customer.rig, kit_catalog(store, pieces), limits)
            listed = list(all_bundles(menu))
            most = max(bundle.flow_m3s for bundle in listed)
            clean = max(bundle.flow_m3s for bundle in listed if bundle.price == 0)
            if customer.name in fits:
                told = fits[customer.name]
                assert told.flow_m3s == pytest.approx(most, rel=1e-6)
                assert told.clean_m3s == pytest.approx(clean, rel=1e-6)
                assert told.gain_m3s >= 0.03 * clean
                assert told.used_share >= 0.75
                assert told.p10_m3s < told.p50_m3s < told.p90_m3s
                assert told.p50_m3s == pytest.approx(told.flow_m3s, rel=0.05)
    assert plan.gain_m3s == pytest.approx(sum(t.weight * t.gain_m3s for kit in plan.kits for t in kit.fits), rel=1e-9)


def test_no_wide_hose_with_narrow_tails(plan: KitPlan, ends: dict[str, tuple[str, str]]) -> None:
    for kit in plan.kits:
        sizes = {end for piece in kit.pieces for end in ends.get(piece.product_id, ()) if end.startswith("tail")}
        assert any(piece.product_id == "HOSE-19-27" for piece in kit.pieces)
        assert sizes == {"tail 19 mm"}


def test_the_npt_customer_is_refused_g_tails_and_told_what_would_fit(plan: KitPlan, ends: dict[str, tuple[str, str]]) -> None:
    for kit in plan.kits:
        why, would_fit = refusal(kit, NPT)
        assert re.search(r"\(TAIL-19-G12W\) at in_tail and out_tail: NPT never mates with G, R, Rc or Rp", why)
        (line,) = (each for each in would_fit.splitlines() if each.startswith("a tail for the NPT 3/4 female"))
        assert "none in stock" in line
        named = re.findall(r"TAIL-[\w-]+", line)
        assert named
        assert all(any(end == "NPT 3/4 in male" for end in ends[each]) for each in named)
        # a 5/8 in tail takes the 16 mm hose that is there
        assert ends[named[0]][1] == "tail 15.9 mm"
    assert next(each for each in plan.unserved if each.tank.startswith(NPT)).best_price == 0


def test_metric_sleeves_do_not_go_on_inch_pipe(plan: KitPlan, ends: dict[str, tuple[str, str]]) -> None:
    kit = kit_for(plan, METRIC)
    assert {tank.tank.split(",")[0] for tank in kit.fits} == {METRIC}
    why, would_fit = refusal(kit, INCH)
    assert re.search(r"\(TAIL-19-MM25\) at intake_tail and return_tail: metric glued pipe does not fit inch glued pipe", why)
    (named,) = re.findall(r"to order: [^;]*\((TAIL-[\w-]+)\)", would_fit)
    assert "slip in 26.7 mm male" in ends[named]


def test_substitutes_are_named_and_do_what_is_said(plan: KitPlan, store: Store) -> None:
    """The kit with the substitute in place of the piece, asked again through the public interface."""
    kit = kit_for(plan, MEDIUM)
    (piece,) = (each for each in kit.pieces if each.substitutes)
    (other,) = piece.substitutes
    assert (piece.product_id, other.product_id) == ("TAIL-19-G12W", "TAIL-19-G12")
    # two pairs become four single tails
    changed = {each.product_id: each.quantity for each in kit.pieces if each is not piece} | {"TAIL-19-G12": 4.0}
    rig = store.customer(kit.made_for).rig
    result = api.best(rig, kit_catalog(store, tuple(sorted(changed.items()))))
    assert result.best is not None
    assert result.best.flow_m3s == pytest.approx(other.flow_m3s, rel=1e-9)
    whole = next(tank for tank in kit.fits if tank.tank == kit.made_for)
    assert other.less_m3s == pytest.approx(whole.flow_m3s - other.flow_m3s, rel=1e-9)
    assert other.dearer == 4 * 320 - 2 * 950


def test_a_part_is_worth_what_all_tanks_lose_without_it(plan: KitPlan, store: Store) -> None:
    """By hand for two products: the best bundle of every tank with the product on the list, and with it struck out."""
    values = {part.product_id: part for part in plan.parts}
    assert [part.loss_m3s for part in plan.parts] == sorted((part.loss_m3s for part in plan.parts), reverse=True)
    for product_id in ("TAIL-19-G12W", "BAR-G12-20X4"):
        lost = 0.0
        for customer in store.customers:
            flows = []
            for struck in ((), (product_id,)):
                left = tuple(product for product in store.stocked.products if product.id not in struck)
                found = api.best(customer.rig, Catalog(parts=store.stocked.parts, products=left), budget=6000)
                assert found.best is not None
                flows.append(found.best.flow_m3s)
            lost += customer.weight * (flows[0] - flows[1])
        assert values[product_id].loss_m3s == pytest.approx(lost, rel=1e-6)
        assert values[product_id].in_kits == sum(any(p.product_id == product_id for p in kit.pieces) for kit in plan.kits)


def test_dead_stock_is_in_no_kit_and_earns_nothing(plan: KitPlan, store: Store) -> None:
    dead = {each.product_id: each.why for each in plan.dead}
    alive = {part.product_id for part in plan.parts}
    assert dead.keys() | alive == {product.id for product in store.stocked.products}
    assert not dead.keys() & alive
    # no hose of 12 mm is in stock, and none is in a tank
    assert dead["TAIL-12-G12"] == "it goes into no tank of the population"


def test_what_is_to_be_ordered_is_all_that_is_missing(plan: KitPlan, store: Store) -> None:
    """With the order on the shelf beside the stock, a tank that no kit serves gets the flow that is told for that price, which no
    bundle from everything on the wholesaler's list exceeds; without it, it gets less."""
    told = [each for each in plan.unserved if each.order]
    assert told
    for each in told:
        customer = store.customer(each.tank)
        limits = replace(customer.rig.limits, budget=store.dearest)
        there = {product.id: product.stock for product in store.stocked.products}
        for piece in each.order:
            assert piece.in_stock == there.get(piece.product_id, 0)
            there[piece.product_id] = math.ceil((there.get(piece.product_id) or 0) + piece.quantity)
        shelf = [replace(product, stock=there[product.id]) for product in store.catalog.products if product.id in there]
        best = seeker_for(customer.rig, replace(store.catalog, products=tuple(shelf)), limits).most_flow().found
        everything = [replace(product, stock=None) for product in store.catalog.products]
        most = seeker_for(customer.rig, replace(store.catalog, products=tuple(everything)), limits).most_flow().found
        assert best is not None and most is not None
        assert each.order_m3s == pytest.approx(best.flow_m3s, rel=1e-9) == pytest.approx(most.flow_m3s, rel=1e-9)
        assert each.order_price == best.bundle.price
        assert each.best_m3s < each.order_m3s
