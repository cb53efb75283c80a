"""How sure the flows of the best truly different bundles are, as frozen objects. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.alternatives import Alternative
from optimizer.model.bands import Band, BandLine
from optimizer.model.results import FromCatalog, Proof
from optimizer.model.shown import Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Banded(FromCatalog, Shown):
    """Bundles best first, each with the line of ``band`` of the same name (None: there is no bundle), and the loop as it is.

    ``asked``: so many bundles were wanted. ``beats_now_share`` is the share of the draws in which the bundle that ``band`` tells
    of delivers more than the loop as it is. Where a flow is wanted and the bundle's
    P10 falls short of it, ``ask_m3s`` is about what to ask for instead (0: no need). ``fills`` of the rig are taken into
    account; ``fills_left_out`` says why those that are there are not.

    Over an interval there is one bundle, its line that of the clean day; ``last_band`` is that of the last day, with the dirt of
    the model (None: no interval), and ``by_clean_day`` says that with branches the bundle was chosen by the clean day.
    """

    form: ClassVar[str] = "bands"
    asked: int
    now_band: BandLine | None
    candidates: tuple[Alternative, ...]
    band: Band | None
    beats_now_share: float
    ask_m3s: float
    proof: Proof
    fills: int = 0
    fills_left_out: str = ""
    last_band: BandLine | None = None
    by_clean_day: bool = False

    @property
    def status(self) -> str:
        """``proved``, ``stopped`` or ``infeasible``."""
        return self.proof.status_with(bool(self.candidates))
