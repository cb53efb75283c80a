"""The standing loop: a rig with the options and joints that were chosen, in the order of the water, made once and handed on.

What is on the way of the water is worked out here and nowhere else: search and answers, bands, dirt, measurement and drilling are
handed the loop, make it dirtier or cleaner, and ask for its elements (the edges of the loop graph) or its pieces (`bands`).
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.loop.graph import Element
from optimizer.loop.kinds import P, curve_of, each_of, ends_of, narrowest_m, part_loss, parts_of, speed_of
from optimizer.loop.terms import tray_loss
from optimizer.model.fitted import Fitted
from optimizer.model.losses import BranchLoss, Loss, Split, TeeShape
from optimizer.model.options import Chain, FilledBranch, FilledBranches, Option
from optimizer.model.parts import Canister, Device, Guard, Kind, Part, Pump
from optimizer.model.rig import Position, Rig, Tray
from optimizer.model.state import State
from optimizer.model.usual_figures import bores_assumed
from optimizer.physics.water import Water

__all__ = ["Fork", "Joint", "Stand", "StandingLoop", "Tee", "aged_elements", "dirtied", "elements", "standing_loop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """What lies between two parts: its loss in s2/m5, the narrowest bore of its adapters in m (0: it has none), the ids of the
    parts on its way, whether it is installed (``as_is``), and the ``places`` on both sides. The same pieces between the same
    parts are the same joint, in whatever bundle; ``known_as`` has the names that what is known of it goes by: between parts like
    two that are installed side by side it is as good as the joint between those. ``assumed``: some bore in it is."""

    quadratic: float = 0.0
    bore_m: float = 0.0
    between: tuple[str, ...] = ()
    as_is: bool = False
    places: tuple[str, ...] = ()
    known_as: tuple[str, ...] = ()
    assumed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A part where it stands, how dirty it is, and the joint in front of it. ``place`` is the name of its position in the loop
    (of a part in a branch that of the branches), ``stays`` says that it is what stands there now, ``like`` what stands there that
    a new one is the same as in kind and size, by its id (empty: it is another). ``loss``, of a canister with its media, and
    ``speed`` are those that it was chosen by (None: what it loses in its state)."""

    position: Position
    part: Part
    state: State = State()
    joint: Joint = Joint()
    place: str = ""
    stays: bool = False
    loss: Loss | None = None
    speed: float = 1.0
    like: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tee:
    """A tee between two branches: its shape, the id of the part, whether it is installed, the name of its place, and whether its
    bores are assumed."""

    shape: TeeShape
    part: str = ""
    stays: bool = False
    place: str = ""
    like: str = ""
    assumed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Fork:
    """Two branches side by side, by their ``names``. ``parts`` says which of a loop's stands are in them: of each the first and
    one past the last.

    ``joint`` lies in front of them; ``common`` is what all the water loses at their tees, ``steps`` what joints and steps of bore
    in each lose, ``behind`` the last of these joints. ``least`` and ``most`` are what devices need and allow in m3/s,
    ``guard_most`` what a guard allows when nothing of it is blocked (inf: anything), ``flow_max_m3s`` what both together allow of
    the total as they are; ``throttles`` says which can be throttled. ``within`` is the branch of another fork, both by number,
    that this one is in (None: all the water comes by); the stands of its branches are among those of that one, which is the
    earlier of the two.
    """

    place: str
    names: tuple[str, str]
    parts: tuple[tuple[int, int], tuple[int, int]]
    steps: tuple[float, float]
    common: float = 0.0
    joint: Joint = Joint()
    behind: tuple[Joint, Joint] = (Joint(), Joint())
    parting: Tee | None = None
    meeting: Tee | None = None
    least: tuple[float, float] = (0.0, 0.0)
    most: tuple[float, float] = (math.inf, math.inf)
    flow_max_m3s: float = math.inf
    guard_most: tuple[float, float] = (math.inf, math.inf)
    throttles: tuple[bool, bool] = (False, False)
    within: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingLoop:
    """A loop: its parts and trays in the order of the water, those of the first of two branches before those of the second. A
    throttle holds it to ``ceiling_m3s`` (inf: none). Parts that stay, or are like what stands there, and trays of media that are
    ``kept``, or are like installed ones (``media_like``, by their ids), lose what is ``fitted`` (None: what is stated).
    ``throttled``: there is a throttle behind the pump, in a place or in a joint.

    Raises ValueError when there is no canister, guard or pump.
    """

    name: str
    stands: tuple[Stand, ...]
    trays: tuple[Tray, ...]
    net_m3: float
    water: Water
    mains_hz: float
    ceiling_m3s: float = math.inf
    forks: tuple[Fork, ...] = ()
    fitted: Fitted | None = None
    kept: tuple[bool, ...] = ()
    media_like: tuple[str, ...] = ()
    throttled: bool = False

    def __post_init__(self) -> None:
        guards = 1 + sum(fork.parting is None for fork in self.forks)
        for kind, count in ((Canister, 1), (Guard, guards), (Pump, 1)):
            if sum(isinstance(one.part, kind) for one in self.stands) != count:
                many = ("exactly one", "two", "three", "four")[count - 1] if count <= 4 else str(count)
                raise ValueError(f"{self.name} needs {many} {kind.__name__.lower()}{'s' * (count > 1)}")

    @property
    def canister(self) -> Canister:
        """The canister body."""
        return next(part for _, part in each_of(self.stands, Canister))

    @property
    def guards(self) -> tuple[tuple[Stand, Guard], ...]:
        """The guard, or that of each branch, where they stand."""
        return tuple(each_of(self.stands, Guard))

    @property
    def pump(self) -> Stand:
        """The pump where it stands."""
        return next(one for one, _ in each_of(self.stands, Pump))

    def each(self, sort: type[P]) -> Iterator[tuple[int, Stand, P]]:
        """The parts of one kind, with their numbers and where they stand."""
        places = enumerate(self.stands)
        return ((n, one, part) for n, one in places for part in parts_of([one.part], sort))

    @property
    def trunk_forks(self) -> tuple[int, ...]:
        """The numbers of the forks that all the water comes by."""
        return tuple(n for n, fork in enumerate(self.forks) if fork.within is None)

    def trunk(self) -> "Iterator[int | Fork]":
        """What all the water passes, in its order: the numbers of parts, and forks for the parts in branches."""
        return self._way(0, len(self.stands), None)

    def in_branch(self, fork: Fork, branch: int) -> "Iterator[int | Fork]":
        """The same of the water in one branch of a fork."""
        return self._way(*fork.parts[branch], (self.forks.index(fork), branch))

    def _way(self, first: int, last: int, within: tuple[int, int] | None) -> "Iterator[int | Fork]":
        forks = {fork.parts[0][0]: fork for fork in self.forks if fork.within == within}
        passed = first
        for n in range(first, last):
            if n in forks:
                passed = forks[n].parts[1][1]
                yield forks[n]
            if n >= passed:
                yield n

    def branch_of(self, part: int) -> tuple[int, int] | None:
        """The innermost fork and the branch in which a part of ``stands`` is, by their numbers; None: all the water passes it."""
        found = None
        for n, fork in enumerate(self.forks):  # one within another comes behind it
            for branch, (first, last) in enumerate(fork.parts):
                if first <= part < last:
                    found = n, branch
        return found

    def cleaned(self) -> "StandingLoop":
        """The same after everything has been cleaned; wear stays."""
        return replace(
            self,
            stands=tuple(replace(one, state=one.state.cleaned()) for one in self.stands),
            trays=tuple(replace(tray, state=tray.state.cleaned()) for tray in self.trays),
        )

    def turnover_1h(self, flow_m3s: float) -> float:
        """Delivered flow over net volume, per hour."""
        return flow_m3s * 3600.0 / self.net_m3


