"""A bundle as pieces, in series and in branches: loss terms, each with the names of the unknowns that scale it and the part
they belong to."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from optimizer.loop.kinds import pieces_of, speed_of, window_m3s
from optimizer.loop.pieces import Piece
from optimizer.loop.standing import Fork, Joint, Stand, StandingLoop, Tee
from optimizer.loop.terms import tray_bed, tray_cake
from optimizer.model.limits import Limits
from optimizer.model.losses import Loss
from optimizer.model.part_names import joined, tray_place
from optimizer.model.parts import Canister, Medium
from optimizer.model.state import State
from optimizer.model.unknowns import CAKE, FILLED_MEDIA, FITTING_BORES, FITTINGS, MEDIA, assumed
from optimizer.model.usual_figures import unknown_of
from optimizer.physics.water import Water


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """One thing that is drawn: the factor of a prior for one part, or what all parts have in common (``part`` empty)."""

    prior: str
    part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchPieces:
    """The pieces of one branch, the flows they need and allow (m3/s), and whether it can be throttled. ``inner`` are branches
    within it, in series with the rest."""

    pieces: tuple[Piece, ...]
    flow_min_m3s: float = 0.0
    flow_max_m3s: float = math.inf
    throttles: bool = False
    inner: "tuple[SplitPieces, ...]" = ()

    @property
    def all_pieces(self) -> tuple[Piece, ...]:
        """Its own and those of branches within it."""
        return (*self.pieces, *(piece for split in self.inner for piece in split.pieces))


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
        return (*tees, *(piece for branch in self.branches for piece in branch.all_pieces))


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


def candidate(loop: StandingLoop, limits: Limits, name: str, held_m3s: float = math.inf) -> Candidate:
    """A bundle, as it stands, ready to be drawn.

    ``held_m3s`` is the flow a throttle holds it to; where there is a throttle on the outlet side, the lowest ceiling of limits
    and devices holds in every draw, and a device in a branch is held to its own. Raises ValueError for a bundle without a pump.
    """
    inside = {n for fork in loop.forks for parts in fork.parts for n in range(*parts)}
    windows = [window_m3s(one.part, one.state, limits) for n, one in enumerate(loop.stands) if n not in inside]
    most = min([limits.flow_max_m3s, *(high for _, high in windows)])
    # how the flow divides differs from draw to draw, so the total at which a branch has enough does too
    if loop.throttled and any(held_m3s >= loop.forks[n].flow_max_m3s * (1 - 1e-9) for n in loop.trunk_forks):
        held_m3s = math.inf
    return Candidate(
        name=name,
        pieces=tuple(_pieces(loop)),
        kinematic_m2s=loop.water.kinematic_m2s,
        ceiling_m3s=min(held_m3s, most if loop.throttled else math.inf),
        least_m3s=max([limits.flow_min_m3s, *(low for low, _ in windows)]),
        most_m3s=most,
        splits=tuple(_split_pieces(loop, limits, loop.forks[n]) for n in loop.trunk_forks),
        throttled=loop.throttled,
    )


def _pieces(loop: StandingLoop) -> Iterator[Piece]:
    """All that stands in series; of branches side by side the steps of bore in their tees that all the water takes."""
    for each in loop.trunk():
        yield from _passed(loop, each)


def _passed(loop: StandingLoop, each: int | Fork) -> Iterator[Piece]:
    if not isinstance(each, Fork):
        yield from _stand_pieces(loop, loop.stands[each])
        return
    yield from _joint_pieces(each.joint)
    if each.common > 0.0:
        yield _tee_steps(each, each.common)


def _split_pieces(loop: StandingLoop, limits: Limits, fork: Fork) -> SplitPieces:
    return SplitPieces(
        branches=(_branch_pieces(loop, limits, fork, 0), _branch_pieces(loop, limits, fork, 1)),
        parting=_tee(fork.parting),
        meeting=_tee(fork.meeting),
    )


def _branch_pieces(loop: StandingLoop, limits: Limits, fork: Fork, branch: int) -> BranchPieces:
    way = list(loop.in_branch(fork, branch))
    stands, within = [loop.stands[n] for n in way if not isinstance(n, Fork)], [each for each in way if isinstance(each, Fork)]
    pieces = [piece for each in way for piece in _passed(loop, each)] + list(_joint_pieces(fork.behind[branch]))
    joints = sum(joint.quadratic for joint in (*(one.joint for one in stands), *(each.joint for each in within)))
    joints += fork.behind[branch].quadratic
    steps = fork.steps[branch] - joints  # of bore in the legs of the tees
    if steps > 1e-12 * joints:
        pieces.append(_tee_steps(fork, steps))
    windows = [window_m3s(one.part, one.state, limits) for one in stands]
    return BranchPieces(
        pieces=tuple(pieces),
        flow_min_m3s=max((low for low, _ in windows), default=0.0),
        flow_max_m3s=min((high for _, high in windows), default=math.inf),
        throttles=fork.throttles[branch],
        inner=tuple(_split_pieces(loop, limits, each) for each in within),
    )


def _tee(tee: Tee | None) -> Piece | None:
    if tee is None:
        return None
    return Piece(
        part=tee.like or tee.part,
        installed=tee.stays,
        resistance=FITTINGS,
        bore=_bores(tee.assumed),
        tee=tee.shape,
        places=(tee.place,),
    )


def _tee_steps(fork: Fork, quadratic: float) -> Piece:
    """Steps of bore belong to the tee that they are in; where there are two, they are the same part."""
    tee = fork.parting or fork.meeting
    if tee is None:
        raise ValueError("two branches without a tee")
    return _fitting_piece(tee.like or tee.part, tee.stays, quadratic, (tee.place,), tee.assumed)


def _joint_pieces(joint: Joint) -> Iterator[Piece]:
    """The same pieces between the same parts are the same joint, in whatever bundle."""
    if joint.quadratic > 0.0:
        yield _fitting_piece(joined(joint.known_as), joint.as_is, joint.quadratic, joint.places, joint.assumed)


def _bores(are_assumed: bool) -> str:
    return assumed(FITTING_BORES) if are_assumed else FITTING_BORES


def _fitting_piece(part: str, installed: bool, quadratic: float, places: tuple[str, ...], bores_assumed: bool) -> Piece:
    return Piece(
        part=part,
        installed=installed,
        loss=Loss(quadratic=quadratic),
        resistance=FITTINGS,
        bore=_bores(bores_assumed),
        places=places,
    )


def _stand_pieces(loop: StandingLoop, one: Stand) -> Iterator[Piece]:
    """A part with the joint in front of it, each piece with the priors that scale it; of a canister those of its trays too."""
    yield from _joint_pieces(one.joint)
    known = replace(one.part, id=one.like or one.part.id)
    for piece in pieces_of(known, one.state, one.position, loop.water):
        if not piece.is_idle:
            speed = speed_of(one.part, one.state, loop.mains_hz)
            yield replace(piece, installed=one.stays, speed=speed, places=(one.position.name,))
    if one.part is loop.canister:
        each = zip(loop.trays, loop.kept, loop.media_like, strict=True)
        for n, (tray, kept, like) in enumerate(each, start=1):
            if tray.medium is not None:
                medium = replace(tray.medium, id=like or tray.medium.id)
                for piece in tray_pieces(loop.water, loop.canister, medium, tray.state):
                    yield replace(piece, installed=kept, places=(tray_place(one.position.name, n),))


def tray_pieces(water: Water, canister: Canister, medium: Medium, state: State) -> Iterator[Piece]:
    """The pieces of one tray with a medium in it: the bed, and the cake on its face where there is one."""
    yield Piece(
        part=medium.id,
        loss=tray_bed(medium, state, canister, water),
        resistance=unknown_of(FILLED_MEDIA if state.filled else MEDIA, medium),
        quadratic_power=0.5,
    )
    if state.cake_m:
        yield Piece(part=medium.id, loss=tray_cake(state, canister, water), resistance=CAKE)
