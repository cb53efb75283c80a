"""What a measurement says of a loop: the number that was seen, how sure it is, and what the loop model expects there."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Unknown
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.installed import installed
from optimizer.bands.priors import PRIORS
from optimizer.loop.pieces import Piece
from optimizer.measure.fill_loop import FillLoop, fill_loop_flows, loop_during_fill
from optimizer.measure.fills import USUAL, Timing, fit_relatives, measured
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import WattsRead
from optimizer.model.rig import Rig

Reals = NDArray[np.float64]

CONTAINER = "container"
"""Name of the unknown that all fills into one container share: how far its mark is off. It belongs to no part of a loop."""

TRICKLE_M3S = 1e-9
"""Stands for no flow where a logarithm is taken."""

LEVEL_STEP_M = 0.005
"""Half width of the difference that gives the effect of the level."""

WATTS_RELATIVE = 0.15
"""Standard uncertainty of a plug-in meter at a few watts together with the tolerance of a pump's label: prior of the authors."""


class Observation(Protocol):
    """One measured number, as a logarithm. ``relative`` is its own standard uncertainty, ``mark_relative`` that of the
    container of this name (0 and empty: none)."""

    @property
    def label(self) -> str:
        """The measurement in a few words."""

    @property
    def log_value(self) -> float:
        """Natural logarithm of what was read, in SI."""

    @property
    def relative(self) -> float:
        """Standard uncertainty of the logarithm, apart from the container's."""

    @property
    def mark(self) -> str:
        """The container, or empty."""

    @property
    def mark_relative(self) -> float:
        """Standard uncertainty of the logarithm of the container's volume."""

    @property
    def unknowns(self) -> tuple[Unknown, ...]:
        """What the expectation depends on, the container included."""

    def log_expected(self, factors: Factors) -> Reals:
        """Natural logarithm of what the loop model expects in every draw, (draws,)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowObservation:
    """A flow that was measured in some arrangement of the loop."""

    label: str
    loop: FillLoop
    log_value: float
    relative: float
    mark: str = ""
    mark_relative: float = 0.0

    @classmethod
    def of(cls, label: str, loop: FillLoop, fill: TimedFill, per_m: float, timing: Timing) -> "FlowObservation":
        """A timed fill of a loop whose flow changes by ``per_m`` (dlnQ/dz, 1/m) with the height of its mouth."""
        found = measured(fill, per_m, timing)
        own, mark = fit_relatives(found, len(fill.seconds))
        return cls(
            label=label,
            loop=loop,
            log_value=math.log(found.flow_m3s),
            relative=own,
            mark=fill.mark,
            mark_relative=mark,
        )

    @property
    def unknowns(self) -> tuple[Unknown, ...]:
        """All that scales the loop's losses and its pump, and the container."""
        own = (Unknown(prior=CONTAINER, part=self.mark),) if self.mark else ()
        return (*self.loop.candidate.unknowns, *own)

    def log_expected(self, factors: Factors) -> Reals:
        """Natural logarithm of the flow in m3/s in every draw."""
        return log_flows(self.loop, factors)


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerObservation:
    """Power drawn by the installed pump, over that of its label.

    By the affinity laws power goes with n3, head with n2 and flow with n, so the power of a pump whose head and flow are scaled
    alike all along its curve goes with the product of the two factors. That the label's watts hold for the mean pump is a
    prior of the authors.
    """

    label: str
    pump: Piece
    log_value: float
    relative: float = WATTS_RELATIVE
    mark: str = ""
    mark_relative: float = 0.0

    @property
    def unknowns(self) -> tuple[Unknown, ...]:
        """Those of the pump."""
        return tuple(Unknown(prior=name, part=part) for name in self.pump.priors for part in ("", self.pump.part))

    def log_expected(self, factors: Factors) -> Reals:
        """ln(head factor x flow factor) in every draw."""
        return np.asarray(np.log(factors.of(self.pump.head, self.pump.part) * factors.of(self.pump.flow, self.pump.part)))


def log_flows(loop: FillLoop, factors: Factors) -> Reals:
    """Natural logarithm of the flow in every draw, (draws,); no flow counts as a trickle."""
    return np.asarray(np.log(np.maximum(fill_loop_flows(loop, factors), TRICKLE_M3S)), dtype=float)


def median_factors(unknowns: Iterable[Unknown]) -> Factors:
    """One draw with every factor at its median of 1."""
    each = tuple(unknowns)
    return Factors(Draws(unknowns=each, normals=np.zeros((1, len(each)))), PRIORS)


def level_effect(loop: FillLoop) -> float:
    """dlnQ/dz of a loop at the height of its mouth, in 1/m, with every factor at its median."""
    factors = median_factors(loop.candidate.unknowns)
    low, high = (log_flows(replace(loop, lift_m=loop.lift_m + step), factors)[0] for step in (-LEVEL_STEP_M, LEVEL_STEP_M))
    return float((high - low) / (2.0 * LEVEL_STEP_M))


def seen_fill(rig: Rig, fill: TimedFill, timing: Timing = USUAL) -> FlowObservation:
    """A timed fill of the installed loop of a rig."""
    loop = loop_during_fill(rig, fill.state, fill.height_m)
    return FlowObservation.of(fill.label, loop, fill, level_effect(loop), timing)


def seen_watts(rig: Rig, read: WattsRead) -> PowerObservation:
    """A reading of the installed pump's power. A dirty or worn impeller is taken into the expectation by its speed."""
    pump = next(piece for piece in installed(rig).pieces if piece.curve is not None)
    expected = rig.pump.power_w * pump.speed**3
    return PowerObservation(
        label=f"{read.date or 'watts'}, read at the socket", pump=pump, log_value=math.log(read.power_w / expected)
    )
