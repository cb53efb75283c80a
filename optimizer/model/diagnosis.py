"""What ails a loop by its measurements, as frozen objects. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer
from optimizer.model.care import AirCheck
from optimizer.model.measuring import Calibrated, FlowBand, NextTests, PowerBand, RatioBand


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


AS_WRITTEN, DIRT, PUMP, AIR = "as written", "dirt", "pump", "air"
"""Why a loop gives what it gives: as its file says, a loop dirtier or narrower than that, a pump weaker than that, air in it."""

LIKELY_PUMP, LIKELY_AIR = 0.5, 0.7
"""From here on what is wrong is rather at the pump than in the loop, and air is named alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One cause by its ``name``, how probable it is by fills, watts and signs together, and its most probable ``size``: what it
    multiplies the losses by (dirt), the speed (pump) or the density of what is in the pump (air)."""

    name: str
    probability: float
    size: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerCheck:
    """The watts read last, ``read_w``, against those of a pump full of water in a loop that is to blame for what all other
    measurements say: at its flow (``full``) and at no flow (``shut``). ``below_shut`` is the probability that it draws less than
    it would at no flow, which no loop that chokes it does."""

    label: str
    read_w: float
    full: PowerBand
    shut: PowerBand
    below_shut: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis(Answer):
    """Expected against measured, where the head goes, what is probably dirty or worn, what a clean gives back, what to test next.

    ``target`` says in words whose flow the next tests are ranked for. ``signs`` are what the keeper noticed; ``causes``, the most
    probable first, are told where watts or signs tell them apart, ``power`` where watts were read, ``air`` where the pump is to
    be looked at first. ``notes``: what was assumed.
    """

    form: ClassVar[str] = "diagnose"
    rig: str
    calibrated: Calibrated
    heads: tuple[FittedHead, ...]
    suspects: tuple[Suspect, ...]
    cleaning: tuple[CleaningGain, ...]
    target: str
    next_tests: NextTests
    signs: tuple[str, ...] = ()
    causes: tuple[Cause, ...] = ()
    power: PowerCheck | None = None
    air: AirCheck | None = None

    def probability(self, *names: str) -> float:
        """How probable one of some causes is, 0 where none were told apart."""
        return sum(each.probability for each in self.causes if each.name in names)

    @property
    def pump_first(self) -> bool:
        """True where what is wrong is rather at the pump, air in it or its impeller, than in the loop."""
        return self.probability(AIR, PUMP) >= LIKELY_PUMP

    @property
    def status(self) -> str:
        """``pump first`` when air or the impeller are likelier than dirt; ``clean first`` when the data say to clean and measure
        again before buying; else ``diagnosed``."""
        if self.pump_first:
            return "pump first"
        return "clean first" if self.calibrated.clean_first else "diagnosed"
