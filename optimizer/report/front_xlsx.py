"""A money-flow front as an XLSX workbook."""

from __future__ import annotations

from decimal import Decimal

from optimizer.model.fronts import Front
from optimizer.report.plan_lines import changed
from optimizer.report.sheet_xlsx import Cell, sheet_xlsx

__all__ = ["front_xlsx"]


def front_xlsx(front: Front) -> bytes:
    """Return one row for each point, cheapest first; flows in l/h whatever the units of the text."""
    price = f"price in {front.currency}" if front.currency else "price"
    header = (price, "flow in l/h", "turnover per hour", "noise in dB(A)", "power in W", "knee", "proved", "changes")
    rows: list[tuple[Cell, ...]] = []
    for number, point in enumerate(front.points):
        is_knee = front.knee is not None and front.knee.point == number
        rows.append(
            (
                Decimal(point.price).scaleb(-2),
                _rounded(point.flow_m3s * 3.6e6, 1),
                _rounded(point.turnover_per_hour, 2),
                _rounded(point.noise_dba, 1),
                _rounded(point.power_w, 1),
                "yes" if is_knee else "no",
                "yes" if point.proved else "no",
                changed(point.changes),
            )
        )
    return sheet_xlsx("front", header, rows)


def _rounded(value: float, decimals: int) -> Decimal:
    return Decimal(f"{value:.{decimals}f}")
