"""What sharing one budget between several tanks comes to, as frozen objects. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer
from optimizer.model.fitted import ByFills
from optimizer.model.results import BillLine, Change, JointLine
from optimizer.model.shown import Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedOn:
    """A part that one tank frees and another one uses at no price."""

    part: str
    from_tank: str
    from_place: str
    to_tank: str
    to_places: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AimRow:
    """What one aim comes to: flows in order of ``tanks``, the least share of a target that any tank gets (at most 1), and
    sums."""

    aim: str
    status: str
    price: int
    flows_m3s: tuple[float, ...]
    least_share: float
    shortfall_m3s: float
    total_m3s: float
    power_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TankShare:
    """One filter of a tank in the answer. ``tank`` is that tank where it has several (empty: this is all it has); ``target_m3s``,
    ``share`` and ``enough`` are then those of the tank. ``enough``: it had what it needs and gets nothing. ``by_fills``:
    what its fills say (None: it has none). ``set_aside``: why no bundle meets its limits (empty: some do), so that it stays as it
    is. ``option``: it is not there yet, and costs ``price`` (minor units); ``there``: it is once all is done. No ``noise_dba``:
    nothing makes a sound."""

    name: str
    room: str
    target_m3s: float
    now_m3s: float
    flow_m3s: float
    share: float
    noise_dba: float | None
    power_w: float
    enough: bool
    changes: tuple[Change, ...]
    joints: tuple[JointLine, ...]
    by_fills: ByFills | None = None
    set_aside: tuple[str, ...] = ()
    tank: str = ""
    option: bool = False
    price: int = 0
    there: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class FilterCount:
    """The best for the same money with so many ``filters`` on a tank, those called ``names``: what they deliver together, and the
    price of everything (minor units); ``outcome`` as in `SharedResult`, no flow and no price where it is ``infeasible``."""

    filters: int
    names: tuple[str, ...]
    outcome: str
    flow_m3s: float
    price: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """A tank with several filters: its flow and turnover (by its net volume) are the sums of theirs, its noise adds theirs as
    powers. ``counts`` holds each number of filters that it could have against the others (empty: none is an option)."""

    tank: str
    filters: tuple[str, ...]
    target_m3s: float
    now_m3s: float
    flow_m3s: float
    share: float
    turnover_per_hour: float
    noise_dba: float | None
    power_w: float
    counts: tuple[FilterCount, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkStep:
    """One tank in the order of work: what it waits for, and which parts are free once it runs again."""

    tank: str
    waits_for: tuple[str, ...]
    frees: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomNoise:
    """Level of all pumps of a room together at its listening place, and what is allowed (infinite: anything). No
    ``noise_dba``: none runs."""

    room: str
    noise_dba: float | None
    most_dba: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedResult(Answer, Shown):
    """The whole answer: ``tanks`` holds a row for each filter of each tank, ``together`` one for each tank with several.

    ``aims`` are those that were answered, side by side, ``aim`` the one that tanks, parts handed on, steps and bill belong to.
    ``reach`` is what the first sum of a stopped search could still come to (0: it is proved), ``reasons`` say why there is no
    answer.
    """

    form: ClassVar[str] = "share"
    household: str
    catalog: str
    currency: str
    budget: int
    aim: str
    outcome: str
    price: int
    aims: tuple[AimRow, ...]
    tanks: tuple[TankShare, ...]
    handed_on: tuple[HandedOn, ...]
    steps: tuple[WorkStep, ...]
    rooms: tuple[RoomNoise, ...]
    power_w: float
    most_power_w: float
    bill: tuple[BillLine, ...]
    reasons: tuple[str, ...]
    gap: str
    turns: int
    together: tuple[Together, ...] = ()

    @property
    def status(self) -> str:
        """``proved``, ``stopped`` or ``infeasible``: the ``outcome`` of the search."""
        return self.outcome
