"""Where the head of the installed loop goes, place by place, with whatever factors the measurements leave."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Candidate
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.installed import installed
from optimizer.bands.series import scaled_loops, series_flows
from optimizer.loop.pieces import Piece
from optimizer.measure.arranged import cleaned
from optimizer.measure.calibrate import Posterior
from optimizer.model.diagnosis import FittedHead
from optimizer.model.fill import CLEAN
from optimizer.model.losses import Loss
from optimizer.model.parts import Kind
from optimizer.model.rig import Rig

Reals = NDArray[np.float64]

JOINS = " - "
"""How the draws name what joins two parts; no place has it in its name."""

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
    for place in _order(cases[0], cases[1], cases[2]):
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


def _order(*cases: Mapping[str, float]) -> list[str]:
    """Places as they come, joints last."""
    names = dict.fromkeys(name for case in cases for name in case)
    return [*(name for name in names if name != JOINTS), *([JOINTS] if JOINTS in names else [])]


def _heads_m(rig: Rig, posterior: Posterior, normals: Reals) -> dict[str, float]:
    factors = Factors(Draws(unknowns=posterior.unknowns, normals=normals[None, :]), posterior.priors)
    return place_heads_m(rig, factors)


def place_heads_m(rig: Rig, factors: Factors) -> dict[str, float]:
    """Head in m that each place takes at the loop's own flow in the first draw, all joints together as one place.

    The lift of the outlet belongs to the outlet. Trays are places of their own.
    """
    loop = installed(rig)
    flow = series_flows(loop, factors)
    heads: dict[str, float] = {}
    for piece, place in zip(loop.pieces, piece_places(rig, loop), strict=True):
        name = JOINTS if JOINS in place else place
        head = _piece_head_m(loop, piece, factors, flow)
        if head or piece.curve is None:
            heads[name] = heads.get(name, 0.0) + head
    return heads


def piece_places(rig: Rig, loop: Candidate) -> tuple[str, ...]:
    """The place of each piece of the installed loop; of a joint those on both of its sides, with `JOINS` between.

    Two places may hold the same part, so parts are called after their places and the loop is taken apart once more.
    """
    body = rig.positions[rig.index(Kind.CANISTER)].name
    named = replace(
        rig,
        positions=tuple(
            p if p.installed is None else replace(p, installed=replace(p.installed, id=p.name)) for p in rig.positions
        ),
        trays=tuple(
            tray if tray.medium is None else replace(tray, medium=replace(tray.medium, id=f"{body} tray {n}"))
            for n, tray in enumerate(rig.trays, start=1)
        ),
    )
    places = tuple(piece.part for piece in installed(named).pieces)
    if len(places) != len(loop.pieces):
        raise RuntimeError(f"the loop of {rig.name} fell into other pieces when its parts were renamed")
    return places


def _piece_head_m(loop: Candidate, piece: Piece, factors: Factors, flow_m3s: Reals) -> float:
    """Head of one piece at the flow, by the same terms as the loop itself is solved with."""
    pump = replace(next(each for each in loop.pieces if each.curve is not None), loss=Loss())
    alone = (piece,) if piece.curve is not None else (piece, pump)
    terms = scaled_loops(replace(loop, pieces=alone), factors)
    head = terms.lift_m + terms.linear * flow_m3s + terms.quadratic * flow_m3s**2 + terms.friction_m(flow_m3s)
    return float(head[0])
