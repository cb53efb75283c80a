"""One brush does for all tanks of a household, and what is owned for one of them is at hand for the others."""

from dataclasses import replace
from pathlib import Path

from demo import DEMO, rig, shop

from optimizer import api
from optimizer.files.household_toml import read_household
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.household import Household, HouseTank
from optimizer.model.parts import CLEAN_HOSE, Tool
from optimizer.tanks.hand_me_downs import handed_parts

BRUSH = Tool(id="BRUSH", name="hose brush", makes_possible=(CLEAN_HOSE,))


def only_a_brush(price: int) -> Catalog:
    """A shop that sells nothing else."""
    sold = Product(id="BRUSH", name="hose brush", price=price, lines=(Line(part_id="BRUSH", lasting=True),))
    return replace(shop(), parts={"BRUSH": BRUSH}, products=(sold,))


def house() -> Household:
    """The small tank twice, each wishing for more than it can have."""
    tank = rig("nano_60")
    tank = replace(tank, limits=tank.limits.without("flow_min_m3s", "flow_max_m3s"))
    tanks = tuple(HouseTank(name=name, rig=replace(tank, name=name), target_m3s=1e-3, room="") for name in ("one", "two"))
    return Household(name="pair", tanks=tanks, budget=500)


def test_two_tanks_share_one_brush() -> None:
    """Four hoses in two tanks, one line on the bill; each tank cleans its hoses."""
    result = api.share(house(), only_a_brush(400))
    bought = [line for line in result.bill if line.product_id == "BRUSH"]
    assert [(line.count, line.price) for line in bought] == [(1, 400)]
    for tank in result.tanks:
        cleaned = {change.position for change in tank.changes if change.change == "clean"}
        assert cleaned >= {"suction_hose", "return_hose"}


def test_a_filmed_hose_is_handed_on_only_by_who_can_clean_it() -> None:
    """What is handed on is clean."""
    tanks = house().tanks
    assert "suction_hose" in {each.position for each in handed_parts(tanks, ())}
    assert "suction_hose" not in {each.position for each in handed_parts(tanks, (), {CLEAN_HOSE})}
    owner = tuple(replace(tank, rig=replace(tank.rig, tools=(CLEAN_HOSE,))) for tank in tanks)
    assert "suction_hose" in {each.position for each in handed_parts(owner, (), {CLEAN_HOSE})}


def test_tools_of_one_tank_are_at_hand_for_all(tmp_path: Path) -> None:
    text = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
    (tmp_path / "a.toml").write_text(f'{text}\n[owned]\ntools = ["clean_hose"]\n', encoding="utf-8")
    (tmp_path / "b.toml").write_text(text.replace("Small tank on the desk", "Other"), encoding="utf-8")
    tanks = '[[tank]]\nrig = "a.toml"\nflow = "300 l/h"\n[[tank]]\nrig = "b.toml"\nflow = "300 l/h"\n'
    (tmp_path / "house.toml").write_text(f'budget = "20"\n{tanks}', encoding="utf-8")
    found = read_household(tmp_path / "house.toml", shop())
    assert [tank.rig.tools for tank in found.tanks] == [(CLEAN_HOSE,), (CLEAN_HOSE,)]
