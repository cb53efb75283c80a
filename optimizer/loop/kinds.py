"""What each kind of part does: the one table of kinds, a class for each, and an unknown kind raises everywhere.

A kind says what its ends are, what it loses and which of that is not known exactly, which flows it needs and allows, how it gets
dirty, and which word of a fill's state says that it was cleaned. A class that lacks one of these cannot be made. How to add a
kind: DEVELOPERS.md.
"""

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields, replace
from enum import Enum
from functools import cache, reduce
from operator import attrgetter
from types import MappingProxyType
from typing import Any, ClassVar, Generic, Protocol, TypeVar

from optimizer.loop.pieces import Piece
from optimizer.loop.terms import (
    INTO_VESSEL_K,
    bar_of,
    cake_linear,
    canister_loss,
    change_quadratic,
    entrance_quadratic,
    fastest_jet_1m2,
    fitting_quadratics,
    guard_terms,
    hose_loss,
    open_hole_m,
    open_m,
    pump_speed,
    velocity_quadratic,
)
from optimizer.model import fill, unknowns
from optimizer.model.ends import HOSE_STRETCH_M, End, Gender, Standard
from optimizer.model.limits import Limits
from optimizer.model.losses import Loss
from optimizer.model.parts import (
    Canister,
    Clamp,
    Device,
    Fitting,
    Guard,
    Hose,
    Kind,
    Medium,
    NonReturnValve,
    Outlet,
    Part,
    Pump,
    PumpCurve,
    Seal,
    TeePiece,
    Tool,
    stated_ends,
)
from optimizer.model.rig import Position
from optimizer.model.state import State
from optimizer.model.usual_figures import unknown_of
from optimizer.physics.fitting_laws import THREADED_REYNOLDS
from optimizer.physics.fittings import BEND_RADIUS_RANGE, THREADED_BORE_RANGE, TURBULENT_BORE_RANGE, lift_check_k, swing_check_k
from optimizer.physics.guards import (
    MESH_RANGE,
    MESH_REYNOLDS,
    MESH_WEAVE,
    PLATE_RANGE,
    SLOT_RANGE,
    blocked_open_fraction,
    mesh_reynolds,
)
from optimizer.physics.hose import CURVATURE_RANGE, REYNOLDS_RANGE, ROUGHNESS_RANGE, TRANSITION, reynolds
from optimizer.physics.media import DAVIES_RANGE, ERGUN_RANGE, FOAM_RANGE, RING_RANGE
from optimizer.physics.outlets import BAR_AREA_RATIO, lift_m, nozzle_quadratic
from optimizer.physics.pumps import SPEED_RANGE
from optimizer.physics.validity import Validity
from optimizer.physics.water import Water

__all__ = [
    "KINDS",
    "Dirt",
    "PartKind",
    "curve_of",
    "each_of",
    "ends_of",
    "is_like",
    "kind",
    "may_stand",
    "narrowest_m",
    "of_sort",
    "part_loss",
    "parts_of",
    "pieces_of",
    "role_of",
    "speed_of",
    "turned_ways",
    "window_m3s",
]

P = TypeVar("P", bound=Part)
InlineT = TypeVar("InlineT", Fitting, Canister, Pump, Device, NonReturnValve)
PassageT = TypeVar("PassageT", Fitting, NonReturnValve)
Ends = tuple[End | None, End | None]
Window = tuple[float, float]
Use = tuple[Validity, float]

SAME_SIZE_M = 5e-5
"""Diameters of hoses are written to a tenth of a millimetre."""

ANY_FLOW: Window = (0.0, math.inf)

SCREENS = {"mesh": MESH_RANGE, "holes": PLATE_RANGE, "slots": SLOT_RANGE}

TURNING = ("elbow 90", "elbow 45", "swept 90")
"""Shapes of fittings whose K is that of turbulent flow, and large enough to matter: an open ball or gate valve takes less than a
quarter of a velocity head by the same law, and no figure is in doubt for what it is at small bores."""

VOIDS = {"granules": ERGUN_RANGE, "rings": RING_RANGE}


BODIES = {
    "elbow 90": unknowns.MOULDED_ELBOWS,
    "elbow 45": unknowns.MOULDED_ELBOWS,
    "swept 90": unknowns.MOULDED_ELBOWS,
    "threaded elbow 90": unknowns.THREADED_ELBOWS,
    "ball valve": unknowns.OPEN_VALVES,
    "gate valve": unknowns.OPEN_VALVES,
}
"""What the K of a fitting's body is not known by, where that is not as of steps and ports."""


