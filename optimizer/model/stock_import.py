"""What became of a shop's sheet on its way into a catalog, as frozen objects. Prices in minor units."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """One row that gave no part: where it stands (``sheet`` "" in a text), what it says, ``why`` it gave none and the ``cure``;
    ``asks`` is the question that would settle it, ``code`` what it is called where it is said in other words ("": none)."""

    sheet: str
    line: int
    text: str
    why: str
    cure: str = ""
    asks: str = ""
    code: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRemark:
    """What was taken although the sheet does not quite say so, and the rows it was taken of."""

    text: str
    rows: int
    example: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RowChange:
    """One row of the catalog that comes, goes, or changes: ``what`` is new, gone, dearer, cheaper, out of stock, in stock again
    or changed; ``was`` and ``now`` are what changed, as text."""

    what: str
    id: str
    name: str
    file: str
    was: str = ""
    now: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetColumn:
    """One heading of a sheet and what its column is read as, with a few cells that stand below it."""

    sheet: str
    heading: str
    field: str
    examples: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetQuestion:
    """What a sheet does not say: the ``key`` that an answer is given under, the question, the rows it would settle, one of them,
    and what could be answered."""

    key: str
    asks: str
    rows: int
    example: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockImport(Answer):
    """A sheet and what it does to a catalog: ``written`` or shown alone, and whether its mapping was ``saved`` before.

    ``understood`` counts rows of the sheet, ``parts`` the rows of the catalog that they give; every other row stands in
    ``refused``, ``elsewhere`` (no part of a loop) or ``no_parts`` (titles, sums, notes). ``blocked`` says what must be answered
    before anything can be written ("": nothing), ``cure`` how that is done.
    """

    form: ClassVar[str] = "stock-import"
    file: str
    folder: str
    mapping: str
    saved: bool
    written: bool
    decimal: str
    thousands: str
    in_hundredths: bool
    currency: str
    columns: tuple[SheetColumn, ...]
    words: tuple[tuple[str, str], ...]
    unheaded: tuple[str, ...]
    understood: int
    parts: int
    refused: tuple[SheetRow, ...]
    elsewhere: tuple[SheetRow, ...]
    no_parts: tuple[SheetRow, ...]
    remarks: tuple[SheetRemark, ...]
    questions: tuple[SheetQuestion, ...]
    changes: tuple[RowChange, ...]
    unchanged: int
    blocked: str = ""
    cure: str = ""
    command: str = ""

    @property
    def status(self) -> str:
        """Whether the catalog holds it now."""
        return "written" if self.written else "shown"
