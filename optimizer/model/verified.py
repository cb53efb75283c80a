"""Whether an upgrade did what it was bought for, as frozen objects. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer
from optimizer.model.measuring import CorrectedFlow, FactorLine, FlowBand, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified(Answer):
    """The verdict on two rigs, before and after, with their fills.

    ``cleaned``, ``left_out`` and ``parts`` list places: what is cleaner now, what stands nowhere any more, and where parts, hose
    runs, mouths or wear differ. ``before_flow`` and ``after_flow`` are what either loop delivers by its own fills, as every other
    answer about that rig has it; ``predicted`` is the delivered flow of the loop after by the fills before alone, ``expected`` by
    its file alone. The verdict knows all fills. ``factors`` are those of the model brought up to date, the one that was learned
    most about first.
    """

    form: ClassVar[str] = "verify"
    before: str
    after: str
    before_fills: tuple[CorrectedFlow, ...]
    after_fills: tuple[CorrectedFlow, ...]
    cleaned: tuple[str, ...]
    left_out: tuple[str, ...]
    parts: tuple[str, ...]
    before_flow: FlowBand
    after_flow: FlowBand
    expected: FlowBand
    predicted: FlowBand
    verdict: Verdict
    factors: tuple[FactorLine, ...]

    @property
    def status(self) -> str:
        """Always ``verified``: how sure it is stands in the verdict's probabilities."""
        return "verified"
