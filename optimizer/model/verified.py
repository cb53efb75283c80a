"""Whether an upgrade did what it was bought for, as frozen objects. SI inside, `to_dict` for JSON."""

from dataclasses import dataclass

from optimizer.model.measuring import CorrectedFlow, FactorLine, FlowBand, Verdict
from optimizer.model.results import plain

SCHEMA = "fullbore-verify/2"
"""Name and version of the JSON form; the number rises when a field changes its meaning or goes away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """The verdict on two rigs, before and after, with their fills.

    ``cleaned``, ``left_out`` and ``parts`` list places: what is cleaner now, what stands nowhere any more, and where parts, hose
    runs, mouths or wear differ. ``predicted`` is the delivered flow of the loop after by
    the fills before alone, ``expected`` by its file alone; the verdict's ``after`` knows all fills. ``factors`` are those of the
    model brought up to date, the one that was learned most about first.
    """

    before: str
    after: str
    before_fills: tuple[CorrectedFlow, ...]
    after_fills: tuple[CorrectedFlow, ...]
    cleaned: tuple[str, ...]
    left_out: tuple[str, ...]
    parts: tuple[str, ...]
    expected: FlowBand
    predicted: FlowBand
    verdict: Verdict
    factors: tuple[FactorLine, ...]
    notes: tuple[str, ...]

    @property
    def status(self) -> str:
        """Always ``verified``: how sure it is stands in the verdict's probabilities."""
        return "verified"

    def to_dict(self) -> dict[str, object]:
        """The verdict for JSON: SI units in the names, with schema and status."""
        body = plain(self)
        if not isinstance(body, dict):
            raise TypeError("a result is not a mapping")
        return {"schema": SCHEMA, "status": self.status, **body}