def standing_loop(
    rig: Rig, options: Sequence[Option], joints: Sequence[Chain], held_m3s: float = math.inf, name: str = ""
) -> StandingLoop:
    """A bundle as it stands. ``held_m3s`` is the flow that a throttle holds it to.

    Joint k stands in front of the option at position k; places left out vanish with their joint.
    """
    made = _Making(rig)
    for option, joint in zip(options, joints, strict=True):
        made.put(option, joint)
    return StandingLoop(
        name=name or rig.name,
        stands=tuple(made.stands),
        trays=made.trays,
        net_m3=rig.tank.net_m3,
        water=rig.tank.water,
        mains_hz=rig.mains_hz,
        ceiling_m3s=held_m3s,
        forks=tuple(made.forks),
        fitted=rig.fitted,
        kept=made.kept,
        media_like=made.media_like,
        throttled=made.throttled,
    )


_Placed = tuple[str, Part, str]
"""The name of a place, the part there, and the name that what is known of it goes by."""


class _Making:
    """Parts, trays and branches of a bundle, put in one after another. ``before`` is what the water has just left (None: open
    water)."""

    def __init__(self, rig: Rig) -> None:
        self.rig, self.trays, self.kept, self.media_like = rig, rig.trays, (True,) * len(rig.trays), ("",) * len(rig.trays)
        self.stands: list[Stand] = []
        self.forks: list[Fork] = []
        self.before: _Placed | None = None
        self.throttled = False
        self.within: tuple[int, int] | None = None

    def put(self, option: Option, chain: Chain) -> None:
        """The next position of the loop, with the joint in front of it."""
        position, joined = self.rig.positions[option.position], chain if self.stands else None
        throttles = option.throttles or (joined is not None and joined.throttles)
        self.throttled |= throttles and option.position > self.rig.index(Kind.PUMP)
        self._at(option, position, position.name, joined)

    def _at(self, option: Option, position: Position, place: str, chain: Chain | None) -> None:
        """A position of the loop or of a branch; ``place`` is that of the loop which it belongs to."""
        if option.ways is None:
            self._part(option, position, place, chain)
        elif len(option.ways.branches) == 1:  # the other one is not there: all in series
            way, first = option.ways.branches[0], chain
            for inner, joint in zip(way.options, way.joints, strict=False):
                self._at(inner, position.branches[0].positions[inner.position], place, joint or first)
                first = None if inner.is_there else first
        else:
            self._branches(option, option.ways, position, place, chain)

    def _part(self, option: Option, position: Position, place: str, chain: Chain | None) -> None:
        part = option.part
        if part is None:
            return
        here = position.name, part, option.known_as
        self.stands.append(
            Stand(
                position=replace(position, height_m=option.height_m),
                part=part,
                state=option.state,
                joint=_joint(self.before, here, chain),
                place=place,
                stays=option.is_installed,
                loss=option.loss,
                speed=option.speed,
                like=option.like,
            )
        )
        self.before = here
        if option.fills:
            fills = sorted(option.fills, key=lambda fill: fill.tray)
            self.trays = tuple(Tray(medium=fill.medium, state=fill.state) for fill in fills)
            self.kept = tuple(fill.change != "swap" for fill in fills)
            self.media_like = tuple(fill.like for fill in fills)

    def _branches(self, option: Option, ways: FilledBranches, position: Position, place: str, chain: Chain | None) -> None:
        parting, meeting = _placed(ways.parting), _placed(ways.meeting)
        fork = _fork(option, ways, _joint(self.before, parting, chain), self.within)
        number, parts, behind = len(self.forks), list[tuple[int, int]](), []
        self.forks.append(fork)
        for branch, way in zip(position.branches, ways.branches, strict=True):
            first, self.before, self.within = len(self.stands), parting, (number, len(parts))
            for inner, inside in zip(way.options, way.joints, strict=False):
                self._at(inner, branch.positions[inner.position], place, inside)
            parts.append((first, len(self.stands)))
            behind.append(_joint(self.before, meeting, way.joints[-1]))
        self.before, self.within = meeting, fork.within
        self.forks[number] = replace(fork, parts=(parts[0], parts[1]), behind=(behind[0], behind[1]))


