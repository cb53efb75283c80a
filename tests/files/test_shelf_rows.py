"""The rows of a catalog as a shop sees them, and cells of them changed in place."""

from pathlib import Path

import pytest

from optimizer import api
from optimizer.files.shelf_rows import changed, shelf_rows

DEMO = Path(__file__).parents[2] / "parts_demo" / "catalog"


def test_every_product_of_the_demo_is_a_row_with_its_price() -> None:
    """The reader of catalogs is asked what each costs: hose by the metre for one metre."""
    rows = {row.id: row for row in shelf_rows(DEMO)}
    products = {product.id: product for product in api.read_catalog(DEMO).products}
    assert set(products) <= set(rows)
    for name, product in products.items():
        assert rows[name].price, name
        if rows[name].price_column == "price":
            assert round(float(rows[name].price) * 100) == product.price


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_what_is_not_changed_keeps_every_byte(ending: str) -> None:
    """Quotes, blanks, empty lines, a mark at the front and the order of the columns stay; only the row that changes is written
    anew."""
    lines = ["\ufeffid, name ,price", 'A,"soft ""hose"", clear",1.50', "", " B , b ,2", 'C,"two', 'lines",3']
    text = ending.join(lines) + ending
    new = changed(text, {"B": {"price": "2.20"}})
    assert new == text.replace(" B , b ,2", " B , b ,2.20")


def test_a_column_that_is_missing_is_added_for_every_row() -> None:
    """A row that is shorter than the header would be refused by the reader."""
    text = "id;name;price\nA;a;1\n\nB;b;2"
    assert changed(text, {"A": {"stock": "3"}, "B": {"price": "4"}}) == "id;name;price;stock\nA;a;1;3\n\nB;b;4;"


def test_changing_nothing_changes_nothing() -> None:
    """All files of the demo come back as they are."""
    for path in DEMO.glob("*.csv"):
        text = path.read_bytes().decode()
        assert changed(text, {}) == text
