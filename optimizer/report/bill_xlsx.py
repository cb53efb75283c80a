"""The bill as an XLSX workbook."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from optimizer.model.results import BillLine
from optimizer.report.plan_lines import quantity_text
from optimizer.report.sheet_xlsx import Cell, sheet_xlsx

__all__ = ["bill_xlsx"]


def bill_xlsx(bill: Sequence[BillLine], currency: str) -> bytes:
    """Return the bill, one row for each thing to buy or to take from the drawer, and a last row with the total as a number.

    >>> line = BillLine(product_id="C", name="=clamp", count=2, price=120, owned=False, places=("a", "b"))
    >>> bill_xlsx([line], "EUR")[:2]
    b'PK'
    """
    header = ("product", "name", "quantity", f"price in {currency}" if currency else "price", "owned", "serves")
    total = ("total", None, None, _money(sum(line.price for line in bill)), None, None)
    return sheet_xlsx("bill", header, [*map(_cells, bill), total])


def _cells(line: BillLine) -> tuple[Cell, ...]:
    places = "; ".join(line.places)
    price = _money(line.price)
    return (
        line.product_id,
        line.name,
        quantity_text(line) if line.cuts_m else line.count,
        price,
        "yes" if line.owned else "no",
        places,
    )


def _money(minor: int) -> Decimal:
    return Decimal(minor).scaleb(-2)
