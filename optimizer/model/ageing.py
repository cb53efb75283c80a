"""A rig between two cleanings as one frozen object: flow day by day, what is missed when, what clogs, and what bacteria need."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer
from optimizer.model.fitted import ByFills
from optimizer.model.media_plan import BioSurface, MediaStep


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeingRow:
    """One day: delivered flow with everything cleaned on day 0, its share of that of day 0, and the flow if nothing is done."""

    days: float
    flow_m3s: float
    share: float
    turnover_per_hour: float
    undone_m3s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """What is asked of the flow, in ``words``, and the day on which it is first missed: after a clean of everything, and from
    today if nothing is done (0: from the start; inf: not within the days looked at). ``name`` is "target", "three quarters" (of
    the clean flow, without words) or that of a limit, ``place`` the position concerned (empty: the whole loop)."""

    name: str
    place: str
    words: str
    day: float
    undone_day: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StageCost:
    """One stage by itself after a clean of everything: the share of the clean flow that its own dirt costs on the last day, the
    day on which that share reaches ``DUE_COST`` (inf: not within the days looked at), how full it is then as a share (of pores,
    openings or bore; of an impeller the lost speed), how thick the cake on its face is in m, the dry dirt in kg that it has
    caught (None: it catches none), and whether it holds bacteria."""

    place: str
    what: str
    part: str
    cost: float
    due_day: float
    dirt: float
    cake_m: float
    caught_kg: float | None
    biological: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Risen:
    """Head of one place in m, and its share of all losses, clean and on the last day."""

    place: str
    clean_m: float
    clean_share: float
    dirty_m: float
    dirty_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeingBranch:
    """Flow of one branch in m3/s on each day of the rows, with everything cleaned on day 0."""

    place: str
    branch: str
    flows_m3s: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeingWindow:
    """Flow through a device in a branch, clean and on the last day, and the window its maker allows, in m3/s."""

    place: str
    device: str
    clean_m3s: float
    last_m3s: float
    flow_min_m3s: float
    flow_max_m3s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeingGuard:
    """Flow through one of two guards in m3/s and the speed of the water in front of what is open of its face in m/s, clean and on
    the last day, and the limit of that speed (inf: none)."""

    place: str
    guard: str
    clean_m3s: float
    last_m3s: float
    clean_ms: float
    last_ms: float
    limit_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LawUsed:
    """Which law was used for what, and who says so."""

    about: str
    law: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ageing(Answer):
    """How a rig ages over ``days``. ``clogs_first`` begins with the place whose share of the losses rises most; of ``made_kg``
    of dry dirt since the clean ``left_kg`` stay in the tank.

    ``renewal`` are the steps in which its biological media are renewed (empty: that was not asked). ``branches``, ``windows`` and
    ``guards`` tell how the flow divides between branches (empty: there are none), ``by_fills`` the fills that the answer goes by.
    """

    form: ClassVar[str] = "ageing"
    rig: str
    days: float
    feed_kg_day: float
    made_kg: float
    left_kg: float
    rows: tuple[AgeingRow, ...]
    missing: tuple[Missing, ...]
    stages: tuple[StageCost, ...]
    clogs_first: tuple[Risen, ...]
    bacteria: BioSurface
    renewal: tuple[MediaStep, ...]
    laws: tuple[LawUsed, ...]
    branches: tuple[AgeingBranch, ...] = ()
    windows: tuple[AgeingWindow, ...] = ()
    guards: tuple[AgeingGuard, ...] = ()
    by_fills: ByFills | None = None

    @property
    def status(self) -> str:
        """Always ``computed``: a rig that cannot be followed is an error, not an answer."""
        return "computed"
