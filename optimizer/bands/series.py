"""Delivered flow of one candidate in every draw, in series or with branches, by the batch solver of `loop/batch.py`.

This is the one place that knows how a factor acts on a loop; what branches and tees add is in `branched.py`.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Candidate
from optimizer.bands.draws import Factors
from optimizer.loop.batch import Loops, flows
from optimizer.loop.pieces import Piece
from optimizer.loop.pump_heads import USUAL_SHAPE, Pumps
from optimizer.model.losses import Run

if TYPE_CHECKING:
    from optimizer.loop.split_variants import SplitVariants

Reals = NDArray[np.float64]


class Scales(Protocol):
    """Factors of parts in one draw or many, such as `Factors`."""

    @property
    def count(self) -> int:
        """How many draws there are."""

    def of(self, prior: str, part: str) -> Reals:
        """Factor of one part, of shape (draws,); ones for no prior (empty name)."""


RELATIVE, BRANCHED_RELATIVE = 1e-9, 1e-11
"""Accuracy of the flows, far below what a draw means. Where a branch comes to a stand or a throttle takes hold the loss has a
kink, over which the solver's last step may be much less sure than elsewhere."""

LEAST_BORE = 0.1
"""A film leaves at least this share of a bore open, as in `loop/terms.py`."""

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
        **_pump(pump, factors).columns,
    )


def _splits(candidate: Candidate, factors: Factors) -> "tuple[SplitVariants, ...]":
    """The candidate's branches in every draw."""
    if not candidate.splits:
        return ()
    from optimizer.bands.branched import scaled_splits  # a loop without branches starts quicker without it

    return scaled_splits(candidate, factors)


def scaled_terms(pieces: Sequence[Piece], factors: Scales) -> tuple[Reals, Reals, Reals, dict[str, Any]]:
    """Lift, linear and quadratic loss of pieces in series in every draw, each (draws,), and their runs as columns by name."""
    lift, linear, quadratic = np.zeros((3, factors.count))
    for piece in pieces:
        loss = piece.loss
        resistance = factors.of(piece.resistance, piece.part)
        lift += loss.lift_m
        if loss.crack_m:
            lift += loss.crack_m * factors.of(piece.crack, piece.part)
        if loss.linear:
            linear += loss.linear * resistance
        if loss.quadratic:
            scale = resistance if piece.quadratic_power == 1.0 else resistance**piece.quadratic_power
            quadratic += loss.quadratic * scale / bore_scale(piece, factors) ** 4
    runs = [(piece, piece.loss.run) for piece in pieces if piece.loss.run is not None]
    return lift, linear, quadratic, _run_columns(runs, factors)


def bore_scale(piece: Piece, factors: Scales) -> Reals:
    """The bore of a piece in every draw over its own figure: the wall's diameter scales, and so does the film on it."""
    wall = factors.of(piece.bore, piece.part)
    if not piece.film_m:
        return wall
    bare = piece.bore_m + 2.0 * piece.film_m
    film = 2.0 * piece.film_m * factors.of(piece.film, piece.part)
    open_m = np.maximum(bare * wall - film, LEAST_BORE * bare * wall)
    return np.asarray(open_m / piece.bore_m, dtype=float)


def _run_columns(runs: list[tuple[Piece, Run]], factors: Scales) -> dict[str, Any]:
    shape = (factors.count, len(runs))
    bore, factor = np.empty(shape), np.empty(shape)
    for column, (piece, run) in enumerate(runs):
        bore[:, column] = run.bore_m * bore_scale(piece, factors)
        factor[:, column] = run.factor * factors.of(piece.friction, piece.part)
    return {
        "run_bore_m": bore,
        "run_factor": factor,
        "run_length_m": np.broadcast_to([run.length_m for _, run in runs], shape),
        "run_roughness_m": np.broadcast_to([run.roughness_m for _, run in runs], shape),
        "run_coil_m": np.array([run.coil_m for _, run in runs], dtype=float),
    }


def _pump(pump: Piece, factors: Factors) -> Pumps:
    curve = pump.curve
    if curve is None:
        raise ValueError(f"{pump.part} is no pump")
    head = factors.of(pump.head, pump.part) * pump.speed**2
    flow = factors.of(pump.flow, pump.part) * pump.speed
    shape = np.clip(factors.of(pump.shape, pump.part) * (curve.shape or USUAL_SHAPE), LEAST_SHAPE, MOST_SHAPE)
    return Pumps.scaled(curve, flow, head, shape)
