"""Why a part is not in the answer: what is said of parts in branches, of pieces for joints and of kits is true of the loop."""

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import exhaustive
import pytest
from branched_worlds import branched_world

from optimizer import api
from optimizer.answers import why_bundle
from optimizer.answers.question import Question, stands_now
from optimizer.errors import InputError
from optimizer.measure.fill_loop import cleaned
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.options import Option
from optimizer.model.parts import Guard, Part
from optimizer.model.rig import Position, Rig
from optimizer.search import branch_fillings
from optimizer.search.best import RESOLUTION_M3S, Outcome, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.layers import build

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return api.read_catalog(DEMO / "catalog")


def why(name: str, shop: Catalog, *parts: str) -> str:
    return api.why(api.read_rig(DEMO / "rigs" / f"{name}.toml", shop), shop, *parts)


def test_a_device_in_a_branch_is_in_the_bundle_it_stays_in(shop: Catalog) -> None:
    """The rig says that nothing in the branch of the unit is up for a swap: it is in every bundle."""
    assert "treatment: UV-9-T16 is in the best bundle." in why("stem_plants_200", shop, "UV-9-T16")


def test_a_part_that_could_stand_in_a_branch_has_a_place(shop: Catalog) -> None:
    """The rig file has a place for a valve in the bypass, and tees at both its ends."""
    said = why("stem_plants_200", shop, "VALVE-T12")
    assert "VALVE-T12 could stand at bypass.throttle" in said
    assert "no place" not in said
    assert "could stand at the tees of treatment" in why("stem_plants_200", shop, "TEE-T12")


def test_a_tee_has_no_place_where_nothing_branches(shop: Catalog) -> None:
    assert "TEE-T12 is of the kind tee; the loop of Small tank on the desk has no place" in why("nano_60", shop, "TEE-T12")


def test_pieces_for_joints_are_looked_up_on_the_bill(shop: Catalog) -> None:
    """Every piece that the bill sells is said to be on it, others are said not to be needed."""
    rig = api.read_rig(DEMO / "rigs" / "community_180.toml", shop)
    result = api.best(rig, shop)
    bought = {line.product_id for line in result.bill}
    for part_id in ("CLIP-22-4", "WASH-G34", "ADPT-16-G34", "WASH-G12", "CLAMP-8-14", "WASH-G1"):
        said = api.why(rig, shop, part_id)
        assert ("is on the bill of the best bundle" in said) == (part_id in bought)
        assert ("needs none of it" in said) == (part_id not in bought)
    assert len(bought & {"CLIP-22-4", "WASH-G34", "ADPT-16-G34"}) == 3


@pytest.mark.parametrize("parts", [("KIT-12-16-NANO",), ("KIT-12-16-NANO", "OPEN-9")])
def test_a_kit_is_named_with_what_it_contains(shop: Catalog, parts: tuple[str, ...]) -> None:
    """As kits.csv lists it."""
    with pytest.raises(InputError) as caught:
        why("nano_60", shop, *parts)
    text = str(caught.value)
    assert '"KIT-12-16-NANO" is a kit. Ask for what it contains: "HOSE-12-16", "COUP-N-T12", "CLAMP-12-20".' in text


def test_a_place_in_a_branch_can_be_named(shop: Catalog) -> None:
    """The rig says what may be swapped there; the rest of a branch that is added comes along."""
    said = why("stem_plants_200", shop, "bypass.hose=HOSE-16-22")
    assert "HOSE-16-22 at bypass.hose, everything else as it is (cleaned), the rest of its branch the cheapest that fits" in said
    fixed = why("stem_plants_200", shop, "unit.hose_in=HOSE-19-27")
    assert "HOSE-19-27 at unit.hose_in: what is there is not up for a swap, says the rig." in fixed
    with pytest.raises(InputError, match=r'no position "bypass.house".* "bypass.hose"'):
        why("stem_plants_200", shop, "bypass.house=HOSE-16-22")
    with pytest.raises(InputError, match=r'"bypass.hose" does not take "TEE-T12" .*treatment parting tee'):
        why("stem_plants_200", shop, "bypass.hose=TEE-T12")


def every_way(rig: Rig, catalog: Catalog, limits: Limits, monkeypatch: pytest.MonkeyPatch) -> Choices:
    """Choices with no filling of a branch left out because another beats it."""
    with monkeypatch.context() as patched:
        patched.setattr(branch_fillings, "_unbeaten", lambda some, _: list(some))
        return choices(rig, catalog, limits)


def named_in_branches(menu: Choices) -> list[tuple[str, str]]:
    """Places inside branches, tees too, with parts that could come there."""
    ways = [option.ways for options in menu.options for option in options if option.ways is not None]
    found = {(each.place, each.part.id) for way in ways for each in way.options if each.part and not each.is_installed}
    return sorted(found)


def has(options: Sequence[Option], place: str, part_id: str) -> bool:
    """Whether a bundle has a new part at a place inside branches."""
    inner = [each for option in options if option.ways is not None for each in option.ways.options]
    return any((each.place, each.is_installed) == (place, False) and each.part and each.part.id == part_id for each in inner)


