"""How a factor acts on the pieces of a loop: what stands in series, in every draw."""

from collections.abc import Sequence
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.pieces import Piece
from optimizer.loop.terms import LEAST_OPEN
from optimizer.model.losses import Run

Reals = NDArray[np.float64]


class Scales(Protocol):
    """Factors of parts in one draw or many, such as `Factors`."""

    @property
    def count(self) -> int:
        """How many draws there are."""

    def of(self, prior: str, part: str) -> Reals:
        """Factor of one part, of shape (draws,); ones for no prior (empty name)."""


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
            of_bore = bore_scale(piece, factors) ** 4 if piece.bore or piece.film_m else 1.0
            quadratic += loss.quadratic * scale / of_bore
    runs = [(piece, piece.loss.run) for piece in pieces if piece.loss.run is not None]
    return lift, linear, quadratic, _run_columns(runs, factors)


def bore_scale(piece: Piece, factors: Scales) -> Reals:
    """The bore of a piece in every draw over its own figure: the wall's diameter scales, and so does the film on it."""
    wall = factors.of(piece.bore, piece.part)
    if not piece.film_m:
        return wall
    bare = piece.bore_m + 2.0 * piece.film_m
    film = 2.0 * piece.film_m * factors.of(piece.film, piece.part)
    open_m = np.maximum(bare * wall - film, LEAST_OPEN * bare * wall)
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
