"""The loop as it stands during a fill, in series or with branches: what is off or clean, and where the water leaves.

Lift and siphon come from the loop model. A mouth below the tank's water line adds its depth to the pump's head: then the
loop's losses and the pump's own fall must use up more than the pump's head at no flow. Where branches end in two outlets both
are held into the container, at one height.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Candidate, SplitPieces
from optimizer.bands.draws import Factors
from optimizer.bands.installed import installed
from optimizer.bands.series import scaled_loops, solved_m3s
from optimizer.loop.kinds import KINDS, ends_of
from optimizer.loop.pieces import Piece
from optimizer.loop.terms import INTO_VESSEL_K, velocity_quadratic
from optimizer.model.fill import (
    CLEAN,
    CLEANING,
    GUARD_OFF,
    HOSE_OFF,
    MEDIA_OUT,
    OUTLET_OFF,
)
from optimizer.model.losses import Loss
from optimizer.model.parts import Kind, Part
from optimizer.model.rig import Position, Rig
from optimizer.model.unknowns import BLOCKED_GUARD, CAKE, FILLED_MEDIA, FITTING_BORES, GUARD, GUARD_CAKE, MEDIA, sort_of
from optimizer.search.branch_pairs import leg

Reals = NDArray[np.float64]

CLEANED: dict[str, tuple[str, ...]] = {
    CLEAN: tuple(each.name for each in KINDS.values() if each.clean_word),
    **{word: tuple(each.name for each in KINDS.values() if each.clean_word == word) for word in CLEANING},
}
"""Kinds of part that a word of the state says are clean."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FillLoop:
    """A loop without its own lift, and the height of its mouth above the tank's water line in m (negative: below); of two mouths
    that of the lower, with what the other stands higher left in its branch."""

    candidate: Candidate
    lift_m: float


def loop_during_fill(rig: Rig, state: Iterable[str] = (), height_m: float | None = None) -> FillLoop:
    """The installed loop of a rig in a state (words of `FILL_STATES`), its water leaving at ``height_m``.

    Without a height it is what the tank gets: a mouth under water asks for no lift.
    """
    words = tuple(state)
    after = cleaned(rig, words).as_it_stands
    upto = _cut(after, words)
    no_outlets = upto is None and OUTLET_OFF in words
    loop = installed(after, upto=upto, without=Kind.OUTLET if no_outlets else "")
    loop = with_each_row(loop, lambda pieces: tuple(piece for piece in pieces if not _is_off(piece, words)))
    if upto is not None or no_outlets:
        loop = _left_open(after.positions[: len(after.positions) if upto is None else upto + 1], loop)
    if height_m is None:
        return as_delivered(loop)
    return FillLoop(candidate=with_each_row(loop, _without_lift), lift_m=height_m)


Row = tuple[Piece, ...]
"""Pieces in series: those of the loop itself, or of one branch."""


def with_each_row(candidate: Candidate, change: Callable[[Row], Row]) -> Candidate:
    """A candidate with its pieces in series, and those of each branch, changed."""
    splits = tuple(_with_each_row(split, change) for split in candidate.splits)
    return replace(candidate, pieces=change(candidate.pieces), splits=splits)


def _with_each_row(split: SplitPieces, change: Callable[[Row], Row]) -> SplitPieces:
    branches = (
        replace(branch, pieces=change(branch.pieces), inner=tuple(_with_each_row(inner, change) for inner in branch.inner))
        for branch in split.branches
    )
    return replace(split, branches=tuple(branches))


def as_delivered(candidate: Candidate) -> FillLoop:
    """A candidate as the tank gets its water with all throttles wide open, say the bundle that is to be bought."""
    splits, lift = [], _lift_m(candidate.pieces)
    for split in candidate.splits:
        splits.append(_opened(split))
        lift += _lowest_m(split)
    opened = replace(
        candidate, pieces=_without_lift(candidate.pieces), splits=tuple(splits), ceiling_m3s=math.inf, throttled=False
    )
    return FillLoop(candidate=opened, lift_m=lift)


def _lowest_m(split: SplitPieces) -> float:
    """How high the water is lifted by the branch that lifts it least, in m."""
    return min(_lift_m(branch.pieces) + sum(map(_lowest_m, branch.inner)) for branch in split.branches)


def _opened(split: SplitPieces) -> SplitPieces:
    """A split with its throttles wide open that lifts the water by what one branch does more than the other alone."""
    branches = []
    for branch in split.branches:
        height = _lift_m(branch.pieces) + sum(map(_lowest_m, branch.inner))
        pieces = _without_lift(branch.pieces, height - _lowest_m(split))
        branches.append(replace(branch, pieces=pieces, inner=tuple(map(_opened, branch.inner)), throttles=False))
    return replace(split, branches=tuple(branches))


def _lift_m(pieces: Row) -> float:
    return sum(piece.loss.lift_m for piece in pieces)