def _placed(tee: Option | None) -> _Placed | None:
    return None if tee is None or tee.part is None else (tee.place, tee.part, tee.known_as)


def _joint(before: _Placed | None, after: _Placed | None, chain: Chain | None) -> Joint:
    if chain is None:
        return Joint()
    sides = () if before is None or after is None else (before, after)
    ids = [part.id for _, part, _ in sides]
    adapters = () if chain.between_like else tuple(turned.part.id for turned in chain.adapters)
    known = [name for _, _, name in sides]
    return Joint(
        quadratic=chain.quadratic,
        bore_m=min((turned.part.passage_m for turned in chain.adapters), default=0.0),
        between=(*ids[:1], *(turned.part.id for turned in chain.adapters), *ids[1:]),
        as_is=chain.as_is,
        places=tuple(place for place, _, _ in sides),
        known_as=(*known[:1], *adapters, *known[1:]),
        assumed=bores_assumed(*(part for _, part, _ in sides), *(turned.part for turned in chain.adapters)),
    )


def _fork(option: Option, ways: FilledBranches, joint: Joint, within: tuple[int, int] | None) -> Fork:
    """A fork of which it is not said yet which stands are in its branches."""
    first, second = ways.branches
    losses = ways.split.branches
    return Fork(
        place=option.place,
        names=(first.name, second.name),
        parts=((0, 0), (0, 0)),
        within=within,
        steps=(losses[0].losses[-1].quadratic, losses[1].losses[-1].quadratic),
        common=option.loss.quadratic,
        joint=joint,
        parting=_tee(ways.parting, ways.split.parting),
        meeting=_tee(ways.meeting, ways.split.meeting),
        least=(_least(first), _least(second)),
        most=(_device_most(first), _device_most(second)),
        guard_most=(_guard_most(first), _guard_most(second)),
        flow_max_m3s=option.flow_max_m3s,
        throttles=(losses[0].throttles, losses[1].throttles),
    )


