"""What sharing one budget between several tanks comes to, as frozen objects. SI inside, `to_dict` for JSON."""

from dataclasses import dataclass

from optimizer.model.fitted import ByFills
from optimizer.model.results import BillLine, Change, JointLine, plain
from optimizer.model.shown import Shown

SCHEMA = "fullbore-share/1"
"""Name and version of the JSON form."""


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
    """What one aim comes to: flows in order of the tanks, the least share of a target that any tank gets (at most 1), and
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
    """One tank in the answer. ``enough``: it had what it needs and gets nothing. ``by_fills``: what its fills say (None: it has
    none). ``set_aside``: why no bundle meets its limits (empty: some do), so that it stays as it is."""

    name: str
    room: str
    target_m3s: float
    now_m3s: float
    flow_m3s: float
    share: float
    noise_dba: float
    power_w: float
    enough: bool
    changes: tuple[Change, ...]
    joints: tuple[JointLine, ...]
    by_fills: ByFills | None = None
    set_aside: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One tank in the order of work: what it waits for, and which parts are free once it runs again."""

    tank: str
    waits_for: tuple[str, ...]
    frees: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomNoise:
    """Level of all pumps of a room together at its listening place, and what is allowed (infinite: anything)."""

    room: str
    noise_dba: float
    most_dba: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedResult(Shown):
    """The whole answer. ``aims`` are those asked for side by side, ``aim`` the one that tanks, parts handed on, steps and bill
    belong to. ``reach`` is what the first sum of a stopped search could still come to (0: it is proved), ``reasons`` say why
    there is no answer.
    """

    household: str
    catalog: str
    currency: str
    budget: int
    aim: str
    status: str
    price: int
    aims: tuple[AimRow, ...]
    tanks: tuple[TankShare, ...]
    handed_on: tuple[HandedOn, ...]
    steps: tuple[Step, ...]
    rooms: tuple[RoomNoise, ...]
    power_w: float
    most_power_w: float
    bill: tuple[BillLine, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    reasons: tuple[str, ...]
    gap: str
    turns: int

    def to_dict(self) -> dict[str, object]:
        """The answer for JSON: SI units in the names, prices in minor units, with its schema."""
        body = plain(self)
        if not isinstance(body, dict):
            raise TypeError("a result is not a mapping")
        return {"schema": SCHEMA, **body}
