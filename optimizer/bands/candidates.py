"""A bundle as pieces: loss terms, each with the names of the unknowns that scale it and the part they belong to."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.bands.priors import (
    BLOCKED_GUARD,
    DEVICE,
    FILLED_MEDIA,
    FILM,
    FITTING_BORES,
    FITTINGS,
    GUARD,
    HOSE_BORE,
    HOSE_FRICTION,
    LABEL_FLOW,
    LABEL_HEAD,
    LABEL_SHAPE,
    MEDIA,
    OUTLET,
    OUTLET_BORES,
    PUMP_FLOW,
    PUMP_HEAD,
)
from optimizer.loop.terms import ENTRANCE_K, canister_loss, change_quadratic, tray_loss, velocity_quadratic
from optimizer.model.losses import Loss
from optimizer.model.parts import Canister, Device, Fitting, Guard, Hose, Outlet, Part, Pump, PumpCurve
from optimizer.model.rig import Rig
from optimizer.physics.water import Water
from optimizer.search.joints import Chain
from optimizer.search.options import Option


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """One thing that is drawn: the factor of a prior for one part, or what all parts have in common (``part`` empty)."""

    prior: str
    part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Some loss, or a pump, of one part, and the priors that scale it (empty: nothing does).

    ``resistance`` scales the linear loss, and the quadratic one to ``quadratic_power``; ``bore`` scales the diameter, so the
    quadratic loss goes with its inverse fourth power and hose friction with the real bore; ``friction`` scales the hose's
    friction; ``film`` the thickness ``film_m`` on the wall, which is already taken off ``bore_m``. Of a pump, ``head``,
    ``flow`` and ``shape`` scale the curve. ``installed`` says whether it is there today, and so can be measured today.
    """

    part: str
    installed: bool
    loss: Loss = Loss()
    bore_m: float = 0.0
    film_m: float = 0.0
    resistance: str = ""
    quadratic_power: float = 1.0
    bore: str = ""
    friction: str = ""
    film: str = ""
    curve: PumpCurve | None = None
    speed: float = 1.0
    head: str = ""
    flow: str = ""
    shape: str = ""

    @property
    def priors(self) -> tuple[str, ...]:
        """Names of the priors that matter for it."""
        names = (self.resistance, self.bore, self.friction, self.film, self.head, self.flow, self.shape)
        return tuple(name for name in names if name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One bundle in one rig, in series. A throttle holds the flow to ``ceiling_m3s`` (inf: none).

    Delivered flow keeps to the limits from ``least_m3s`` to ``most_m3s``.
    """

    name: str
    pieces: tuple[Piece, ...]
    kinematic_m2s: float
    ceiling_m3s: float = math.inf
    least_m3s: float = 0.0
    most_m3s: float = math.inf

    def __post_init__(self) -> None:
        if sum(piece.curve is not None for piece in self.pieces) != 1:
            raise ValueError(f"{self.name} needs exactly one pump")

    @property
    def unknowns(self) -> tuple[Unknown, ...]:
        """All that is drawn for it, each once, in a fixed order."""
        found = {(name, part) for piece in self.pieces for name in piece.priors for part in ("", piece.part)}
        return tuple(Unknown(prior=prior, part=part) for prior, part in sorted(found))


def candidate(
    rig: Rig, water: Water, name: str, options: Sequence[Option], joints: Sequence[Chain], held_m3s: float = math.inf
) -> Candidate:
    """A bundle, as the search and the answers hold it, ready to be drawn.

    ``held_m3s`` is the flow a throttle holds it to; where there is a throttle on the outlet side, the lowest ceiling of rig and
    devices holds in every draw. Raises ValueError for a bundle without a pump.
    """
    limits = rig.limits
    most = min([limits.flow_max_m3s, *(option.flow_max_m3s for option in options)])
    throttled = any(option.throttles and option.position > rig.index("pump") for option in options)
    return Candidate(
        name=name,
        pieces=tuple(_pieces(water, options, joints)),
        kinematic_m2s=water.kinematic_m2s,
        ceiling_m3s=min(held_m3s, most if throttled else math.inf),
        least_m3s=max([limits.flow_min_m3s, *(option.flow_min_m3s for option in options)]),
        most_m3s=most,
    )


def _pieces(water: Water, options: Sequence[Option], joints: Sequence[Chain]) -> Iterator[Piece]:
    before: Part | None = None
    for option, joint in zip(options, joints, strict=True):
        if option.part is None:
            continue
        if before is not None:
            yield from _joint_pieces(before, option.part, joint)
        for piece in _part_pieces(water, option, option.part):
            if piece.curve is not None or piece.loss != Loss():
                yield piece
        before = option.part


def _joint_pieces(before: Part, after: Part, joint: Chain) -> Iterator[Piece]:
    """The same pieces between the same parts are the same joint, in whatever bundle."""
    if joint.quadratic > 0.0:
        between = " - ".join([before.id, *(turned.part.id for turned in joint.adapters), after.id])
        yield _fitting_piece(between, joint.as_is, joint.quadratic)


def _fitting_piece(part: str, installed: bool, quadratic: float) -> Piece:
    loss = Loss(quadratic=quadratic)
    return Piece(part=part, installed=installed, loss=loss, resistance=FITTINGS, bore=FITTING_BORES)


def _part_pieces(water: Water, option: Option, part: Part) -> Iterator[Piece]:
    plain = Piece(part=part.id, installed=option.is_installed, loss=option.loss)
    if isinstance(part, Pump):
        names = (LABEL_HEAD, LABEL_FLOW, LABEL_SHAPE) if part.curve.shape else (PUMP_HEAD, PUMP_FLOW, "")
        yield replace(plain, curve=part.curve, speed=option.speed, head=names[0], flow=names[1], shape=names[2])
    elif isinstance(part, Hose):
        yield _hose_piece(plain, option.state.film_m)
    elif isinstance(part, Fitting):
        film = option.state.film_m
        bore = max(part.passage_m - 2.0 * film, 0.1 * part.passage_m)
        filmed = replace(plain, bore_m=bore, film_m=film, film=FILM if film else "")
        yield replace(filmed, resistance=FITTINGS, bore=FITTING_BORES)
    elif isinstance(part, Guard):
        yield from _guard_pieces(plain, part, option.state.blocked)
    elif isinstance(part, Outlet):
        yield from _outlet_pieces(plain, part)
    elif isinstance(part, Canister):
        yield from _canister_pieces(water, plain, part, option)
    elif isinstance(part, Device):
        yield replace(plain, resistance=DEVICE)


def _hose_piece(plain: Piece, film_m: float) -> Piece:
    run = plain.loss.run
    bore = run.bore_m if run is not None else 0.0
    bends = FITTINGS if plain.loss.quadratic else ""
    filmed = replace(plain, bore_m=bore, film_m=film_m, film=FILM if film_m else "")
    return replace(filmed, resistance=bends, bore=HOSE_BORE, friction=HOSE_FRICTION)


def _guard_pieces(plain: Piece, guard: Guard, blocked: float) -> Iterator[Piece]:
    entrance = ENTRANCE_K * velocity_quadratic(guard.outlet.bore_m)
    screen = replace(plain.loss, quadratic=max(plain.loss.quadratic - entrance, 0.0))
    yield replace(plain, loss=screen, resistance=BLOCKED_GUARD if blocked else GUARD)
    yield _fitting_piece(guard.id, plain.installed, entrance)


def _outlet_pieces(plain: Piece, outlet: Outlet) -> Iterator[Piece]:
    if outlet.form == "open":
        yield replace(plain, resistance=FITTINGS, bore=OUTLET_BORES)
        return
    step = change_quadratic(outlet.inlet.bore_m, outlet.bar_bore_m) if outlet.form == "bar" else 0.0
    holes = replace(plain.loss, quadratic=max(plain.loss.quadratic - step, 0.0))
    yield replace(plain, loss=holes, resistance=OUTLET, bore=OUTLET_BORES)
    yield _fitting_piece(outlet.id, plain.installed, step)


def _canister_pieces(water: Water, plain: Piece, canister: Canister, option: Option) -> Iterator[Piece]:
    yield replace(plain, loss=canister_loss(canister), resistance=FITTINGS, bore=FITTING_BORES)
    for fill in option.fills:
        if fill.medium is None:
            continue
        yield Piece(
            part=fill.medium.id,
            installed=fill.change != "swap",
            loss=tray_loss(fill.medium, fill.state, canister, water),
            resistance=FILLED_MEDIA if fill.state.filled else MEDIA,
            quadratic_power=0.5,
        )
