"""The bill as CSV text that a spreadsheet opens without running anything in it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from optimizer.errors import safe
from optimizer.model.results import BillLine
from optimizer.money import show_money

__all__ = ["HEADER", "bill_csv", "harmless"]

HEADER = ("product", "name", "quantity", "price", "currency", "owned", "serves")
STARTS_FORMULA = tuple("=+-@＝＋－＠")
"""What makes a spreadsheet take text for a formula; the last four are full-width forms that some read alike."""


def bill_csv(bill: Iterable[BillLine], currency: str) -> str:
    """Return the bill, one line for each thing to buy or to take from the drawer, after a header line.

    Text that a spreadsheet would run as a formula gets an apostrophe in front (OWASP, page "CSV Injection"); lines end
    as RFC 4180 has it.

    >>> line = BillLine(product_id="C", name="=clamp", quantity="2", price=120, owned=False, places=("a", "b"))
    >>> print(bill_csv([line], "EUR").replace("\\r", ""), end="")
    product,name,quantity,price,currency,owned,serves
    C,'=clamp,2,1.20,EUR,no,a; b
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(HEADER)
    writer.writerows(_cells(line, currency) for line in bill)
    return text.getvalue()


def _cells(line: BillLine, currency: str) -> tuple[str, ...]:
    owned = "yes" if line.owned else "no"
    words = (line.product_id, line.name, line.quantity)
    places = "; ".join(line.places)
    return (*map(harmless, words), show_money(line.price), harmless(currency), owned, harmless(places))


def harmless(text: str) -> str:
    """Return text that a spreadsheet does not take for a formula.

    >>> harmless("=1+1")
    "'=1+1"
    """
    shown = safe(text)
    return f"'{shown}" if shown.lstrip().startswith(STARTS_FORMULA) else shown
