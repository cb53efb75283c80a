"""A bundle as it stands in a loop, part by part with its state, so that it can be made dirtier and solved again."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from optimizer.loop.graph import Element
from optimizer.loop.terms import canister_loss, part_loss, pump_speed, tray_loss
from optimizer.model.losses import Loss
from optimizer.model.parts import Canister, Guard, Medium, Part, Pump
from optimizer.model.rig import Position, Rig, Tray
from optimizer.model.state import State
from optimizer.physics.water import Water


class FillLike(Protocol):
    """What becomes of one tray, as the search has it."""

    @property
    def tray(self) -> int:
        """Number of the tray."""

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
    def height_m(self) -> float:
        """The outlet's mouth above the water line."""

    @property
    def fills(self) -> Sequence[FillLike]:
        """What is in the trays, of a canister."""


class JointLike(Protocol):
    """What closes the joint in front of a part."""

    @property
    def quadratic(self) -> float:
        """Its loss in s2/m5."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A part in its place, how dirty it is, and the loss of the joint in front of it in s2/m5."""

    position: Position
    part: Part
    state: State
    joint: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """A series loop: its parts and trays in the order of the water. A throttle holds it to ``ceiling_m3s`` (inf: none).

    Raises ValueError when there is no canister, guard or pump.
    """

    name: str
    placed: tuple[Placed, ...]
    trays: tuple[Tray, ...]
    net_m3: float
    water: Water
    mains_hz: float
    ceiling_m3s: float = math.inf

    def __post_init__(self) -> None:
        for kind in (Canister, Guard, Pump):
            if sum(isinstance(one.part, kind) for one in self.placed) != 1:
                raise ValueError(f"{self.name} needs exactly one {kind.__name__.lower()}")

    @property
    def canister(self) -> Canister:
        """The canister body."""
        return next(one.part for one in self.placed if isinstance(one.part, Canister))

    @property
    def guard(self) -> Placed:
        """The guard in its place."""
        return next(one for one in self.placed if isinstance(one.part, Guard))

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

    Joint k stands in front of the option at position k; places left out vanish with their joint. Raises ValueError for a rig with
    branches.
    """
    if any(position.branches for position in rig.positions):
        raise ValueError("dirt over time is computed for loops in series only; this one has branches")
    placed: list[Placed] = []
    trays = rig.trays
    for option, joint in zip(options, joints, strict=True):
        if option.part is None:
            continue
        position = replace(rig.positions[option.position], height_m=option.height_m)
        quadratic = joint.quadratic if placed else 0.0
        placed.append(Placed(position=position, part=option.part, state=option.state, joint=quadratic))
        if isinstance(option.part, Canister):
            fills = sorted(option.fills, key=lambda fill: fill.tray)
            trays = tuple(Tray(medium=fill.medium, state=fill.state) for fill in fills)
    water = Water(temperature_c=rig.tank.temperature_c, salinity_gkg=rig.tank.salinity_gkg)
    return Setup(
        name=name or rig.name,
        placed=tuple(placed),
        trays=trays,
        net_m3=rig.tank.net_m3,
        water=water,
        mains_hz=rig.mains_hz,
        ceiling_m3s=held_m3s,
    )


def elements_of(setup: Setup, states: Sequence[State], filled: Sequence[float]) -> list[Element]:
    """The loop with its parts in ``states`` and its trays ``filled`` so far, as elements; each filled tray is one of its own."""
    elements: list[Element] = []
    before = "tank"
    for one, state in zip(setup.placed, states, strict=True):
        place = one.position.name
        if one.joint:
            name = f"joint {before} to {place}"
            elements.append(Element(place=name, label=name, loss=Loss(quadratic=one.joint), is_joint=True))
        elements.append(_element(setup, one, state))
        if isinstance(one.part, Canister):
            elements += _tray_elements(setup, place, filled)
        before = place
    return elements


def _element(setup: Setup, one: Placed, state: State) -> Element:
    part, place = one.part, one.position.name
    if isinstance(part, Canister):
        return Element(place=place, label=part.name, loss=canister_loss(part))
    loss = part_loss(part, state, one.position, setup.water)
    if isinstance(part, Pump):
        speed = pump_speed(part, state, setup.mains_hz)
        return Element(place=place, label=part.name, loss=loss, curve=part.curve, speed=speed, inlet_bore_m=part.inlet.bore_m)
    return Element(place=place, label=part.name, loss=loss)


def _tray_elements(setup: Setup, place: str, filled: Sequence[float]) -> Iterator[Element]:
    for n, (tray, share) in enumerate(zip(setup.trays, filled, strict=False), start=1):
        if tray.medium is not None:
            loss = tray_loss(tray.medium, State(filled=share), setup.canister, setup.water)
            yield Element(place=f"{place}, tray {n}", label=tray.medium.name, loss=loss)
