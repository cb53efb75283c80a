"""How flow falls from cleaning to cleaning, by the fills of a log: an exponential trend with its band, and when a flow is missed.

    ln Q = a_g + b t

with one level a_g for each run of fills between cleanings and one slope b for all of them, t in days since that cleaning;
weighted least squares with weights 1 / u^2. Where the fills scatter more than their uncertainties u allow, the covariance is
scaled up by chi^2 over the degrees of freedom (Birge, Phys. Rev. 40 (1932) 207, from memory); the band takes Student's factor.
An exponential never falls below nothing, and over the few tens of percent between cleanings it is all but straight.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtrit

Reals = NDArray[np.float64]

QUANTILE = 0.9
"""Bands run from 10 to 90 %."""

MOST_DAYS = 3650
"""Nobody plans a cleaning further ahead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One fill: the run of fills it belongs to, days since that run began, ln of the flow in m3/s and the standard uncertainty of
    that, without the error of the container's mark, which all fills share."""

    run: int
    day: float
    log_flow: float
    relative: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """Level and slope (per day) of ln flow for one run, with their (2, 2) covariance; a band reaches ``factor`` standard
    deviations to either side."""

    level: float
    slope: float
    covariance: Reals
    factor: float

    def at(self, days: Reals) -> tuple[Reals, Reals]:
        """ln flow on days since the run began and half the width of its band, both of the shape of ``days``."""
        variance = self.covariance[0, 0] + 2.0 * days * self.covariance[0, 1] + days**2 * self.covariance[1, 1]
        return self.level + self.slope * days, self.factor * np.sqrt(np.maximum(variance, 0.0))

    @property
    def slope_half(self) -> float:
        """Half the width of the slope's band."""
        return self.factor * math.sqrt(max(float(self.covariance[1, 1]), 0.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Missed:
    """Days since the run began on which a flow is missed: by the band's lower edge, the trend itself, the upper edge (inf: not
    within `MOST_DAYS`)."""

    earliest: float
    likely: float
    latest: float


def fitted(readings: Sequence[Reading], run: int) -> Trend | None:
    """The trend of one run, its slope shared with all runs handed in; None when no run has fills on two different days, or
    ``run`` has none at all.

    >>> fills = [Reading(run=0, day=day, log_flow=-9.0 - 0.01 * day, relative=0.01) for day in (0.0, 10.0, 20.0)]
    >>> found = fitted(fills, 0)
    >>> round(found.level, 6), round(found.slope, 6)
    (-9.0, -0.01)
    """
    runs = sorted({reading.run for reading in readings})
    days = np.array([reading.day for reading in readings])
    rows = np.array([[float(reading.run == one) for one in runs] for reading in readings])
    spread = any(len({reading.day for reading in readings if reading.run == one}) > 1 for one in runs)
    if run not in runs or not spread:
        return None
    weights = 1.0 / np.array([reading.relative for reading in readings])
    design = np.column_stack([rows, days]) * weights[:, None]
    values = np.array([reading.log_flow for reading in readings]) * weights
    found = np.linalg.lstsq(design, values, rcond=None)[0]
    freedom = len(readings) - len(runs) - 1
    chi2 = float(np.sum((values - design @ found) ** 2))
    scale = max(1.0, chi2 / freedom) if freedom else 1.0
    covariance = scale * np.linalg.inv(design.T @ design)
    mine = np.array([runs.index(run), len(runs)])
    return Trend(
        level=float(found[mine[0]]),
        slope=float(found[-1]),
        covariance=covariance[np.ix_(mine, mine)],
        factor=float(stdtrit(freedom, QUANTILE) if freedom else ndtri(QUANTILE)),
    )


def missed(trend: Trend, flow_m3s: float, from_day: float, mark_relative: float = 0.0) -> Missed:
    """When ``flow_m3s`` > 0 is missed, looked for from a day on; ``mark_relative`` is what the container's mark may be off by.

    >>> still = Trend(level=0.0, slope=-0.1, covariance=np.zeros((2, 2)), factor=1.28)
    >>> missed(still, math.exp(-1.05), 0.0)
    Missed(earliest=11.0, likely=11.0, latest=11.0)
    """
    days = from_day + np.arange(MOST_DAYS + 1.0)
    log, half = trend.at(days)
    half = np.hypot(half, trend.factor * mark_relative)
    target = math.log(flow_m3s)
    edges = [_first(days, each < target) for each in (log - half, log, log + half)]
    return Missed(earliest=edges[0], likely=edges[1], latest=edges[2])


def _first(days: Reals, below: NDArray[np.bool_]) -> float:
    found = np.flatnonzero(below)
    return float(days[found[0]]) if len(found) else math.inf
