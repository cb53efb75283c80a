"""Why a part is not in the answer: what is said of parts in branches, of pieces for joints and of kits is true of the loop."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.errors import InputError
from optimizer.model.catalog import Catalog
from optimizer.search.best import Outcome, Seeker

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
    for part_id in ("CLIP-22-4", "WASH-G12", "ADPT-16-G34", "CLAMP-8-14", "WASH-G1"):
        said = api.why(rig, shop, part_id)
        assert ("is on the bill of the best bundle" in said) == (part_id in bought)
        assert ("needs none of it" in said) == (part_id not in bought)
    assert len(bought & {"CLIP-22-4", "WASH-G12", "ADPT-16-G34"}) == 3


@pytest.mark.parametrize("parts", [("KIT-12-16-NANO",), ("KIT-12-16-NANO", "OPEN-9")])
def test_a_kit_is_named_with_what_it_contains(shop: Catalog, parts: tuple[str, ...]) -> None:
    """As kits.csv lists it."""
    with pytest.raises(InputError) as caught:
        why("nano_60", shop, *parts)
    text = str(caught.value)
    assert '"KIT-12-16-NANO" is a kit. Ask for what it contains: "HOSE-12-16", "COUP-N-T12", "CLAMP-12-20".' in text


def test_places_in_branches_are_not_said_to_be_missing_without_a_cure(shop: Catalog) -> None:
    with pytest.raises(InputError, match="Places in branches cannot be named here"):
        why("stem_plants_200", shop, "bypass.hose=HOSE-16-22")


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
    assert (result.best.price, round(result.best.flow_m3s * 3.6e6)) == (7480, 304)
    assert "PUMP-450NA" in {line.product_id for line in result.bill}
    assert "pump: PUMP-450NA is in the best bundle." in api.why(more, shop, "PUMP-450NA")
    assert "there stays" not in api.why(rig, shop, "PUMP-450NA")
    cheap = replace(old, limits=replace(old.limits, flow_min_m3s=0.0))
    alone = api.why(cheap, shop, "pump=PUMP-450NA")
    assert "PUMP-450NA at pump, everything else as it is (cleaned): 168 l/h for 28.00" in alone
