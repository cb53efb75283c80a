"""The kits of a shop as CSV text: one line for each piece of each kit."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.model.kits import KitPlan
from optimizer.money import show_money
from optimizer.report.sheet_csv import harmless, sheet_csv

__all__ = ["HEADER", "kits_csv"]

_OF_PIECE = ("kit", "shelf_price", "product", "name", "quantity", "unit", "price", "currency", "in_stock", "substitutes")
HEADER = (*_OF_PIECE, "tanks_served", "gain_l_per_h")


def kits_csv(plan: KitPlan) -> str:
    """Return one line for each piece after a header line; the gain is that of the whole kit, for each tank on the average."""
    return sheet_csv(HEADER, _rows(plan))


def _rows(plan: KitPlan) -> Iterator[tuple[str, ...]]:
    for kit in plan.kits:
        for piece in kit.pieces:
            yield (
                kit.name,
                show_money(kit.shelf_price),
                harmless(piece.product_id),
                harmless(piece.name),
                f"{piece.quantity:g}",
                "m" if piece.metres else "piece",
                show_money(piece.price),
                harmless(plan.currency),
                "" if piece.in_stock is None else str(piece.in_stock),
                harmless("; ".join(each.product_id for each in piece.substitutes)),
                f"{kit.weight:g}",
                f"{kit.gain_m3s / kit.weight * 3.6e6:.1f}",
            )
