"""A rig is a loop from guard to outlet with one canister and one pump; everything else is refused with the reason."""

import dataclasses
import re
from dataclasses import replace
from typing import Any

import pytest
from small_worlds import bar, fitting, guard, hose, label_curve, medium, pump, tail

from optimizer.model.parts import Canister
from optimizer.model.rig import Adjust, Position, Rig, Spare, Tank, Tray, is_throttle
from optimizer.model.state import State

END = tail(16, 12)
BODY = Canister(id="body", name="body", inlet=END, outlet=END, trays=1, tray_area_m2=0.03, tray_height_m=0.05)
PLACES = {
    "intake": Position(name="intake", kind="guard", installed=guard("G", 16, 12, 10)),
    "suction": Position(name="suction", kind="hose", installed=hose("H", 16), length_m=1.5),
    "canister": Position(name="canister", kind="canister", installed=BODY),
    "pump": Position(name="pump", kind="pump", installed=pump("P", END, END, label_curve(2.0, 1500))),
    "outlet": Position(name="outlet", kind="outlet", installed=bar("B", END, 12, 3.0)),
}
TRAYS = (Tray(medium=medium("M", 1e-7, True, 0.0)),)


def rig(*names: str, **more: Any) -> Rig:
    """A rig of the named places, in that order."""
    values: dict[str, Any] = {"tank": Tank(nominal_m3=0.4, net_m3=0.34), "trays": TRAYS, **more}
    return Rig(name="tank", positions=tuple(PLACES[name] for name in names), **values)


def test_a_loop_knows_its_canister_its_pump_and_their_places() -> None:
    """Look-ups used everywhere."""
    loop = rig("intake", "suction", "canister", "pump", "outlet")
    assert (loop.index("pump"), loop.index("hose")) == (3, 1)
    assert (loop.canister, loop.pump.id) == (BODY, "P")
    with pytest.raises(ValueError, match="device"):
        loop.index("device")


@pytest.mark.parametrize(
    ("names", "reason"),
    [
        ((), "a loop starts with a guard and ends with an outlet"),
        (("intake",), "a loop starts with a guard and ends with an outlet"),
        (("suction", "canister", "pump", "outlet"), "a loop starts with a guard"),
        (("intake", "canister", "pump"), "ends with an outlet"),
        (("intake", "canister", "outlet"), "a loop has exactly one pump, this one has 0"),
        (("intake", "pump", "outlet"), "a loop has exactly one canister, this one has 0"),
        (("intake", "canister", "pump", "pump", "outlet"), "a loop has exactly one pump, this one has 2"),
        (("intake", "intake", "canister", "pump", "outlet"), "a loop has exactly one guard, this one has 2"),
        (("intake", "suction", "canister", "pump", "suction", "outlet"), "every position needs a name of its own"),
    ],
)
def test_what_is_no_loop_is_refused(names: tuple[str, ...], reason: str) -> None:
    """One guard first, one outlet last, one canister, one pump, names that differ."""
    with pytest.raises(ValueError, match=reason):
        rig(*names)


def test_every_tray_must_be_described() -> None:
    """A canister of one tray holds one filling, not two."""
    with pytest.raises(ValueError, match="the canister has 1 trays, but 2 are described"):
        rig("intake", "canister", "pump", "outlet", trays=TRAYS * 2)


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"kind": "hose"}, "position intake is a hose but holds a guard"),
        ({"installed": None}, "position intake is empty; only a fitting can be added"),
    ],
)
def test_a_position_holds_its_own_kind_of_part(changes: dict[str, Any], reason: str) -> None:
    """What stands there must be what the place is for."""
    with pytest.raises(ValueError, match=re.escape(reason)):
        replace(PLACES["intake"], **changes)


def test_a_hose_run_needs_a_length_and_an_empty_place_is_for_a_fitting() -> None:
    """Length belongs to the place, not to the hose."""
    with pytest.raises(ValueError, match="hose run suction needs a length"):
        replace(PLACES["suction"], length_m=0.0)
    assert Position(name="tap", kind="fitting", role="valve", installed=None).installed is None


@pytest.mark.parametrize(("net", "nominal"), [(0.0, 0.4), (-0.1, 0.4), (0.41, 0.4), (float("nan"), 0.4)])
def test_a_tank_holds_water_and_no_more_than_its_nominal_volume(net: float, nominal: float) -> None:
    """Net water is what is really in it."""
    with pytest.raises(ValueError, match="the net volume must be above zero and at most the nominal volume"):
        Tank(net_m3=net, nominal_m3=nominal)


def test_turnover_is_counted_on_net_water() -> None:
    """By hand: 680 l/h over 340 l is 2 per hour; net water as basis: common practice, no published source."""
    assert rig("intake", "canister", "pump", "outlet").turnover_per_hour(0.68 / 3600.0) == pytest.approx(2.0, rel=1e-12)


def test_only_a_fitting_that_can_be_set_part_way_throttles() -> None:
    """A pump, a straight coupling and nothing at all cannot hold a flow."""
    assert is_throttle(fitting("T", "valve", END, END, throttles=True))
    assert not is_throttle(fitting("C", "coupling", END, END))
    assert not is_throttle(PLACES["pump"].installed)
    assert not is_throttle(None)


def test_nothing_in_a_rig_can_be_changed_in_place() -> None:
    """A solve never writes into its input."""
    loop = rig("intake", "canister", "pump", "outlet")
    frozen = (loop, loop.tank, loop.positions[0], loop.trays[0], Adjust(name="a"), Spare(part=BODY), State(), loop.limits)
    for thing in frozen:
        field = dataclasses.fields(thing)[0].name
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(thing, field, None)
