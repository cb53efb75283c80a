"""A bundle as it stands in a loop, part by part with its state, so that it can be made dirtier and solved again."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from optimizer.loop.graph import Element
from optimizer.loop.terms import canister_loss, part_loss, pump_speed, tray_loss
from optimizer.model.fitted import Fitted
from optimizer.model.losses import BranchLoss, Loss, Split, TeeShape
from optimizer.model.parts import Canister, Device, Guard, Medium, Part, Pump
from optimizer.model.rig import Position, Rig, Tray
from optimizer.model.state import State
from optimizer.physics.water import Water


class FillLike(Protocol):
    """What becomes of one tray, as the search has it."""

    @property
    def tray(self) -> int:
        """Number of the tray."""

    @property
    def change(self) -> str:
        """What is done to it; "swap": what is in it is new."""

    @property
    def medium(self) -> Medium | None:
        """What is in it."""

    @property
    def state(self) -> State:
        """How dirty it is."""


class OptionLike(Protocol):
    """One change at one position, as the search has it."""

    @property
    def position(self) -> int:
        """Number of the position."""

    @property
    def part(self) -> Part | None:
        """What stands there."""

    @property
    def state(self) -> State:
        """How dirty it is."""

    @property
    def is_installed(self) -> bool:
        """True when what stands there is what is there now."""

    @property
    def height_m(self) -> float:
        """The outlet's mouth above the water line."""

    @property
    def fills(self) -> Sequence[FillLike]:
        """What is in the trays, of a canister."""

    @property
    def loss(self) -> Loss:
        """What it loses; where branches are, what all the water loses at their tees."""

    @property
    def place(self) -> str:
        """Name of the position."""

    @property
    def flow_min_m3s(self) -> float:
        """What it needs."""

    @property
    def flow_max_m3s(self) -> float:
        """What it allows."""

    @property
    def ways(self) -> "WaysLike | None":
        """How branches are filled."""


class WayLike(Protocol):
    """How one branch is filled, as the search has it."""

    @property
    def name(self) -> str:
        """Name of the branch."""

    @property
    def options(self) -> "Sequence[OptionLike]":
        """Its places in the order of the water."""

    @property
    def joints(self) -> "Sequence[JointLike | None]":
        """What closes the joint in front of each, and behind the last."""


class WaysLike(Protocol):
    """How the branches of one position are filled, as the search has it."""

    @property
    def branches(self) -> Sequence[WayLike]:
        """One or two of them."""

    @property
    def split(self) -> Split:
        """What they lose; the last loss of each branch is that of its joints and of the steps of bore at the tees."""


