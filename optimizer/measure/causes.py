"""Why a loop gives less: dirt in it, a weak pump, or air in the pump, by fills, watts and what the keeper noticed.

Every cause is the loop model with one more unknown: losses that are several times as large, speed lost at the pump, or a pump
full of a mixture that is lighter than water. What the measurements make of each, and how probable they are under it, comes
from the same calibration; signs multiply the odds. The evidence of a cause in Laplace's approximation, up to what all share:

    ln Z = -1/2 (sum of squares left) - 1/2 ln det(I + A A^T)

Source: Bishop, Pattern Recognition and Machine Learning (2006), 4.4.1; MacKay, Neural Computation 4 (1992) 415-447 (from memory).

What tells them apart. A loop that chokes a pump moves it towards shut-off, where a centrifugal pump draws less, but never less
than its watts at no flow. Air lowers head and watts alike, as the density of what is in the impeller; so do vanes that are
worn or a magnet that slips (affinity laws: H ~ n2, P ~ n3), which watts alone hardly tell from air, but signs do.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
from scipy.special import ndtr

from optimizer.bands.candidates import Unknown
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.priors import AUTHORS, PRIORS, Prior
from optimizer.measure.calibrate import Z90, Posterior, Reals, calibrate, slopes_of
from optimizer.measure.observations import (
    Observation,
    PowerObservation,
    seen_fill,
    seen_power,
    seen_watts,
)
from optimizer.model import unknowns
from optimizer.model.diagnosis import AIR, AS_WRITTEN, DIRT, PUMP, Cause, PowerCheck
from optimizer.model.fill import CLEAN, TimedFill
from optimizer.model.measuring import PowerBand, WattsRead
from optimizer.model.rig import Rig
from optimizer.model.signs import BUBBLES, CREEPING, RATTLE, SUDDEN, TILTING

CAUSE, WHOLE = "cause", "loop"
"""Name of the unknown that a cause adds, and the part it is of."""

_LOSSES = tuple(name for name, prior in PRIORS.items() if prior.scales.startswith(("loss", "resistance", "friction")))
"""Whatever more loss there is, of any sort of part."""

_HEADS = (unknowns.PUMP_HEAD, unknowns.LABEL_HEAD, unknowns.assumed(unknowns.LABEL_HEAD))
_FLOWS = (unknowns.PUMP_FLOW, unknowns.LABEL_FLOW)


@dataclass(frozen=True, slots=True, kw_only=True)
class Supposed:
    """A cause: how often it is so before anything is measured (``odds``), the middle and the prior of its one unknown, and with
    which power that scales the factors of each prior."""

    name: str
    odds: float
    middle: float = 1.0
    spread: float = 1.0
    powers: Mapping[str, float] = field(default_factory=dict)
    source: str = AUTHORS

    @property
    def priors(self) -> dict[str, Prior]:
        """All priors, its own among them."""
        own = Prior(name=CAUSE, group=CAUSE, scales=self.name, spread=self.spread, quantile=0.9, source=self.source, common=0.0)
        return {**PRIORS, CAUSE: own}


SUPPOSED = (
    Supposed(name=AS_WRITTEN, odds=0.45),
    Supposed(name=DIRT, odds=0.35, middle=2.0, spread=1.8, powers=dict.fromkeys(_LOSSES, 1.0)),
    Supposed(name=PUMP, odds=0.10, middle=0.85, spread=1.15, powers=dict.fromkeys(_HEADS, 2.0) | dict.fromkeys(_FLOWS, 1.0)),
    Supposed(name=AIR, odds=0.10, middle=0.70, spread=1.30, powers=dict.fromkeys(_HEADS, 1.0)),
)
"""Odds and sizes: priors of the authors."""

LIKELIHOODS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        RATTLE: {AS_WRITTEN: 0.05, DIRT: 0.10, PUMP: 0.40, AIR: 0.70},
        BUBBLES: {AS_WRITTEN: 0.03, DIRT: 0.08, PUMP: 0.03, AIR: 0.60},
        TILTING: {AS_WRITTEN: 0.03, DIRT: 0.05, PUMP: 0.05, AIR: 0.60},
        SUDDEN: {AS_WRITTEN: 0.10, DIRT: 0.15, PUMP: 0.25, AIR: 0.60},
        CREEPING: {AS_WRITTEN: 0.20, DIRT: 0.60, PUMP: 0.30, AIR: 0.10},
    }
)
"""How often a keeper notices a sign under each cause: priors of the authors after common practice, no published source. A blocked
intake lowers the pressure at every joint behind it, so dirt may bring some air too; a sign that nobody stated tells nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Changed(Factors):
    """Factors as a cause makes them."""

    middle: float
    powers: Mapping[str, float]

    def of(self, prior: str, part: str) -> Reals:
        plain = Factors.of(self, prior, part)
        power = self.powers.get(prior, 0.0)
        return plain * (self.middle * Factors.of(self, CAUSE, WHOLE)) ** power if power else plain


