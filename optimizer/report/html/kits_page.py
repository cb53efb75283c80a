"""The kits of a shop as one HTML page: the table of kits, what lies in each, whom it fits, and what the stock earns."""

from __future__ import annotations

from typing import Any

from optimizer.errors import safe
from optimizer.model.kits import KitPlan
from optimizer.model.said_lines import with_texts
from optimizer.report.html.quantities import Quantities
from optimizer.report.html.templating import rendered
from optimizer.report.html.words import Words
from optimizer.report.kits_text import SAFETY, amount_text, headline
from optimizer.report.layout import cut
from optimizer.report.measures import system

__all__ = ["kits_page", "values"]


def kits_page(plan: KitPlan, units: str = "metric") -> str:
    """The whole page, the same text for the same plan. Raises ValueError for other units than "metric" and "us"."""
    return rendered("kits.html", **values(plan, units))


def values(plan: KitPlan, units: str = "metric", words_page: str = "") -> dict[str, Any]:
    """What the templates of a page show of the kits of a shop; ``words_page`` is where words are explained (empty: at the end of
    the same page). Raises ValueError for other units."""
    measures = system(units)
    plan = with_texts(plan, measures.words)
    return {
        "plan": plan,
        "title": plan.shop,
        "verdict": headline(plan, units).strip(),
        "q": Quantities(measures=measures, currency=plan.currency),
        "currency": cut(safe(plan.currency), 8),
        "measures": measures,
        "w": Words(measures=measures, page=words_page),
        "pictures": {},
        "amount": amount_text,
        "safety": SAFETY,
    }
