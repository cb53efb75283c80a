"""A rig is a loop from guard to outlet with one canister and one pump; everything else is refused with the reason."""

import dataclasses
from dataclasses import replace
from typing import Any

import pytest
from small_worlds import bar, fitting, guard, hose, label_curve, medium, pump, tail

from optimizer.model.parts import Canister, TeePiece
from optimizer.model.rig import Adjust, Branch, Position, Rig, Spare, Tank, Tray, inner_positions, is_throttle
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


SERIES = tuple(PLACES.values())
TEE = TeePiece(id="T", name="tee", inlet=END, outlet=END, side=END, passage_m=0.012, side_passage_m=0.012)


def loop(*positions: Position, **more: Any) -> Rig:
    """A rig of these positions."""
    values: dict[str, Any] = {"tank": Tank(nominal_m3=0.4, net_m3=0.34), "trays": TRAYS, **more}
    return Rig(name="tank", positions=positions, **values)


def rig(*names: str, **more: Any) -> Rig:
    """A rig of the named places, in that order."""
    return loop(*(PLACES[name] for name in names), **more)


def named(place: Position, name: str, *, empty: bool = False) -> Position:
    """The same place under another name, on request with nothing there."""
    return replace(place, name=name, installed=None if empty else place.installed)


def branch(name: str, *kinds: str, installed: bool = True) -> Branch:
    """A branch of such places as PLACES has, each called by its branch; all empty when it is not installed."""
    places = tuple(named(PLACES[kind], f"{name}.{kind}", empty=not installed) for kind in kinds)
    return Branch(name=name, positions=places, installed=installed)


def pair(*branches: Branch, **tees: TeePiece) -> Position:
    """A place with branches."""
    return Position(name="pair", kind="branches", installed=None, branches=branches, **tees)


def test_a_loop_knows_its_canister_its_pump_and_their_places() -> None:
    """Look-ups used everywhere."""
    whole = rig("intake", "suction", "canister", "pump", "outlet")
    assert (whole.index("pump"), whole.index("hose")) == (3, 1)
    assert (whole.canister, whole.pump.id) == (BODY, "P")
    with pytest.raises(ValueError, match="device"):
        whole.index("device")


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


def test_a_position_holds_its_own_kind_of_part() -> None:
    """What stands there must be what the place is for."""
    with pytest.raises(ValueError, match="position intake is a hose but holds a guard"):
        replace(PLACES["intake"], kind="hose")


def test_only_a_fitting_is_added_where_nothing_stands() -> None:
    """A loop without its guard, or with a gap in a hose, is not a loop yet."""
    for name in ("intake", "suction"):
        gap = replace(PLACES[name], installed=None)
        with pytest.raises(ValueError, match=f"position {name} is empty; only a fitting can be added"):
            loop(*(gap if place.name == name else place for place in SERIES))
    assert loop(*SERIES[:2], Position(name="tap", kind="fitting", role="valve", installed=None), *SERIES[2:]).positions[2].role


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
    whole = rig("intake", "canister", "pump", "outlet")
    frozen = (whole, whole.tank, whole.positions[0], whole.trays[0], Adjust(name="a"), Spare(part=BODY), State(), whole.limits)
    for thing in frozen:
        field = dataclasses.fields(thing)[0].name
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(thing, field, None)


MIDDLE = ("canister", "pump")
START = pair(branch("left", "intake", "suction"), branch("right", "intake", "suction"), meeting=TEE)
AFTER = tuple(PLACES[name] for name in ("canister", "pump", "outlet"))


def test_branches_start_with_guards_and_end_with_outlets() -> None:
    """Two intakes that meet, two outlets that part, a way round that is not there yet: each is a loop."""
    ways = pair(branch("near", "suction"), branch("far", "suction", installed=False))
    outlets = pair(branch("left", "outlet"), branch("right", "outlet"), parting=TEE)
    body = [PLACES[name] for name in MIDDLE]
    assert loop(START, *AFTER).positions[0].meeting == TEE
    assert loop(PLACES["intake"], *body, outlets).index("branches") == 3
    round_it = loop(PLACES["intake"], ways, *AFTER).positions[1]
    assert [place.name for place in inner_positions(round_it)] == ["near.suction", "far.suction"]
    assert not inner_positions(PLACES["intake"])
    second = pair(branch("left", "intake"), branch("right", "intake", "suction", installed=False))
    assert loop(second, *AFTER).positions[0].branches[1].positions[0].installed is None


def test_a_branch_may_hold_a_place_for_a_fitting() -> None:
    """A tap may be added in a branch as anywhere."""
    tap = Position(name="tap", kind="fitting", role="valve", installed=None)
    near = Branch(name="near", positions=(*branch("near", "suction").positions, tap))
    whole = loop(PLACES["intake"], pair(near, branch("far", "suction"), parting=TEE, meeting=TEE), *AFTER)
    assert whole.positions[1].holds_something
    assert not tap.holds_something


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"branches": ()}, "position pair has branches if and only if that is its kind"),
        ({"kind": "fitting"}, "position pair has branches if and only if that is its kind"),
        ({"branches": START.branches[:1]}, "position pair holds two branches, not 1"),
        ({"branches": START.branches * 2}, "position pair holds two branches, not 4"),
        (
            {"branches": (branch("left", "intake", installed=False), branch("right", "intake"))},
            "the first branch of pair must be",
        ),
    ],
)
def test_a_place_with_branches_holds_two_and_the_first_is_there(changes: dict[str, Any], reason: str) -> None:
    """More than two, or one that stands alone, is no pair."""
    with pytest.raises(ValueError, match=reason):
        replace(START, **changes)


