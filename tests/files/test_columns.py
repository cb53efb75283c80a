"""The reference shows every column and key, and each of its examples is accepted by the reader of its field."""

import tomllib

import pytest
from rig_tables import RIG_TABLES

from optimizer.errors import InputError
from optimizer.files.cell_text import cell_reader
from optimizer.files.columns import FORMS, column_reference
from optimizer.files.field import Field, Value
from optimizer.files.key_value import read_value
from optimizer.files.part_kinds import FILES as PART_FILES
from optimizer.files.part_kinds import KITS, by_column
from optimizer.files.toml_fields import (
    BAND,
    BRANCH_KIND,
    HOUSE_FILTER,
    HOUSE_TANK,
    HOUSEHOLD,
    KIND,
    RIG_NAME,
    ROOM,
    SHOP,
    SHOP_CANISTER,
    SPARE_KIND,
    STOCK,
    TEE_PLACE,
)

FILES = (*PART_FILES, KITS)
COLUMNS = [(file, column, field) for file in FILES for column, field in by_column(file).items()]
KEYS: list[Field] = [field for fields in RIG_TABLES for field in fields if field.in_rig]
KEYS += [KIND, SPARE_KIND, RIG_NAME, BRANCH_KIND, *TEE_PLACE]
KEYS += [*HOUSEHOLD, *ROOM, *HOUSE_TANK, *HOUSE_FILTER, *SHOP, *STOCK, *SHOP_CANISTER, *BAND]


@pytest.mark.parametrize("form", FORMS)
def test_every_column_and_key_is_there(form: str) -> None:
    reference = column_reference(form)
    mark = "`" if form == "markdown" else ""
    for name in [column for _, column, _ in COLUMNS] + [field.name for field in KEYS]:
        assert f"{mark}{name}{mark} " in reference, name
    assert all(file in reference for file in (*FILES, "about.toml"))


def test_tables_of_the_markdown_have_five_cells() -> None:
    rows = [line for line in column_reference().splitlines() if line.startswith("|")]
    assert len(rows) > 100
    assert all(line.count("|") - line.count("\\|") == 6 for line in rows)


def _titles(about: str) -> list[str]:
    """The headings of what is asked about, files first."""
    return [line.lstrip("# ") for line in column_reference("markdown", about).splitlines() if line.startswith("#")]


@pytest.mark.parametrize(
    ("about", "titles"),
    [
        ("household", ["Household: one TOML file", "[[spares]]", "[[room]]", "[[tank]]", "[[tank.filter]]"]),
        ("Room", ["Household: one TOML file", "[[room]]"]),
        ("pumps.csv", ["Catalog: one folder with these files", "pumps.csv"]),
        ("limits", ["Rig: one TOML file", "[limits]"]),
        ("units", ["Units"]),
        ("guard_speed", ["Rig: one TOML file", "[limits]", "Shop: one TOML file", "[kinds.NAME]"]),
        ("shelf_prices", ["Shop: one TOML file"]),
    ],
)
def test_a_word_asks_for_a_part_of_it(about: str, titles: list[str]) -> None:
    """A file, a table, or the tables that hold a key, each below its file and nothing else."""
    assert _titles(about) == titles


def test_a_word_that_is_a_key_shows_that_key_alone() -> None:
    """Keys of the same table are left out, and the words are those of the whole reference."""
    rows = [line for line in column_reference("text", "guard_speed").splitlines() if line.startswith("  ")]
    assert rows and all(row.split()[0] == "guard_speed" for row in rows)
    whole = {" ".join(line.split()) for line in column_reference("text").splitlines()}
    assert {" ".join(row.split()) for row in rows} <= whole
    shop = column_reference("text", "shop")
    assert "least_gain" in shop and "weight" in shop and "salinity" not in shop


@pytest.mark.parametrize(
    ("about", "told"), [("houshold", '"household"'), ("zzz", "Write"), ("", "Write"), ("salinty", '"salinity"')]
)
def test_a_word_that_stands_nowhere_gets_near_names(about: str, told: str) -> None:
    """What is not there is refused with what is near, as everywhere."""
    with pytest.raises(InputError, match="stands nowhere") as refused:
        column_reference("text", about)
    assert told in str(refused.value)


def test_unknown_form() -> None:
    with pytest.raises(ValueError, match="text or markdown"):
        column_reference("html")


@pytest.mark.parametrize(
    ("column", "field"),
    [(column, field) for _, column, field in COLUMNS],
    ids=[f"{file}-{column}" for file, column, _ in COLUMNS],
)
def test_examples_of_columns_are_accepted(column: str, field: Field) -> None:
    assert cell_reader(field)(field.cell_example) is not None
    assert column == column.lower()
    assert field.default is None or not field.required


@pytest.mark.parametrize("field", KEYS, ids=[field.name for field in KEYS])
def test_examples_of_keys_are_accepted(field: Field) -> None:
    raw: object = field.key_example
    if field.holds is Value.YES_NO:
        raw = raw == "true"
    if field.holds is Value.CURVE:
        raw = ["0 l/h: 2.2 m", "1000 l/h: 1.5 m", "2000 l/h: 0 m"]
        assert str(raw).replace("'", '"') == field.key_example
    if field.holds in (Value.PLACES, Value.PIECES):
        raw = tomllib.loads(f"{field.name} = {field.key_example}")[field.name]
    if field.holds is Value.LIST:
        raw = [{}]
    if field.holds is Value.TABLE:
        raw = tomllib.loads(field.key_example)[field.name]
        assert "part" in raw
    assert read_value(field, raw) is not None


def test_units_stand_in_the_name_of_their_column() -> None:
    """The names of the contract between shops and the reader, as printed on the sheet handed to a shop."""
    assert list(by_column("hoses.csv")) == [
        "id", "name", "price", "pack", "stock", "supplier", "cost", "source", "inside_mm", "outside_mm", "material", "ribbed",
        "price_per_m", "step_cm", "coil_m",
    ]  # fmt: skip
    assert {"max_flow_l_h", "curve_points", "power_w", "noise_dba", "label_hz", "inlet_bore_mm"} <= set(by_column("pumps.csv"))
    assert {"kv_m3_h", "k", "point_l_h", "point_m", "flow_min_l_h"} <= set(by_column("devices.csv"))
    assert {"face_area_cm2", "open_pct", "pores_ppi"} <= set(by_column("guards.csv"))
    assert {"volume_l", "surface_m2_m3", "fibre_um", "solid_pct", "area_m2_m3"} <= set(by_column("media.csv"))
    assert {"size_in"} <= set(by_column("seals.csv"))
    assert {"side_bore_mm", "passage_mm", "side_passage_mm", "angle_deg"} <= set(by_column("tees.csv"))


def test_kinds_of_places_are_headed_by_the_words_a_rig_file_uses() -> None:
    """Each word that KIND takes stands in a heading; "fitting", which it does not take, in none."""
    heads = [line for line in column_reference("text").splitlines() if line.startswith("[loop.NAME] that holds: ")]
    words = {word for line in heads for word in line.partition(": ")[2].split(", ")}
    assert words == set(KIND.choices)