@dataclass(frozen=True, slots=True)
class _Under:
    """A measurement as a cause lets it be expected."""

    plain: Observation
    cause: Supposed

    @property
    def label(self) -> str:
        return self.plain.label

    @property
    def log_value(self) -> float:
        return self.plain.log_value

    @property
    def relative(self) -> float:
        return self.plain.relative

    @property
    def mark(self) -> str:
        return self.plain.mark

    @property
    def mark_relative(self) -> float:
        return self.plain.mark_relative

    @property
    def unknowns(self) -> tuple[Unknown, ...]:
        own = (Unknown(prior=CAUSE), Unknown(prior=CAUSE, part=WHOLE)) if self.cause.powers else ()
        return (*self.plain.unknowns, *own)

    def log_expected(self, factors: Factors) -> Reals:
        if not self.cause.powers:
            return self.plain.log_expected(factors)
        made = _Changed(factors.draws, factors.priors, middle=self.cause.middle, powers=self.cause.powers)
        return self.plain.log_expected(made)


@dataclass(frozen=True, slots=True)
class _Seen:
    """All that was measured: ``before`` of a loop that was clean on the day, when nothing was wrong yet, and ``now``."""

    before: tuple[Observation, ...]
    now: tuple[Observation, ...]

    def under(self, cause: Supposed) -> list[Observation]:
        """What was measured, as a cause that is there now lets it be expected."""
        return [*self.before, *(_Under(one, cause) for one in self.now)]


def _seen(rig: Rig, power_w: float) -> _Seen:
    """All fills of a rig with the watts beside them, and a power that was read with the loop as it is (0: none)."""
    clean = [fill for fill in rig.fills if CLEAN in fill.state]
    today = [fill for fill in rig.fills if CLEAN not in fill.state]
    before, now = _measured(rig, clean), _measured(rig, today)
    return _Seen(tuple(before), (*now, *([seen_watts(rig, WattsRead(power_w=power_w))] if power_w else [])))


def _measured(rig: Rig, fills: Sequence[TimedFill]) -> list[Observation]:
    """Fills, and the watts beside them."""
    flows: list[Observation] = [seen_fill(rig, fill) for fill in fills]
    return [*flows, *(seen_power(rig, fill) for fill in fills if fill.power_w)]


def causes(rig: Rig, power_w: float = 0.0) -> tuple[Cause, ...]:
    """Why the loop gives what it gives, the most probable cause first; nothing where only fills are known, which do not tell dirt
    from a weak pump or air.

    Raises ArithmeticError if a fit does not end.
    """
    seen, found = _seen(rig, power_w), []
    if not (rig.signs or any(isinstance(one, PowerObservation) for one in seen.now)):
        return ()
    for each in SUPPOSED:
        posterior = calibrate(seen.under(each), each.priors)
        log = math.log(each.odds) + log_evidence(posterior)
        log += sum(math.log(LIKELIHOODS[sign][each.name]) for sign in rig.signs)
        found.append((each.name, log, _size(posterior, each)))
    top = max(log for _, log, _ in found)
    total = math.fsum(math.exp(log - top) for _, log, _ in found)
    listed = [Cause(name=name, probability=math.exp(log - top) / total, size=size) for name, log, size in found]
    return tuple(sorted(listed, key=lambda one: -one.probability))


def log_evidence(posterior: Posterior) -> float:
    """Logarithm of how probable the measurements of a posterior are, up to what is the same for all that explain them."""
    inner = np.eye(len(posterior.jacobian)) + posterior.jacobian @ posterior.jacobian.T
    return -posterior.cost - 0.5 * float(np.linalg.slogdet(inner)[1])


def _size(posterior: Posterior, cause: Supposed) -> float:
    """What the cause multiplies losses, speed or density by, at its most probable."""
    column = posterior.column.get(Unknown(prior=CAUSE, part=WHOLE))
    if column is None:
        return 1.0
    return cause.middle * math.exp(float(cause.priors[CAUSE].log_factor(posterior.mean[column])))


def power_check(rig: Rig, power_w: float = 0.0) -> PowerCheck | None:
    """The watts read last against those of a pump full of water, the loop to blame for what all other measurements say; None
    where none were read, but of a loop that was clean. Raises ArithmeticError if the fit does not end."""
    seen = _seen(rig, power_w)
    last = next((one for one in reversed(seen.now) if isinstance(one, PowerObservation)), None)
    if last is None:
        return None
    blamed = next(each for each in SUPPOSED if each.name == DIRT)
    others = replace(seen, now=tuple(one for one in seen.now if one is not last)).under(blamed)
    known = calibrate(others, blamed.priors, also=_Under(last, blamed).unknowns)
    here, at_none = _predicted(known, _Under(last, blamed).log_expected), _predicted(known, last.log_shut)
    sigma = math.hypot(math.log(at_none.p90_w / at_none.p10_w) / (2.0 * Z90), last.relative)
    below = float(ndtr((math.log(at_none.p50_w) - last.log_value) / sigma))
    return PowerCheck(label=last.label, read_w=math.exp(last.log_value), full=here, shut=at_none, below_shut=below)


def _predicted(known: Posterior, log_expected: Callable[[Factors], Reals]) -> PowerBand:
    """A power by what is known, in first order."""

    def logs(normals: Reals) -> Reals:
        return log_expected(Factors(Draws(unknowns=known.unknowns, normals=normals), known.priors))[None, :]

    slopes = slopes_of(logs, known.mean)[0]
    log, sigma = float(logs(known.mean[None, :])[0, 0]), math.sqrt(max(float(slopes @ known.covariance @ slopes), 0.0))
    p10, p50, p90 = (math.exp(log + z * sigma) for z in (-Z90, 0.0, Z90))
    return PowerBand(p10_w=p10, p50_w=p50, p90_w=p90)
