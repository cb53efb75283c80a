"""The bill as CSV text that a spreadsheet opens without running anything in it."""

from __future__ import annotations

from collections.abc import Iterable

from optimizer.model.results import BillLine
from optimizer.money import show_money
from optimizer.report.plan_lines import quantity_text
from optimizer.report.sheet_csv import harmless, sheet_csv

__all__ = ["HEADER", "bill_csv"]

HEADER = ("product", "name", "quantity", "price", "currency", "owned", "serves")


def bill_csv(bill: Iterable[BillLine], currency: str) -> str:
    """Return the bill, one line for each thing to buy or to take from the drawer, after a header line.

    >>> line = BillLine(product_id="C", name="=clamp", count=2, price=120, owned=False, places=("a", "b"))
    >>> print(bill_csv([line], "EUR").replace("\\r", ""), end="")
    product,name,quantity,price,currency,owned,serves
    C,'=clamp,2,1.20,EUR,no,"a; b"
    """
    return sheet_csv(HEADER, (_cells(line, currency) for line in bill))


def _cells(line: BillLine, currency: str) -> tuple[str, ...]:
    owned = "yes" if line.owned else "no"
    words = (line.product_id, line.name, quantity_text(line))
    places = "; ".join(line.places)
    return (*map(harmless, words), show_money(line.price), harmless(currency), owned, harmless(places))