def _tee(option: Option | None, shape: TeeShape | None) -> Tee | None:
    if option is None or option.part is None or shape is None:
        return None
    stays, unstated = option.is_installed, bores_assumed(option.part)
    return Tee(shape=shape, part=option.part.id, stays=stays, place=option.place, like=option.like, assumed=unstated)


def _least(way: FilledBranch) -> float:
    return max((inner.flow_min_m3s for inner in way.in_series), default=0.0)


def _device_most(way: FilledBranch) -> float:
    return min((inner.flow_max_m3s for inner, _ in each_of(way.in_series, Device)), default=math.inf)


def _guard_most(way: FilledBranch) -> float:
    """What guards would allow if nothing of them were blocked."""
    each = (inner.flow_max_m3s / (1.0 - inner.state.blocked) for inner, _ in each_of(way.in_series, Guard))
    return min(each, default=math.inf)


Lossy = Callable[[int], Iterable[Element]]
"""The elements of a stand by its number: its own first, then those of its trays."""


def elements(loop: StandingLoop) -> list[Element]:
    """The loop as it was chosen, as elements in the order of the water; two branches are one, with what is within them."""
    return list(_walked(loop, lambda n: (_element(loop, loop.stands[n]),), [one.state for one in loop.stands]))


def aged_elements(loop: StandingLoop, states: Sequence[State], trays: Sequence[State]) -> list[Element]:
    """The loop with its parts in ``states`` and its trays in theirs, as elements; each filled tray is one of its own."""
    body = loop.canister

    def lossy(n: int) -> Iterator[Element]:
        one = loop.stands[n]
        yield _aged(loop, one, states[n])
        if one.part is body:
            yield from _tray_elements(loop, one, body, trays)

    return list(_walked(loop, lossy, states))


def dirtied(loop: StandingLoop, states: Sequence[State], trays: Sequence[State]) -> StandingLoop:
    """The loop with its parts in ``states`` and its trays in theirs, each losing what it does in that state."""
    stands = tuple(
        replace(one, state=state, loss=None, speed=speed_of(one.part, state, loop.mains_hz))
        for one, state in zip(loop.stands, states, strict=True)
    )
    dirty = tuple(replace(tray, state=state) for tray, state in zip(loop.trays, trays, strict=True))
    return replace(loop, stands=stands, trays=dirty)


def _walked(loop: StandingLoop, lossy: Lossy, states: Sequence[State]) -> Iterator[Element]:
    before, place = "tank", ""
    for each in loop.trunk():
        if isinstance(each, Fork):
            yield from _fork_elements(loop, each, lossy, states, before)
            before, place = each.place, ""
            continue
        one = loop.stands[each]
        if one.joint.between or one.joint.quadratic:
            yield _joint_element(before, one.position.name, one.joint, one.place if one.place == place else "")
        yield from lossy(each)
        before, place = one.position.name, one.place


def _joint_element(before: str, after: str, joint: Joint, at: str = "") -> Element:
    name = f"joint {before} to {after}"
    return Element(place=name, label=name, loss=Loss(quadratic=joint.quadratic), at=at, bore_m=joint.bore_m)


