"""Parallel branches of a rig file become a place with two branches, and a fitting may stand the other way round."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Device, Fitting, Hose, TeePiece
from optimizer.model.rig import Rig
from optimizer.model.state import State

SMALL = Path(__file__).parent.parent / "data" / "small"
TEXT = (SMALL / "two_intakes.toml").read_text(encoding="utf-8")
OWN_TEE = """
[loop.intakes.meeting]
name = "glued tee"
inlet = "slip mm 20 mm female"
inlet_bore = "20 mm"
outlet = "slip mm 20 mm female"
outlet_bore = "20 mm"
side = "tail 16 mm"
side_bore = "12 mm"
angle = "45 deg"
"""


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(SMALL / "catalog")


@pytest.fixture(scope="module")
def twin(shop: Catalog) -> Rig:
    return read_rig(SMALL / "two_intakes.toml", shop)


def changed(folder: Path, shop: Catalog, *changes: tuple[str, str], text: str = TEXT) -> Rig:
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "changed.toml").write_text(text, encoding="utf-8")
    return read_rig(folder / "changed.toml", shop)


def test_two_intakes_meet_at_a_tee(twin: Rig, shop: Catalog) -> None:
    intakes = twin.positions[0]
    left, right = intakes.branches
    assert (intakes.name, intakes.kind, intakes.installed, intakes.parting) == ("intakes", "branches", None, None)
    assert intakes.meeting == shop.parts["TEE-16"]
    assert [place.name for place in left.positions] == ["left.strainer", "left.hose"]
    assert [place.name for place in right.positions] == ["right.strainer", "right.hose"]
    assert (left.name, left.installed, right.name, right.installed) == ("left", True, "right", True)
    strainer, hose = left.positions
    assert (strainer.installed, strainer.state) == (shop.parts["GUARD-SLOT"], State(blocked=0.4))
    assert isinstance(hose.installed, Hose)
    assert (hose.installed.id, hose.length_m, hose.bends) == ("installed:left.hose", 0.4, 1)
    assert right.positions[1].length_m == 0.9


def test_a_branch_that_is_not_there_has_kinds_and_geometry(twin: Rig) -> None:
    treatment = twin.positions[-2]
    reactor, bypass = treatment.branches
    assert (reactor.installed, bypass.installed) == (True, False)
    assert (treatment.parting, treatment.meeting) == (None, None)
    assert isinstance(reactor.positions[1].installed, Device)
    tap, hose = bypass.positions
    assert (tap.name, tap.kind, tap.role, tap.installed) == ("bypass.tap", "fitting", "valve", None)
    assert (hose.kind, hose.installed, hose.length_m, hose.bends) == ("hose", None, 0.7, 2)
    assert (hose.bend_radius_m, hose.coil_m, hose.state, hose.adjusts) == (0.08, 0.3, State(), ())
    assert not any(place.stays or place.may_go for place in bypass.positions)


def test_the_loop_is_otherwise_as_written(twin: Rig) -> None:
    kinds = ["branches", "hose", "canister", "pump", "branches", "outlet"]
    assert [position.kind for position in twin.positions] == kinds
    assert len(twin.trays) == 2
    assert [note.partition(" (")[0] for note in twin.notes] == ["loop.pump: does not fit canister"]


def test_a_second_guard_may_be_one_that_is_not_there(tmp_path: Path, shop: Catalog) -> None:
    part = '[loop.intakes.right.strainer]\nkind = "guard"\npart = "GUARD-SLOT"\n'
    rig = changed(
        tmp_path,
        shop,
        ('meeting = {part = "TEE-16"}\n', ""),
        (part, '[loop.intakes.right]\ninstalled = false\n\n[loop.intakes.right.strainer]\nkind = "guard"\n'),
        ('part = "HOSE-16-22"\nlength = "0.9 m"', 'length = "0.9 m"'),
    )
    strainer, hose = rig.positions[0].branches[1].positions
    assert (strainer.kind, strainer.installed, hose.installed, hose.length_m) == ("guard", None, None, 0.9)
    assert rig.positions[0].meeting is None


def test_outlets_in_branches_keep_their_heights(tmp_path: Path, shop: Catalog) -> None:
    """Where there is none yet the height stands all the same; without one it is assumed, and said."""
    bar = '[loop.spray_bar]\nkind = "outlet"\npart = "BAR-16"\nbelow_water = "2 cm"\n'
    pair = (
        '[loop.outlets]\nkind = "branches"\n[loop.outlets.one.bar]\nkind = "outlet"\npart = "BAR-16"\nabove_water = "3 cm"\n'
        '[loop.outlets.two]\ninstalled = false\n[loop.outlets.two.bar]\nkind = "outlet"\n'
    )
    high, low = changed(tmp_path, shop, (bar, pair + 'below_water = "5 cm"\n')).positions[-1].branches
    assert (high.positions[0].height_m, low.positions[0].height_m) == (0.03, -0.05)
    assert (len(high.positions[0].adjusts), low.positions[0].adjusts) == (1, ())
    assumed = changed(tmp_path, shop, (bar, pair))
    assert assumed.positions[-1].branches[1].positions[0].height_m == 0.0
    assert set(assumed.notes) - set(changed(tmp_path, shop, (bar, pair + 'below_water = "5 cm"\n')).notes) == {
        "loop.outlets.two.bar.above_water: not given, the outlet is taken to be at the water line"
    }


def test_a_tee_may_be_described(tmp_path: Path, shop: Catalog) -> None:
    tee = changed(tmp_path, shop, ('meeting = {part = "TEE-16"}\n', OWN_TEE)).positions[0].meeting
    assert isinstance(tee, TeePiece)
    assert (tee.id, tee.name, tee.angle_deg) == ("installed:intakes:meeting", "glued tee", 45.0)
    assert (tee.passage_m, tee.side_passage_m, tee.side.size_m) == (0.02, 0.012, 0.016)


def test_branches_in_the_middle_have_two_tees(tmp_path: Path, shop: Catalog) -> None:
    rig = changed(
        tmp_path,
        shop,
        ('[loop.treatment]\nkind = "branches"\n', '[loop.treatment]\nkind = "branches"\nparting = {part = "TEE-16"}\n'),
        ("[loop.treatment.bypass]\ninstalled = false\n", OWN_TEE.replace("intakes", "treatment")),
        ('[loop.treatment.bypass.tap]\nkind = "valve"\n', '[loop.treatment.bypass.tap]\nkind = "valve"\ninstalled = false\n'),
        ('kind = "hose"\nlength = "0.7 m"', 'kind = "hose"\npart = "HOSE-16-22"\nlength = "0.7 m"'),
    )
    treatment = rig.positions[-2]
    assert treatment.parting == shop.parts["TEE-16"]
    assert treatment.meeting is not None
    assert treatment.meeting.id == "installed:treatment:meeting"
    assert treatment.branches[1].positions[0].role == "valve"


def test_a_spare_may_be_a_tee(tmp_path: Path, shop: Catalog) -> None:
    rig = changed(tmp_path, shop, text=TEXT + '\n[[spares]]\npart = "TEE-16"\ncount = 2\n')
    assert (rig.spares[0].part, rig.spares[0].count) == (shop.parts["TEE-16"], 2)


@pytest.mark.parametrize("kind", ["canister", "pump"])
def test_what_no_branch_may_hold(kind: str, tmp_path: Path, shop: Catalog) -> None:
    with pytest.raises(InputError) as caught:
        changed(tmp_path, shop, ('kind = "device"', f'kind = "{kind}"'))
    assert [problem.what for problem in caught.value.problems] == [f"a branch holds no {kind}."]


def test_problems_in_both_branches_and_tees_come_together(tmp_path: Path, shop: Catalog) -> None:
    with pytest.raises(InputError) as caught:
        changed(
            tmp_path,
            shop,
            ("TEE-16", "TEE-61"),
            ('length = "0.4 m"', 'length = "0.4"'),
            ('part = "GUARD-SLOT"\n\n[loop.intakes.right.hose]', 'part = "GUARD"\n\n[loop.intakes.right.hose]'),
            ('bend_radius = "8 cm"', 'bend_radios = "8 cm"'),
        )
    assert [problem.where for problem in caught.value.problems] == [
        "loop.intakes.left.hose.length",
        "loop.intakes.right.strainer.part",
        "loop.intakes.meeting.part",
        "loop.treatment.bypass.hose.bend_radios",
    ]


@pytest.mark.parametrize("turned", [True, False])
def test_a_fitting_of_the_catalog_may_be_turned(turned: bool, tmp_path: Path, shop: Catalog) -> None:
    """It stays the same product: only the ends change places."""
    place = f'[loop.reducer]\nkind = "tail"\npart = "TAIL-19"\nturned = {str(turned).lower()}\n\n[loop.spray_bar]'
    found = changed(tmp_path, shop, ("[loop.spray_bar]", place)).positions[-2].installed
    part = shop.parts["TAIL-19"]
    assert isinstance(part, Fitting)
    assert isinstance(found, Fitting)
    assert found == (replace(part, inlet=part.outlet, outlet=part.inlet) if turned else part)
    assert found.id == part.id
    assert part.inlet != part.outlet


def test_a_fitting_in_a_branch_may_be_turned(tmp_path: Path, shop: Catalog) -> None:
    tail = '[loop.intakes.left.tail]\nkind = "tail"\npart = "TAIL-19"\nturned = true\n\n[loop.intakes.right.strainer]'
    found = changed(tmp_path, shop, ("[loop.intakes.right.strainer]", tail)).positions[0].branches[0].positions[-1].installed
    part = shop.parts["TAIL-19"]
    assert isinstance(part, Fitting)
    assert isinstance(found, Fitting)
    assert (found.inlet, found.outlet) == (part.outlet, part.inlet)
