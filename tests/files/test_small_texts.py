"""Curves, windows, kits and rates as text."""

import pytest

from optimizer.errors import BadValue
from optimizer.files.curve_text import parse_curve_cell, parse_curve_list, parse_point, parse_window
from optimizer.files.kit_text import Content, parse_contents
from optimizer.files.rates import parse_specific_area, parse_turnover


def test_a_curve_in_a_cell_and_in_a_list_is_the_same() -> None:
    cell = parse_curve_cell("0:2.2; 500:2,05; 1000 : 1.5;2000:0;")
    listed = parse_curve_list(["0 l/h: 2.2 m", "500 l/h: 205 cm", "1 m3/h: 1.5 m", "2000 l/h: 0 m"])
    assert cell == tuple((pytest.approx(flow), pytest.approx(head)) for flow, head in listed)


@pytest.mark.parametrize(
    "text", ["", "0:2", "0:2; 100", "0:2; 100:2", "0:2; 100:3", "0:2; 0:1", "10:2; 20:1", "0:-2; 1:-3", "0:nan; 1:0",
             "a:b; c:d",
             ";".join(f"{n}:{900 - n}" for n in range(300))]
)  # fmt: skip
def test_bad_curves_in_a_cell(text: str) -> None:
    with pytest.raises(BadValue):
        parse_curve_cell(text)


@pytest.mark.parametrize("value", [None, 3, "0 l/h: 2 m", [], [1, 2], ["0: 2"], ["0 l/h 2 m"] * 2, ["0 l/h: 1 m"] * 500])
def test_bad_curves_in_a_list(value: object) -> None:
    with pytest.raises(BadValue):
        parse_curve_list(value)


@pytest.mark.parametrize("value", [None, 3, "", "800 l/h", "800 l/h: ", ": 2 m", "800 l: 2 m", "-800 l/h: 2 m", "800 l/h: -2 m"])
def test_bad_points(value: object) -> None:
    with pytest.raises(BadValue):
        parse_point(value)


def test_windows() -> None:
    assert parse_window("300 - 800 l/h") == parse_window("300\u2013800 lph") == (300 / 3.6e6, pytest.approx(800 / 3.6e6))


@pytest.mark.parametrize(
    "value", [None, 3, "", "300 l/h", "800-300 l/h", "300-300 l/h", "300-800", "300-800 l", "a-b l/h", "-" * 99]
)
def test_bad_windows(value: object) -> None:
    with pytest.raises(BadValue):
        parse_window(value)


def test_contents_of_a_kit() -> None:
    assert parse_contents("TAIL-19 x2; HOSE-19-27 4 m; CLAMP-25 X 8;FOAM-20 2 l; P;") == (
        Content(part_id="TAIL-19", count=2),
        Content(part_id="HOSE-19-27", amount="4 m"),
        Content(part_id="CLAMP-25", count=8),
        Content(part_id="FOAM-20", amount="2 l"),
        Content(part_id="P"),
    )


@pytest.mark.parametrize("text", ["", ";", "A x0", "A x99999", "A x-1", "A two", "A x2 x3", "A B", ";".join(["A"] * 101)])
def test_bad_kits(text: str) -> None:
    with pytest.raises(BadValue):
        parse_contents(text)


@pytest.mark.parametrize(
    ("text", "rate"),
    [("4 per hour", 4.0), ("5.5/h", 5.5), ("6 / hour", 6.0), ("3 x per hour", 3.0), ("0 per hour", 0.0)],
)
def test_turnover(text: str, rate: float) -> None:
    assert parse_turnover(text) == rate


@pytest.mark.parametrize(
    "value", [4, 4.0, True, None, [], "", "4", "4 l/h", "4 per day", "-4 per hour", "nan per hour", "four per hour"]
)
def test_bad_turnover(value: object) -> None:
    with pytest.raises(BadValue):
        parse_turnover(value)


def test_area_per_volume() -> None:
    assert parse_specific_area("900 m2/m3") == parse_specific_area("0.9 m²/l") == parse_specific_area("900 m2 per m3") == 900.0


@pytest.mark.parametrize("value", [900, None, "", "900", "900 m2", "-1 m2/m3", "inf m2/m3"])
def test_bad_area_per_volume(value: object) -> None:
    with pytest.raises(BadValue):
        parse_specific_area(value)
