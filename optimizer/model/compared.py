"""Several answers side by side as a frozen object. SI inside, `to_dict` for JSON."""

from dataclasses import dataclass

from optimizer.model.results import Result, Row, Spot, plain

SCHEMA = "fullbore-compare/1"
"""Name and version of the JSON form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One answer: where it comes from, what was asked, the loop now, after spending nothing, and at its best, and the
    tightest spot before and after. ``best`` is None when no bundle meets the limits."""

    source: str
    rig: str
    catalog: str
    currency: str
    question: str
    budget: int | None
    status: str
    now: Row
    spend_nothing: Row | None
    best: Row | None
    tightest_before: Spot | None
    tightest: Spot | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Answers in the order in which they were given."""

    columns: tuple[Column, ...]

    @property
    def status(self) -> str:
        """``stopped`` when one of them was, ``infeasible`` when none has a bundle, else ``compared``."""
        if any(column.status == "stopped" for column in self.columns):
            return "stopped"
        return "compared" if any(column.best is not None for column in self.columns) else "infeasible"

    def to_dict(self) -> dict[str, object]:
        """The comparison for JSON: SI units in the names, prices in minor units, with schema and status."""
        body = plain(self)
        if not isinstance(body, dict):
            raise TypeError("a comparison is not a mapping")
        return {"schema": SCHEMA, "status": self.status, **body}


def column_of(source: str, result: Result) -> Column:
    """An answer as a column."""
    return Column(
        source=source,
        rig=result.rig,
        catalog=result.catalog,
        currency=result.currency,
        question=result.question,
        budget=result.budget,
        status=result.status,
        now=result.now,
        spend_nothing=result.spend_nothing,
        best=result.best,
        tightest_before=result.tightest_before,
        tightest=result.tightest,
    )
