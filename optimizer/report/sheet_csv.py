"""Bills, fronts and kits as CSV text that a spreadsheet opens without running anything in it, whichever separator it goes by."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from optimizer.errors import safe
from optimizer.model.fronts import Front
from optimizer.model.kits import KitPlan
from optimizer.model.results import BillLine
from optimizer.report.plan_lines import changed, quantity_text

__all__ = ["BILL", "FRONT", "KITS", "STARTS_FORMULA", "bill_csv", "bill_rows", "front_csv", "front_rows", "kits_csv", "sheet_csv"]

Cell = str | int | Decimal | None
"""Text, or a number with the decimals that it is shown with; None: empty."""

BILL = ("product", "name", "quantity", "price", "currency", "owned", "serves")
FRONT = ("price", "currency", "flow_l_per_h", "turnover_per_hour", "noise_dba", "power_w", "knee", "proved", "changes")
KITS = (
    *("kit", "shelf_price", "product", "name", "quantity", "unit", "price", "cost", "currency", "in_stock", "substitutes"),
    *("tanks_served", "gain_l_per_h"),
)

STARTS_FORMULA = tuple("=+-@＝＋－＠")
"""What makes a spreadsheet take text for a formula; the last four are full-width forms that some read alike."""

FORMULA = re.compile(rf"(^|[;,])(?=[\s\"']*[{re.escape(''.join(STARTS_FORMULA))}])")
"""Where a cell may begin that would be one; blanks and quotes before its sign may be taken away by a reader."""

NEEDS_QUOTES = re.compile(r'[,;"\r\n]')


def bill_csv(bill: Iterable[BillLine], currency: str) -> str:
    r"""Return the bill, one line for each thing to buy or to take from the drawer, after a header line.

    >>> line = BillLine(product_id="C", name="=clamp", count=2, price=120, owned=False, places=("a", "b"))
    >>> print(bill_csv([line], "EUR").replace("\r", ""), end="")
    product,name,quantity,price,currency,owned,serves
    C,'=clamp,2,1.20,EUR,no,"a; b"
    """
    lines = list(bill)
    rows = bill_rows(lines, currency)
    if not any(line.supplier for line in lines):
        return sheet_csv(BILL, rows)
    return sheet_csv((*BILL, "supplier"), ((*row, line.supplier) for row, line in zip(rows, lines, strict=True)))


def front_csv(front: Front) -> str:
    """Return one line for each point, cheapest first, after a header line; flows in l/h whatever the units of the text."""
    return sheet_csv(FRONT, front_rows(front))


def kits_csv(plan: KitPlan) -> str:
    """Return one line for each piece after a header line; the gain is that of the whole kit, for each tank on the average."""
    return sheet_csv(KITS, _kits_rows(plan))


def bill_rows(bill: Iterable[BillLine], currency: str) -> Iterator[tuple[Cell, ...]]:
    """Yield the cells of each line of a bill, in the order of `BILL`."""
    for line in bill:
        quantity = quantity_text(line) if line.cuts_m else line.count
        owned, places = _yes(line.owned), "; ".join(line.places)
        yield line.product_id, line.name, quantity, _money(line.price), currency, owned, places


def front_rows(front: Front) -> Iterator[tuple[Cell, ...]]:
    """Yield the cells of each point of a front, in the order of `FRONT`."""
    for number, point in enumerate(front.points):
        yield (
            _money(point.price),
            front.currency,
            _rounded(point.flow_m3s * 3.6e6, 1),
            _rounded(point.turnover_per_hour, 2),
            _rounded(point.noise_dba, 1),
            _rounded(point.power_w, 1),
            _yes(front.knee is not None and front.knee.point == number),
            _yes(point.proved),
            changed(point.changes),
        )


def _kits_rows(plan: KitPlan) -> Iterator[tuple[Cell, ...]]:
    for kit in plan.kits:
        for piece in kit.pieces:
            yield (
                kit.name,
                _money(kit.shelf_price),
                piece.product_id,
                piece.name,
                f"{piece.quantity:g}",
                "m" if piece.metres else "piece",
                _money(piece.price),
                None if piece.cost is None else _money(piece.cost),
                plan.currency,
                piece.in_stock,
                "; ".join(each.product_id for each in piece.substitutes),
                f"{kit.weight:g}",
                _rounded(kit.gain_m3s / kit.weight * 3.6e6, 1),
            )


def _money(minor: int) -> Decimal:
    return Decimal(minor).scaleb(-2)


def _rounded(value: float, decimals: int) -> Decimal:
    return Decimal(f"{value:.{decimals}f}")


def _yes(truth: bool) -> str:
    return "yes" if truth else "no"


def sheet_csv(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    r"""Return a header line and the rows, as RFC 4180 has them; cells with a comma or a semicolon stand in quotes.

    >>> sheet_csv(("product", "serves"), [("C", "a; b")])
    'product,serves\r\nC,"a; b"\r\n'
    """
    return "".join(",".join(map(_cell, row)) + "\r\n" for row in (header, *rows))


def _cell(value: Cell) -> str:
    text = harmless(value) if isinstance(value, str) else "" if value is None else str(value)
    return '"' + text.replace('"', '""') + '"' if NEEDS_QUOTES.search(text) else text


def harmless(text: str) -> str:
    """Return text that a spreadsheet does not take for a formula: what would be one gets an apostrophe in front (OWASP, page "CSV
    Injection"). Where decimals have a comma a semicolon separates cells, so one may begin in the middle of the text.

    >>> harmless("=1+1"), harmless("hose;=1+1;")
    ("'=1+1", "hose;'=1+1;")
    """
    return FORMULA.sub(r"\1'", safe(text))
