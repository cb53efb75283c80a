"""Answers as frozen objects: what is now, what spends nothing, what is best, why, and what to buy. SI inside,
`to_dict` for JSON."""

import math
from dataclasses import dataclass, fields, is_dataclass

from optimizer.model.fitted import ByFills
from optimizer.model.lasting import Lasting
from optimizer.model.media_plan import MediaPlan
from optimizer.model.shown import Shown

SCHEMA = "fullbore-result/1"
"""Name and version of the JSON form; the number rises when a field changes its meaning or goes away."""


def plain(value: object) -> object:
    """Dataclasses, tuples and numbers as JSON has them; infinite numbers become None.

    >>> plain((1.5, math.inf))
    [1.5, None]
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    if isinstance(value, dict):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the verdict: ``name`` is now, spend nothing or best.

    ``flow_m3s`` is delivered, ``own_m3s`` what the loop would deliver unthrottled, ``held_by`` the ceiling in between (empty:
    none), ``breaks`` the limits that this row does not meet, in words.
    """

    name: str
    flow_m3s: float
    own_m3s: float
    held_by: str
    turnover_per_hour: float
    price: int
    noise_dba: float
    power_w: float
    bio_area_m2: float
    inlet_head_m: float
    breaks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What to do at one position; ``change`` is keep, clean, adjust, swap, remove or add."""

    position: str
    change: str
    part_id: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """One thing to buy or to take from the drawer. ``places`` are the positions and joints it serves, ``price`` in
    minor units."""

    product_id: str
    name: str
    quantity: str
    price: int
    owned: bool
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JointLine:
    """How one joint is closed: the two neighbours, the pieces in the order of the water, and what makes it tight."""

    between: tuple[str, str]
    pieces: tuple[str, ...]
    tight_by: tuple[str, ...]
    as_is: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadShare:
    """Head that one place takes, before and after, in m and as a share of all losses."""

    place: str
    before_m: float
    before_share: float
    after_m: float
    after_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """The narrowest place of the loop: its bore and the speed there."""

    place: str
    bore_m: float
    speed_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PressurePoint:
    """Gauge pressure at one ``end`` (inlet or outlet) of a place: static, the velocity head at that bore already taken off.

    ``level_m`` is the height above the water line (negative: below), ``head_m`` the pressure as head of the tank's water,
    ``pressure_pa`` the same in Pa, ``suction`` whether it lies between the guard and the pump.
    """

    place: str
    end: str
    level_m: float
    speed_ms: float
    head_m: float
    pressure_pa: float
    suction: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureProfile:
    """Pressure along one row's loop, in the order of the water; ``name`` is that of the row.

    ``lowest`` is the least pressure on the suction side. ``joint`` is the least at a joint that stands in air below the water
    line (the pump's inlet included): below 0 it draws air. ``hose`` is the least in a hose there (None: no such hose): below 0
    only the wall holds it open. Their ``head_m`` is the margin above 0. ``canister_m`` is the pressure in the canister at the
    delivered flow, ``canister_shut_m`` with the outlet shut, ``canister_rating_m`` its rating and ``canister_margin_m`` what
    is left of it then (infinite: no rating stated).
    """

    name: str
    points: tuple[PressurePoint, ...]
    lowest: PressurePoint
    joint: PressurePoint
    hose: PressurePoint | None
    canister_m: float
    canister_shut_m: float
    canister_rating_m: float
    canister_margin_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Jets:
    """The jets of a spray bar in one row, the hole nearest the bar's inlet first; ``name`` is that of the row.

    ``hole_m`` is the open diameter (less a film), ``speeds_ms`` the mean speed in each hole, ``evenness`` the least flow of a
    hole over the greatest.
    """

    name: str
    place: str
    holes: int
    hole_m: float
    speeds_ms: tuple[float, ...]
    evenness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchFlow:
    """What passes one branch in one ``row``: its flow, the window that its parts need and allow (0 and inf: none), and whether
    a throttle in it must be set to hold it to that flow."""

    row: str
    place: str
    branch: str
    flow_m3s: float
    flow_min_m3s: float
    flow_max_m3s: float
    throttled: bool
    holds: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """The flow that the rig file wishes for, whether the answer reaches it, a flow that nothing exceeds within the limits at any
    price, and what is in the way where that is less than the wish."""

    flow_m3s: float
    turnover_per_hour: float
    reached: bool
    reach_m3s: float
    in_the_way: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowLine:
    """The flow through one inline device in one ``row``, and the window its maker allows (0 and inf: no bound)."""

    row: str
    place: str
    device: str
    flow_m3s: float
    flow_min_m3s: float
    flow_max_m3s: float
    kept: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """One independent check of the answer: which route, what it found, and whether it agrees. Not ``done``: it was interrupted
    or left out, and says nothing for the answer nor against it."""

    route: str
    finding: str
    agrees: bool
    done: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """Why no other bundle does better: ``status`` is proved or stopped; ``bound_m3s`` the most that could still exist.

    ``combinations`` counts the bundles that were decided on, ``rounds``, ``nodes`` and ``paths`` the work it took. ``left_out``
    are ways to fill branches that no bundle among them has: where the jet in a tee makes the head fall as the flow rises.
    ``by_loss``: a better bundle would run above a ceiling with no throttle, so that it mattered what stays under it by its loss
    alone; joints and media that another beats are not among the bundles, though one might.
    """

    status: str
    bound_m3s: float
    combinations: int
    rounds: int
    nodes: int
    paths: int
    left_out: int = 0
    by_loss: bool = False
    certificates: tuple[Certificate, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Why nothing meets all limits: the smallest set that cannot hold together, the closest miss, and what would help.

    ``unsure`` says what is not known of the set, where finding it took too long (empty: it is the smallest).
    """

    limits: tuple[str, ...]
    closest: str
    remedies: tuple[str, ...]
    unsure: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result(Shown):
    """The whole answer to one question about one rig. ``best`` is None when no bundle meets the limits.

    ``profile`` is the pressure along the loop of each row that flows, ``jets`` those of each row whose outlet is a spray bar.
    ``media`` is the staged change of media where bacteria live (None: they stay), ``by_fills`` the fills that the answer goes by,
    ``lasting`` how it lasts, where the last day before cleaning or the mean was asked for; rows and shares are of the clean day.
    """

    rig: str
    catalog: str
    currency: str
    question: str
    budget: int | None
    now: Row
    spend_nothing: Row | None
    best: Row | None
    changes: tuple[Change, ...]
    bill: tuple[BillLine, ...]
    joints: tuple[JointLine, ...]
    heads: tuple[HeadShare, ...]
    tightest: Spot | None
    tightest_before: Spot | None
    cautions: tuple[str, ...]
    basis: tuple[str, ...]
    warnings: tuple[str, ...]
    proof: Proof
    conflict: Conflict | None = None
    profile: tuple[PressureProfile, ...] = ()
    jets: tuple[Jets, ...] = ()
    branches: tuple[BranchFlow, ...] = ()
    windows: tuple[WindowLine, ...] = ()
    wish: Wish | None = None
    media: MediaPlan | None = None
    by_fills: ByFills | None = None
    lasting: Lasting | None = None

    @property
    def status(self) -> str:
        """``proved``, ``stopped`` or ``infeasible``."""
        return "infeasible" if self.best is None and self.proof.status == "proved" else self.proof.status

    def to_dict(self) -> dict[str, object]:
        """The answer for JSON: SI units in the names, prices in minor units, with schema and status."""
        body = plain(self)
        if not isinstance(body, dict):
            raise TypeError("a result is not a mapping")
        return {"schema": SCHEMA, "status": self.status, **body}