@pytest.mark.parametrize(
    ("start", "reason"),
    [
        (pair(branch("left", "intake"), branch("right", "suction"), meeting=TEE), "a loop starts with a guard"),
        (
            pair(branch("left", "intake"), branch("right", "intake", "intake"), meeting=TEE),
            "exactly one guard in each branch at its end, this one has 3",
        ),
        (pair(branch("left", "intake"), branch("right", "intake", "pump"), meeting=TEE), "exactly one pump, this one has 2"),
        (pair(branch("left", "intake"), branch("right", "intake")), "position pair needs the tee at which its branches meet"),
        (replace(START, parting=TEE), "position pair has a tee where no two branches part"),
        (
            pair(branch("left", "intake"), branch("right", "intake", installed=False), meeting=TEE),
            "position pair has a tee where no two branches meet",
        ),
        (
            pair(branch("left", "intake"), replace(branch("right", "intake", installed=False), installed=True), meeting=TEE),
            "position right.intake is empty; only a fitting can be added",
        ),
        (pair(branch("left", "intake"), branch("left", "intake"), meeting=TEE), "every position needs a name of its own"),
        (named(START, "pump"), "every position needs a name of its own"),
        (replace(PLACES["intake"], meeting=TEE), "position intake has a tee where no two branches meet"),
    ],
)
def test_intakes_that_are_no_pair_are_refused(start: Position, reason: str) -> None:
    """Guards, tees and names are counted over both branches."""
    with pytest.raises(ValueError, match=reason):
        loop(start, *AFTER)


@pytest.mark.parametrize(("missing", "what"), [("parting", "part"), ("meeting", "meet")])
def test_branches_in_the_middle_need_both_tees(missing: str, what: str) -> None:
    """Neither tank side is near."""
    ways = pair(branch("near", "suction"), branch("far", "suction"), parting=TEE, meeting=TEE)
    with pytest.raises(ValueError, match=f"position pair needs the tee at which its branches {what}"):
        loop(PLACES["intake"], replace(ways, **{missing: None}), *AFTER)


@pytest.mark.parametrize("kind", ["canister", "pump"])
def test_a_branch_holds_no_canister_and_no_pump(kind: str) -> None:
    """The one pump and the one canister stand where all the water passes."""
    ways = pair(branch("near", "suction"), branch("far", kind), parting=TEE, meeting=TEE)
    rest = [PLACES[name] for name in MIDDLE if name != kind]
    with pytest.raises(ValueError, match="a branch holds no canister and no pump"):
        loop(PLACES["intake"], ways, *rest, PLACES["outlet"])


def nested(**changes: object) -> Position:
    """Two branches in the middle of a loop, the second of which holds two more."""
    inner = replace(pair(branch("a", "suction"), branch("b", "suction"), parting=TEE, meeting=TEE), name="inner", **changes)
    return pair(branch("near", "suction"), Branch(name="far", positions=(inner,)), parting=TEE, meeting=TEE)


def test_a_branch_may_hold_branches() -> None:
    """Their parts and tees are among those of the rig, and a change of every place comes to them."""
    rig = loop(PLACES["intake"], nested(), *AFTER)
    assert [place.name for place in rig.every_position[1:4]] == ["near.suction", "a.suction", "b.suction"]
    assert sum(part is TEE for part in rig.every_part) == 4
    dirty = rig.with_each(lambda place: replace(place, state=State(film_m=1e-3)) if place.kind == "hose" else place)
    assert [place.state.film_m for place in dirty.every_position[1:4]] == [1e-3] * 3
    assert rig.as_it_stands == rig


def test_of_branches_in_a_branch_only_one_may_be_there() -> None:
    """Then it is in series with the rest of its branch, which is what stands today."""
    inner = replace(pair(branch("a", "suction"), branch("b", "suction", installed=False)), name="inner")
    ways = pair(branch("near", "suction"), Branch(name="far", positions=(inner,)), parting=TEE, meeting=TEE)
    stands = loop(PLACES["intake"], ways, *AFTER).as_it_stands.positions[1]
    assert [place.name for place in stands.branches[1].positions] == ["a.suction"]


@pytest.mark.parametrize(("missing", "what"), [("parting", "part"), ("meeting", "meet")])
def test_branches_in_a_branch_need_tees_too(missing: str, what: str) -> None:
    """They are not at the tank."""
    with pytest.raises(ValueError, match=f"position inner needs the tee at which its branches {what}"):
        loop(PLACES["intake"], nested(**{missing: None}), *AFTER)


def test_a_branch_that_is_not_there_holds_no_branches() -> None:
    """There is one step at a time: the second way comes once the first is there."""
    inner = replace(pair(branch("a", "suction"), branch("b", "suction"), parting=TEE, meeting=TEE), name="inner")
    with pytest.raises(ValueError, match="that is not there holds no branches"):
        pair(branch("near", "suction"), Branch(name="far", positions=(inner,), installed=False))
