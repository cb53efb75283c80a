"""The best truly different bundles as frozen objects. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.results import Change, FromCatalog, Proof, Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One bundle: ``less_m3s`` than the best it delivers, ``differs`` says what stands elsewhere than in the best (empty for the
    best itself), ``changes`` everything there is to do."""

    row: Row
    less_m3s: float
    differs: tuple[Change, ...]
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternatives(FromCatalog):
    """Bundles in order of delivered flow. ``asked``: so many were wanted; fewer and proved: there are no others."""

    form: ClassVar[str] = "alternatives"
    asked: int
    alternatives: tuple[Alternative, ...]
    proof: Proof

    @property
    def status(self) -> str:
        """``proved``, ``stopped`` or ``infeasible``."""
        return self.proof.status_with(bool(self.alternatives))
