"""Surface for bacteria needed and there, and the steps in which biological media are changed, as frozen objects."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BioSurface:
    """Surface for bacteria in m2 that the feeding needs and that the media have, each with P10 and P90.

    ``enough`` is the probability that there is enough, ``verdict`` "enough", "not sure" or "too little"; ``sure_m2`` what would
    be enough in nine cases of ten, which no change goes below that starts above; ``ammonia_g_day`` the ammonia nitrogen in g/day
    that the feeding makes.
    """

    ammonia_g_day: float
    need_m2: float
    need_low_m2: float
    need_high_m2: float
    have_m2: float
    have_low_m2: float
    have_high_m2: float
    sure_m2: float
    enough: float
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MediaStep:
    """What happens to one ``tray`` (from 1) in one ``week``: ``share`` of its medium gives way to another (empty: nothing).

    ``stays`` is the share of the mature surface that is left that day, ``stays_m2`` how much that is; ``sound``: at least half.
    """

    week: int
    tray: int
    share: float
    old: str
    new: str
    stays: float
    stays_m2: float
    sound: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MediaPlan:
    """The change of media that an answer asks for: what bacteria need and have ``now`` and ``after`` it, and the steps."""

    now: BioSurface
    after: BioSurface
    steps: tuple[MediaStep, ...]
    notes: tuple[str, ...]
