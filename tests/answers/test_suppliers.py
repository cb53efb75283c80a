"""What an answer says of several suppliers."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import load_workbook

from optimizer import api
from optimizer.errors import InputError
from optimizer.model.catalog import Catalog, Supplier
from optimizer.model.rig import Rig
from optimizer.report.first_screen import next_lines
from optimizer.report.sheet_csv import bill_csv
from optimizer.report.sheet_xlsx import bill_xlsx

DEMO = Path(__file__).parents[2] / "parts_demo"


@pytest.fixture(scope="module")
def asked() -> tuple[Rig, Catalog]:
    """A demo tank, with pumps and outlets from one supplier and all else from another."""
    catalog = api.read_catalog(DEMO / "catalog")
    north, south = Supplier(id="n", name="North", postage=200), Supplier(id="s", name="South", postage=100, free_from=1500)
    products = tuple(replace(each, supplier="n" if each.id.startswith("OPEN") else "s") for each in catalog.products)
    catalog = replace(catalog, products=products, suppliers=(north, south))
    return api.read_rig(DEMO / "rigs" / "community_180.toml", catalog), catalog


def test_the_bill_has_each_supplier_with_its_postage(asked: tuple[Rig, Catalog]) -> None:
    """Its lines come to the price, and postage not due is said to be none."""
    result = api.best(*asked)
    assert result.best is not None and result.status == "proved"
    assert sum(line.price for line in result.bill) == result.best.price
    postage = {line.supplier: line.price for line in result.bill if line.name.startswith("postage")}
    assert postage == {"North": 200, "South": 0}
    assert bill_csv(result.bill, "EUR").splitlines()[0].endswith(",supplier")
    sheet = load_workbook(BytesIO(bill_xlsx(result.bill, "EUR"))).active
    assert [row[-1].value for row in sheet.iter_rows()] == ["supplier", *(line.supplier or None for line in result.bill), None]
    assert [each.supplier for each in result.one_supplier] == ["North", "South"]
    assert all(each.price is None or each.price > result.best.price for each in result.one_supplier)
    assert result.postage and "--order" not in str(next_lines(result, "")) and "--bands" in str(next_lines(result, ""))


def test_questions_that_know_no_postage_say_so(asked: tuple[Rig, Catalog]) -> None:
    """A buying order, a written proof, and why a part is not in it."""
    for ask in (
        lambda: api.buying_order(*asked),
        lambda: api.best(*asked, prove=True),
        lambda: api.why(*asked, "PUMP-300NA"),
    ):
        with pytest.raises(InputError, match="knows neither postage nor least orders"):
            ask()