class Dirt(Enum):
    """How a part gets dirty: which figure of its state grows, and by what."""

    NONE = ""
    FILM = "film_m"
    """On its wall, with time alone."""
    FOULING = "fouled"
    """In its impeller, with time alone."""
    COVERING = "blocked"
    """Over its openings, with the water that passes."""
    PORES = "filled"
    """In its pores, with the water that passes."""


class PartKind(ABC, Generic[P]):
    """One kind of part. ``clean_word``: the word of a fill's state (`model/fill.py`) that says it was cleaned, besides "clean"
    (empty: it does not get dirty). ``in_loop``: it stands in the way of the water, at a place of its own."""

    name: ClassVar[str]
    dirt: ClassVar[Dirt]
    clean_word: ClassVar[str]
    in_loop: ClassVar[bool] = True

    @abstractmethod
    def ends(self, part: P) -> Ends:
        """Where the water enters and leaves; None at the tank's side. Raises ValueError for what has no place in a loop."""

    @abstractmethod
    def narrowest_m(self, part: P, film_m: float) -> float:
        """The narrowest bore that the water passes, with a film on its wall; 0 when it has none of its own."""

    @abstractmethod
    def pieces(self, part: P, state: State, position: Position, water: Water) -> Iterator[Piece]:
        """What it loses at its place, in its state, each with the names of what scales it; of a canister the body alone.

        The bores at its ends are joined to its neighbours by `change_quadratic`, which is not counted here. Raises ValueError for
        what has no place of its own in a loop.
        """

    def window(self, part: P, state: State, limits: Limits) -> Window:
        """Flows in m3/s that it needs and allows, as far as limits ask for it."""
        return ANY_FLOW

    def curve(self, part: P) -> PumpCurve | None:
        """Its pump curve (None: it is no pump)."""
        return None

    def speed(self, part: P, state: State, mains_hz: float) -> float:
        """Speed as a ratio of that which the figures of a pump belong to."""
        return 1.0

    def filmed_bore_m(self, part: P) -> float:
        """The bore that a film makes narrower (0: none does)."""
        return 0.0

    def role(self, part: P) -> str:
        """What it is there for; only a part of the same role may take its place (empty: any of its kind may)."""
        return ""

    def ways(self, part: P) -> tuple[P, ...]:
        """The part as it is, and turned round where the water may pass it either way."""
        return (part,)

    def ranges(self, part: P, state: State, position: Position, speed: float) -> Iterator[Use]:
        """The values that its laws are used at, each with the range for which the law was measured; ``speed`` is a pump's."""
        return iter(())

    def flow_ranges(self, part: P, state: State, position: Position, water: Water, flow_m3s: float) -> Iterator[Use]:
        """The same of values that hang on the flow through it, in m3/s and above 0."""
        return iter(())

    def alike(self, part: P, other: P) -> bool:
        """Whether another part of the kind is of the same sort and has the same ends, so that it may stand in for it."""
        return self.role(part) == self.role(other) and _faces(self.ends(part)) == _faces(self.ends(other))

    def is_like(self, part: P, other: P) -> bool:
        """Whether two parts are the same in kind and size: in one place the one does to the water what the other does when clean
        and not worn, whatever they are called."""
        makes: Callable[..., Part] = type(part)
        figures = _figures(makes)
        sought = figures(other)
        # turned back is as it was: it is all the same which of the two is turned, and there is but one that is installed
        return figures(part) == sought or any(figures(way) == sought for way in self.ways(part)[1:])

    def with_ends(self, part: P, made: Callable[[End], End], scale: float) -> P:
        """The part with other ends, say for a hose of ``scale`` times the bore."""
        known = {field.name for field in fields(part)} & {"inlet", "outlet"}
        ends: dict[str, Any] = {name: made(getattr(part, name)) for name in known}
        return replace(part, **ends)


