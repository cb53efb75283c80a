"""Timed fills of a rig and what they say of its delivered flow, as frozen objects. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer
from optimizer.model.measuring import CorrectedFlow, FlowBand


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(Answer):
    """Every fill with its uncertainty, its warnings and what it says of the loop as installed; then all of them together.

    ``expected`` is the delivered flow by the rig file alone, ``delivered`` with all measurements, ``tail`` the chance of
    measurements at least as far from what the file says as these. ``powers_w`` are what a meter at the socket showed,
    each time it was read, ``notes`` what was assumed.
    """

    form: ClassVar[str] = "measure"
    rig: str
    fills: tuple[CorrectedFlow, ...]
    powers_w: tuple[float, ...]
    expected: FlowBand
    delivered: FlowBand
    tail: float

    @property
    def status(self) -> str:
        """Always ``measured``: bad input is an error, not an answer."""
        return "measured"
