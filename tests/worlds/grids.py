"""A loop of three unknowns with a closed form, and its posterior by brute force on a grid."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from band_cases import KINEMATIC_M2S, lognormal

from optimizer.bands.candidates import Candidate
from optimizer.loop.pieces import Piece
from optimizer.measure.fill_loop import FillLoop
from optimizer.measure.observations import FlowObservation
from optimizer.model.losses import Loss
from optimizer.model.parts import PumpCurve
from optimizer.model.unknowns import FITTINGS, GUARD, PUMP_FLOW, PUMP_HEAD

HEAD_M, LINEAR, QUADRATIC = 2.0, 6e3, 2e7
SIGMAS = {PUMP_HEAD: 0.06, FITTINGS: 0.26, GUARD: 0.3}
THREE = {name: lognormal(name, sigma) for name, sigma in (SIGMAS | {PUMP_FLOW: 0.05}).items()}
"""Priors without anything in common, so that each has one unknown that matters."""


def three(guard: bool = True, lift_m: float = 0.0, name: str = "three") -> FillLoop:
    """A pump of constant head against a quadratic loss (fittings) and, with the ``guard`` on, a linear one."""
    curve = PumpCurve(flows_m3s=(0.0, 1e4), heads_m=(HEAD_M, 0.0), shape=2.0)
    pieces = [
        Piece(part="P", installed=True, curve=curve, head=PUMP_HEAD),
        Piece(part="F", installed=True, loss=Loss(quadratic=QUADRATIC), resistance=FITTINGS),
    ]
    if guard:
        pieces.append(Piece(part="G", installed=True, loss=Loss(linear=LINEAR), resistance=GUARD))
    return FillLoop(candidate=Candidate(name=name, pieces=tuple(pieces), kinematic_m2s=KINEMATIC_M2S), lift_m=lift_m)


def log_flow(z: np.ndarray, guard: bool = True, lift_m: float = 0.0) -> np.ndarray:
    """ln Q from H - z = a Q + b Q2 at whitened factors (pump head, fittings, guard) on the first axis."""
    head, loss, screen = (np.exp(sigma * each) for sigma, each in zip(SIGMAS.values(), z, strict=True))
    a, b = LINEAR * screen * guard, QUADRATIC * loss
    return np.log((np.sqrt(a * a + 4.0 * b * np.maximum(HEAD_M * head - lift_m, 1e-12)) - a) / (2.0 * b))


@dataclass(frozen=True)
class Datum:
    """One measured flow of the loop of three."""

    log_value: float
    relative: float
    guard: bool = True
    lift_m: float = 0.0

    def seen(self, label: str = "fill") -> FlowObservation:
        """The same as the calibration takes it."""
        return FlowObservation(label=label, loop=three(self.guard, self.lift_m), log_value=self.log_value, relative=self.relative)


@dataclass(frozen=True)
class Grid:
    """The posterior as weights on a grid of whitened factors (3, n)."""

    z: np.ndarray
    losses: np.ndarray
    weights: np.ndarray

    @classmethod
    def of(cls, data: Sequence[Datum], points: int = 81, reach: float = 5.0) -> "Grid":
        """Prior times likelihood at every point."""
        axis = np.linspace(-reach, reach, points)
        z = np.stack(np.meshgrid(axis, axis, axis, indexing="ij")).reshape(3, -1)
        losses = cls.loss(z, data)
        weights = np.exp(losses.min() - losses)
        return cls(z, losses, weights / weights.sum())

    @staticmethod
    def loss(z: np.ndarray, data: Sequence[Datum]) -> np.ndarray:
        """Less the logarithm of prior times likelihood at whitened factors (3, ...)."""
        loss = 0.5 * (z**2).sum(axis=0)
        for datum in data:
            loss = loss + 0.5 * ((datum.log_value - log_flow(z, datum.guard, datum.lift_m)) / datum.relative) ** 2
        return np.asarray(loss)

    def mean_and_variance(self, values: np.ndarray) -> tuple[float, float]:
        """Of any function of the factors."""
        mean = float(self.weights @ values)
        return mean, float(self.weights @ (values - mean) ** 2)