@pytest.mark.parametrize("chunk", range(2))
def test_the_best_bundle_with_a_part_in_a_branch_is_that_of_a_full_listing(chunk: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """All bundles, no filling left out, listed and solved one by one in scalars: those with the part at its place."""
    compared = 0
    for seed in range(chunk, 12, 2):
        rig, catalog = branched_world(seed)
        menu = every_way(rig, catalog, rig.limits, monkeypatch)
        if math.prod(len(options) for options in menu.options) > 100:
            continue
        most = math.inf if rig.limits.budget is None else rig.limits.budget
        least = max(rig.limits.flow_min_m3s, 1e-9)
        listed = [each for each in exhaustive.all_bundles(menu, most) if each.flow_m3s >= least]
        question = Question(rig=rig, catalog=catalog, limits=rig.limits)
        seeker = Seeker(build(choices(rig, catalog, rig.limits)))
        for place, part_id in named_in_branches(menu)[seed % 3 :: 3]:
            spot = next(spot for spot in why_bundle._spots(rig) if spot.name == place)
            made = why_bundle._best_with(question, seeker, [((spot, part_id),)])
            found = None if made is None else made[2]
            ours = [each for each in listed if has(each.options, place, part_id)]
            best = max((each.flow_m3s for each in ours), default=None)
            compared += best is not None
            assert (found is None) == (best is None), (seed, place, part_id)
            if found is not None and best is not None:
                assert found.flow_m3s == pytest.approx(best, abs=RESOLUTION_M3S), (seed, place, part_id)
    assert compared > 2


def test_a_swap_in_a_branch_alone_is_the_rig_with_that_part() -> None:
    """A guard of the same size in place of one of two: the flow of a rig that has it there, the rest cleaned, and its price with
    what closes its joint."""
    compared = 0
    for seed in range(50):
        rig, catalog = branched_world(seed)
        place = next((p for p in rig.every_position if p.name == "intake_b"), None)
        new = catalog.parts["G-a"]
        own, sold = None if place is None else place.installed, [p.price for p in catalog.products if p.id == "G-a"]
        if not (isinstance(own, Guard) and isinstance(new, Guard) and sold and new.outlet.face == own.outlet.face):
            continue
        spot = next(spot for spot in why_bundle._spots(rig) if spot.name == "intake_b")
        placing = ((spot, "G-a"),)
        found = why_bundle._Alone.of(Question(rig=rig, catalog=catalog, limits=rig.limits), placing).found(placing)
        if found is None:  # no clamp
            continue
        compared += 1
        made = cleaned(rig, ("clean",)).with_each(partial(with_part, "intake_b", new))
        assert found.delivered.own_m3s == pytest.approx(stands_now(made, Catalog(parts={}, products=())).own_m3s, rel=1e-8)
        assert sold[0] <= found.bundle.price <= sold[0] + 200
    assert compared > 3


def with_part(name: str, part: Part, place: Position) -> Position:
    """A place with another part, if it has this name."""
    return replace(place, installed=part) if place.name == name else place


def test_a_stopped_search_is_no_answer(shop: Catalog, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is best is not known then, so nothing can be held against it."""
    whole = Seeker.most_flow

    def stopped(seeker: Seeker, start_m3s: float = 0.0) -> Outcome:
        return replace(whole(seeker, start_m3s), status="stopped")

    monkeypatch.setattr(Seeker, "most_flow", stopped)
    with pytest.raises(KeyboardInterrupt):
        why("nano_60", shop, "OPEN-9")


def test_a_new_part_of_the_model_that_stays_is_told_apart_from_the_one_that_is_there(shop: Catalog) -> None:
    """A worn pump: the old one is in the best bundle for little money, a new one in that for more. What is not worn is never sold
    anew."""
    rig = api.read_rig(DEMO / "rigs" / "nano_60.toml", shop)
    place = rig.index("pump")
    worn = replace(rig.positions[place], state=replace(rig.positions[place].state, worn=0.2))
    old = replace(rig, positions=(*rig.positions[:place], worn, *rig.positions[place + 1 :]))
    told = api.why(replace(old, limits=replace(old.limits, budget=2000)), shop, "PUMP-450NA")
    assert "pump: the PUMP-450NA that is there stays in the best bundle." in told
    assert "pump: no bundle with a new PUMP-450NA keeps to a budget of 20.00" in told
    more = replace(old, limits=replace(old.limits, budget=8000))
    result = api.best(more, shop)
    assert result.best is not None
    assert (result.best.price, round(result.best.flow_m3s * 3.6e6)) == (7860, 305)
    assert "PUMP-450NA" in {line.product_id for line in result.bill}
    assert "pump: PUMP-450NA is in the best bundle." in api.why(more, shop, "PUMP-450NA")
    assert "there stays" not in api.why(rig, shop, "PUMP-450NA")
    cheap = replace(old, limits=replace(old.limits, flow_min_m3s=0.0))
    alone = api.why(cheap, shop, "pump=PUMP-450NA")
    assert "PUMP-450NA at pump, everything else as it is (cleaned): 169 l/h for 28.00" in alone
