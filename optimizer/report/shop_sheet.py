"""The sheet that stays in the shop beside the card of a kit, as HTML and as text: what its pieces cost, what is left between that
and the price on the shelf, what is in stock, and what can stand in for a piece."""

from __future__ import annotations

from optimizer.errors import safe
from optimizer.model.kits import Kit, KitPlan, Piece
from optimizer.report.html.templating import rendered
from optimizer.report.kits_text import amount_text, refused_alike
from optimizer.report.layout import REST, aligned, bullets, columns, finished, paragraph
from optimizer.report.measures import Measures, count, money, number, percent, system

__all__ = ["sheet_html", "sheet_text"]


def sheet_html(kit: Kit, plan: KitPlan, units: str = "metric") -> str:
    """Return the sheet as one HTML page. Raises ValueError for units that are neither "metric" nor "us"."""
    return rendered("shop_sheet.html", "card.css", **_sheet(kit, plan, system(units)))


def sheet_text(kit: Kit, plan: KitPlan, units: str = "metric") -> str:
    """Return the sheet as plain text. Raises ValueError for units that are neither "metric" nor "us"."""
    sheet = _sheet(kit, plan, system(units))
    lines = [*paragraph(str(sheet["title"])), *paragraph(KEEP), ""]
    facts, pieces = sheet["facts"], sheet["pieces"]
    lines += aligned(facts if isinstance(facts, list) else [])
    lines += ["", "Pieces"]
    for row in pieces if isinstance(pieces, list) else []:
        lines += columns(
            [(row["amount"], 6), (f"{row['name']} ({row['id']}), in stock: {row['stock']}{_cost(row)}", REST)], last=row["price"]
        )
        lines += paragraph(f"or in its place: {row['instead']}", first=" " * 10, rest=" " * 12) if row["instead"] else []
    would_fit = sheet["would_fit"]
    if isinstance(would_fit, list) and would_fit:
        lines += ["", "What would fit where it does not", *bullets(would_fit)]
    return finished(lines)


def _cost(row: dict[str, str]) -> str:
    return "" if row["cost"] == "-" else f", costs {row['cost']}"


KEEP = "For the shop, not for customers."


def _sheet(kit: Kit, plan: KitPlan, measures: Measures) -> dict[str, object]:
    currency = safe(plan.currency)
    each_m3s = kit.gain_m3s / kit.weight if kit.weight > 0.0 else 0.0
    return {
        "title": f"{kit.name}: the shop's sheet ({safe(plan.shop)})",
        "keep": KEEP,
        "currency": currency,
        "facts": [
            ("on the shelf", money(kit.shelf_price, currency)),
            ("its pieces", money(kit.price, currency)),
            ("between them", money(kit.shelf_price - kit.price, currency)),
            *_margin(kit, currency),
            ("stock makes", "any number" if kit.makes is None else count(kit.makes)),
            ("tanks it fits", number(kit.weight, 1)),
            ("that no other kit serves better", number(kit.own_weight, 1)),
            ("adds to each on the average", measures.flow_text(each_m3s)),
        ],
        "pieces": [_piece(piece, measures) for piece in kit.pieces],
        "costs": any(piece.cost is not None for piece in kit.pieces),
        "would_fit": [
            safe(f"{'; '.join(tanks)}: {'; '.join(map(measures.words, would_fit))}.")
            for (_, would_fit), tanks in refused_alike(kit.does_not_fit)
            if would_fit
        ],
    }


def _margin(kit: Kit, currency: str) -> list[tuple[str, str]]:
    """What the kit costs the shop and what is left, where any cost is known."""
    if kit.cost is None or kit.margin is None:
        missing = ", ".join(safe(piece.product_id) for piece in kit.pieces if piece.cost is None)
        return [("margin", f"not known, no cost of {missing}")] if any(p.cost is not None for p in kit.pieces) else []
    share = kit.margin / kit.shelf_price if kit.shelf_price else 0.0
    return [("costs the shop", money(kit.cost, currency)), ("margin", f"{money(kit.margin, currency)} ({percent(share)})")]


def _piece(piece: Piece, measures: Measures) -> dict[str, str]:
    return {
        "amount": amount_text(piece, measures),
        "name": safe(piece.name),
        "id": safe(piece.product_id),
        "price": money(piece.price),
        "cost": "-" if piece.cost is None else money(piece.cost),
        "stock": "any" if piece.in_stock is None else count(piece.in_stock),
        "instead": "; ".join(f"{safe(each.name)} ({safe(each.product_id)})" for each in piece.substitutes),
    }
