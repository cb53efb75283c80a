"""Spares in words: what is said whole is read, what says too little is never guessed."""

from pathlib import Path

import pytest

from optimizer.errors import BadValue
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_parts import read_spares
from optimizer.files.spare_text import spare_table
from optimizer.files.toml_keys import Report
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Clamp, Hose

DEMO = Path(__file__).parents[2] / "parts_demo" / "catalog"


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(DEMO)


@pytest.mark.parametrize(
    ("said", "keys"),
    [
        ("2 m hose 16/22", {"kind": "hose", "size": "16/22 mm", "length": "2 m"}),
        ("16/22 mm hose 150 cm", {"kind": "hose", "size": "16/22 mm", "length": "150 cm"}),
        ("4 clamps 16 to 25 mm", {"kind": "clamp", "low": "16 mm", "high": "25 mm", "count": 4}),
        ("1,5 m silicone hose 16/22", {"part": "HOSE-16-22-SI", "length": "1,5 m"}),
        ("2 x TAIL-16-G34", {"part": "TAIL-16-G34", "count": 2}),
        ("TAIL-16-G34 x3", {"part": "TAIL-16-G34", "count": 3}),
        ("Hose tail 16 mm, G 1/2 male, bore 12 mm", {"part": "TAIL-16-G12"}),
        ("wide-bore hose tail 16 mm G 1/2 male", {"part": "TAIL-16-G12W"}),
        ('hose tail 5/8" NPT 1/2 male bore 12 mm', {"part": "TAIL-58IN-N12"}),
        ("2 hose tails 14 mm NPT 3/8 male", {"kind": "tail", "inlet": "NPT 3/8 in male", "outlet": "tail 14 mm", "count": 2}),
        ("3 washers G 1/2 in", {"part": "WASH-G12", "count": 3}),
        ("2 l filter foam 20 ppi", {"part": "FOAM-20", "volume": "2 l"}),
        ("2 full-bore ball valves 16 mm tails", {"part": "VALVE-T16F", "count": 2}),
    ],
)
def test_what_is_said_whole_is_read(said: str, keys: dict[str, object], shop: Catalog) -> None:
    """Ids, names, and kinds with their sizes, with the amount in front or behind."""
    assert spare_table(said, shop) == keys


@pytest.mark.parametrize(
    ("said", "what", "cure"),
    [
        ("hose tail 16 mm G 1/2 male", "may be 3 parts of the catalog", '"TAIL-16-G12" (hose tail 16 mm'),
        ("TAIL-16-G43", "is no part of the catalog", 'Near candidates: "TAIL-16-G34"'),
        ("hose tail 16 mm, G 1/2 male, bore 12.5 mm", "is no part of the catalog", '"TAIL-16-G12" (hose tail 16 mm'),
        ("spray bar 16 mm", "may be 2 parts of the catalog", '"BAR-16-16X3"'),
        ("garden gnome", "is no part of the catalog", "Write for example"),
        ("5", "is no part of the catalog", "Write for example"),
        (" ", "the text is empty", "Write for example"),
    ],
)
def test_what_says_too_little_names_what_is_near(said: str, what: str, cure: str, shop: Catalog) -> None:
    """Several parts, a slip in an id, a bore that nothing has, nonsense: a problem with the near candidates, and no guess."""
    with pytest.raises(BadValue) as found:
        spare_table(said, shop)
    assert what in found.value.what and cure in found.value.cure


def test_every_name_and_every_id_of_the_catalog_is_itself(shop: Catalog) -> None:
    """Whatever a shop calls a part, its whole name and its id stand for it, or for one that is alike in all but these."""
    for part in shop.parts.values():
        assert spare_table(part.id, shop)["part"] == part.id
        found = spare_table(part.name, shop)
        assert shop.parts[str(found["part"])].name == part.name


def test_texts_and_tables_stand_side_by_side(shop: Catalog) -> None:
    """A list may hold both; each problem stands at its number, and nothing is passed over."""
    report = Report()
    raw: list[object] = ["2 m hose 16/22", {"part": "CLAMP-16-25", "count": 3}, "2 clamps 20 to 32 mm"]
    hose, some, clamps = read_spares(raw, shop, report)
    assert isinstance(hose.part, Hose) and hose.amount_m == 2.0 and some.count == 3
    assert isinstance(clamps.part, Clamp) and (clamps.part.low_m, clamps.count) == (0.02, 2)
    assert not len(report.problems)
    read_spares(["hose 16/22", {}, "spray bar 16 mm", 3], shop, report)
    assert [problem.where for problem in report.problems] == ["spares"]
    read_spares(["hose 16/22", {}, "spray bar 16 mm", "2 m TAIL-16-G34", "0 x TAIL-16-G34"], shop, report)
    places = [problem.where for problem in report.problems][1:]
    assert places == ["spares[1].length", "spares[2]", "spares[3]", "spares[4].length", "spares[5].count"]


def test_a_tail_that_the_catalog_has_not_is_noted(shop: Catalog) -> None:
    """By its hose and its thread alone it has the usual bores, and that is said; one in the catalog has its own."""
    report = Report()
    strange, known = read_spares(["hose tail 14 mm NPT 3/8 male", "wide-bore hose tail 16 mm G 1/2 male"], shop, report)
    assert strange.part.id == "spare:1" and known.part.id == "TAIL-16-G12W"
    assert [str(note).partition(":")[0] for note in report.notes] == ["spares[1]"]


def test_only_a_pump_wears(shop: Catalog) -> None:
    """Wear is the speed of a pump; of anything else it is a problem."""
    report = Report()
    assert read_spares([{"part": "TAIL-16-G34", "worn": "10 %"}], shop, report) == ()
    assert [problem.what for problem in report.problems] == ["a fitting does not wear."]
