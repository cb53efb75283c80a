"""How answers last between two cleanings. SI inside, days as days."""

import math
from dataclasses import dataclass
from typing import Literal

Binding = Literal["", "last", "clean", "both", "either", "neither"]
"""Which of the targets of two days decides (empty: there is but one)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LastingMiss:
    """What is asked of the flow, in words, and the day on which it is first missed (inf: not within the days looked at)."""

    words: str
    day: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LastingRow:
    """Delivered flow of one bundle in m3/s on the first day, on the last day before cleaning, and on average. All begin clean but
    the loop as it is now.

    ``own_m3s`` and ``last_own_m3s`` are unthrottled, so more than what is delivered where a throttle must hold it. ``missed`` are
    the limits and targets that it does not keep on all days of the interval, each with the day from which on it is missed.
    """

    name: str
    price: int
    clean_m3s: float
    last_m3s: float
    mean_m3s: float
    own_m3s: float
    last_own_m3s: float
    missed: tuple[LastingMiss, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LastingWindow:
    """The flow through one inline device on the clean and on the last day, and the window its maker allows, in m3/s."""

    place: str
    device: str
    clean_m3s: float
    last_m3s: float
    flow_min_m3s: float
    flow_max_m3s: float
    kept: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LastingRise:
    """A place whose share of all losses rises, on the clean and on the last day."""

    place: str
    clean_share: float
    last_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Lasting:
    """An answer over an interval of ``days``, judged ``by`` its last day or its mean; rows end with the answer itself.

    ``misses`` are looked for over ``looked_days``, ``followed`` counts the bundles that were followed day by day.
    ``by_clean_day``: the bundle was chosen by the clean day and only followed over the others. ``tightens_day``: from this day on
    dirt makes a limit allow less than the loop would do, and the throttle is closed again (inf: not within the days looked at).
    ``clean_m3s`` was to be delivered on the first day (0: nothing); ``binding`` says whether that or the last day decides.
    """

    days: float
    by: str
    rows: tuple[LastingRow, ...]
    windows: tuple[LastingWindow, ...]
    misses: tuple[LastingMiss, ...]
    looked_days: float
    rises: tuple[LastingRise, ...]
    followed: int
    notes: tuple[str, ...]
    by_clean_day: bool = False
    tightens_day: float = math.inf
    clean_m3s: float = 0.0
    binding: Binding = ""
