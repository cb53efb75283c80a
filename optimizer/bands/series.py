"""Delivered flow of one series candidate in every draw, by the batch solver of `loop/batch.py`.

This is the one place that knows how a factor acts on a loop, tees aside: a candidate with branches is solved in `branched.py`,
which takes its terms from here.
"""

from collections.abc import Callable, Sequence
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Candidate
from optimizer.bands.draws import Factors
from optimizer.loop.batch import Loops, flows
from optimizer.loop.pieces import Piece
from optimizer.loop.pump_heads import USUAL_SHAPE, Pumps
from optimizer.model.losses import Run

Reals = NDArray[np.float64]


class Scales(Protocol):
    """Factors of parts in one draw or many, such as `Factors`."""

    @property
    def count(self) -> int:
        """How many draws there are."""

    def of(self, prior: str, part: str) -> Reals:
        """Factor of one part, of shape (draws,); ones for no prior (empty name)."""


Flows = Callable[[Candidate, Factors], Reals]
"""Delivered flow of a candidate in every draw, (draws,) in m3/s."""

RELATIVE = 1e-9
"""Accuracy of the flows, far below what a draw means."""

LEAST_BORE = 0.1
"""A film leaves at least this share of a bore open, as in `loop/terms.py`."""

LEAST_SHAPE, MOST_SHAPE = 1.0, 4.0
"""Exponents that a label curve may have, as in `model/parts.py`."""


def series_flows(candidate: Candidate, factors: Factors) -> Reals:
    """Delivered flow of a candidate in every draw, (draws,) in m3/s: its own, or the ceiling that a throttle holds it to.

    Raises ArithmeticError if a draw could not be solved.
    """
    return np.minimum(flows(scaled_loops(candidate, factors), RELATIVE), candidate.ceiling_m3s)


def scaled_loops(candidate: Candidate, factors: Factors) -> Loops:
    """One loop per draw: the candidate's terms, each scaled by its factors. Raises ValueError for a candidate with branches."""
    if candidate.splits:
        raise ValueError(f"{candidate.name} holds branches, which are no loop in series")
    lift, linear, quadratic, runs = scaled_terms(candidate.pieces, factors)
    pump = next(piece for piece in candidate.pieces if piece.curve is not None)
    return Loops(
        lift_m=lift,
        linear=linear,
        quadratic=quadratic,
        kinematic_m2s=candidate.kinematic_m2s,
        **runs,
        **_pump(pump, factors).columns,
    )


def scaled_terms(pieces: Sequence[Piece], factors: Scales) -> tuple[Reals, Reals, Reals, dict[str, Any]]:
    """Lift, linear and quadratic loss of pieces in series in every draw, each (draws,), and their runs as columns by name."""
    lift, linear, quadratic = np.zeros((3, factors.count))
    for piece in pieces:
        loss = piece.loss
        resistance = factors.of(piece.resistance, piece.part)
        lift += loss.lift_m
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
