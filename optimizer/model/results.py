"""Answers as frozen objects: what is now, what spends nothing, what is best, why, and what to buy. SI inside."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import ClassVar, Literal

from optimizer.model.answer import Answer, Asked
from optimizer.model.care import Care
from optimizer.model.fitted import ByFills
from optimizer.model.lasting import Lasting
from optimizer.model.media_plan import MediaPlan
from optimizer.model.options import Chain, Option
from optimizer.model.part_names import tray_place
from optimizer.model.route import RoutePlace
from optimizer.model.said_lines import INNER
from optimizer.model.shown import Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A limit, by the name of its field in `Limits`, that is not met, and what it asks, in ``words``; not ``asked``: it stands by
    itself, nobody asked for it."""

    limit: str
    words: str
    asked: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the verdict: ``name`` is now, spend nothing or best.

    ``flow_m3s`` is delivered, ``own_m3s`` what the loop would deliver unthrottled, ``held_by`` the ceiling in between (empty:
    none), ``breaks`` the limits that this row does not meet. ``energy_kwh_per_year`` is what the pump draws in a year, day and
    night (0: not worked out), ``energy_cost_per_year`` that in minor units of money (None: nobody said what a kWh costs).
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
    breaks: tuple[Broken, ...] = ()
    energy_kwh_per_year: float = 0.0
    energy_cost_per_year: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What to do at one position, or in one of its trays (from 1; 0: it is no tray); ``change`` is keep, clean, adjust, swap,
    remove or add.

    ``part_id`` is empty for a part that the rig file describes, which no shop knows; ``cut_m`` the length to cut a hose to (0:
    none is said).
    """

    position: str
    change: str
    part_id: str
    text: str
    tray: int = 0
    cut_m: float = 0.0

    @property
    def place(self) -> str:
        """The position, or which of its trays."""
        return tray_place(self.position, self.tray) if self.tray else self.position


@dataclass(frozen=True, slots=True, kw_only=True)
class BillLine:
    """One thing to buy or to take from the drawer: ``count`` of it, or (of what is cut from a roll) pieces of so many metres.
    ``places`` are the positions and joints it serves, ``price`` in minor units. ``assumed`` is what nobody states of its parts,
    in a word each; the ``name`` says it too. ``supplier`` is the name of whom it is ordered from (empty: the shop itself); the
    last line of each is its postage, with no product."""

    product_id: str
    name: str
    count: int
    price: int
    owned: bool
    places: tuple[str, ...]
    cuts_m: tuple[float, ...] = ()
    assumed: tuple[str, ...] = ()
    supplier: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OneSupplier:
    """What as much flow costs when all is ordered from one supplier, postage included (None: it cannot be had there)."""

    supplier: str
    price: int | None


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
    """Gauge pressure at one ``end`` (inlet or outlet, or the rim that a hose climbs over) of a place: static, the velocity head
    at that bore already taken off.

    ``level_m`` is the height above the water line (negative: below), ``head_m`` the pressure as head of the tank's water,
    ``pressure_pa`` the same in Pa, ``suction`` whether it lies between the guard and the pump, ``in_joint`` whether the place is
    an adapter in a joint, ``in_air`` whether what leaks there lets in air and not water.
    """

    place: str
    end: str
    level_m: float
    speed_ms: float
    head_m: float
    pressure_pa: float
    suction: bool
    in_joint: bool = False
    in_air: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PressureProfile:
    """Pressure along one row's loop, in the order of the water; ``name`` is that of the row.

    ``lowest`` is the least pressure on the suction side. ``joint`` is the least at a joint that stands in air below the water
    line (the pump's inlet included): below 0 it draws air. ``hose`` is the least in a hose there (None: no such hose): below 0
    only the wall holds it open. Their ``head_m`` is the margin above 0. ``canister_m`` is the pressure in the canister at the
    delivered flow, ``canister_shut_m`` with the outlet shut, ``canister_rating_m`` its rating and ``canister_margin_m`` what
    is left of it then (infinite: no rating stated). Where the pump's depth is not given (not ``depth_known``) it is taken to
    stand at the water line. ``rim_m`` is how far the suction hose climbs above the water line on its way out of the tank (None:
    not known, and not counted); then joint and hose are the least of all that hangs outside.
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
    depth_known: bool = True
    rim_m: float | None = None


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
    a throttle in it must be set to hold it to that flow. ``day`` after a cleaning (0: as the row is told)."""

    row: str
    place: str
    branch: str
    flow_m3s: float
    flow_min_m3s: float
    flow_max_m3s: float
    throttled: bool
    holds: tuple[str, ...]
    day: float = 0.0

    @property
    def told_as(self) -> str:
        """The row, and the day if there is one."""
        return f"{self.row}, day {self.day:g}" if self.day else self.row


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutPlaces:
    """Places that stay as they are though parts for them are on offer, since nothing on offer fits the ``ends`` beside them, and
    what to ``measure`` or to look up."""

    places: tuple[str, ...]
    ends: tuple[str, ...]
    measure: tuple[str, ...]


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


Keep = Callable[[str], None]
"""Takes the text of a proof that `check_proof` checks."""


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
    combinations: int
    bound_m3s: float = math.inf
    rounds: int = 0
    nodes: int = 0
    paths: int = 0
    left_out: int = 0
    by_loss: bool = False
    certificates: tuple[Certificate, ...] = ()

    def status_with(self, found: bool) -> str:
        """Status of an answer that this is the proof of; nothing ``found`` and that proved: ``infeasible``."""
        return "infeasible" if not found and self.status == "proved" else self.status


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
class FreeGain:
    """Something that costs nothing, and the flow that it gives, all throttles open: ``alone_m3s`` if nothing else is done (None:
    not looked at, since joints are closed anew), ``then_m3s`` after all that stands before it.

    ``change`` is adjust, clean, leave out or fit (what the keeper owns, or parts left out); ``what`` the adjustment in words, or
    the stage that is cleaned: guard, hoses and fittings, pump, media, outlet or branches; ``places`` those that it is done at.
    """

    change: str
    what: str
    places: tuple[str, ...]
    alone_m3s: float | None
    then_m3s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One sum on the ladder from the loop as it is to the most for the budget.

    ``roles`` say what it is on the ladder for: ``now``, ``cleaned`` (and adjusted, for nothing), ``between``, ``wish`` (the
    cheapest that reaches what is wanted), ``enough`` (the cheapest within what can be told apart of the most), ``most``,
    ``cheapest`` (where a flow was asked for). ``changes`` are those beyond cleaning. ``proved``: no bundle that costs less
    delivers as much (between and enough: none that keeps all media, where `Advice.top_m3s` is less than the most). In eight of
    ten draws it delivers ``p10_m3s`` to ``p90_m3s`` (0: not drawn), and in nine of ten the most delivers at least
    ``lead_p10_m3s`` more than it.
    """

    roles: tuple[str, ...]
    row: Row
    changes: tuple[Change, ...]
    proved: bool
    p10_m3s: float = 0.0
    p90_m3s: float = 0.0
    lead_p10_m3s: float = 0.0


Reason = Literal["met", "cleaned", "wish", "enough", "unsure", "most", "asked", "cheapest"]
First = Literal["", "dirty", "unexplained"]
RestsOn = Literal["given", "fills", "bucket"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The step that is advised, and why. ``chosen`` counts the ``steps``.

    ``reason``: ``met`` (cleaning alone reaches what is wanted within the limits), ``cleaned`` (money adds less than can be told
    apart), ``wish`` (the cheapest that reaches what is wanted), ``enough`` (what more money adds cannot be told apart),
    ``unsure`` (whether more money adds anything is not sure), ``most`` (every sum up to it adds what can be told apart),
    ``asked`` (the most was asked for), ``cheapest`` (a flow was asked for).
    ``first`` says why to clean and measure before anything is bought: ``dirty``, ``unexplained`` (fills show less than the file
    explains), or empty. ``told_apart`` is the share of a flow below which two flows cannot be told apart, which rests on what was
    ``given``, on the keeper's own ``fills`` or on a ``bucket`` as usual. ``wanted_m3s`` is the wish or the least flow of the
    limits (0: neither), ``top_m3s`` the most for the budget that all media stay for: where that cannot be told from the most,
    the steps keep all media (else it is the most itself).
    """

    steps: tuple[Step, ...]
    chosen: int
    reason: Reason
    first: First
    told_apart: float
    rests_on: RestsOn
    wanted_m3s: float = 0.0
    wanted_per_hour: float = 0.0
    top_m3s: float = 0.0

    @property
    def step(self) -> Step:
        """The step that is advised."""
        return self.steps[self.chosen]

    @property
    def most(self) -> Step:
        """The last step of the ladder."""
        return self.steps[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class FromCatalog(Answer):
    """An answer on what to buy from a catalog. ``now`` is the loop as it is (None: not solved), ``by_fills`` the fills that the
    answer goes by (None: the rig has none)."""

    rig: str
    catalog: str
    currency: str
    question: Asked
    now: Row | None
    by_fills: ByFills | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedSpare:
    """A spare of the rig, by its number from 1, that a bundle uses: so many pieces, or how much of a hose (m) or medium (m3)."""

    number: int
    pieces: int
    amount: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleParts:
    """A bundle in full, from which the rig can be described as it is once that is fitted: what becomes of each position, how each
    joint is closed, the spares that are used up, and the ids of screw clamps that are bought to throttle a hose."""

    options: tuple[Option, ...]
    joints: tuple[Chain, ...]
    spares: tuple[UsedSpare, ...] = ()
    clamps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Result(FromCatalog, Shown):
    """The whole answer to one question about one rig. ``best`` is None when no bundle meets the limits.

    ``route`` is the way of the water, now and with the best bundle (without one: cleaned), which a drawing shows.
    ``profile`` is the pressure along the loop of each row that flows, ``jets`` those of each row whose outlet is a spray bar.
    ``free_gains`` lead from ``now`` to ``spend_nothing``, one after the other. ``media`` is the staged change of media where
    bacteria live (None: they stay), ``advice`` says which step of the ladder ``best`` is and why (None: it is the most for the
    budget, and nothing is advised), ``lasting`` how it lasts, where the last day before cleaning or the mean was asked for; rows
    and shares are of the clean day. ``care`` is what keeps air out and bacteria in. ``assumed`` names the
    parts, of the loop as it is and of what is bought, of which figures are assumed.
    ``one_supplier`` says what each supplier alone would ask, where the bill is of several.
    ``bundle`` is what ``best`` is made of, for the rig as it will be; a saved answer does not have it.
    """

    form: ClassVar[str] = "result"
    now: Row
    spend_nothing: Row | None
    best: Row | None
    changes: tuple[Change, ...]
    bill: tuple[BillLine, ...]
    joints: tuple[JointLine, ...]
    heads: tuple[HeadShare, ...]
    tightest: Spot | None
    tightest_before: Spot | None
    basis: tuple[str, ...]
    warnings: tuple[str, ...]
    proof: Proof
    assumed: tuple[str, ...] = ()
    conflict: Conflict | None = None
    profile: tuple[PressureProfile, ...] = ()
    jets: tuple[Jets, ...] = ()
    branches: tuple[BranchFlow, ...] = ()
    windows: tuple[WindowLine, ...] = ()
    shut: ShutPlaces | None = None
    wish: Wish | None = None
    free_gains: tuple[FreeGain, ...] = ()
    media: MediaPlan | None = None
    lasting: Lasting | None = None
    care: Care | None = None
    advice: Advice | None = None
    bundle: BundleParts | None = field(default=None, repr=False, compare=False, metadata=INNER)
    route: tuple[RoutePlace, ...] = ()
    one_supplier: tuple[OneSupplier, ...] = ()

    @property
    def status(self) -> str:
        """``proved``, ``stopped`` or ``infeasible``."""
        return self.proof.status_with(self.best is not None)
