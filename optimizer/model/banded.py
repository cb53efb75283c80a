"""How sure the flows of the best truly different bundles are, as frozen objects. SI inside, `to_dict` for JSON."""

from dataclasses import dataclass

from optimizer.model.alternatives import Alternative
from optimizer.model.bands import Band, BandLine
from optimizer.model.results import Row, plain
from optimizer.model.shown import Shown

SCHEMA = "fullbore-bands/1"
"""Name and version of the JSON form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Banded(Shown):
    """Bundles best first, each with the line of ``band`` of the same name (None: there is no bundle), and the loop as it is.

    ``asked``: so many bundles were wanted. ``beats_now_share`` is the share of the draws in which the bundle that ``band`` tells
    of delivers more than the loop as it is. ``target_m3s`` is the flow that was wanted (0: as much as possible); where the
    bundle's P10 falls short of it, ``ask_m3s`` is about what to ask for instead (0: no need). ``fills`` of the rig are taken into
    account; ``fills_left_out`` says why those that are there are not.
    """

    rig: str
    catalog: str
    currency: str
    question: str
    budget: int | None
    target_m3s: float
    asked: int
    now: Row | None
    now_band: BandLine | None
    candidates: tuple[Alternative, ...]
    band: Band | None
    beats_now_share: float
    ask_m3s: float
    proof: str
    combinations: int
    left_out: int = 0
    by_loss: bool = False
    fills: int = 0
    fills_left_out: str = ""

    @property
    def status(self) -> str:
        """``proved``, ``stopped`` or ``infeasible``."""
        return "infeasible" if not self.candidates and self.proof == "proved" else self.proof

    def to_dict(self) -> dict[str, object]:
        """The bands for JSON: SI units in the names, prices in minor units, with schema and status."""
        body = plain(self)
        if not isinstance(body, dict):
            raise TypeError("bands are not a mapping")
        return {"schema": SCHEMA, "status": self.status, **body}
