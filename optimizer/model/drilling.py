"""What drilling a spray bar would do, as frozen objects. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer
from optimizer.model.fitted import ByFills
from optimizer.model.results import Broken


@dataclass(frozen=True, slots=True, kw_only=True)
class JetWish:
    """What is asked of the jets; None: not asked. Raises ValueError when nothing is asked or it contradicts itself.

    ``jet_ms`` is the least mean speed in every hole, ``jet_most_ms`` the greatest, ``evenness`` the least flow of a hole over
    the greatest.
    """

    jet_ms: float | None = None
    jet_most_ms: float | None = None
    evenness: float | None = None

    def __post_init__(self) -> None:
        if self.jet_ms is None and self.jet_most_ms is None and self.evenness is None:
            raise ValueError("a jet speed or an evenness must be asked for")
        for speed in (self.jet_ms, self.jet_most_ms):
            if speed is not None and not 0.0 < speed < float("inf"):
                raise ValueError("a jet speed must be above zero")
        if self.jet_ms is not None and self.jet_most_ms is not None and self.jet_ms > self.jet_most_ms:
            raise ValueError("the least jet speed must not be above the greatest")
        if self.evenness is not None and not 0.0 < self.evenness <= 1.0:
            raise ValueError("an evenness must be above 0 and at most 1")

    def short_by(self, slowest_ms: float, fastest_ms: float, evenness: float) -> float:
        """The worst miss as a share of what is asked, 0 when all is met.

        >>> round(JetWish(jet_ms=1.0, evenness=0.9).short_by(0.8, 1.0, 0.8), 3)
        0.2
        """
        misses = [0.0]
        if self.jet_ms is not None:
            misses.append(1.0 - slowest_ms / self.jet_ms)
        if self.jet_most_ms is not None:
            misses.append(fastest_ms / self.jet_most_ms - 1.0)
        if self.evenness is not None:
            misses.append(1.0 - evenness / self.evenness)
        return max(misses)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drilled:
    """A bar with equal holes in the rig's loop, solved again: ``holes`` of ``hole_m``, made with ``drill`` (empty: as it is).

    ``gap_m`` is the least distance between the centres of two holes, ``flow_m3s`` the delivered flow, ``slowest_ms`` and
    ``fastest_ms`` the mean speeds in the holes, ``area_ratio`` the area of all holes over that of the bore, ``breaks`` the limits
    of the rig that are not met.
    """

    holes: int
    drill: str
    hole_m: float
    gap_m: float
    flow_m3s: float
    slowest_ms: float
    fastest_ms: float
    evenness: float
    area_ratio: float
    breaks: tuple[Broken, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillResult(Answer):
    """Which holes would meet a wish: those within 1 % of the most delivered flow first, fewest holes in front, then the others.

    ``now`` is the bar as it is, ``cleaned`` the same in the loop that all others stand in: with everything cleaned. ``best`` is
    cut to the first few of ``met`` that meet the wish out of ``tried`` pairs of count and drill; ``same_holes`` is the best of
    those that only open the holes there are. ``closest`` misses least when none meets it; ``new_bar_best`` is then what a new bar
    of the same tube could do. ``new_bar`` says that holes may be fewer or smaller. ``by_fills`` are the fills that it goes by
    (None: the rig has none).
    """

    form: ClassVar[str] = "drill"
    rig: str
    place: str
    wish: JetWish
    drills: str
    new_bar: bool
    now: Drilled
    cleaned: Drilled
    cleaned_meets: bool
    best: tuple[Drilled, ...]
    met: int
    tried: int
    same_holes: Drilled | None
    closest: Drilled | None
    new_bar_best: Drilled | None
    basis: tuple[str, ...]
    by_fills: ByFills | None = None

    @property
    def status(self) -> str:
        """``found``, ``as it is`` (only the bar of now meets the wish, once all is clean) or ``infeasible``."""
        if self.best:
            return "found"
        return "as it is" if self.cleaned_meets else "infeasible"
