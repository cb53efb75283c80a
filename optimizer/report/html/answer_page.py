"""Any answer as a page: for one tank, for a household, or for a shop."""

from __future__ import annotations

from optimizer.model.dossiers import Dossier, as_dossier
from optimizer.model.kits import KitPlan
from optimizer.model.shared import SharedResult
from optimizer.report.html.household_page import household_page
from optimizer.report.html.kits_page import kits_page
from optimizer.report.html.page import page as dossier_page
from optimizer.report.spoken import spoken

__all__ = ["page"]


def page(answer: object, units: str = "metric") -> str:
    """An answer (a dossier, one of the answers it is made of, kits, or a household) as one HTML page. Raises ValueError for other
    answers and other units."""
    answer = spoken(answer)
    if isinstance(answer, KitPlan):
        return kits_page(answer, units)
    if isinstance(answer, SharedResult):
        return household_page(answer, units)
    return dossier_page(answer if isinstance(answer, Dossier) else as_dossier(answer), units)