class GuardKind(PartKind[Guard]):
    """Losses: the screen or wall, and the entrance behind it."""

    name, dirt, clean_word = Kind.GUARD, Dirt.COVERING, fill.GUARD_CLEAN

    def ends(self, part: Guard) -> Ends:
        return None, part.outlet

    def narrowest_m(self, part: Guard, film_m: float) -> float:
        return part.outlet.bore_m

    def pieces(self, part: Guard, state: State, position: Position, water: Water) -> Iterator[Piece]:
        linear, quadratic = guard_terms(part, state.blocked, 0.0, water, (1.0, 0.0, 0.0))
        screen = Loss(linear=float(linear), quadratic=float(quadratic))
        yield Piece(part=part.id, loss=screen, resistance=unknowns.BLOCKED_GUARD if state.blocked else unknowns.GUARD)
        if part.form == "sponge" and state.cake_m:
            cake = Loss(linear=float(cake_linear(state.cake_m, part.face_area_m2, water)))
            yield Piece(part=part.id, loss=cake, resistance=unknowns.GUARD_CAKE)
        yield _plain(part.id, entrance_quadratic(part.outlet.bore_m, position.laws))

    def window(self, part: Guard, state: State, limits: Limits) -> Window:
        """What is blocked takes no water."""
        if math.isinf(limits.guard_speed_ms):
            return ANY_FLOW
        return 0.0, limits.guard_speed_ms * (part.face_area_m2 * (1.0 - state.blocked))

    def ranges(self, part: Guard, state: State, position: Position, speed: float) -> Iterator[Use]:
        if part.form == "sponge":
            yield FOAM_RANGE, part.pores_ppi
        else:
            yield SCREENS[part.form], float(blocked_open_fraction(part.open_fraction, state.blocked))
        if part.form == "mesh":
            yield MESH_WEAVE, part.open_fraction

    def flow_ranges(self, part: Guard, state: State, position: Position, water: Water, flow_m3s: float) -> Iterator[Use]:
        if part.form == "mesh" and part.open_fraction < 1.0:
            speed, weave = flow_m3s / part.face_area_m2, (part.opening_m, part.open_fraction)
            yield MESH_REYNOLDS, float(mesh_reynolds(speed, *weave, state.blocked, water.kinematic_m2s))


class HoseKind(PartKind[Hose]):
    """Losses: friction, and the bends of the run it lies in."""

    name, dirt, clean_word = Kind.HOSE, Dirt.FILM, fill.HOSES_CLEAN

    def ends(self, part: Hose) -> Ends:
        end = End(
            standard=Standard.HOSE,
            size_m=part.inside_m,
            gender=Gender.FEMALE,
            bore_m=part.inside_m,
            outside_m=part.outside_m,
        )
        return end, end

    def narrowest_m(self, part: Hose, film_m: float) -> float:
        return part.inside_m - 2.0 * film_m

    def pieces(self, part: Hose, state: State, position: Position, water: Water) -> Iterator[Piece]:
        loss = hose_loss(part, state, position)
        yield Piece(
            part=part.id,
            loss=loss,
            bore_m=open_m(part.inside_m, state.film_m),
            film_m=state.film_m,
            film=unknowns.FILM if state.film_m else "",
            resistance=unknowns.FITTINGS if loss.quadratic else "",
            bore=unknowns.HOSE_BORE,
            friction=unknowns.HOSE_FRICTION,
        )

    def filmed_bore_m(self, part: Hose) -> float:
        return part.inside_m

    def ranges(self, part: Hose, state: State, position: Position, speed: float) -> Iterator[Use]:
        bore = open_m(part.inside_m, state.film_m)
        yield ROUGHNESS_RANGE, part.roughness_m / bore
        yield CURVATURE_RANGE, bore / position.coil_m
        if position.bends:
            yield BEND_RADIUS_RANGE, position.bend_radius_m / bore

    def flow_ranges(self, part: Hose, state: State, position: Position, water: Water, flow_m3s: float) -> Iterator[Use]:
        number = float(reynolds(flow_m3s, open_m(part.inside_m, state.film_m), water.kinematic_m2s))
        yield REYNOLDS_RANGE, number
        yield TRANSITION, number

    def is_like(self, part: Hose, other: Hose) -> bool:
        """Of one size and one make of wall; how smooth it is said to be is no other kind of hose."""
        sizes = ((each.inside_m, each.outside_m) for each in (part, other))
        return part.ribbed == other.ribbed and all(abs(a - b) < SAME_SIZE_M for a, b in zip(*sizes, strict=True))

    def alike(self, part: Hose, other: Hose) -> bool:
        return abs(part.inside_m - other.inside_m) <= HOSE_STRETCH_M


