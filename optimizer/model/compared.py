"""Several answers side by side as a frozen object. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer, Asked
from optimizer.model.fitted import ByFills
from optimizer.model.results import Result, Row, Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One answer: where it comes from, what was asked, the loop now, after spending nothing, and at its best, and the
    tightest spot before and after. ``best`` is None when no bundle meets the limits."""

    source: str
    rig: str
    catalog: str
    currency: str
    question: Asked
    status: str
    now: Row
    spend_nothing: Row | None
    best: Row | None
    tightest_before: Spot | None
    tightest: Spot | None
    by_fills: ByFills | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared(Answer):
    """Answers in the order in which they were given."""

    form: ClassVar[str] = "compare"
    columns: tuple[Column, ...]

    @property
    def status(self) -> str:
        """``stopped`` when one of them was, ``infeasible`` when none has a bundle, else ``compared``."""
        if any(column.status == "stopped" for column in self.columns):
            return "stopped"
        return "compared" if any(column.best is not None for column in self.columns) else "infeasible"


def column_of(source: str, result: Result) -> Column:
    """An answer as a column."""
    return Column(
        source=source,
        rig=result.rig,
        catalog=result.catalog,
        currency=result.currency,
        question=result.question,
        status=result.status,
        now=result.now,
        spend_nothing=result.spend_nothing,
        best=result.best,
        tightest_before=result.tightest_before,
        tightest=result.tightest,
        by_fills=result.by_fills,
    )
