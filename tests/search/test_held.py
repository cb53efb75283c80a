"""Bundles that run above a ceiling: held by a throttle, or kept under it by the loss of the loop alone. One rule for both."""

from dataclasses import replace
from pathlib import Path

import enumeration
import pytest
from small_worlds import INF, LITRE_PER_HOUR, aged_world, bar, guard, hose, label_curve, medium, pump, single, tail

from optimizer import api
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.parts import Canister, Clamp, Fitting, Part
from optimizer.model.rig import Position, Rig, Tank, Tray
from optimizer.search import exact
from optimizer.search.best import RESOLUTION_M3S, Outcome, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
END = tail(16, 12)
SCREW = Clamp(id="S", name="screw clamp", low_m=0.014, high_m=0.030, throttles=True)


def plain_rig() -> Rig:
    """Guard, hose, canister, pump, hose, bar, all of one size and clean."""
    body = Canister(id="body", name="body", inlet=END, outlet=END, trays=1, tray_area_m2=0.03, tray_height_m=0.05)
    own, motor = hose("own-hose", 16), pump("own-pump", END, END, label_curve(2.0, 1500))
    places = (
        Position(name="intake", kind="guard", installed=guard("own-guard", 16, 12, 10)),
        Position(name="suction", kind="hose", installed=own, length_m=1.5, stays=True),
        Position(name="canister", kind="canister", installed=body, depth_m=1.2, stays=True),
        Position(name="pump", kind="pump", installed=motor, depth_m=0.9, stays=True),
        Position(name="return", kind="hose", installed=own, length_m=1.8, stays=True),
        Position(name="outlet", kind="outlet", installed=bar("own-bar", END, 12, 3.0), stays=True),
    )
    foam = Tray(medium=medium("own-foam", 1.2e-7, True, 0.0))
    return Rig(name="tank", tank=Tank(nominal_m3=0.3, net_m3=0.26), positions=places, trays=(foam,))


def shelf(*priced: tuple[Part, int]) -> Catalog:
    """Parts for sale at their prices, and clamps for the joints."""
    sold = (*priced, (Clamp(id="K", name="clamp", low_m=0.014, high_m=0.030), 5))
    return Catalog(parts={part.id: part for part, _ in sold}, products=tuple(single(part, price) for part, price in sold))


def most(rig: Rig, catalog: Catalog, limits: Limits) -> Outcome:
    """The most flow within the limits."""
    return Seeker(build(choices(rig, catalog, limits))).most_flow()


def bought(outcome: Outcome) -> tuple[int, float]:
    """Price and flow in l/h of an answer that was proved."""
    assert outcome.status == "proved"
    assert outcome.found is not None
    return outcome.found.bundle.price, outcome.found.flow_m3s / LITRE_PER_HOUR


def test_a_throttle_that_holds_nothing_is_not_bought() -> None:
    """The loop runs 0.05 l/h under its ceiling by itself. A better guard and a screw clamp to hold it give 0.05 l/h more, a screw
    clamp alone gives nothing; to the resolution all three deliver as much, and the first costs nothing."""
    rig, better = plain_rig(), guard("G", 16, 14, 60)
    loose = Limits(inlet_head_m=-INF)
    _, own = bought(most(rig, shelf(), loose))
    capped = replace(loose, flow_max_m3s=(own + 0.05) * LITRE_PER_HOUR)
    shop = shelf((better, 100), (SCREW, 220))
    assert bought(most(rig, shop, loose))[1] > own + 1.0
    assert bought(most(rig, shop, capped)) == (0, pytest.approx(own))
    assert Seeker(build(choices(rig, shop, capped))).least_price(own * LITRE_PER_HOUR * (1 - 1e-9)).found is not None
    higher = replace(capped, flow_max_m3s=(own + 0.15) * LITRE_PER_HOUR)
    assert bought(most(rig, shop, higher)) == (325, pytest.approx(own + 0.15)), "now the money brings what can be told"


def dull(part: Part | None) -> Part | None:
    """A part that cannot be set part-way."""
    return replace(part, throttles=False) if isinstance(part, Fitting) else part


