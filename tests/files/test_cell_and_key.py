"""A cell of a catalog and a key of a rig hold the same value when they say the same thing."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import BadValue
from optimizer.files.cell_text import cell_reader, checked_id, chosen
from optimizer.files.field import Field, Value
from optimizer.files.key_value import read_value
from optimizer.files.part_kinds import FILES, by_column
from optimizer.unit_table import COUNT, Dimension

QUANTITIES = sorted(
    {
        field.column: field
        for file in FILES
        for field in by_column(file).values()
        if isinstance(field.holds, Dimension) and field.csv_unit
    }.values(),
    key=lambda field: field.column,
)
FLAG = Field(name="ribbed", holds=Value.YES_NO, meaning="", example="no")
NAME = Field(name="name", holds=Value.TEXT, meaning="", example="pump")
PACK = Field(name="pack", holds=COUNT, meaning="", example="2", low=1.0, high=1000.0)
NUMBER = Field(name="curve_shape", holds=Value.NUMBER, meaning="", example="2", low=1.0, high=4.0)


@pytest.mark.parametrize("field", QUANTITIES, ids=[field.column for field in QUANTITIES])
@given(tenths=st.integers(1, 40))
def test_the_unit_of_a_header_and_of_a_text_agree(field: Field, tenths: int) -> None:
    number = f"{tenths / 10:g}"
    try:
        from_cell: object = cell_reader(field)(number)
    except BadValue:
        with pytest.raises(BadValue):
            read_value(field, f"{number} {field.csv_unit}")
    else:
        assert from_cell == pytest.approx(read_value(field, f"{number} {field.csv_unit}"), rel=1e-15)


@pytest.mark.parametrize("text", ["20", "20.0", "20,0", "+20", "2e1", "020"])
def test_ways_to_write_a_number(text: str) -> None:
    assert cell_reader(by_column("clamps.csv")["low_mm"])(text) == 0.02


@pytest.mark.parametrize(
    "text",
    [
        "1_0",
        "0x10",
        "1.2.3",
        "1,200",
        "--1",
        "1e",
        "\u0661",
        "1/2",
        "20mm",
        "NaN",
        "-Infinity",
        "1e999",
        "True",
        "\u221e",
        "1 0",
    ],
)
def test_what_is_no_number(text: str) -> None:
    with pytest.raises(BadValue):
        cell_reader(by_column("clamps.csv")["low_mm"])(text)


@pytest.mark.parametrize(("text", "flag"), [("yes", True), ("No", False), ("TRUE", True), ("false", False)])
def test_flags_in_cells(text: str, flag: bool) -> None:
    assert cell_reader(FLAG)(text) is flag


@pytest.mark.parametrize("raw", ["yes", 1, 0, None, [], "true"])
def test_flags_in_keys_are_true_or_false(raw: object) -> None:
    with pytest.raises(BadValue, match="true or false"):
        read_value(FLAG, raw)


@pytest.mark.parametrize("raw", [5, 5.0, True, [], {}, "", "  ", "a\x1b[31m", "x" * 201])
def test_names_are_text(raw: object) -> None:
    with pytest.raises(BadValue):
        read_value(NAME, raw)


@pytest.mark.parametrize("raw", [0, 1001, 1.5, "two", -1, True, 10**30, float("nan")])
def test_counts(raw: object) -> None:
    assert read_value(PACK, 2) == 2.0
    with pytest.raises(BadValue):
        read_value(PACK, raw)


@pytest.mark.parametrize("raw", ["2 m", True, None, 0.5, 5, 10**30, float("inf"), "two"])
def test_plain_numbers(raw: object) -> None:
    assert read_value(NUMBER, 2) == read_value(NUMBER, "2.0") == 2.0
    with pytest.raises(BadValue):
        read_value(NUMBER, raw)


@pytest.mark.parametrize("text", ["a b", "", "-a", "a;b", "installed:pump", "a" * 65, "a\n", "=A1", "../x"])
def test_what_is_no_id(text: str) -> None:
    assert checked_id("TAIL-16/G3.4") == "TAIL-16/G3.4"
    with pytest.raises(BadValue):
        checked_id(text)


def test_choices() -> None:
    assert chosen(("elbow 90", "Rc"), " Elbow  90 ".strip()) == "elbow 90"
    assert chosen(("elbow 90", "Rc"), "RC") == "Rc"
    with pytest.raises(BadValue, match='Near names: "elbow 90"'):
        chosen(("elbow 90", "Rc"), "elbow90")