class _Inline(PartKind[InlineT]):
    """What the water enters by one end and leaves by the other."""

    def ends(self, part: InlineT) -> Ends:
        return part.inlet, part.outlet

    def narrowest_m(self, part: InlineT, film_m: float) -> float:
        return min(part.inlet.bore_m, part.outlet.bore_m)


class FittingKind(_Inline[Fitting]):
    """Losses: the steps to its narrowest bore and back, and its body."""

    name, dirt, clean_word = Kind.FITTING, Dirt.FILM, fill.HOSES_CLEAN

    def narrowest_m(self, part: Fitting, film_m: float) -> float:
        return min(part.passage_m - 2.0 * film_m, part.inlet.bore_m, part.outlet.bore_m)

    def pieces(self, part: Fitting, state: State, position: Position, water: Water) -> Iterator[Piece]:
        ends = part.inlet.bore_m, part.outlet.bore_m
        steps, body = fitting_quadratics(part, *ends, state.film_m, position.laws)
        film = unknowns.FILM if state.film_m else ""
        known = BODIES.get(part.shape, "")
        wall: dict[str, Any] = {"bore_m": open_m(part.passage_m, state.film_m), "film_m": state.film_m, "film": film}
        yield _fitting(part.id, Loss(quadratic=steps if known else steps + body), **wall)
        if known:
            yield _fitting(part.id, Loss(quadratic=body), known, **wall)

    def filmed_bore_m(self, part: Fitting) -> float:
        return part.passage_m

    def role(self, part: Fitting) -> str:
        return part.role

    def ranges(self, part: Fitting, state: State, position: Position, speed: float) -> Iterator[Use]:
        passage = open_m(part.passage_m, state.film_m)
        if part.shape == "threaded elbow 90":
            yield THREADED_BORE_RANGE, passage
        elif part.shape in TURNING:
            yield TURBULENT_BORE_RANGE, passage

    def flow_ranges(self, part: Fitting, state: State, position: Position, water: Water, flow_m3s: float) -> Iterator[Use]:
        if part.shape == "threaded elbow 90":
            yield THREADED_REYNOLDS, float(reynolds(flow_m3s, open_m(part.passage_m, state.film_m), water.kinematic_m2s))

    def with_ends(self, part: Fitting, made: Callable[[End], End], scale: float) -> Fitting:
        """Its narrowest bore grows or shrinks with its tails, and is never wider than its ends."""
        return _scaled_passage(part, super().with_ends(part, made, scale), scale)

    def ways(self, part: Fitting) -> tuple[Fitting, ...]:
        return (part,) if part.inlet == part.outlet else (part, replace(part, inlet=part.outlet, outlet=part.inlet))


class CanisterKind(_Inline[Canister]):
    """Losses of the body: the ports. What its trays hold is dirty and not the body, which is no more than a shell."""

    name, dirt, clean_word = Kind.CANISTER, Dirt.NONE, ""

    def pieces(self, part: Canister, state: State, position: Position, water: Water) -> Iterator[Piece]:
        yield _fitting(part.id, canister_loss(part, position.laws))


class PumpKind(_Inline[Pump]):
    """It loses nothing and gives the head of its curve."""

    name, dirt, clean_word = Kind.PUMP, Dirt.FOULING, fill.PUMP_CLEAN

    def pieces(self, part: Pump, state: State, position: Position, water: Water) -> Iterator[Piece]:
        label = (unknowns.LABEL_HEAD, unknowns.LABEL_FLOW, unknowns.LABEL_SHAPE)
        head, flow, shape = label if part.curve.shape else (unknowns.PUMP_HEAD, unknowns.PUMP_FLOW, "")
        yield Piece(part=part.id, curve=part.curve, head=head, flow=flow, shape=shape)

    def curve(self, part: Pump) -> PumpCurve | None:
        return part.curve

    def speed(self, part: Pump, state: State, mains_hz: float) -> float:
        return pump_speed(part, state, mains_hz)

    def ranges(self, part: Pump, state: State, position: Position, speed: float) -> Iterator[Use]:
        yield SPEED_RANGE, speed


