"""A money-flow front as CSV text that a spreadsheet opens without running anything in it."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.model.fronts import Front
from optimizer.money import show_money
from optimizer.report.plan_lines import changed
from optimizer.report.sheet_csv import harmless, sheet_csv

__all__ = ["HEADER", "front_csv"]

HEADER = ("price", "currency", "flow_l_per_h", "turnover_per_hour", "noise_dba", "power_w", "knee", "proved", "changes")


def front_csv(front: Front) -> str:
    """Return one line for each point, cheapest first, after a header line; flows in l/h whatever the units of the text."""
    return sheet_csv(HEADER, _rows(front))


def _rows(front: Front) -> Iterator[tuple[str, ...]]:
    for number, point in enumerate(front.points):
        is_knee = front.knee is not None and front.knee.point == number
        yield (
            show_money(point.price),
            harmless(front.currency),
            f"{point.flow_m3s * 3.6e6:.1f}",
            f"{point.turnover_per_hour:.2f}",
            f"{point.noise_dba:.1f}",
            f"{point.power_w:.1f}",
            "yes" if is_knee else "no",
            "yes" if point.proved else "no",
            harmless(changed(point.changes)),
        )
