"""One budget for several tanks as one HTML page: the bill of all, tank by tank, the order of work, and the other aims."""

from __future__ import annotations

from typing import Any

from optimizer.model.said_lines import with_texts
from optimizer.model.shared import SharedResult
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.html.quantities import Quantities
from optimizer.report.html.templating import rendered
from optimizer.report.html.words import Words
from optimizer.report.measures import system
from optimizer.report.plan_lines import quantity_text
from optimizer.report.share_text import count_sentences, headline

__all__ = ["household_page", "values"]


def household_page(told: SharedResult, units: str = "metric") -> str:
    """The whole page, the same text for the same answer. Raises ValueError for other units than "metric" and "us"."""
    return rendered("household.html", **values(told, units))


def values(told: SharedResult, units: str = "metric", words_page: str = "") -> dict[str, Any]:
    """What the templates of a page show of a household; ``words_page`` is where words are explained (empty: at the end of the
    same page). Raises ValueError for other units."""
    measures = system(units)
    told = with_texts(told, measures.words)
    return {
        "told": told,
        "title": told.household,
        "verdict": headline(told, units).strip(),
        "counts": count_sentences(told, measures),
        "fills": [(tank.name, by_fills_sentences(tank.by_fills, measures)) for tank in told.tanks if tank.by_fills is not None],
        "q": Quantities(measures=measures, currency=told.currency),
        "measures": measures,
        "w": Words(measures=measures, page=words_page),
        "pictures": {},
        "quantity": quantity_text,
    }