class DeviceKind(_Inline[Device]):
    """Losses as its maker states them."""

    name, dirt, clean_word = Kind.DEVICE, Dirt.NONE, ""

    def pieces(self, part: Device, state: State, position: Position, water: Water) -> Iterator[Piece]:
        yield Piece(part=part.id, loss=Loss(quadratic=part.quadratic), resistance=unknowns.DEVICE)

    def window(self, part: Device, state: State, limits: Limits) -> Window:
        return (part.flow_min_m3s, part.flow_max_m3s) if limits.device_windows else ANY_FLOW

    def role(self, part: Device) -> str:
        return part.purpose


class ValveKind(_Inline[NonReturnValve]):
    """Losses: the head that holds it open, the steps to its seat and back, and its body as if it were fully open. It is never
    offered the other way round."""

    name, dirt, clean_word = Kind.VALVE, Dirt.NONE, ""

    def narrowest_m(self, part: NonReturnValve, film_m: float) -> float:
        return min(part.passage_m, super().narrowest_m(part, film_m))

    def pieces(self, part: NonReturnValve, state: State, position: Position, water: Water) -> Iterator[Piece]:
        seat = part.passage_m
        k = float(swing_check_k(seat) if part.form == "flap" else lift_check_k(seat))
        laws = position.laws
        steps = change_quadratic(part.inlet.bore_m, seat, laws) + change_quadratic(seat, part.outlet.bore_m, laws)
        loss = Loss(quadratic=steps + k * velocity_quadratic(seat), crack_m=part.crack_m)
        yield Piece(part=part.id, loss=loss, resistance=unknowns.VALVE, crack=unknowns.VALVE_CRACK)

    def ranges(self, part: NonReturnValve, state: State, position: Position, speed: float) -> Iterator[Use]:
        yield TURBULENT_BORE_RANGE, part.passage_m

    def with_ends(self, part: NonReturnValve, made: Callable[[End], End], scale: float) -> NonReturnValve:
        """As of a fitting."""
        return _scaled_passage(part, super().with_ends(part, made, scale), scale)


class OutletKind(PartKind[Outlet]):
    """Losses: the rise to its mouth, the step into a bar, and the jets. A film narrows its holes, but none is reckoned to grow
    there: the jets keep them open."""

    name, dirt, clean_word = Kind.OUTLET, Dirt.NONE, fill.HOSES_CLEAN

    def ends(self, part: Outlet) -> Ends:
        return part.inlet, None

    def narrowest_m(self, part: Outlet, film_m: float) -> float:
        return part.inlet.bore_m if part.form == "bar" else min(part.inlet.bore_m, part.hole_m)

    def pieces(self, part: Outlet, state: State, position: Position, water: Water) -> Iterator[Piece]:
        lift, hole = float(lift_m(position.height_m)), open_hole_m(part, state)
        if part.form == "open":
            mouth = change_quadratic(part.inlet.bore_m, hole, position.laws) + INTO_VESSEL_K * velocity_quadratic(hole)
            loss, scaled = Loss(lift_m=lift, quadratic=mouth), unknowns.FITTINGS
        else:
            jets = bar_of(part, state).quadratic_s2m5 if part.form == "bar" else float(nozzle_quadratic(hole, part.discharge))
            loss, scaled = Loss(lift_m=lift, quadratic=jets), unknowns.OUTLET
        yield Piece(part=part.id, loss=loss, resistance=scaled, bore=unknowns.OUTLET_BORES)
        if part.form == "bar":
            yield _plain(part.id, change_quadratic(part.inlet.bore_m, part.bar_bore_m, position.laws))

    def window(self, part: Outlet, state: State, limits: Limits) -> Window:
        """The fastest jet sets it."""
        if math.isinf(limits.jet_speed_ms):
            return ANY_FLOW
        return 0.0, limits.jet_speed_ms / fastest_jet_1m2(part, state)

    def ranges(self, part: Outlet, state: State, position: Position, speed: float) -> Iterator[Use]:
        if part.form == "bar":
            yield BAR_AREA_RATIO, part.holes * (open_hole_m(part, state) / part.bar_bore_m) ** 2


class _Aside(PartKind[P]):
    """What the water does not meet at a place of its own."""

    dirt, clean_word, in_loop = Dirt.NONE, "", False

    def ends(self, part: P) -> Ends:
        raise ValueError(f"a {self.name} has no ends")

    def narrowest_m(self, part: P, film_m: float) -> float:
        return 0.0

    def pieces(self, part: P, state: State, position: Position, water: Water) -> Iterator[Piece]:
        raise ValueError(f"{part.name} has no place of its own in a loop")


