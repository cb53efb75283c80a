"""A tank with its loop, limits and spare parts, as read from one file."""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from optimizer.model.fill import TimedFill
from optimizer.model.fitted import Fitted
from optimizer.model.limits import Limits
from optimizer.model.load import Load
from optimizer.model.options import OrientedAdapter
from optimizer.model.parts import Canister, Fitting, Kind, Medium, Outlet, Part, Pump, TeePiece, kind_of
from optimizer.model.state import State
from optimizer.physics.fitting_laws import CHOSEN, FittingLaws
from optimizer.physics.sound import at_distance_dba
from optimizer.physics.water import Water


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """The water. ``net_m3`` is what turns over; ``nominal_m3`` what the label of the tank says; ``footprint_m2`` is the area of
    its bottom inside (None: nobody said).

    >>> Tank(nominal_m3=0.4, net_m3=0.34).net_m3
    0.34
    """

    net_m3: float
    nominal_m3: float
    temperature_c: float = 25.0
    salinity_gkg: float = 0.0
    footprint_m2: float | None = None

    def __post_init__(self) -> None:
        if not 0.0 < self.net_m3 <= self.nominal_m3:
            raise ValueError("the net volume must be above zero and at most the nominal volume")

    @property
    def water(self) -> Water:
        """What it holds."""
        return Water(temperature_c=self.temperature_c, salinity_gkg=self.salinity_gkg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tray:
    """What one tray of the canister holds now (None: empty) and how dirty it is."""

    medium: Medium | None
    state: State = State()


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjust:
    """An adjustment of what is installed: a re-drilled outlet, or the same outlet at another height."""

    name: str
    price: int = 0
    outlet: Outlet | None = None
    height_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    """A short series of places beside another one. ``installed`` False: it is not there, but could be added on tees. A place in
    it may hold branches as well: three side by side are one, and beside it a place with the other two."""

    name: str
    positions: "tuple[Position, ...]"
    installed: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """A place in the loop. ``installed`` is None for a fitting that could be added (a throttle), for all that stands in a branch
    that could be added, and for a place that holds ``branches``.

    Two branches that are there part at the tee ``parting`` and meet at the tee ``meeting``, the first of them on the straight
    run of each (None at the tank's side, where the branches start with guards or end with outlets).

    ``length_m``, ``bends``, ``bend_radius_m`` and ``coil_m`` belong to hose runs (bends are quarter turns); ``height_m`` is the
    outlet mouth above the water line (negative: below); ``depth_m`` is how far the pump or canister stands below it
    (not ``depth_known``: nobody said, 0 is taken; the same for the outlet's mouth, ``height_known``); ``breaks_m`` is how far
    below the water line a siphon through the place breaks: at a guard's lowest opening, or at the air-break hole of an outlet
    (None: nobody said, there need not be a hole);
    ``stays`` forbids a swap, ``may_go`` allows the place to be left out; by ``laws`` its losses are reckoned.
    """

    name: str
    kind: str
    installed: Part | None
    state: State = State()
    length_m: float = 0.0
    bends: int = 0
    bend_radius_m: float = 0.1
    coil_m: float = math.inf
    height_m: float = 0.0
    depth_m: float = 0.0
    depth_known: bool = True
    height_known: bool = True
    breaks_m: float | None = None
    role: str = ""
    stays: bool = False
    may_go: bool = False
    adjusts: tuple[Adjust, ...] = ()
    branches: tuple[Branch, ...] = ()
    parting: TeePiece | None = None
    meeting: TeePiece | None = None
    laws: FittingLaws = CHOSEN

    def __post_init__(self) -> None:
        if self.installed is not None and kind_of(self.installed) != self.kind:
            raise ValueError(f"position {self.name} is a {self.kind} but holds a {kind_of(self.installed)}")
        if (self.kind == Kind.BRANCHES) != bool(self.branches):
            raise ValueError(f"position {self.name} has branches if and only if that is its kind")
        if self.branches and len(self.branches) != 2:
            raise ValueError(f"position {self.name} holds two branches, not {len(self.branches)}")
        if self.branches and not self.branches[0].installed:
            raise ValueError(f"the first branch of {self.name} must be there; the second may be added")
        if not all(branch.positions for branch in self.branches):
            raise ValueError(f"a branch of {self.name} holds no places")
        if any(each.branches for branch in self.branches if not branch.installed for each in branch.positions):
            raise ValueError(f"a branch of {self.name} that is not there holds no branches")
        if self.kind == "hose" and not self.length_m > 0.0:
            raise ValueError(f"hose run {self.name} needs a length")

    @property
    def holds_something(self) -> bool:
        """True when the water meets a part there today."""
        return self.installed is not None or bool(self.branches)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """A part the keeper owns and does not use: price 0, ``count`` of them (for hose one piece of
    ``amount_m``, of a medium ``amount_m3``). ``dirty``: it is cleaned before it is fitted."""

    part: Part
    count: int = 1
    amount_m: float = 0.0
    amount_m3: float = 0.0
    dirty: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldJoint:
    """The ``adapters`` that stand now in the joint between two places, in the order of the water: the water leaves ``before`` and
    comes to ``after``, as `end_place` names them."""

    before: str
    after: str
    adapters: tuple[OrientedAdapter, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """One tank, its loop in the order the water takes from the guard to the outlet, and what is asked of it.

    ``trays`` holds the media from the first tray the water meets to the last, ``joints`` the adapters that stand between places
    (a joint that is not there has none). ``unasked`` names limits that nobody asked for and that stand all the same, ``as_now``
    those that are what the installed pump has. ``target_m3s`` is the wanted delivered flow
    (0: as much as possible), ``told_apart`` the share of a flow below which the keeper calls two flows alike (0: not said).
    ``tools`` is what the keeper's own tools make possible (words of `parts.JOBS`). ``energy_price`` is what a kWh costs in minor
    units of money (None: nobody said), ``rim_m`` how far the hoses climb above the water line to get over the rim (None: not
    measured). ``load`` is what is fed. ``notes`` lists assumptions made while reading, for the output,
    ``fills`` the flows measured by container and watch, ``signs`` what is heard and seen of it (of `model/signs.py`), ``fitted``
    what fills say of what is installed, for the search to go by (None: it goes by the stated figures), ``source`` the file it
    was read from (empty: none). Raises ValueError when the loop does not start with a guard, end with an outlet and hold
    exactly one canister and one pump.
    """

    name: str
    tank: Tank
    positions: tuple[Position, ...]
    trays: tuple[Tray, ...]
    joints: tuple[HeldJoint, ...] = ()
    limits: Limits = Limits()
    unasked: tuple[str, ...] = Limits().binding
    as_now: tuple[str, ...] = ()
    spares: tuple[Spare, ...] = ()
    tools: tuple[str, ...] = ()
    target_m3s: float = 0.0
    told_apart: float = 0.0
    mains_hz: float = 50.0
    listen_m: float = 1.0
    cabinet_db: float = 0.0
    energy_price: float | None = None
    rim_m: float | None = None
    load: Load = Load()
    notes: tuple[str, ...] = field(default=())
    fills: tuple[TimedFill, ...] = ()
    signs: tuple[str, ...] = ()
    fitted: Fitted | None = None
    source: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        if len(self.positions) < 2:
            raise ValueError("a loop starts with a guard and ends with an outlet")
        due = dict.fromkeys((Kind.GUARD, Kind.OUTLET), 1)
        for end, kind in ((0, Kind.GUARD), (-1, Kind.OUTLET)):
            outermost = [each.kind for each in _outermost(self.positions[end], end)]
            due[kind] = len(outermost)
            if set(outermost) != {kind}:
                raise ValueError("a loop starts with a guard and ends with an outlet")
        kinds = [position.kind for position in self.positions]
        inner = [each.kind for position in self.positions for each in inner_positions(position)]
        for kind in (Kind.GUARD, Kind.CANISTER, Kind.PUMP, Kind.OUTLET):
            found = kinds.count(kind) + inner.count(kind)
            if found != due.get(kind, 1):
                beside = " in each branch at its end" if due.get(kind, 1) > 1 else ""
                raise ValueError(f"a loop has exactly one {kind}{beside}, this one has {found}")
        if {Kind.CANISTER, Kind.PUMP} & set(inner):
            raise ValueError("a branch holds no canister and no pump")
        for series, at_start, at_end in _each_series(self.positions, True, True):
            empty = [p for p in series if p.installed is None and p.kind not in (Kind.FITTING, Kind.BRANCHES)]
            if empty:
                raise ValueError(f"position {empty[0].name} is empty; only a fitting can be added where there is none")
            for n, position in enumerate(series):
                _check_tees(position, at_start and n == 0, at_end and n == len(series) - 1)
        every = list(nested_positions(self.positions))
        if len({position.name for position in every}) != len(every):
            raise ValueError("every position needs a name of its own")
        if any(position.laws != self.laws for position in every):
            raise ValueError("all losses of a rig are reckoned by the same laws")
        if len(self.trays) != self.canister.trays:
            raise ValueError(f"the canister has {self.canister.trays} trays, but {len(self.trays)} are described")

    @property
    def told_as(self) -> str:
        """Where what is wrong with it is to be put right: the file it was read from; its name when there is none."""
        return self.source or self.name

    @property
    def every_position(self) -> tuple[Position, ...]:
        """All places where a part can stand, those inside branches instead of the place that holds them."""
        return tuple(each for position in self.positions for each in (inner_positions(position) or (position,)))

    @property
    def every_part(self) -> tuple[Part, ...]:
        """All parts that are there, tees, media and adapters too."""
        tees = (tee for position in nested_positions(self.positions) for tee in (position.parting, position.meeting))
        found = (*(place.installed for place in self.every_position), *tees, *(tray.medium for tray in self.trays))
        adapters = (turned.part for joint in self.joints for turned in joint.adapters)
        return (*(part for part in found if part is not None), *adapters)

    def adapters(self, before: str, after: str) -> tuple[OrientedAdapter, ...]:
        """What stands now in the joint between two places, in the order of the water."""
        return next((joint.adapters for joint in self.joints if (joint.before, joint.after) == (before, after)), ())

    @property
    def as_it_stands(self) -> "Rig":
        """The rig without branches that could only be added: what stands beside them is in series with the rest."""
        stands = standing_places(self.positions)
        return replace(self, positions=stands) if stands != self.positions else self

    def with_each(self, change: "Callable[[Position], Position]") -> "Rig":
        """The rig with every place where a part can stand changed, those inside branches too."""
        return replace(self, positions=tuple(with_each(position, change) for position in self.positions))

    @property
    def laws(self) -> FittingLaws:
        """The laws that the losses of its fittings are reckoned by, joints and tees included."""
        return self.positions[0].laws

    def by_laws(self, laws: FittingLaws) -> "Rig":
        """The rig with all its losses reckoned by other laws.

        Of what was measured it keeps what the fills made of the laws before.
        """
        changed = tuple(_with_places(position, lambda place: replace(place, laws=laws)) for position in self.positions)
        return replace(self, positions=changed)

    def index(self, kind: str) -> int:
        """Place in the loop of the first position of a kind. Raises ValueError when there is none."""
        return [position.kind for position in self.positions].index(kind)

    @property
    def canister(self) -> Canister:
        """The canister body."""
        body = self.positions[self.index("canister")].installed
        if not isinstance(body, Canister):
            raise ValueError("the canister position holds no canister")
        return body

    @property
    def pump(self) -> Pump:
        """The installed pump."""
        pump = self.positions[self.index("pump")].installed
        if not isinstance(pump, Pump):
            raise ValueError("the pump position holds no pump")
        return pump

    def asks_for(self, name: str) -> bool:
        """True for a limit that somebody asked for; those that stand by themselves are the usual ones of `Limits`, and that the
        surface for bacteria must not fall.

        Raises AttributeError for an unknown name.
        """
        value = getattr(self.limits, name)
        return name not in self.unasked or (name != "bio_area_m2" and value != getattr(Limits(), name))

    def heard_dba(self, pump: Pump) -> float:
        """How loud a pump is at the listening place, in dB(A)."""
        return float(at_distance_dba(pump.noise_dba, 1.0, self.listen_m)) - self.cabinet_db

    @property
    def limited_as_now(self) -> "Rig":
        """The rig with the limits of ``as_now`` worked out from the installed pump, where it is listened to now."""
        now = {"noise_dba": self.heard_dba(self.pump), "power_w": self.pump.power_w}
        return replace(self, limits=self.limits.with_values({name: now[name] for name in self.as_now})) if self.as_now else self

    @property
    def bio_area_m2(self) -> float:
        """Surface for bacteria in the canister as it is filled now; only media meant for it count."""
        media = [tray.medium for tray in self.trays if tray.medium is not None and tray.medium.biological]
        return sum(medium.area_m2m3 for medium in media) * self.canister.tray_volume_m3

    def turnover_per_hour(self, flow_m3s: float) -> float:
        """Delivered flow over net volume, per hour."""
        return flow_m3s * 3600.0 / self.tank.net_m3


def _outermost(position: Position, end: int) -> Iterator[Position]:
    """The position, or the first (0) or last (-1) places of its branches."""
    for branch in position.branches:
        yield from _outermost(branch.positions[end], end)
    if not position.branches:
        yield position


def _each_series(
    positions: "tuple[Position, ...]", at_start: bool, at_end: bool
) -> "Iterator[tuple[tuple[Position, ...], bool, bool]]":
    """A series of places and those of all branches in it that are there; whether each starts and ends in the tank."""
    yield positions, at_start, at_end
    for n, position in enumerate(positions):
        for branch in position.branches:
            if branch.installed:
                yield from _each_series(branch.positions, at_start and n == 0, at_end and n == len(positions) - 1)


def _check_tees(position: Position, at_start: bool, at_end: bool) -> None:
    """Raise ValueError when a place has a tee too many or lacks one."""
    two = bool(position.branches) and position.branches[1].installed
    for tee, needed, what in ((position.parting, two and not at_start, "part"), (position.meeting, two and not at_end, "meet")):
        if needed and tee is None:
            raise ValueError(f"position {position.name} needs the tee at which its branches {what}")
        if tee is not None and not needed:
            raise ValueError(f"position {position.name} has a tee where no two branches {what}")


def nested_positions(positions: Iterable[Position]) -> Iterator[Position]:
    """Each position and, behind it, those in its branches, that hold branches themselves or a part."""
    for position in positions:
        yield position
        for branch in position.branches:
            yield from nested_positions(branch.positions)


def inner_positions(position: Position) -> tuple[Position, ...]:
    """The positions inside the branches of a position where a part can stand."""
    return tuple(each for each in nested_positions((position,)) if each is not position and not each.branches)


def with_each(position: Position, change: Callable[[Position], Position]) -> Position:
    """A place changed; of one that holds branches each place inside."""
    return _with_places(position, lambda place: place if place.branches else change(place))


def _with_places(position: Position, change: Callable[[Position], Position]) -> Position:
    """A place changed, with each place inside its branches, and those that hold branches themselves."""
    branches = tuple(
        replace(branch, positions=tuple(_with_places(each, change) for each in branch.positions)) for branch in position.branches
    )
    return change(replace(position, branches=branches) if branches else position)


def end_part(position: Position, leaving: bool) -> Part | None:
    """What stands where the water leaves a place, or enters it: its part; of two branches their tee, of one its outermost part.
    None where there is nothing, or open water."""
    there = [branch for branch in position.branches if branch.installed]
    if len(there) == 2:
        return position.meeting if leaving else position.parting
    outermost = _end_of(there, leaving)
    return position.installed if outermost is None else end_part(outermost, leaving)


def _end_of(there: Sequence[Branch], leaving: bool) -> Position | None:
    """The outermost place, of the only branch that is there, that holds something."""
    held = [each for branch in there for each in branch.positions if each.holds_something]
    return held[-1 if leaving else 0] if held else None


def end_place(position: Position, leaving: bool) -> str:
    """What the place of that part is called, which joints go by."""
    there = [branch for branch in position.branches if branch.installed]
    if len(there) == 2:
        return tee_place(position, MEETING if leaving else PARTING)
    outermost = _end_of(there, leaving)
    return position.name if outermost is None else end_place(outermost, leaving)


def standing_places(positions: Iterable[Position]) -> tuple[Position, ...]:
    """The places that stand today: of branches of which one only is there, those of that one."""
    stands: list[Position] = []
    for position in positions:
        there = [replace(branch, positions=standing_places(branch.positions)) for branch in position.branches if branch.installed]
        if len(there) == 1:
            stands += there[0].positions
        else:
            stands.append(replace(position, branches=tuple(there)) if there != list(position.branches) else position)
    return tuple(stands)


PARTING, MEETING = "parting", "meeting"
"""What the tees of a place with branches are called: those at which they part and meet."""


def tee_place(position: Position, where: str) -> str:
    """What the place of a tee is called (``where``: `PARTING` or `MEETING`)."""
    return f"{position.name} {where} tee"


def with_tees(rig: Rig, change: Callable[[TeePiece, str], TeePiece]) -> Rig:
    """The rig with the tees between its branches changed, each by itself and what its place is called."""

    def changed(position: Position) -> Position:
        parting, meeting = position.parting, position.meeting
        return replace(
            position,
            parting=None if parting is None else change(parting, tee_place(position, PARTING)),
            meeting=None if meeting is None else change(meeting, tee_place(position, MEETING)),
        )

    return replace(rig, positions=tuple(_with_places(position, changed) for position in rig.positions))


def is_throttle(part: Part | None) -> bool:
    """True for a valve or coupling that can be set part-way.

    >>> is_throttle(None)
    False
    """
    return isinstance(part, Fitting) and part.throttles