def without_throttles(rig: Rig, catalog: Catalog) -> tuple[Rig, Catalog]:
    """A rig and a catalog with nothing in them that throttles."""
    parts = {part.id: dull(part) or part for part in catalog.parts.values() if not (isinstance(part, Clamp) and part.throttles)}
    products = tuple(p for p in catalog.products if all(line.part_id in parts for line in p.lines))
    positions = tuple(replace(place, installed=dull(place.installed)) for place in rig.positions)
    spares = tuple(replace(s, part=dull(s.part) or s.part) for s in rig.spares if s.part.id in parts)
    return replace(rig, positions=positions, spares=spares), replace(catalog, parts=parts, products=products)


def test_more_money_is_never_less_flow_under_a_ceiling_that_nothing_throttles() -> None:
    """The small tank on the desk with no valve and no screw clamp anywhere: what keeps under the ceiling by its loss alone is
    found among 300 000 bundles, whatever the budget."""
    shop = api.read_catalog(DEMO / "catalog")
    rig, shop = without_throttles(api.read_rig(DEMO / "rigs" / "nano_60.toml", shop), shop)
    limits = replace(rig.limits, flow_max_m3s=230.5 * LITRE_PER_HOUR)
    answers = [bought(most(rig, shop, replace(limits, budget=budget))) for budget in (1000, 2500, 4000, 6000)]
    assert [price for price, _ in answers] == [800, 2244, 2244, 2244]
    assert all(flow == pytest.approx(230.46, abs=0.01) for _, flow in answers[1:])


def capped_world(seed: int) -> tuple[Rig, Catalog]:
    """A random world with nothing to throttle, and a ceiling at 0.9 of the most that it could deliver."""
    rig, catalog = without_throttles(*aged_world(seed, most=600))
    rig = replace(rig, limits=replace(rig.limits, flow_max_m3s=INF, flow_min_m3s=0.0))
    flows = enumeration.every_bundle(choices(rig, catalog, rig.limits)).flow_m3s
    ceiling = 0.9 * float(flows.max(initial=1e-4))
    return replace(rig, limits=replace(rig.limits, flow_max_m3s=ceiling)), catalog


@pytest.mark.parametrize("seeds", [range(600, 610), range(610, 620)], ids=str)
def test_what_stays_under_a_ceiling_by_itself_is_what_a_listing_finds(seeds: range) -> None:
    """Same price and flow as all bundles listed one by one, for the most flow and for the least price."""
    answered = 0
    for seed in seeds:
        rig, catalog = capped_world(seed)
        menu = choices(rig, catalog, rig.limits)
        bundles = enumeration.every_bundle(menu)
        best = enumeration.most_flow(bundles, menu, RESOLUTION_M3S)
        outcome = Seeker(build(menu)).most_flow()
        assert outcome.status == "proved"
        assert (outcome.found is None) == (best is None), seed
        if best is not None and outcome.found is not None:
            answered += 1
            assert outcome.found.bundle.price == best.price, seed
            assert outcome.found.flow_m3s == pytest.approx(best.flow_m3s, abs=RESOLUTION_M3S), seed
            target = 0.9 * best.flow_m3s
            least, cheapest = Seeker(build(menu)).least_price(target), enumeration.least_price(bundles, menu, target)
            assert cheapest is not None
            assert least.found is not None
            assert least.found.bundle.price == cheapest.price, seed
    assert answered >= len(seeds) // 2


def test_a_search_that_had_to_leave_bundles_out_says_so_and_keeps_what_it_has(monkeypatch: pytest.MonkeyPatch) -> None:
    """With room for a few partial paths only: stopped, an answer within all limits all the same, and a bound above the best."""
    monkeypatch.setattr(exact, "MOST_LISTED", 20)
    monkeypatch.setattr(exact, "FEW_LISTED", 20)
    monkeypatch.setattr(exact, "HURRIED_LABELS", 10)
    stopped = kept = 0
    for seed in range(600, 616):
        rig, catalog = capped_world(seed)
        menu = choices(rig, catalog, rig.limits)
        best = enumeration.most_flow(enumeration.every_bundle(menu), menu, RESOLUTION_M3S)
        outcome = Seeker(build(menu)).most_flow()
        if outcome.status == "proved":
            assert (outcome.found is None) == (best is None)
            continue
        stopped += 1
        assert best is None or outcome.bound_m3s >= best.flow_m3s - RESOLUTION_M3S
        if outcome.found is not None:
            kept += 1
            assert best is not None
            assert outcome.found.delivered.own_m3s <= rig.limits.flow_max_m3s * (1 + 1e-9)
            assert outcome.found.flow_m3s <= best.flow_m3s + RESOLUTION_M3S
    assert stopped > 2
    assert kept > stopped // 2