class MediumKind(_Aside[Medium]):
    """It lies in a tray: `tray_pieces`."""

    name, dirt, clean_word = Kind.MEDIUM, Dirt.PORES, fill.MEDIA_CLEAN

    def ranges(self, part: Medium, state: State, position: Position, speed: float) -> Iterator[Use]:
        """Of the clean bed, as far as it is stated what it was worked out by."""
        if part.form == "foam" and part.pores_ppi:
            yield FOAM_RANGE, part.pores_ppi
        elif part.form == "fibre" and part.void:
            yield DAVIES_RANGE, round(1.0 - part.void, 12)
        elif part.form in VOIDS and part.void:
            yield VOIDS[part.form], part.void

    def alike(self, part: Medium, other: Medium) -> bool:
        """Media differ in too much."""
        return False


class ClampKind(_Aside[Clamp]):
    """It closes a joint, or pinches a hose."""

    name = Kind.CLAMP

    def alike(self, part: Clamp, other: Clamp) -> bool:
        return part.throttles == other.throttles


class SealKind(_Aside[Seal]):
    """It closes a joint."""

    name = Kind.SEAL

    def alike(self, part: Seal, other: Seal) -> bool:
        return part.closure == other.closure


class ToolKind(_Aside[Tool]):
    """It lies in a drawer and makes changes possible."""

    name = Kind.TOOL

    def alike(self, part: Tool, other: Tool) -> bool:
        return set(part.makes_possible) <= set(other.makes_possible)


class TeeKind(_Aside[TeePiece]):
    """It stands where branches part or meet; what it loses hangs on how the flow divides (`loop/tees.py`)."""

    name = Kind.TEE

    def alike(self, part: TeePiece, other: TeePiece) -> bool:
        """Tees differ in too much."""
        return False

    def ways(self, part: TeePiece) -> tuple[TeePiece, ...]:
        return (part,) if part.inlet == part.outlet else (part, replace(part, inlet=part.outlet, outlet=part.inlet))


KINDS: MappingProxyType[type[Any], PartKind[Any]] = MappingProxyType(
    {
        Guard: GuardKind(),
        Hose: HoseKind(),
        Fitting: FittingKind(),
        Canister: CanisterKind(),
        Pump: PumpKind(),
        Device: DeviceKind(),
        Outlet: OutletKind(),
        Medium: MediumKind(),
        Clamp: ClampKind(),
        Seal: SealKind(),
        TeePiece: TeeKind(),
        NonReturnValve: ValveKind(),
        Tool: ToolKind(),
    }
)
"""The table."""


def kind(part: Part) -> PartKind[Any]:
    """What a part's kind does. Raises TypeError for what is no part of a known kind.

    >>> kind(Clamp(id="C", name="clamp", low_m=0.01, high_m=0.02)).name
    'clamp'
    """
    if type(part) not in KINDS:
        raise TypeError(f"a {type(part).__name__} is no known kind of part")
    return KINDS[type(part)]


def ends_of(part: Part) -> Ends:
    """Where the water enters and leaves a part; None at the tank's side. Raises ValueError for what has no place in a loop.

    >>> ends_of(Hose(id="H", name="hose", inside_m=0.016, outside_m=0.022))[0].label
    '16 mm hose, bore 16 mm'
    """
    return kind(part).ends(part)


def every_end(part: Part) -> tuple[End, ...]:
    """All ends of a part, of what has no place of its own in a loop too (the three of a tee)."""
    found = ends_of(part) if kind(part).in_loop else [end for _, end in stated_ends(part)]
    return tuple(end for end in found if end is not None)


def narrowest_m(part: Part, film_m: float = 0.0) -> float:
    """The narrowest bore the water passes in a part, with a film on its wall; 0 when it has none of its own.

    >>> narrowest_m(Hose(id="H", name="hose", inside_m=0.016, outside_m=0.022), 0.0005)
    0.015
    """
    return kind(part).narrowest_m(part, film_m)


def pieces_of(part: Part, state: State, position: Position, water: Water) -> tuple[Piece, ...]:
    """What a part loses at a place in a state, piece by piece; raises as `PartKind.pieces`."""
    pieces = tuple(kind(part).pieces(part, state, position, water))
    return tuple(replace(piece, **_widened(piece, part)) for piece in pieces) if part.assumed else pieces