def _fork_elements(loop: StandingLoop, fork: Fork, lossy: Lossy, states: Sequence[State], before: str) -> Iterator[Element]:
    """Two branches as one element, and as another the steps of bore in the legs of their tees that all the water takes."""
    if fork.joint.between or fork.joint.quadratic:
        yield _joint_element(before, fork.place, fork.joint)
    if fork.common:
        yield Element(place=fork.place, label=f"{fork.place}, tees", at=fork.place, loss=Loss(quadratic=fork.common))
    yield Element(place=fork.place, label=fork.place, at=fork.place, loss=Loss(), split=_split(loop, fork, lossy, states))


def _split(loop: StandingLoop, fork: Fork, lossy: Lossy, states: Sequence[State]) -> Split:
    branches = tuple(_branch_loss(loop, fork, lossy, states, n) for n in range(2))
    parting, meeting = (None if tee is None else tee.shape for tee in (fork.parting, fork.meeting))
    return Split(branches=branches, parting=parting, meeting=meeting)


def _branch_loss(loop: StandingLoop, fork: Fork, lossy: Lossy, states: Sequence[State], branch: int) -> BranchLoss:
    """A branch with its parts, and the forks within it with theirs; a guard allows the less the more of it is blocked."""
    way = list(loop.in_branch(fork, branch))
    here, within = [n for n in way if not isinstance(n, Fork)], [each for each in way if isinstance(each, Fork)]
    blocked = max((states[n].blocked for n in here), default=0.0)
    losses = [element.loss for n in here for element in lossy(n)]
    losses += [Loss(quadratic=each.common) for each in within if each.common]
    own = BranchLoss(
        losses=(*losses, Loss(quadratic=fork.steps[branch])),
        flow_min_m3s=fork.least[branch],
        flow_max_m3s=min(fork.most[branch], fork.guard_most[branch] * (1.0 - blocked)),
        throttles=fork.throttles[branch],
    )
    inner = tuple(_split(loop, each, lossy, states) for each in within)
    return _within_windows(own, inner, loop.water.kinematic_m2s) if inner else own


def _within_windows(own: BranchLoss, inner: tuple[Split, ...], kinematic_m2s: float) -> BranchLoss:
    """A branch with splits in it; what their branches need and allow is a window of the flow through it."""
    from optimizer.loop.splits import Splits  # a loop without branches starts quicker without these

    low, high = Splits.of(inner, kinematic_m2s).window()
    return replace(
        own,
        inner=inner,
        flow_min_m3s=max(own.flow_min_m3s, float(low.max())),
        flow_max_m3s=min(own.flow_max_m3s, float(high.min())),
    )


def _element(loop: StandingLoop, one: Stand) -> Element:
    """A part as it was chosen."""
    loss = part_loss(one.part, one.state, one.position, loop.water) if one.loss is None else one.loss
    return _driven(one, loss, one.speed, one.state)


def _aged(loop: StandingLoop, one: Stand, state: State) -> Element:
    """A part in a state; what a pump delivers by its fills stands in its curve already."""
    if loop.fitted is not None:
        known = replace(one.part, id=one.like or one.part.id)
        loss = loop.fitted.part(known, state, one.position, loop.water, one.state)[1]
    else:
        loss = part_loss(one.part, state, one.position, loop.water)
    return _driven(one, loss, speed_of(one.part, state, loop.mains_hz), state)


def _driven(one: Stand, loss: Loss, speed: float, state: State) -> Element:
    curve = curve_of(one.part)
    inlet = None if curve is None else ends_of(one.part)[0]
    return Element(
        place=one.position.name,
        label=one.part.name,
        at=one.place,
        loss=loss,
        curve=curve,
        speed=speed,
        bore_m=narrowest_m(one.part, state.film_m),
        inlet_bore_m=0.0 if inlet is None else inlet.bore_m,
    )


def _tray_elements(loop: StandingLoop, stand: Stand, body: Canister, trays: Sequence[State]) -> Iterator[Element]:
    for n, (tray, now) in enumerate(zip(loop.trays, trays, strict=False), start=1):
        if tray.medium is not None:
            if loop.fitted is not None:
                known = replace(tray.medium, id=loop.media_like[n - 1] or tray.medium.id)
                loss = loop.fitted.tray(known, now, body, loop.water, tray.state)
            else:
                loss = tray_loss(tray.medium, now, body, loop.water)
            yield Element(place=f"{stand.position.name}, tray {n}", label=tray.medium.name, at=stand.place, loss=loss)
