"""A new pump goes into the cabinet and its plug into the socket, as far as both are stated; else nothing is claimed."""

from dataclasses import replace
from pathlib import Path

import pytest
from demo import DEMO, rig, shop

from optimizer import api
from optimizer.errors import InputError
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Pump
from optimizer.model.rig import Rig
from optimizer.search.choices import choices

TANK = "display_600"


def with_figures(**figures: object) -> Catalog:
    """The demo catalog, its pumps of this size or plug."""
    parts = {name: replace(part, **figures) if isinstance(part, Pump) else part for name, part in shop().parts.items()}
    return replace(shop(), parts=parts)


def held(**limits: object) -> Rig:
    tank = rig(TANK)
    return replace(tank, limits=tank.limits.with_values(limits))


def pumps(tank: Rig, catalog: Catalog) -> set[str]:
    """Ids of the other pumps that may come to the tank."""
    offer = choices(tank, catalog, tank.limits).options[tank.index("pump")]
    found = {option.part.id for option in offer if option.part is not None and not option.is_installed}
    return found - {tank.pump.id}


SMALL = {"length_m": 0.2, "width_m": 0.12, "height_m": 0.25}
ROOM = (0.15, 0.3, 0.3)


def test_a_pump_that_does_not_go_into_the_cabinet_is_not_offered_and_the_reason_is_told() -> None:
    """Turned on its base it fits; a height or a longer side that does not go in refuses it, the installed pump never."""
    free = pumps(rig(TANK), shop())
    assert free
    assert pumps(held(room_m=ROOM), with_figures(**SMALL)) == free
    for side, value in (("height_m", 0.31), ("length_m", 0.31), ("width_m", 0.16)):
        large = with_figures(**{**SMALL, side: value})
        tank = held(room_m=ROOM)
        assert pumps(tank, large) == set(), side
        found = choices(tank, large, tank.limits)
        assert any(option.is_installed for option in found.options[tank.index("pump")])
        told = {refusal.reason for refusal in found.refusals if refusal.limit == "room_m"}
        assert len(told) == 1
        assert "and there is room for 15 cm x 30 cm x 30 cm" in told.pop()


def test_what_is_not_stated_refuses_nothing() -> None:
    """No room, no size, no plug: as today; and a size of which one side alone is stated is held to that side."""
    free = pumps(rig(TANK), shop())
    assert pumps(held(room_m=(0.01, 0.01, 0.01), plugs=("type F",)), shop()) == free
    assert pumps(rig(TANK), with_figures(length_m=9.0, plug="type Z")) == free
    assert pumps(held(room_m=ROOM), with_figures(height_m=0.31)) == set()
    assert pumps(held(room_m=ROOM), with_figures(height_m=0.3)) == free


def test_a_plug_that_fits_no_socket_refuses_a_pump_whatever_its_case() -> None:
    """Several plugs may fit one socket."""
    free = pumps(rig(TANK), shop())
    assert pumps(held(plugs=("type C", "type F")), with_figures(plug="Type  f")) == free
    tank, catalog = held(plugs=("type C", "type F")), with_figures(plug="type G")
    assert pumps(tank, catalog) == set()
    told = {each.reason for each in choices(tank, catalog, tank.limits).refusals if each.limit == "plugs"}
    assert told == {"its plug (type G) is none of type C, type F"}


def test_the_answer_keeps_to_the_room_and_why_says_it() -> None:
    """Today the best set of this tank has a stronger pump; with no room for any it keeps its own."""
    best = api.best(rig(TANK), shop())
    bought = {change.part_id for change in best.changes if change.position == "pump" and change.change == "swap"}
    assert bought
    tank, catalog = held(room_m=ROOM), with_figures(**{**SMALL, "height_m": 0.4})
    kept = api.best(tank, catalog)
    assert [change.change for change in kept.changes if change.position == "pump"] != ["swap"]
    why = api.why(tank, catalog, f"pump={bought.pop()}")
    assert "a new pump of at most 15 cm x 30 cm x 30 cm in the cabinet" in why


def test_room_and_plug_are_read_from_the_rig_and_the_catalog(tmp_path: Path) -> None:
    """[site] cabinet_room and plug; columns length_mm, width_mm, height_mm and plug."""
    text = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
    path = tmp_path / "nano.toml"
    path.write_text(
        text.replace("[site]", '[site]\ncabinet_room = "40 x 30 x 45 cm"\nplug = "type C,  type F"'), encoding="utf-8"
    )
    limits = api.read_rig(path, shop()).limits
    assert limits.room_m == pytest.approx((0.4, 0.3, 0.45))
    assert limits.plugs == ("type C", "type F")
    rows = (DEMO / "catalog" / "pumps.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "shop").mkdir()
    sized = [f"{rows[0]},length_mm,width_mm,height_mm,plug", f"{rows[1]},200,120,250,type F", f"{rows[2]},,,,"]
    (tmp_path / "shop" / "pumps.csv").write_text("\n".join(sized) + "\n", encoding="utf-8")
    first, second = (part for part in api.read_catalog(tmp_path / "shop").parts.values() if isinstance(part, Pump))
    assert (first.length_m, first.width_m, first.height_m, first.plug) == (0.2, 0.12, 0.25, "type F")
    assert (second.length_m, second.plug) == (0.0, "")
    path.write_text(text.replace("[site]", '[site]\ncabinet_room = "40 x 30 cm"'), encoding="utf-8")
    with pytest.raises(InputError, match="is not length x width x height"):
        api.read_rig(path, shop())