def _widened(piece: Piece, part: Part) -> dict[str, Any]:
    """The names of what scales a piece of a part of which a figure is assumed."""
    names = {name: getattr(piece, name) for name in ("resistance", "bore", "crack", "head", "flow", "shape")}
    return {name: unknown_of(known, part) for name, known in names.items()}


def part_loss(part: Part, state: State, position: Position, water: Water) -> Loss:
    """Loss of one part in one place at the given state and water: the sum of `pieces_of`, which raises."""
    pieces = kind(part).pieces(part, state, position, water)
    return reduce(Loss.add, (piece.loss for piece in pieces))


def window_m3s(part: Part | None, state: State, limits: Limits) -> Window:
    """Flows in m3/s that a part needs and allows, as far as limits ask for it; any where there is none.

    >>> window_m3s(None, State(), Limits())
    (0.0, inf)
    """
    return ANY_FLOW if part is None else kind(part).window(part, state, limits)


def role_of(part: Part | None) -> str:
    """What a part is there for (empty: nothing in particular, or there is none)."""
    return "" if part is None else kind(part).role(part)


def may_stand(part: Part, position: Position) -> bool:
    """Whether a part is of the sort that stands at a place in the loop; clamps, seals and adapters stand at none."""
    if not kind(part).in_loop or kind(part).name != position.kind:
        return False
    return position.kind != Kind.FITTING or role_of(part) == position.role


def turned_ways(part: P) -> tuple[P, ...]:
    """A part as it is, and turned round where it can be used either way."""
    ways: tuple[P, ...] = kind(part).ways(part)
    return ways


def is_like(part: Part | None, other: Part | None) -> bool:
    """Whether two parts are the same in kind and size (see `PartKind.is_like`); nothing is like nothing else.

    >>> hose = Hose(id="H", name="hose", inside_m=0.016, outside_m=0.022)
    >>> is_like(hose, Hose(id="X", name="new", inside_m=0.016, outside_m=0.022)), is_like(hose, None)
    (True, False)
    """
    return part is not None and other is not None and type(part) is type(other) and kind(part).is_like(part, other)


class Holder(Protocol):
    """What holds a part, or none: a position, an option."""

    @property
    def part(self) -> Part | None:
        """The part."""


H = TypeVar("H", bound=Holder)


def speed_of(part: Part, state: State, mains_hz: float) -> float:
    """Speed of a pump as a ratio of the speed its figures belong to; 1 for anything else."""
    return float(kind(part).speed(part, state, mains_hz))


def curve_of(part: Part | None) -> PumpCurve | None:
    """The curve of a pump; None for anything else."""
    curve: PumpCurve | None = None if part is None else kind(part).curve(part)
    return curve


def of_sort(part: Part | None, sort: type[P]) -> P:
    """A part that is known to be of a kind. Raises TypeError when it is not."""
    if not isinstance(part, sort):
        raise TypeError(f"no {sort.__name__.lower()} stands where one must")
    return part


def parts_of(parts: Iterable[Part | None], sort: type[P]) -> Iterator[P]:
    """The parts of one kind."""
    return (part for part in parts if isinstance(part, sort))


def each_of(holders: Iterable[H], sort: type[P]) -> Iterator[tuple[H, P]]:
    """Those that hold a part of one kind, with the part."""
    for holder in holders:
        part = holder.part
        if isinstance(part, sort):
            yield holder, part


@cache
def _figures(makes: Callable[..., Part]) -> Callable[[Part], Any]:
    """What reads off a part of a class all that it is, except how it is called."""
    return attrgetter(*(each.name for each in fields(makes) if each.name not in ("id", "name", "assumed")))  # type: ignore[arg-type]


def _faces(ends: Ends) -> list[str]:
    return sorted(repr(end.face) for end in ends if end is not None)


def _scaled_passage(part: PassageT, ended: PassageT, scale: float) -> PassageT:
    if ended == part:
        return part
    return replace(ended, passage_m=min(part.passage_m * scale, ended.inlet.bore_m, ended.outlet.bore_m))


def _plain(part: str, quadratic: float) -> Piece:
    return _fitting(part, Loss(quadratic=quadratic))


def _fitting(part: str, loss: Loss, resistance: str = unknowns.FITTINGS, **wall: Any) -> Piece:
    """What a step, a port or a body of a fitting loses, and what its ``wall`` has on it."""
    return Piece(part=part, loss=loss, resistance=resistance, bore=unknowns.FITTING_BORES, **wall)
