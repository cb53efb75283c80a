"""Blocks of text know no width: the same answer is laid out for any screen, and no line of it is longer than that."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.report.layout import (
    BOLD,
    DIM,
    END,
    REST,
    Block,
    Screen,
    aligned,
    apart,
    bullets,
    columns,
    finished,
    folded,
    glued,
    paragraph,
    weighted,
)

WORDS = st.text("abc \0", max_size=60)
ROWS = st.integers(2, 9).flatmap(lambda n: st.lists(st.lists(WORDS, min_size=n, max_size=n), min_size=1, max_size=4))


@settings(deadline=None, max_examples=200)
@given(ROWS, WORDS, st.integers(50, 100))
def test_no_block_is_wider_than_the_screen(rows: list[list[str]], text: str, width: int) -> None:
    """Tables of any cells too: their cells are broken, and where that is not enough the table is."""
    blocks = [*paragraph(text, "  ", "    "), *bullets([text]), *aligned(rows), *columns([(text, 6), (text, REST)], "12.34")]
    cells = max(max(map(len, cell.split()), default=0) for row in rows for cell in row[1:])
    longest = max(map(len, finished(blocks, Screen(width=width)).split("\n")))
    assert longest <= max(width, cells + 20)  # a word of a later column is never torn


def test_a_price_stands_on_the_line_of_its_product_and_the_name_is_broken_below() -> None:
    line = columns([("2 x", 3), ("a tail with a name that takes more than one line of this screen", REST)], "4.50")
    shown = finished(line, Screen(width=50)).splitlines()
    assert shown[0].endswith("4.50") and len(shown[0]) == 50
    assert shown[0].startswith("  2 x  a tail with")
    assert all(each.startswith("       ") for each in shown[1:])


def test_a_table_that_fits_is_left_alone_and_one_that_does_not_comes_in_two() -> None:
    """With the first column again, so that every row can be read by itself."""
    rows = [("", *(f"heading{n}" for n in range(8))), ("desk", *"12345678")]
    assert finished(aligned(rows), Screen(width=100)).count("desk") == 1
    narrow = finished(aligned(rows), Screen(width=50))
    assert narrow.count("desk") == 2
    assert [cell for cell in narrow.split() if len(cell) == 1] == list("12345678")
    assert max(map(len, narrow.splitlines())) <= 50


@pytest.mark.parametrize("width", [60, 80, 100])
def test_what_is_glued_stays_together(width: int) -> None:
    text = finished(paragraph(" ".join([glued("1 104 l/h")] * 30)), Screen(width=width))
    assert all(line.replace("1 104 l/h", "").strip() == "" for line in text.splitlines())


def test_weight_is_a_matter_of_the_screen() -> None:
    """Headings and what is marked have it where the screen does; without it the words are the same."""
    blocks: list[Block] = ["Bill", *weighted(paragraph("so it is"), DIM), *paragraph("plain")]
    assert finished(blocks) == "Bill\nso it is\nplain\n"
    assert finished(blocks, Screen(weighted=True)) == f"{BOLD}Bill{END}\n{DIM}so it is{END}\nplain\n"


def test_sections_stand_apart_and_empty_ones_leave_no_gap() -> None:
    assert finished(apart([["a"], [], ["b", "c"]])) == "a\n\nb\nc\n"


def test_lines_that_are_there_already_are_broken_below_their_last_column() -> None:
    assert folded("short\n\n  id   one two three\n", Screen(width=15)) == "short\n\n  id   one two\n       three\n"