def _without_lift(pieces: Row, left_m: float = 0.0) -> Row:
    """Pieces that lift the water no more, the last of them but for what is left."""
    made = [replace(piece, loss=replace(piece.loss, lift_m=0.0)) if piece.loss.lift_m else piece for piece in pieces]
    if left_m and not made:  # there is nothing but branches within the branch
        return (Piece(part="", installed=True, loss=Loss(lift_m=left_m)),)
    if left_m:
        made[-1] = replace(made[-1], loss=replace(made[-1].loss, lift_m=left_m))
    return tuple(made)


def cleaned(rig: Rig, state: Iterable[str]) -> Rig:
    """The rig with what its state calls clean."""
    kinds = {kind for word in state for kind in CLEANED.get(word, ())}
    trays = rig.trays
    if Kind.MEDIUM in kinds:
        trays = tuple(replace(tray, state=tray.state.cleaned()) for tray in trays)
    washed = replace(rig, trays=trays)
    return washed.with_each(lambda place: replace(place, state=place.state.cleaned()) if place.kind in kinds else place)


def _is_off(piece: Piece, words: tuple[str, ...]) -> bool:
    sort = sort_of(piece.resistance)
    guard = GUARD_OFF in words and sort in (GUARD, BLOCKED_GUARD, GUARD_CAKE)
    return guard or (MEDIA_OUT in words and sort in (MEDIA, FILLED_MEDIA, CAKE))


def _cut(rig: Rig, words: tuple[str, ...]) -> int | None:
    """The last position that the water still passes where the return hose is off: the coupling nearest the pump that all the
    water passes. None: it is on."""
    if HOSE_OFF not in words:
        return None
    positions, body = rig.positions, max(rig.index(Kind.PUMP), rig.index(Kind.CANISTER))
    fittings = [n for n in range(body + 1, len(positions)) if positions[n].kind == Kind.FITTING and positions[n].installed]
    return fittings[0] if fittings else body


def _left_open(positions: Sequence[Position], loop: Candidate) -> Candidate:
    """The loop where its water leaves behind the last part of some positions, or of each of the branches that they end with."""
    last = [position for position in positions if position.kind != Kind.OUTLET and position.holds_something][-1]
    if not last.branches:
        return replace(loop, pieces=(*loop.pieces, _open_end(last.installed, loop.pieces)))
    if last.meeting is not None:
        return replace(loop, pieces=(*loop.pieces, _mouth(last.meeting.id, last.meeting.outlet.bore_m)))
    return replace(loop, splits=(*loop.splits[:-1], _opened_ends(last, loop.splits[-1])))


def _opened_ends(last: Position, split: SplitPieces) -> SplitPieces:
    """Branches that end in the tank, where the water leaves behind the last part of each."""
    opened = []
    for number, (branch, inside) in enumerate(zip(split.branches, last.branches, strict=True)):
        held = [each for each in inside.positions if each.kind != Kind.OUTLET and each.holds_something]
        end = leg(last.parting, number, True)
        if held and held[-1].branches:
            opened.append(replace(branch, inner=(*branch.inner[:-1], _opened_ends(held[-1], branch.inner[-1]))))
            continue
        if held:
            mouth = _open_end(held[-1].installed, branch.pieces)
        elif last.parting is not None and end is not None:
            mouth = _mouth(last.parting.id, end.bore_m)
        opened.append(replace(branch, pieces=(*branch.pieces, mouth)))
    return replace(split, branches=tuple(opened))


def _open_end(part: Part | None, pieces: Row) -> Piece:
    """All velocity head is lost where the water leaves the bore of the last part of a row of pieces."""
    run = next((piece for piece in reversed(pieces) if piece.loss.run is not None), None)
    if part is not None and run is not None and run.loss.run is not None and run.part == part.id:
        return replace(run, loss=_into_open(run.loss.run.bore_m), resistance="", friction="")
    end = None if part is None else ends_of(part)[1]
    if part is None or end is None:
        raise ValueError("no water can leave where no part ends")
    return _mouth(part.id, end.bore_m)


def _mouth(part: str, bore_m: float) -> Piece:
    return Piece(part=part, installed=True, loss=_into_open(bore_m), bore=FITTING_BORES)


def _into_open(bore_m: float) -> Loss:
    return Loss(quadratic=INTO_VESSEL_K * velocity_quadratic(bore_m))


def fill_loop_flows(made: FillLoop, factors: Factors) -> Reals:
    """Flow in every draw, (draws,) in m3/s; 0 where the pump cannot lift the water.

    Raises ArithmeticError if a draw could not be solved.
    """
    loops = scaled_loops(made.candidate, factors)
    if made.lift_m >= 0.0:
        loops = replace(loops, lift_m=loops.lift_m + made.lift_m)
    else:
        loops = replace(loops, **loops.pumps.fed(-made.lift_m).columns)
    return np.minimum(solved_m3s(loops), made.candidate.ceiling_m3s)
