"""What ails a loop by its measurements, as frozen objects. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer
from optimizer.model.measuring import Calibrated, FlowBand, NextTests, RatioBand


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedHead:
    """Head that one place takes in m, each at the flow of its own case: as the file describes it, with the most probable
    factors, and with these after a clean. The shares are of all that the pump puts in."""

    place: str
    file_m: float
    file_share: float
    fitted_m: float
    fitted_share: float
    clean_m: float
    clean_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A part that is probably worse than the file has it.

    ``probability`` that it is worse, ``factor`` on ``scales`` (loss, diameter, head, ...), and ``flow_ratio``: what that alone
    multiplies the delivered flow by. ``kind`` is ``dirty``, ``narrow`` or ``weak``.
    """

    places: tuple[str, ...]
    part: str
    unknown: str
    kind: str
    scales: str
    factor: RatioBand
    probability: float
    flow_ratio: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CleaningGain:
    """What cleaning some of the loop multiplies the delivered flow by, and the flow it then has."""

    what: str
    gain: RatioBand
    delivered: FlowBand


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis(Answer):
    """Expected against measured, where the head goes, what is probably dirty or worn, what a clean gives back, what to test next.

    ``target`` says in words whose flow the next tests are ranked for. ``notes``: what was assumed.
    """

    form: ClassVar[str] = "diagnose"
    rig: str
    calibrated: Calibrated
    heads: tuple[FittedHead, ...]
    suspects: tuple[Suspect, ...]
    cleaning: tuple[CleaningGain, ...]
    target: str
    next_tests: NextTests

    @property
    def status(self) -> str:
        """``clean first`` when the data say to clean and measure again before buying, else ``diagnosed``."""
        return "clean first" if self.calibrated.clean_first else "diagnosed"
