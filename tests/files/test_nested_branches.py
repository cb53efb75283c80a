"""Three or four branches of a rig file become tees in a row, and a place in a branch may hold branches."""

from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig

SMALL = Path(__file__).parent.parent / "data" / "small"
TEXT = (SMALL / "two_intakes.toml").read_text(encoding="utf-8")
TEE = '{part = "TEE-16"}'


def intake(name: str, there: bool = True) -> str:
    """A branch with a guard and a hose, or the places where they would be."""
    head = "" if there else f"[loop.intakes.{name}]\ninstalled = false\n"
    guard, hose = ('part = "GUARD-SLOT"\n', 'part = "HOSE-16-22"\n') if there else ("", "")
    places = f'[loop.intakes.{name}.strainer]\nkind = "guard"\n{guard}[loop.intakes.{name}.hose]\nkind = "hose"\n{hose}'
    return head + places + 'length = "0.5 m"\n\n'


def written(folder: Path, intakes: str, more: str = "") -> Path:
    """The rig of `small` with other intakes, and more at its end."""
    start, end = TEXT.index("[loop.intakes]"), TEXT.index("[loop.suction_hose]")
    path = folder / "nested.toml"
    path.write_text(f"{TEXT[:start]}{intakes}{TEXT[end:]}{more}", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(SMALL / "catalog")


def row(tees: dict[str, str], *branches: str) -> str:
    """A place with branches side by side."""
    keys = "".join(f"{key} = {value}\n" for key, value in tees.items())
    return f'[loop.intakes]\nkind = "branches"\n{keys}\n' + "".join(branches)


def problems(path: Path, shop: Catalog) -> list[str]:
    with pytest.raises(InputError) as caught:
        read_rig(path, shop)
    return [f"{each.where}: {each.what} {each.cure}" for each in caught.value.problems]


def names(rig: Rig) -> list[str]:
    return [place.name for place in rig.every_position[:8]]


def test_three_branches_are_two_tees_in_a_row(tmp_path: Path, shop: Catalog) -> None:
    tees = {"meeting": TEE, "meeting_2": '{part = "TEE-16", turned = true}'}
    rig = read_rig(written(tmp_path, row(tees, intake("left"), intake("right"), intake("middle"))), shop)
    outer = rig.positions[0]
    first, others = outer.branches
    inner = others.positions[0]
    assert (first.name, others.name, inner.name, inner.kind) == ("left", "right and middle", "right and middle", "branches")
    assert [branch.name for branch in inner.branches] == ["right", "middle"]
    assert outer.meeting == shop.parts["TEE-16"] and inner.meeting is not None and inner.parting is None
    assert names(rig)[:6] == [f"{way}.{place}" for way in ("left", "right", "middle") for place in ("strainer", "hose")]


def test_of_four_branches_the_last_may_be_one_that_is_not_there(tmp_path: Path, shop: Catalog) -> None:
    """Its tee comes with it, the others have theirs."""
    tees = {"meeting": TEE, "meeting_2": TEE}
    branches = (intake("left"), intake("right"), intake("middle"), intake("far", there=False))
    rig = read_rig(written(tmp_path, row(tees, *branches)), shop)
    inner = rig.positions[0].branches[1].positions[0]
    last = inner.branches[1].positions[0]
    assert inner.meeting is not None
    assert (last.name, last.meeting, last.branches[1].installed) == ("middle and far", None, False)


def test_a_joint_at_an_inner_tee_goes_by_its_branches(tmp_path: Path, shop: Catalog) -> None:
    tees = {"meeting": TEE, "meeting_2": TEE}
    joint = '\n[[joint]]\nbetween = ["right.hose", "{}"]\nadapters = ["RED-19-16"]\n'
    branches = row(tees, intake("left"), intake("right"), intake("middle"))
    wrong = problems(written(tmp_path, branches, joint.format("intakes meeting tee")), shop)
    right = problems(written(tmp_path, branches, joint.format("right and middle meeting tee")), shop)
    assert any('goes from "right.hose" to "right and middle meeting tee", not to "intakes meeting tee"' in each for each in wrong)
    assert not any("goes from" in each for each in right)


def test_a_place_in_a_branch_may_hold_branches(tmp_path: Path, shop: Catalog) -> None:
    """Written out it says the same as three in a row."""
    inner = '[loop.intakes.others.pair]\nkind = "branches"\nmeeting = {part = "TEE-16"}\n'
    nested = row({"meeting": TEE}, intake("left"), inner, *(intake(f"others.pair.{name}") for name in ("right", "middle")))
    rig = read_rig(written(tmp_path, nested), shop)
    pair = rig.positions[0].branches[1].positions[0]
    assert (pair.name, [branch.name for branch in pair.branches]) == ("others.pair", ["right", "middle"])
    flat = read_rig(written(tmp_path, row({"meeting": TEE, "meeting_2": TEE}, *map(intake, ("left", "right", "middle")))), shop)
    assert names(rig) == names(flat)


@pytest.mark.parametrize(
    ("intakes", "told"),
    [
        (
            row({"meeting": TEE, "meeting_2": TEE, "meeting_3": TEE}, *map(intake, ("a", "b", "c", "d", "e"))),
            "loop.intakes: there are 5 branches (a, b, c, d, e), not 2 to 4. Keep four of them.",
        ),
        (
            row({"meeting": TEE}, intake("a"), intake("b", there=False), intake("c", there=False)),
            "loop.intakes.b.installed: only the third branch may be one that is not there. "
            "Put the branches that are there first.",
        ),
        (
            row({"meeting": TEE, "meeting_2": TEE}, intake("a"), intake("b")),
            "loop.intakes.meeting_2: there are two branches, and so no second tee at which any meet. Leave the tee out.",
        ),
        (
            row({"meeting": TEE, "meeting_2": TEE}, intake("a"), intake("b"), intake("c", there=False)),
            "loop.intakes.meeting_2: one of the branches is not there, so they need no tee. Leave the tee out.",
        ),
        (
            row({"meeting": TEE, "meeting_2": TEE, "parting_2": TEE}, *map(intake, ("a", "b", "c"))),
            "loop.intakes.parting_2: the branches do not part: they start in the tank. Leave the tee out.",
        ),
        (
            row({}, intake("a"), '[loop.intakes.b]\ninstalled = false\n[loop.intakes.b.two]\nkind = "branches"\n'),
            "loop.intakes.b.two.kind: this branch is not there, so it holds no branches. Write what it would be as one row of "
            "places; the second way may come once the first is there.",
        ),
    ],
    ids=["five", "two gone", "a tee too many", "a tee of none", "at the tank", "in a branch that is not there"],
)
def test_what_is_refused_is_said_with_its_cure(intakes: str, told: str, tmp_path: Path, shop: Catalog) -> None:
    assert problems(written(tmp_path, intakes), shop) == [told]


def test_water_parts_three_times_at_most(tmp_path: Path, shop: Catalog) -> None:
    """Four in a row are all that there may be, whichever way they are written."""
    deep = '[loop.intakes.d.more]\nkind = "branches"\nmeeting = {part = "TEE-16"}\n'
    tees = {"meeting": TEE, "meeting_2": TEE, "meeting_3": TEE}
    branches = (*map(intake, ("a", "b", "c")), deep, intake("d.more.e"), intake("d.more.f"))
    assert problems(written(tmp_path, row(tees, *branches)), shop) == [
        "loop.intakes.d.more.kind: the water parts more than three times on its way here. Leave the branches out that carry "
        "least."
    ]


def test_each_branch_ends_as_the_loop_does(tmp_path: Path, shop: Catalog) -> None:
    tees = {"meeting": TEE, "meeting_2": TEE}
    hose = intake("c").replace('[loop.intakes.c.strainer]\nkind = "guard"\npart = "GUARD-SLOT"\n', "")
    assert problems(written(tmp_path, row(tees, intake("a"), intake("b"), hose)), shop) == [
        "loop.intakes.c.hose: the loop starts here, but this branch starts with a hose. Let each branch start with a place of "
        'kind = "guard".'
    ]