class JointLike(Protocol):
    """What closes the joint in front of a part."""

    @property
    def quadratic(self) -> float:
        """Its loss in s2/m5."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A part in its place, how dirty it is, the loss of the joint in front of it in s2/m5, and whether it ``stays`` where it is
    now."""

    position: Position
    part: Part
    state: State
    joint: float
    stays: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Fork:
    """Two branches side by side, by their ``names``. ``parts`` says which of a setup's parts stand in them: of each the first and
    one past the last.

    ``steps`` are the losses of joints and steps of bore in each, ``joint`` and ``common`` those that all the water meets in front
    of them and at their tees, in s2/m5. ``least`` and ``most`` are what devices need and allow in m3/s, ``guard_most`` what a
    guard allows when nothing of it is blocked (inf: anything); ``throttles`` says which can be throttled.
    """

    place: str
    names: tuple[str, str]
    parts: tuple[tuple[int, int], tuple[int, int]]
    steps: tuple[float, float]
    joint: float
    common: float
    parting: TeeShape | None
    meeting: TeeShape | None
    least: tuple[float, float] = (0.0, 0.0)
    most: tuple[float, float] = (math.inf, math.inf)
    guard_most: tuple[float, float] = (math.inf, math.inf)
    throttles: tuple[bool, bool] = (False, False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """A loop: its parts and trays in the order of the water, those of the first of two branches before those of the second. A
    throttle holds it to ``ceiling_m3s`` (inf: none). Parts that stay, and the trays of whose media that is True in ``kept``, lose
    what is ``fitted`` (None: what is stated).

    Raises ValueError when there is no canister, guard or pump.
    """

    name: str
    placed: tuple[Placed, ...]
    trays: tuple[Tray, ...]
    net_m3: float
    water: Water
    mains_hz: float
    ceiling_m3s: float = math.inf
    forks: tuple[Fork, ...] = ()
    fitted: Fitted | None = None
    kept: tuple[bool, ...] = ()

    def __post_init__(self) -> None:
        guards = 2 if any(start == 0 for fork in self.forks for start, _ in fork.parts) else 1
        for kind, count in ((Canister, 1), (Guard, guards), (Pump, 1)):
            if sum(isinstance(one.part, kind) for one in self.placed) != count:
                many = "exactly one" if count == 1 else "two"
                raise ValueError(f"{self.name} needs {many} {kind.__name__.lower()}{'s' * (count > 1)}")

    @property
    def canister(self) -> Canister:
        """The canister body."""
        return next(one.part for one in self.placed if isinstance(one.part, Canister))

    @property
    def guard(self) -> Placed:
        """The guard in its place; of two that of the first branch."""
        return self.guards[0]

    @property
    def guards(self) -> tuple[Placed, ...]:
        """The guard, or that of each branch, in their places."""
        return tuple(one for one in self.placed if isinstance(one.part, Guard))

    def branch_of(self, part: int) -> tuple[int, int] | None:
        """The fork and the branch in which a part of ``placed`` stands, by their numbers; None: all the water passes it."""
        for n, fork in enumerate(self.forks):
            for branch, (first, last) in enumerate(fork.parts):
                if first <= part < last:
                    return n, branch
        return None

    @property
    def pump(self) -> Placed:
        """The pump in its place."""
        return next(one for one in self.placed if isinstance(one.part, Pump))

    def cleaned(self) -> "Setup":
        """The same after everything has been cleaned; wear stays."""
        return replace(
            self,
            placed=tuple(replace(one, state=one.state.cleaned()) for one in self.placed),
            trays=tuple(replace(tray, state=tray.state.cleaned()) for tray in self.trays),
        )

    def turnover_1h(self, flow_m3s: float) -> float:
        """Delivered flow over net volume, per hour."""
        return flow_m3s * 3600.0 / self.net_m3


def setup_of(
    rig: Rig, options: Sequence[OptionLike], joints: Sequence[JointLike], held_m3s: float = math.inf, name: str = ""
) -> Setup:
    """A bundle, as the search and the answers hold it. ``held_m3s`` is the flow that a throttle holds it to.

    Joint k stands in front of the option at position k; places left out vanish with their joint.
    """
    made = _Making(rig)
    for option, joint in zip(options, joints, strict=True):
        made.put(option, joint)
    water = Water(temperature_c=rig.tank.temperature_c, salinity_gkg=rig.tank.salinity_gkg)
    return Setup(
        name=name or rig.name,
        placed=tuple(made.placed),
        trays=made.trays,
        net_m3=rig.tank.net_m3,
        water=water,
        mains_hz=rig.mains_hz,
        ceiling_m3s=held_m3s,
        forks=tuple(made.forks),
        fitted=rig.fitted,
        kept=made.kept,
    )


class _Making:
    """Parts, trays and branches of a bundle, put in one after another."""

    def __init__(self, rig: Rig) -> None:
        self.rig, self.trays, self.kept = rig, rig.trays, (True,) * len(rig.trays)
        self.placed: list[Placed] = []
        self.forks: list[Fork] = []
        self.waiting = 0.0

    def put(self, option: OptionLike, joint: JointLike) -> None:
        """The next position of the loop, with the joint in front of it."""
        quadratic = self.waiting + (joint.quadratic if self.placed else 0.0)
        if option.ways is not None:
            self._branches(option, option.ways, quadratic)
        elif option.part is not None:
            self._part(option, self.rig.positions[option.position], quadratic)

    def _part(self, option: OptionLike, position: Position, joint: float) -> None:
        if option.part is None:
            return
        position, self.waiting = replace(position, height_m=option.height_m), 0.0
        self.placed.append(
            Placed(position=position, part=option.part, state=option.state, joint=joint, stays=option.is_installed)
        )
        if isinstance(option.part, Canister):
            fills = sorted(option.fills, key=lambda fill: fill.tray)
            self.trays = tuple(Tray(medium=fill.medium, state=fill.state) for fill in fills)
            self.kept = tuple(fill.change != "swap" for fill in fills)

    def _branches(self, option: OptionLike, ways: WaysLike, joint: float) -> None:
        branches = self.rig.positions[option.position].branches
        if len(ways.branches) == 1:  # the other one is not there: all in series
            way, self.waiting = ways.branches[0], joint
            for inner, before in zip(way.options, way.joints, strict=False):
                self.waiting += before.quadratic if before is not None else 0.0
                self._part(inner, branches[0].positions[inner.position], self.waiting)
            behind = way.joints[-1]
            self.waiting += behind.quadratic if behind is not None else 0.0
            return
        parts, self.waiting = [], 0.0
        for branch, way in zip(branches, ways.branches, strict=True):
            first = len(self.placed)
            for inner in way.options:
                self._part(inner, branch.positions[inner.position], 0.0)
            parts.append((first, len(self.placed)))
        self.forks.append(_fork(option, ways, (parts[0], parts[1]), joint))


def _fork(option: OptionLike, ways: WaysLike, parts: tuple[tuple[int, int], tuple[int, int]], joint: float) -> Fork:
    first, second = ways.branches
    losses = ways.split.branches
    return Fork(
        place=option.place,
        names=(first.name, second.name),
        parts=parts,
        steps=(losses[0].losses[-1].quadratic, losses[1].losses[-1].quadratic),
        joint=joint,
        common=option.loss.quadratic,
        parting=ways.split.parting,
        meeting=ways.split.meeting,
        least=(losses[0].flow_min_m3s, losses[1].flow_min_m3s),
        most=(_device_most(first), _device_most(second)),
        guard_most=(_guard_most(first), _guard_most(second)),
        throttles=(losses[0].throttles, losses[1].throttles),
    )


def _device_most(way: WayLike) -> float:
    return min((inner.flow_max_m3s for inner in way.options if isinstance(inner.part, Device)), default=math.inf)


def _guard_most(way: WayLike) -> float:
    """What guards would allow if nothing of them were blocked."""
    each = (inner.flow_max_m3s / (1.0 - inner.state.blocked) for inner in way.options if isinstance(inner.part, Guard))
    return min(each, default=math.inf)


def elements_of(setup: Setup, states: Sequence[State], filled: Sequence[float]) -> list[Element]:
    """The loop with its parts in ``states`` and its trays ``filled`` so far, as elements; each filled tray is one of its own, and
    two branches are one."""
    elements: list[Element] = []
    before = "tank"
    forks = {fork.parts[0][0]: fork for fork in setup.forks}
    passed = 0
    for n, (one, state) in enumerate(zip(setup.placed, states, strict=True)):
        if n in forks:
            elements += _fork_elements(setup, forks[n], states, before)
            before, passed = forks[n].place, forks[n].parts[1][1]
        if n < passed:
            continue
        place = one.position.name
        if one.joint:
            elements.append(_joint_element(before, place, one.joint))
        elements.append(_element(setup, one, state))
        if isinstance(one.part, Canister):
            elements += _tray_elements(setup, place, filled)
        before = place
    return elements


def _joint_element(before: str, after: str, quadratic: float) -> Element:
    name = f"joint {before} to {after}"
    return Element(place=name, label=name, loss=Loss(quadratic=quadratic), is_joint=True)


def _fork_elements(setup: Setup, fork: Fork, states: Sequence[State], before: str) -> Iterator[Element]:
    if fork.joint:
        yield _joint_element(before, fork.place, fork.joint)
    if fork.common:
        yield Element(place=fork.place, label=f"{fork.place}, tees", loss=Loss(quadratic=fork.common))
    branches = tuple(_branch_loss(setup, fork, states, n) for n in range(2))
    split = Split(branches=branches, parting=fork.parting, meeting=fork.meeting)
    yield Element(place=fork.place, label=fork.place, loss=Loss(), split=split)


def _branch_loss(setup: Setup, fork: Fork, states: Sequence[State], branch: int) -> BranchLoss:
    """A branch with its parts in ``states``; a guard allows the less the more of it is blocked."""
    here = range(*fork.parts[branch])
    blocked = max((states[n].blocked for n in here if isinstance(setup.placed[n].part, Guard)), default=0.0)
    losses = [_element(setup, setup.placed[n], states[n]).loss for n in here]
    return BranchLoss(
        losses=(*losses, Loss(quadratic=fork.steps[branch])),
        flow_min_m3s=fork.least[branch],
        flow_max_m3s=min(fork.most[branch], fork.guard_most[branch] * (1.0 - blocked)),
        throttles=fork.throttles[branch],
    )


def _element(setup: Setup, one: Placed, state: State) -> Element:
    part, place = one.part, one.position.name
    loss = canister_loss(part) if isinstance(part, Canister) else part_loss(part, state, one.position, setup.water)
    if setup.fitted is not None and one.stays and not isinstance(part, Pump):
        loss = setup.fitted.part(part, state, loss, setup.water, one.state)[1]
    if isinstance(part, Pump):
        speed = pump_speed(part, state, setup.mains_hz)
        return Element(place=place, label=part.name, loss=loss, curve=part.curve, speed=speed, inlet_bore_m=part.inlet.bore_m)
    return Element(place=place, label=part.name, loss=loss)


def _tray_elements(setup: Setup, place: str, filled: Sequence[float]) -> Iterator[Element]:
    for n, (tray, share) in enumerate(zip(setup.trays, filled, strict=False), start=1):
        if tray.medium is not None:
            now, body = State(filled=share), setup.canister
            loss = tray_loss(tray.medium, now, body, setup.water)
            if setup.fitted is not None and setup.kept[n - 1]:
                loss = setup.fitted.tray(tray.medium, now, body, setup.water, tray.state)
            yield Element(place=f"{place}, tray {n}", label=tray.medium.name, loss=loss)
