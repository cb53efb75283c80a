"""Where the head of the installed loop goes, place by place, with whatever factors the measurements leave."""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Candidate
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.installed import installed
from optimizer.bands.series import branch_heads_m, delivered_m3s, scaled_loops
from optimizer.loop.pieces import Piece
from optimizer.measure.calibrate import Posterior
from optimizer.measure.fill_loop import cleaned
from optimizer.model.diagnosis import FittedHead
from optimizer.model.fill import CLEAN
from optimizer.model.losses import Loss
from optimizer.model.part_names import tray_place
from optimizer.model.parts import Kind
from optimizer.model.rig import MEETING, PARTING, Position, Rig, tee_place

Reals = NDArray[np.float64]

JOINTS = "joints"


def fitted_heads(rig: Rig, posterior: Posterior) -> tuple[FittedHead, ...]:
    """The table of heads: as the file has it, as fitted, and as fitted after a clean, in the order of the water.

    The posterior is one of `result.posterior_of` of the same rig.
    """
    still, most_probable = np.zeros(len(posterior.unknowns)), posterior.mean
    three = ((rig, still), (rig, most_probable), (cleaned(rig, (CLEAN,)), most_probable))
    cases = [_heads_m(one, posterior, normals) for one, normals in three]
    totals = [sum(case.values()) or 1.0 for case in cases]
    lines = []
    for place in _order(rig, (name for case in cases for name in case)):
        heads = [case.get(place, 0.0) for case in cases]
        shares = [head / total for head, total in zip(heads, totals, strict=True)]
        lines.append(
            FittedHead(
                place=place,
                file_m=heads[0],
                file_share=shares[0],
                fitted_m=heads[1],
                fitted_share=shares[1],
                clean_m=heads[2],
                clean_share=shares[2],
            )
        )
    return tuple(lines)


def _order(rig: Rig, names: Iterable[str]) -> list[str]:
    """Places as the water comes by them, joints last."""
    places = [place for position in rig.as_it_stands.positions for place in (position.name, *_tray_places(rig, position))]
    return sorted(dict.fromkeys(names), key=[*places, JOINTS].index)


def _tray_places(rig: Rig, position: Position) -> list[str]:
    trays = len(rig.trays) if position.kind == Kind.CANISTER else 0
    return [tray_place(position.name, n) for n in range(1, trays + 1)]


def _heads_m(rig: Rig, posterior: Posterior, normals: Reals) -> dict[str, float]:
    factors = Factors(Draws(unknowns=posterior.unknowns, normals=normals[None, :]), posterior.priors)
    return place_heads_m(rig, factors)


def place_heads_m(rig: Rig, factors: Factors) -> dict[str, float]:
    """Head in m that each place takes at the loop's own flow in the first draw, all joints together as one place, and branches
    side by side with their tees as another.

    The lift of the outlet belongs to the outlet. Trays are places of their own.
    """
    loop, branched = installed(rig), [position for position in rig.as_it_stands.positions if position.branches]
    flow = delivered_m3s(loop, factors)
    tees = {tee_place(position, where): position.name for position in branched for where in (PARTING, MEETING)}
    heads: dict[str, float] = {}
    for piece in loop.pieces:
        place = piece.places[0] if len(piece.places) == 1 else JOINTS
        name = tees.get(place, place)
        head = _piece_head_m(loop, piece, factors, flow)
        if head or piece.curve is None:
            heads[name] = heads.get(name, 0.0) + head
    for position, head_m in zip(branched, branch_heads_m(loop, factors, flow), strict=True):
        heads[position.name] = heads.get(position.name, 0.0) + float(head_m[0])
    return heads


def _piece_head_m(loop: Candidate, piece: Piece, factors: Factors, flow_m3s: Reals) -> float:
    """Head of one piece at the flow, by the same terms as the loop itself is solved with."""
    pump = replace(next(each for each in loop.pieces if each.curve is not None), loss=Loss())
    alone = (piece,) if piece.curve is not None else (piece, pump)
    terms = scaled_loops(replace(loop, pieces=alone, splits=()), factors)
    head = terms.lift_m + terms.linear * flow_m3s + terms.quadratic * flow_m3s**2 + terms.friction_m(flow_m3s)
    return float(head[0])
