"""What a measurement says of a loop: the number that was seen, how sure it is, and what the loop model expects there."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Unknown
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.priors import PRIORS
from optimizer.bands.series import scaled_pump
from optimizer.loop.pieces import Piece
from optimizer.measure.fill_loop import FillLoop, fill_loop_flows, loop_during_fill
from optimizer.measure.fills import LIMITS_FACTOR, USUAL, Timing, fit_relatives, measured
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import WattsRead
from optimizer.model.rig import Rig
from optimizer.model.unknowns import LABEL_POWER, SHUT_POWER
from optimizer.physics.pumps import power_share

Reals = NDArray[np.float64]

CONTAINER = "container"
"""Name of the unknown that all fills into one container share: how far its mark is off. It belongs to no part of a loop."""

TRICKLE_M3S = 1e-9
"""Stands for no flow where a logarithm is taken."""

LEVEL_STEP_M = 0.005
"""Half width of the difference that gives the effect of the level."""

METER_W, METER_SHARE = 1.0, 0.05
"""Half-widths of what a plug-in meter may be off, in W and as a share: common practice, no published source. The wider counts."""

SHUT_SHARE, LEAST_SHUT = 0.7, 0.2
"""Power that a small magnet-drive pump draws at no flow over that at free flow, and the least it can be: prior of the authors."""


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
    """Power drawn by the pump of a loop as it stood when a meter was read, its label ``label_w`` in W.

    By the affinity laws power goes with n3, head with n2 and flow with n, so the power of a pump whose head and flow are scaled
    alike all along its curve goes with the product of the two factors. Along the curve it rises from no flow to free flow
    (`power_share`), so watts tell where on its curve the pump stands: a loop that chokes it lowers them, and never below those
    at no flow.
    """

    label: str
    loop: FillLoop
    label_w: float
    log_value: float
    relative: float
    mark: str = ""
    mark_relative: float = 0.0

    @property
    def pump(self) -> Piece:
        """The pump of the loop."""
        return next(piece for piece in self.loop.candidate.pieces if piece.curve is not None)

    @property
    def unknowns(self) -> tuple[Unknown, ...]:
        """Those of the loop, and of the pump's power."""
        power = (Unknown(prior=name, part=part) for name in (LABEL_POWER, SHUT_POWER) for part in ("", self.pump.part))
        return (*self.loop.candidate.unknowns, *power)

    def log_expected(self, factors: Factors) -> Reals:
        """Natural logarithm of the power in W in every draw."""
        pump = self.pump
        ratio = fill_loop_flows(self.loop, factors) / scaled_pump(pump, factors).max_flow_m3s
        drawn = free_power_w(pump, self.label_w, factors) * power_share(ratio, shut_share(pump, factors))
        return np.asarray(np.log(drawn), dtype=float)

    def log_shut(self, factors: Factors) -> Reals:
        """Natural logarithm of the power in W that the pump draws at no flow in every draw."""
        pump = self.pump
        return np.asarray(np.log(free_power_w(pump, self.label_w, factors) * shut_share(pump, factors)), dtype=float)


def free_power_w(pump: Piece, label_w: float, factors: Factors) -> Reals:
    """Power of a pump at its free flow in every draw, (draws,) in W."""
    scale = factors.of(pump.head, pump.part) * factors.of(pump.flow, pump.part) * factors.of(LABEL_POWER, pump.part)
    return np.asarray(label_w * pump.speed**3 * scale, dtype=float)


def shut_share(pump: Piece, factors: Factors) -> Reals:
    """Power of a pump at no flow over that at free flow in every draw, (draws,)."""
    return np.asarray(np.clip(SHUT_SHARE * factors.of(SHUT_POWER, pump.part), LEAST_SHUT, 1.0), dtype=float)


def meter_relative(power_w: float) -> float:
    """Relative standard uncertainty of a reading for a calibration, its limits widened as those of a fill are.

    >>> round(meter_relative(10.0), 3), round(meter_relative(40.0), 3)
    (0.062, 0.031)
    """
    return LIMITS_FACTOR * max(METER_W / power_w, METER_SHARE) / math.sqrt(3.0)


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
    """A reading of the installed pump's power with the loop as it is. A dirty or worn impeller is taken into the expectation by
    its speed."""
    return _seen_power(rig, f"{read.date or 'watts'}, read at the socket", loop_during_fill(rig), read.power_w)


def seen_power(rig: Rig, fill: TimedFill) -> PowerObservation:
    """The watts that were read beside a timed fill, the loop as it stood then."""
    loop = loop_during_fill(rig, fill.state, fill.height_m)
    return _seen_power(rig, f"{fill.label}, read at the socket", loop, fill.power_w)


def _seen_power(rig: Rig, label: str, loop: FillLoop, power_w: float) -> PowerObservation:
    return PowerObservation(
        label=label, loop=loop, label_w=rig.pump.power_w, log_value=math.log(power_w), relative=meter_relative(power_w)
    )
