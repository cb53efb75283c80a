"""The loop as it stands during a fill: what is off or clean, and where the water leaves.

Lift and siphon come from the loop model. A mouth below the tank's water line adds its depth to the pump's head: then the
loop's losses and the pump's own fall must use up more than the pump's head at no flow.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Candidate
from optimizer.bands.draws import Factors
from optimizer.bands.installed import installed
from optimizer.bands.series import RELATIVE, scaled_loops
from optimizer.loop.batch import flows
from optimizer.loop.kinds import ends_of
from optimizer.loop.pieces import Piece
from optimizer.loop.terms import INTO_VESSEL_K, velocity_quadratic
from optimizer.model.fill import (
    CLEAN,
    GUARD_CLEAN,
    GUARD_OFF,
    HOSE_OFF,
    HOSES_CLEAN,
    MEDIA_CLEAN,
    MEDIA_OUT,
    OUTLET_OFF,
    PUMP_CLEAN,
)
from optimizer.model.losses import Loss
from optimizer.model.parts import Hose, Kind
from optimizer.model.rig import Position, Rig
from optimizer.model.unknowns import BLOCKED_GUARD, FILLED_MEDIA, FITTING_BORES, GUARD, MEDIA

Reals = NDArray[np.float64]

CLEANED: dict[str, tuple[str, ...]] = {
    CLEAN: (Kind.GUARD, Kind.HOSE, Kind.FITTING, Kind.OUTLET, Kind.MEDIUM, Kind.PUMP),
    GUARD_CLEAN: (Kind.GUARD,),
    MEDIA_CLEAN: (Kind.MEDIUM,),
    HOSES_CLEAN: (Kind.HOSE, Kind.FITTING, Kind.OUTLET),
    PUMP_CLEAN: (Kind.PUMP,),
}
"""Kinds of part that a word of the state says are clean."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arranged:
    """A loop without its own lift, and the height of its mouth above the tank's water line in m (negative: below)."""

    candidate: Candidate
    lift_m: float


def arranged(rig: Rig, state: Iterable[str] = (), height_m: float | None = None) -> Arranged:
    """The installed loop of a rig in a state (words of `FILL_STATES`), its water leaving at ``height_m``.

    Without a height it is what the tank gets: a mouth under water asks for no lift.
    """
    words = tuple(state)
    after = cleaned(rig, words)
    upto = _cut(after, words)
    loop = installed(after, upto=upto)
    pieces = [piece for piece in loop.pieces if not _is_off(piece, words)]
    if upto is not None:
        pieces.append(_open_end(after.positions[upto], loop))
    made = as_delivered(replace(loop, pieces=tuple(pieces)))
    return made if height_m is None else replace(made, lift_m=height_m)


def as_delivered(candidate: Candidate) -> Arranged:
    """A candidate as the tank gets its water, say the bundle that is to be bought."""
    lift = sum(piece.loss.lift_m for piece in candidate.pieces)
    pieces = tuple(replace(piece, loss=replace(piece.loss, lift_m=0.0)) for piece in candidate.pieces)
    return Arranged(candidate=replace(candidate, pieces=pieces), lift_m=lift)


def cleaned(rig: Rig, state: Iterable[str]) -> Rig:
    """The rig with what its state calls clean."""
    kinds = {kind for word in state for kind in CLEANED.get(word, ())}
    positions = tuple(replace(p, state=p.state.cleaned()) if p.kind in kinds else p for p in rig.positions)
    trays = rig.trays
    if Kind.MEDIUM in kinds:
        trays = tuple(replace(tray, state=tray.state.cleaned()) for tray in trays)
    return replace(rig, positions=positions, trays=trays)


def _is_off(piece: Piece, words: tuple[str, ...]) -> bool:
    guard = GUARD_OFF in words and piece.resistance in (GUARD, BLOCKED_GUARD)
    return guard or (MEDIA_OUT in words and piece.resistance in (MEDIA, FILLED_MEDIA))


def _cut(rig: Rig, words: tuple[str, ...]) -> int | None:
    """The last position that the water still passes: the coupling nearest the pump, or the place before the outlet."""
    positions = rig.positions
    if HOSE_OFF in words:
        body = max(rig.index(Kind.PUMP), rig.index(Kind.CANISTER))
        fittings = [n for n in range(body + 1, len(positions)) if positions[n].kind == Kind.FITTING and positions[n].installed]
        return fittings[0] if fittings else body
    if OUTLET_OFF in words:
        return max(n for n, position in enumerate(positions[:-1]) if position.installed is not None)
    return None


def _open_end(position: Position, loop: Candidate) -> Piece:
    """All velocity head is lost where the water leaves the bore of the last part."""
    part = position.installed
    if isinstance(part, Hose):
        run = next(piece for piece in reversed(loop.pieces) if piece.loss.run is not None)
        bore = run.loss.run.bore_m if run.loss.run is not None else part.inside_m
        return replace(run, loss=Loss(quadratic=INTO_VESSEL_K * velocity_quadratic(bore)), resistance="", friction="")
    end = None if part is None else ends_of(part)[1]
    if part is None or end is None:
        raise ValueError(f"no water can leave at {position.name}")
    mouth = Loss(quadratic=INTO_VESSEL_K * velocity_quadratic(end.bore_m))
    return Piece(part=part.id, installed=True, loss=mouth, bore=FITTING_BORES)


def arranged_flows(made: Arranged, factors: Factors) -> Reals:
    """Flow in every draw, (draws,) in m3/s; 0 where the pump cannot lift the water.

    Raises ArithmeticError if a draw could not be solved.
    """
    loops = scaled_loops(made.candidate, factors)
    if made.lift_m >= 0.0:
        loops = replace(loops, lift_m=np.full(factors.count, made.lift_m))
    else:
        loops = replace(loops, **loops.pumps.fed(-made.lift_m).columns)
    return np.minimum(flows(loops, RELATIVE), made.candidate.ceiling_m3s)
