"""How the answers from a catalog are asked for: by a rig, the fills it goes by, and money."""

from dataclasses import replace
from typing import Any

from optimizer.answers.question import Question
from optimizer.model.catalog import Catalog
from optimizer.model.fitted import ByFills
from optimizer.model.limits import Limits
from optimizer.model.rig import Rig


def by_its_fills(rig: Rig, measured: bool) -> tuple[Rig, ByFills | None]:
    """The rig to search with, by its fills where it has any, and what to say of them; not ``measured``: they are left out.

    Raises InputError for fills that no loop can explain.
    """
    if not rig.fills:
        return rig, None
    from optimizer.answers.by_fills import by_fills  # a rig that was never measured starts quicker without it

    return by_fills(rig, measured)


def limits_of(rig: Rig, budget: int | None) -> Limits:
    """The limits of a rig; a budget in minor units of money replaces its own."""
    return rig.limits if budget is None else replace(rig.limits, budget=budget)


def question_of(
    rig: Rig, catalog: Catalog, budget: int | None, measured: bool, *, flow_m3s: float = 0.0, **more: Any
) -> tuple[Question, ByFills | None]:
    """The question, with ``more`` of its fields, and what to say of the fills that the rig goes by."""
    if more.get("prove"):
        cure = (
            "Ask without it: best proves its answer with postage by the search itself. For a written proof leave postage, "
            "free_from and least_order empty in suppliers.csv; it is then of the goods alone."
        )
        catalog.refuse_charges("the written proof (--prove)", cure)
    fitted, told = by_its_fills(rig, measured)
    return Question(rig=fitted, catalog=catalog, limits=limits_of(rig, budget), target_m3s=flow_m3s, **more), told
