"""The best truly different bundles as frozen objects. SI inside, `to_dict` for JSON."""

from dataclasses import dataclass

from optimizer.model.fitted import ByFills
from optimizer.model.results import Change, Row, plain

SCHEMA = "fullbore-alternatives/1"
"""Name and version of the JSON form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One bundle: ``less_m3s`` than the best it delivers, ``differs`` says what stands elsewhere than in the best (empty for the
    best itself), ``changes`` everything there is to do."""

    row: Row
    less_m3s: float
    differs: tuple[Change, ...]
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternatives:
    """Bundles in order of delivered flow. ``asked``: so many were wanted; fewer and proved: there are no others.
    ``left_out`` and ``by_loss`` as in `Proof`."""

    rig: str
    catalog: str
    currency: str
    question: str
    budget: int | None
    asked: int
    now: Row
    alternatives: tuple[Alternative, ...]
    proof: str
    combinations: int
    left_out: int = 0
    by_loss: bool = False
    by_fills: ByFills | None = None

    @property
    def status(self) -> str:
        """``proved``, ``stopped`` or ``infeasible``."""
        return "infeasible" if not self.alternatives and self.proof == "proved" else self.proof

    def to_dict(self) -> dict[str, object]:
        """The list for JSON: SI units in the names, prices in minor units, with schema and status."""
        body = plain(self)
        if not isinstance(body, dict):
            raise TypeError("a list of alternatives is not a mapping")
        return {"schema": SCHEMA, "status": self.status, **body}
