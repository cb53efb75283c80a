"""Installed parts with the factors that fills make most probable, so that the search can go by them.

The same factors scale the same pieces as in a draw of `bands/series.py`, so that the loop as it is delivers in the search what
the calibration says it does. A factor belongs to a place in the loop and what is there: a new part of the same kind and size
takes it over, without the dirt of the old one, since fills cannot tell whether that part is to blame. Any other part that is to
be bought has the factor that its kind has in common, as in a draw: what fills say of small fittings in general is no fault of
those in place, and is not gained back by buying others.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.band import Known, nothing_more
from optimizer.bands.candidates import tray_pieces
from optimizer.bands.scaled import scaled_terms
from optimizer.bands.series import LEAST_SHAPE, MOST_SHAPE
from optimizer.loop.kinds import parts_of, pieces_of
from optimizer.loop.pieces import Piece
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import Canister, Guard, Medium, Outlet, Part, Pump, PumpCurve
from optimizer.model.rig import Position
from optimizer.model.state import State
from optimizer.model.unknowns import (
    BLOCKED_GUARD,
    CAKE,
    FILLED_MEDIA,
    FITTING_BORES,
    FITTINGS,
    GUARD,
    GUARD_CAKE,
    MEDIA,
    OUTLET,
    OUTLET_BORES,
    assumed,
    sort_of,
)
from optimizer.model.usual_figures import bores_assumed, unknown_of
from optimizer.physics.water import Water

Reals = NDArray[np.float64]

MEDIA_POWER = 0.5
"""A medium's quadratic loss goes with this power of the factor of its linear one, as in `tray_pieces`."""


@dataclass(frozen=True, eq=False)
class FittedParts:
    """`model.fitted.Fitted` by factors, each under its prior and its part; of other parts what their kind has in common, or 1.

    >>> fitted = FittedParts({("fittings", "A - B"): 1.5}, {"fittings": 1.2})
    >>> fitted.of("fittings", "A - B").tolist(), fitted.of("fittings", "C").tolist(), fitted.of("media", "F").tolist()
    ([1.5], [1.2], [1.0])
    """

    factors: Mapping[tuple[str, str], float]
    commons: Mapping[str, float] = field(default_factory=dict)
    """By prior, for parts that are not among ``factors``."""
    known: Known = nothing_more
    """What the fills make of the factors of draws."""

    @property
    def count(self) -> int:
        """Stands for one draw."""
        return 1

    def of(self, prior: str, part: str) -> Reals:
        """Factor of one part, of shape (1,), as `bands.draws.Factors` has it."""
        return np.array([self.factors.get((prior, part), self.commons.get(prior, 1.0))])

    def part(self, part: Part, state: State, position: Position, water: Water, start: State | None = None) -> tuple[Part, Loss]:
        """See `model.fitted.Fitted`."""
        pieces = [_since(piece, start or state) for piece in pieces_of(part, state, position, water)]
        for pump in parts_of([part], Pump):
            return self._pump(pump, pieces[0]), Loss()
        lift, linear, quadratic, runs = scaled_terms(pieces, self)
        run = next((piece.loss.run for piece in pieces if piece.loss.run is not None), None)
        still = sum(piece.loss.lift_m for piece in pieces)
        return part, Loss(
            lift_m=still,
            crack_m=float(lift[0]) - still,
            linear=float(linear[0]),
            quadratic=float(quadratic[0]),
            run=_run(run, runs),
        )

    def tray(self, medium: Medium, state: State, canister: Canister, water: Water, start: State | None = None) -> Loss:
        """See `model.fitted.Fitted`."""
        pieces = [_since(piece, start or state) for piece in tray_pieces(water, canister, medium, state)]
        _, linear, quadratic, _ = scaled_terms(pieces, self)
        return Loss(linear=float(linear[0]), quadratic=float(quadratic[0]))

    def guard_scales(self, guard: Guard, start: State) -> tuple[float, float, float]:
        """See `model.fitted.Fitted`."""
        screen = self.of(unknown_of(BLOCKED_GUARD if start.blocked else GUARD, guard), guard.id)
        return float(screen[0]), self._fitting(guard), float(self.of(GUARD_CAKE, guard.id)[0])

    def tray_scales(self, medium: Medium, start: State) -> tuple[float, float, float]:
        """See `model.fitted.Fitted`."""
        scale = float(self.of(unknown_of(FILLED_MEDIA if start.filled else MEDIA, medium), medium.id)[0])
        return scale, scale**MEDIA_POWER, float(self.of(CAKE, medium.id)[0])

    def bar_scales(self, bar: Outlet) -> tuple[float, float]:
        """See `model.fitted.Fitted`."""
        jets = float(self.of(OUTLET, bar.id)[0] / self.of(unknown_of(OUTLET_BORES, bar), bar.id)[0] ** 4)
        return self._fitting(bar), jets

    def joint(self, before: Part, after: Part) -> float:
        """See `model.fitted.Fitted`."""
        bores = assumed(FITTING_BORES) if bores_assumed(before, after) else FITTING_BORES
        return self._loss(f"{before.id} - {after.id}", bores)

    @property
    def new_joints(self) -> float:
        """See `model.fitted.Fitted`."""
        return self._loss("", FITTING_BORES)

    def tee(self, tee: Part) -> float:
        """See `model.fitted.Fitted`."""
        return self._fitting(tee)

    def _fitting(self, part: Part) -> float:
        """What the loss of a part is multiplied by that hangs on a formula and on its bores."""
        return self._loss(part.id, unknown_of(FITTING_BORES, part))

    def _loss(self, name: str, bores: str) -> float:
        return float(self.of(FITTINGS, name)[0] / self.of(bores, name)[0] ** 4)

    def _pump(self, pump: Pump, piece: Piece) -> Pump:
        head, flow, shape = (float(self.of(name, pump.id)[0]) for name in (piece.head, piece.flow, piece.shape))
        curve = pump.curve
        return replace(
            pump,
            curve=PumpCurve(
                flows_m3s=tuple(flow * each for each in curve.flows_m3s),
                heads_m=tuple(head * each for each in curve.heads_m),
                shape=min(max(shape * curve.shape, LEAST_SHAPE), MOST_SHAPE) if curve.shape else curve.shape,
            ),
        )


def _since(piece: Piece, start: State) -> Piece:
    """A piece whose factors of dirt are those of the dirt it started with."""
    dirty = sort_of(piece.resistance)
    clean = {BLOCKED_GUARD: start.blocked, FILLED_MEDIA: start.filled}.get(dirty) == 0.0
    fresh = {BLOCKED_GUARD: GUARD, FILLED_MEDIA: MEDIA}
    return replace(
        piece,
        resistance=piece.resistance.replace(dirty, fresh[dirty]) if clean else piece.resistance,
        film=piece.film if start.film_m else "",
    )


def _run(stated: Run | None, runs: Mapping[str, Reals]) -> Run | None:
    if stated is None:
        return None
    return replace(stated, bore_m=float(runs["run_bore_m"][0, 0]), factor=float(runs["run_factor"][0, 0]))
