"""Delivered flow of one candidate in every draw, in series or with branches, by the batch solver of `loop/batch.py`.

How a factor acts on a piece stands in `scaled.py`, what branches and tees add in `branched.py`.
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Candidate
from optimizer.bands.draws import Factors
from optimizer.bands.scaled import scaled_terms
from optimizer.loop.batch import Loops, flows
from optimizer.loop.pieces import Piece
from optimizer.loop.pump_heads import USUAL_SHAPE, Pumps

if TYPE_CHECKING:
    from optimizer.loop.split_variants import SplitVariants

Reals = NDArray[np.float64]


RELATIVE, BRANCHED_RELATIVE = 1e-9, 1e-11
"""Accuracy of the flows, far below what a draw means. Where a branch comes to a stand or a throttle takes hold the loss has a
kink, over which the solver's last step may be much less sure than elsewhere."""

LEAST_SHAPE, MOST_SHAPE = 1.0, 4.0
"""Exponents that a label curve may have, as in `model/parts.py`."""


def delivered_m3s(candidate: Candidate, factors: Factors) -> Reals:
    """Delivered flow of a candidate in every draw, (draws,) in m3/s: its own, or what a throttle holds it to for the limits or
    for what the parts in its branches allow.

    Raises ArithmeticError if a draw could not be solved.
    """
    flow = np.minimum(own_m3s(candidate, factors), candidate.ceiling_m3s)
    if candidate.throttled:
        for split in _splits(candidate, factors):
            flow = split.within_most(flow)
    return flow


def own_m3s(candidate: Candidate, factors: Factors) -> Reals:
    """The same with no throttle but those in the branches."""
    return solved_m3s(scaled_loops(candidate, factors))


def solved_m3s(loops: Loops) -> Reals:
    """Flow of every loop in m3/s, as accurate as draws need it; raises as `batch.flows`."""
    return flows(loops, BRANCHED_RELATIVE if loops.splits else RELATIVE)


def branches_keep(candidate: Candidate, factors: Factors, flow_m3s: Reals) -> NDArray[np.bool_]:
    """Whether (draws,) every branch gets what its parts need, and no more than they allow, at delivered flows (draws,)."""
    kept = np.ones(factors.count, dtype=bool)
    for split in _splits(candidate, factors):
        kept &= split.keeps(flow_m3s)
    return kept


def branch_heads_m(candidate: Candidate, factors: Factors, flow_m3s: Reals) -> list[Reals]:
    """Head (draws,) in m that each pair of branches loses with its tees at total flows (draws,)."""
    return [split.state(flow_m3s).head_m for split in _splits(candidate, factors)]


def scaled_loops(candidate: Candidate, factors: Factors) -> Loops:
    """One loop per draw: the candidate's terms, each scaled by its factors."""
    lift, linear, quadratic, runs = scaled_terms(candidate.pieces, factors)
    pump = next(piece for piece in candidate.pieces if piece.curve is not None)
    splits = _splits(candidate, factors)
    return Loops(
        lift_m=sum((split.lift_m for split in splits), start=lift),
        linear=linear,
        quadratic=quadratic,
        kinematic_m2s=candidate.kinematic_m2s,
        splits=splits,
        **runs,
        **scaled_pump(pump, factors).columns,
    )


def _splits(candidate: Candidate, factors: Factors) -> "tuple[SplitVariants, ...]":
    """The candidate's branches in every draw."""
    if not candidate.splits:
        return ()
    from optimizer.bands.branched import scaled_splits  # a loop without branches starts quicker without it

    return scaled_splits(candidate, factors)


def scaled_pump(pump: Piece, factors: Factors) -> Pumps:
    """The pump in every draw, at its speed."""
    curve = pump.curve
    if curve is None:
        raise ValueError(f"{pump.part} is no pump")
    head = factors.of(pump.head, pump.part) * pump.speed**2
    flow = factors.of(pump.flow, pump.part) * pump.speed
    shape = np.clip(factors.of(pump.shape, pump.part) * (curve.shape or USUAL_SHAPE), LEAST_SHAPE, MOST_SHAPE)
    return Pumps.scaled(curve, flow, head, shape)
