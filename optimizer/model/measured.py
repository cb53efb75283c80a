"""Timed fills of a rig and what they say of its delivered flow, as frozen objects. SI inside, `to_dict` for JSON."""

from dataclasses import dataclass

from optimizer.model.measuring import CorrectedFlow, FlowBand
from optimizer.model.results import plain

SCHEMA = "fullbore-measure/1"
"""Name and version of the JSON form; the number rises when a field changes its meaning or goes away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Every fill with its uncertainty, its warnings and what it says of the loop as installed; then all of them together.

    ``expected`` is the delivered flow by the rig file alone, ``delivered`` with all measurements, ``tail`` the chance of
    measurements at least as far from what the file says as these. ``power_w`` is what a meter at the socket showed (0: not
    read), ``notes`` what was assumed.
    """

    rig: str
    fills: tuple[CorrectedFlow, ...]
    power_w: float
    expected: FlowBand
    delivered: FlowBand
    tail: float
    notes: tuple[str, ...]

    @property
    def status(self) -> str:
        """Always ``measured``: bad input is an error, not an answer."""
        return "measured"

    def to_dict(self) -> dict[str, object]:
        """The flows for JSON: SI units in the names, with schema and status."""
        body = plain(self)
        if not isinstance(body, dict):
            raise TypeError("a result is not a mapping")
        return {"schema": SCHEMA, "status": self.status, **body}
