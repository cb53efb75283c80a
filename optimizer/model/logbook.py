"""A log of fills, cleanings and changes with what follows from it, as frozen objects. SI inside."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from optimizer.model.answer import Answer
from optimizer.model.measuring import RatioBand


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """One entry. ``flow_m3s`` is that of a fill (0: no fill), brought to the loop as installed where a rig is at hand, and
    ``relative`` its standard uncertainty; ``left_out`` says why a fill is not part of the trend (empty: it is)."""

    date: str
    kind: str
    words: str
    flow_m3s: float = 0.0
    relative: float = 0.0
    left_out: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Since:
    """Fills since one cleaning or change (``began_by`` empty: since the log begins on ``date``).

    ``start_m3s`` is the fitted flow on that day and ``per_week`` what a week multiplies it by; both are None without two fills on
    different days.
    """

    date: str
    began_by: str
    fills: int
    days: float
    start_m3s: float | None
    per_week: RatioBand | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextCleaning:
    """When delivered flow falls below ``flow_m3s``: ISO dates, empty for not within ten years.

    In 8 of 10 cases the day lies between ``earliest`` and ``latest``. ``already``: it was below at the last fill. It rests ``by``
    "own fills" of the last run, by the "runs" since the last change together (so many ``fills`` in so many ``runs``), or by the
    "model" of dirt; or there is no date, since there is "no fill" or only "one fill", and by the model without a clean of
    everything and a fill after it ("no clean") or where "no flow" comes.
    """

    flow_m3s: float
    earliest: str
    likely: str
    latest: str
    already: bool
    by: Literal["own fills", "runs", "model", "no fill", "one fill", "no clean", "no flow"]
    fills: int = 0
    runs: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Logbook(Answer):
    """The log with the flow trend since each cleaning.

    ``added`` is how many entries were written just now. ``next`` is by the fitted trend, ``modelled`` by the model of dirt, set
    to the last fill (None: no flow was asked for, or no rig is at hand). ``problems`` are lines that could not be read.
    """

    form: ClassVar[str] = "log"
    file: str
    rig: str
    added: int
    lines: tuple[LogLine, ...]
    since: tuple[Since, ...]
    next: NextCleaning | None
    modelled: NextCleaning | None
    problems: tuple[str, ...]

    @property
    def status(self) -> str:
        """Always ``read``: a log that cannot be read is an error, not an answer."""
        return "read"
