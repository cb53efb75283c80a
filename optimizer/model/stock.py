"""What is found when a catalog is checked as a whole, as frozen objects. SI inside."""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from optimizer.model.answer import Answer


class Weight(StrEnum):
    """How much a finding matters, the most first."""

    BLOCKS = "blocks"
    """Something in the catalog can never be fitted, or a joint never closed."""
    ODD = "odd"
    """A figure or a row that is most likely a slip."""
    NOTE = "note"
    """Nothing is wrong, but who keeps the catalog will want to know."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a row stands: the file of the catalog, and the line in it."""

    file: str
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to look at: ``sort`` is one word for it, ``ids`` are the rows that it is about, ``what`` is wrong and the
    ``cure``; ``file`` and ``line`` say where the first of the rows stands."""

    weight: Weight
    sort: str
    file: str
    line: int
    ids: tuple[str, ...]
    what: str
    cure: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogCheck(Answer):
    """A catalog of so many ``parts`` and ``products`` checked as a whole: the most serious findings first, then by file and
    line."""

    form: ClassVar[str] = "catalog-check"
    catalog: str
    parts: int
    products: int
    findings: tuple[Finding, ...]

    @property
    def status(self) -> str:
        """``checked``: it always comes to an end."""
        return "checked"
