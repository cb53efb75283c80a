"""A bundle as pieces, in series and in branches: loss terms, each with the names of the unknowns that scale it and the part
they belong to."""

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
from optimizer.model.losses import Loss, TeeShape
from optimizer.model.parts import Canister, Device, Fitting, Guard, Hose, Medium, Outlet, Part, Pump, PumpCurve, pass_over
from optimizer.model.rig import Rig
from optimizer.physics.water import Water
from optimizer.search.joints import Chain
from optimizer.search.options import Option, Way, Ways
from optimizer.search.stacks import Fill


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
    ``flow`` and ``shape`` scale the curve. What a ``tee`` loses hangs on how the flow divides; ``resistance`` scales it and
    ``bore`` its diameters, the branch's with the run's. ``installed`` says whether it is there today, and so can be measured
    today.
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
    tee: TeeShape | None = None

    @property
    def priors(self) -> tuple[str, ...]:
        """Names of the priors that matter for it."""
        names = (self.resistance, self.bore, self.friction, self.film, self.head, self.flow, self.shape)
        return tuple(name for name in names if name)


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchPieces:
    """The pieces of one branch, the flows its parts need and allow (m3/s), and whether it can be throttled."""

    pieces: tuple[Piece, ...]
    flow_min_m3s: float = 0.0
    flow_max_m3s: float = math.inf
    throttles: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitPieces:
    """Two branches side by side and the tees they part and meet at (None: open water), as `Split` says of losses.

    Raises ValueError for other than two branches, no tee, a piece that is none where a tee should be, or a pump in a branch.
    """

    branches: tuple[BranchPieces, ...]
    parting: Piece | None = None
    meeting: Piece | None = None

    def __post_init__(self) -> None:
        tees = [piece for piece in (self.parting, self.meeting) if piece is not None]
        if len(self.branches) != 2 or not tees or any(piece.tee is None for piece in tees):
            raise ValueError("two branches run side by side, from a tee, to a tee, or both")
        if any(piece.curve is not None for piece in self.pieces):
            raise ValueError("a branch holds no pump")

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """All pieces in it."""
        tees = tuple(piece for piece in (self.parting, self.meeting) if piece is not None)
        return (*tees, *(piece for branch in self.branches for piece in branch.pieces))


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One bundle in one rig: ``pieces`` in series, and ``splits`` in series with them.

    A throttle on the outlet side (``throttled``) holds the flow to ``ceiling_m3s`` (inf: none), and in every draw to what the
    parts in branches allow there. Delivered flow keeps to the limits from ``least_m3s`` to ``most_m3s``.
    """

    name: str
    pieces: tuple[Piece, ...]
    kinematic_m2s: float
    ceiling_m3s: float = math.inf
    least_m3s: float = 0.0
    most_m3s: float = math.inf
    splits: tuple[SplitPieces, ...] = ()
    throttled: bool = False

    def __post_init__(self) -> None:
        if sum(piece.curve is not None for piece in self.pieces) != 1:
            raise ValueError(f"{self.name} needs exactly one pump")

    @property
    def all_pieces(self) -> tuple[Piece, ...]:
        """Those in series, then those of the branches."""
        return (*self.pieces, *(piece for split in self.splits for piece in split.pieces))

    @property
    def unknowns(self) -> tuple[Unknown, ...]:
        """All that is drawn for it, each once, in a fixed order."""
        found = {(name, part) for piece in self.all_pieces for name in piece.priors for part in ("", piece.part)}
        return tuple(Unknown(prior=prior, part=part) for prior, part in sorted(found))


def candidate(
    rig: Rig, water: Water, name: str, options: Sequence[Option], joints: Sequence[Chain], held_m3s: float = math.inf
) -> Candidate:
    """A bundle, as the search and the answers hold it, ready to be drawn.

    ``held_m3s`` is the flow a throttle holds it to; where there is a throttle on the outlet side, the lowest ceiling of rig and
    devices holds in every draw, and a device in a branch is held to its own. Raises ValueError for a bundle without a pump.
    """
    limits = rig.limits
    plain = [option for option in options if option.ways is None or len(option.ways.branches) < 2]
    beside = [option for option in options if option.ways is not None and len(option.ways.branches) > 1]
    most = min([limits.flow_max_m3s, *(option.flow_max_m3s for option in plain)])
    throttled = any(option.throttles and option.position > rig.index("pump") for option in options)
    # how the flow divides differs from draw to draw, so the total at which a branch has enough does too
    if throttled and any(held_m3s >= option.flow_max_m3s * (1 - 1e-9) for option in beside):
        held_m3s = math.inf
    return Candidate(
        name=name,
        pieces=tuple(_pieces(water, options, joints)),
        kinematic_m2s=water.kinematic_m2s,
        ceiling_m3s=min(held_m3s, most if throttled else math.inf),
        least_m3s=max([limits.flow_min_m3s, *(option.flow_min_m3s for option in plain)]),
        most_m3s=most,
        splits=tuple(_split_pieces(water, option.ways) for option in beside if option.ways is not None),
        throttled=throttled,
    )


def _pieces(water: Water, options: Sequence[Option], joints: Sequence[Chain]) -> Iterator[Piece]:
    """All that stands in series; of branches side by side the steps of bore in their tees that all the water takes."""
    before: Part | None = None
    for option, joint in zip(options, joints, strict=True):
        if not option.is_there:
            continue
        first, last = _ends_of(option)
        if before is not None and first is not None:
            yield from _joint_pieces(before, first, joint)
        if option.ways is None:
            yield from _own_pieces(water, option)
        elif len(option.ways.branches) == 1:
            yield from _way_pieces(water, option.ways.branches[0], None, None)
        elif option.loss.quadratic > 0.0:
            yield _tee_steps(option.ways.parting or option.ways.meeting, option.loss.quadratic)
        before = last


def _ends_of(option: Option) -> tuple[Part | None, Part | None]:
    """The parts that the joints before and behind an option are made to; None at open water."""
    if option.ways is None:
        return option.part, option.part
    if len(option.ways.branches) == 1:
        there = option.ways.branches[0].there
        return there[0].part, there[-1].part
    return _part(option.ways.parting), _part(option.ways.meeting)


def _part(option: Option | None) -> Part | None:
    return None if option is None else option.part


def _split_pieces(water: Water, ways: Ways) -> SplitPieces:
    branches = []
    for way, loss in zip(ways.branches, ways.split.branches, strict=True):
        pieces = list(_way_pieces(water, way, _part(ways.parting), _part(ways.meeting)))
        joints = sum(joint.quadratic for joint in way.joints if joint is not None)
        steps = loss.losses[-1].quadratic - joints  # of bore in the legs of the tees
        if steps > 1e-12 * joints:
            pieces.append(_tee_steps(ways.parting or ways.meeting, steps))
        branches.append(
            BranchPieces(
                pieces=tuple(pieces),
                flow_min_m3s=loss.flow_min_m3s,
                flow_max_m3s=loss.flow_max_m3s,
                throttles=loss.throttles,
            )
        )
    split = ways.split
    return SplitPieces(
        branches=tuple(branches), parting=_tee(ways.parting, split.parting), meeting=_tee(ways.meeting, split.meeting)
    )


def _way_pieces(water: Water, way: Way, before: Part | None, goal: Part | None) -> Iterator[Piece]:
    """Parts and joints of one branch between its tees (None: open water, or the loop's own joint)."""
    for option, joint in zip(way.options, way.joints, strict=False):
        if option.part is None:
            continue
        if before is not None and joint is not None:
            yield from _joint_pieces(before, option.part, joint)
        yield from _own_pieces(water, option)
        before = option.part
    last = way.joints[-1]
    if before is not None and goal is not None and last is not None:
        yield from _joint_pieces(before, goal, last)


def _tee(option: Option | None, shape: TeeShape | None) -> Piece | None:
    if option is None or option.part is None or shape is None:
        return None
    return Piece(part=option.part.id, installed=option.is_installed, resistance=FITTINGS, bore=FITTING_BORES, tee=shape)


def _tee_steps(tee: Option | None, quadratic: float) -> Piece:
    """Steps of bore belong to the tee that they are in; where there are two, they are the same part."""
    if tee is None or tee.part is None:
        raise ValueError("two branches without a tee")
    return _fitting_piece(tee.part.id, tee.is_installed, quadratic)


def _own_pieces(water: Water, option: Option) -> Iterator[Piece]:
    if option.part is not None:
        for piece in part_pieces(water, option, option.part):
            if piece.curve is not None or piece.loss != Loss():
                yield piece


def _joint_pieces(before: Part, after: Part, joint: Chain) -> Iterator[Piece]:
    """The same pieces between the same parts are the same joint, in whatever bundle."""
    if joint.quadratic > 0.0:
        between = " - ".join([before.id, *(turned.part.id for turned in joint.adapters), after.id])
        yield _fitting_piece(between, joint.as_is, joint.quadratic)


def _fitting_piece(part: str, installed: bool, quadratic: float) -> Piece:
    loss = Loss(quadratic=quadratic)
    return Piece(part=part, installed=installed, loss=loss, resistance=FITTINGS, bore=FITTING_BORES)


def part_pieces(water: Water, option: Option, part: Part) -> Iterator[Piece]:
    """The pieces of one part, each with the priors that scale it; of a canister those of its trays too."""
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
    else:
        pass_over(part)


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
        if fill.medium is not None:
            yield tray_piece(water, canister, fill, fill.medium)


def tray_piece(water: Water, canister: Canister, fill: Fill, medium: Medium) -> Piece:
    """The piece of one tray with a medium in it."""
    return Piece(
        part=medium.id,
        installed=fill.change != "swap",
        loss=tray_loss(medium, fill.state, canister, water),
        resistance=FILLED_MEDIA if fill.state.filled else MEDIA,
        quadratic_power=0.5,
    )
