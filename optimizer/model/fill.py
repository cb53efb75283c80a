"""A timed fill: a container filled against the clock, and how the loop then differed from the rig file."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.model.said import Quantity, Said, length

GUARD_OFF, MEDIA_OUT, OUTLET_OFF, HOSE_OFF = "guard off", "media out", "outlet off", "hose off"
TAKEN_OFF = (GUARD_OFF, MEDIA_OUT, OUTLET_OFF, HOSE_OFF)
"""Words that say that something was off, so that the loop was put together otherwise for this fill."""

CLEAN, GUARD_CLEAN, MEDIA_CLEAN, HOSES_CLEAN, PUMP_CLEAN = "clean", "guard clean", "media clean", "hoses clean", "pump clean"
CLEANING = (GUARD_CLEAN, MEDIA_CLEAN, HOSES_CLEAN, PUMP_CLEAN)
"""Words that say which parts were cleaned."""

FILL_STATES = (*TAKEN_OFF, CLEAN, *CLEANING)
"""How the loop can differ, during a fill, from what the rig file describes."""

VOLUME_SHARE = 0.02
"""Half-width of what the mark of a household bucket may be off: common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedFill:
    """A container filled against the clock, once or more often.

    ``height_m`` is the mouth of the water above the tank's water line during the fill (negative: below), ``state`` how the
    loop then differed from the rig file (some of `FILL_STATES`), ``volume_limit_m3`` how far the mark may be off (0: 2 %
    of the volume), ``power_w`` what a meter at the socket showed for the pump meanwhile (0: not read).
    Fills into the same ``container`` (empty: told by its volume) share the error of its mark; ``date`` is ISO 8601 or empty.
    Raises ValueError.

    >>> TimedFill(volume_m3=0.01, seconds=(61.2, 60.8)).mark
    '10 l'
    """

    volume_m3: float
    seconds: tuple[float, ...]
    height_m: float = 0.0
    state: tuple[str, ...] = ()
    container: str = ""
    volume_limit_m3: float = 0.0
    date: str = ""
    power_w: float = 0.0

    def __post_init__(self) -> None:
        if not (0.0 < self.volume_m3 < math.inf and self.seconds and all(0.0 < each < math.inf for each in self.seconds)):
            raise ValueError("a fill needs a volume and at least one time, all above zero")
        if not (math.isfinite(self.height_m) and 0.0 <= self.volume_limit_m3 < self.volume_m3):
            raise ValueError("a fill needs a finite height, and a mark that is off by less than the volume")
        if not 0.0 <= self.power_w < math.inf:
            raise ValueError("the power must not be below zero")
        unknown = set(self.state) - set(FILL_STATES)
        if unknown:
            raise ValueError(f"unknown state of the loop: {', '.join(sorted(unknown))}")

    @property
    def mark(self) -> str:
        """What the container is called."""
        return self.container or Said(litres(self.volume_m3))

    @property
    def label(self) -> str:
        """The fill in a few words."""
        return fill_label(self.date, self.state, self.height_m)


def litres(volume_m3: float) -> Quantity:
    """A volume as a quantity in a text, to four digits."""
    return Quantity(volume_m3, "volume", f"{volume_m3 * 1e3:.4g} l")


def fill_label(date: str, state: Sequence[str], height_m: float, line: str = " the water line") -> str:
    """A fill in a few words.

    >>> fill_label("", (), 0.03)
    'fill, as it is, 3 cm above the water line'
    """
    said = Said(", ".join([date or "fill", *(state or ("as it is",))]))
    return Said(said, ", ", *above(height_m, line)) if height_m else said


def above(height_m: float, line: str = " the water line") -> tuple[Quantity, str]:
    """How far a mouth was above the water line, or below it."""
    far = length(abs(height_m), f"{abs(height_m) * 100:.0f} cm")
    return far, f" {'above' if height_m > 0.0 else 'below'}{line}"
