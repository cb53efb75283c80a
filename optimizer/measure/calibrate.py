"""Calibration: what all measurements together say of the unknowns, as the most probable factors and a normal band about them.

With z the whitened logarithms of the factors (independent standard normal before any measurement, see `bands/draws.py`) and
the measured logarithms y of standard uncertainty u, the posterior's logarithm is, up to a constant,

    -1/2 ( sum ((y - f(z)) / u)^2 + z^T z )

whose greatest value `scipy.optimize.least_squares` finds (maximum a posteriori). Laplace: about it the posterior is normal with
covariance (I + A^T A)^-1, A = (df/dz) / u. Source: Bishop, Pattern Recognition and Machine Learning (2006), 4.4.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import chdtrc

from optimizer.bands.candidates import Candidate, Unknown
from optimizer.bands.draws import DRAWS, SEED, Draws, Factors, draw
from optimizer.bands.priors import PRIORS, Prior
from optimizer.bands.series import delivered_m3s
from optimizer.measure.fill_loop import FillLoop
from optimizer.measure.observations import CONTAINER, FlowObservation, Observation, log_flows
from optimizer.model.measuring import FactorLine, FlowBand

Reals = NDArray[np.float64]

STEP = 1e-3
"""Half width of the difference quotients, in standard deviations of a factor."""

Z90 = 1.2815515655446004
"""Standard normal quantile at 0.9."""

RIDGE_STEPS = 5
LONGEST_STEP = 2.0
"""Steps that bring a draw back to the ridge, and the longest of them in standard deviations of the prior. With two of them the
draws of a loop that was found far from its file stayed beside it: their median lay below the figure, their band to one side."""

RIDGE_SHARE = 0.8
"""Of each step: away from the mean all slopes are others, most where a prior is lopsided, and whole steps swing to and fro about
the ridge by half of what is left."""

SURER = 0.5
"""Fills are much surer than what was known where their standard uncertainty is at most this share of it."""

ACCURACY = 1e-7
SHIFT = 1.0
"""The fit ends by steps that are small against the unknowns; shifted, these are never near nothing."""

MOST_EVALUATIONS = 200

ATTEMPTS: tuple[tuple[Literal["lm", "trf"], float], ...] = (("lm", 1e-8), ("trf", 1e-8), ("trf", 1e-3))
"""Methods, each with the relative fall of the cost at which it ends. Where a fill is far from what the file lets expect, the
ridge bends and has kinks: Levenberg and Marquardt's way may creep along it, which steps within a trusted region mostly do not.
What the last attempt leaves is nothing against a cost that is large there."""


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """What is known of p unknowns: whitened logarithms of factors that are normal with ``mean`` (p,) and ``covariance`` (p, p).

    ``jacobian`` (m, p) is that of the m measurements ``seen`` at the mean, each over its own uncertainty. ``tail`` is the chance
    of measurements at least as far from what was expected (1: none were made), ``cost`` half the sum of squares left.
    """

    unknowns: tuple[Unknown, ...]
    mean: Reals
    covariance: Reals
    jacobian: Reals
    priors: Mapping[str, Prior]
    seen: tuple[Observation, ...] = ()
    tail: float = 1.0
    cost: float = 0.0

    @cached_property
    def column(self) -> Mapping[Unknown, int]:
        """Number of each unknown."""
        return {unknown: number for number, unknown in enumerate(self.unknowns)}

    @cached_property
    def spread(self) -> Reals:
        """The covariance (p, p) that bands are made of: of a flow that was timed they are never surer than the fills are.

        The priors add their part to a flow that was timed itself; but they are the authors'. Where they alone narrow it, the
        covariance is widened along what moves that flow, C + k (C s)(C s)^T with s its slopes, as if the fills had told so much
        less; all that hangs together with it then widens too. Of fills that are not much surer than what was known without them
        the band is that of both, as it is.
        """
        made, timed = self.covariance, [(row, one) for row, one in enumerate(self.seen) if isinstance(one, FlowObservation)]
        least = _variance_by([one for _, one in timed])
        for row, one in timed:
            slopes = self.jacobian[row] * one.relative
            if one.mark:
                slopes[self.column[Unknown(prior=CONTAINER, part=one.mark)]] -= one.mark_relative
            along = made @ slopes
            has, before = float(slopes @ along), float(slopes @ slopes)
            if 0.0 < has < least < SURER**2 * before:
                made = made + (least - has) / has**2 * np.outer(along, along)
        return made

    def knowing(self, more: Iterable[Unknown]) -> "Posterior":
        """The same with unknowns that nothing was measured of added, for parts that are still to be bought."""
        new = [unknown for unknown in _ordered(more) if unknown not in self.column]
        if not new:
            return self
        p, q = len(self.unknowns), len(new)
        covariance = np.eye(p + q)
        covariance[:p, :p] = self.covariance
        return Posterior(
            unknowns=(*self.unknowns, *new),
            mean=np.concatenate([self.mean, np.zeros(q)]),
            covariance=covariance,
            jacobian=np.hstack([self.jacobian, np.zeros((len(self.jacobian), q))]),
            priors=self.priors,
            seen=self.seen,
            tail=self.tail,
            cost=self.cost,
        )

    def applied(self, draws: Draws) -> Draws:
        """Independent standard normal draws turned into draws of this posterior; unknowns it does not know stay as they are.

        The symmetric root of the covariance keeps every column as near to its own unknown as can be; `_on_the_ridge` then does
        for curvature what a straight line cannot.
        """
        given = {unknown: number for number, unknown in enumerate(draws.unknowns)}
        whole = np.array(_companions(self.unknowns, draws).normals)
        mine = [n for n, unknown in enumerate(self.unknowns) if unknown in given]
        columns = [given[self.unknowns[n]] for n in mine]
        whole[:, mine] = draws.normals[:, columns]
        made = self._drawn_from(whole)
        normals = draws.normals.copy()
        normals[:, columns] = made[:, mine]
        return replace(draws, normals=normals)

    def _drawn_from(self, whole: Reals) -> Reals:
        """Independent standard normal draws (n, p) of all unknowns turned into draws of this posterior; kept for the last of
        them, since one question is drawn by the same streams for every loop that it looks at."""
        of = whole.tobytes()
        if of not in self._kept:
            self._kept.clear()
            self._kept[of] = self._on_the_ridge(self.mean + whole @ _root(self.spread))
        return self._kept[of]

    @cached_property
    def _kept(self) -> dict[bytes, Reals]:
        """Draws that were made last, by those they were made of."""
        return {}

    def _on_the_ridge(self, normals: Reals) -> Reals:
        """Draws moved, along what was measured, to where the model expects what its tangent at the mean does.

        Measurements that are far surer than the unknowns leave a narrow ridge, which bends; a straight normal band about its top
        leaves it at its ends and would miss the very flows that were measured.
        """
        if not self.seen:
            return normals
        model = Model(self.seen, self.unknowns, self.priors)
        inner = np.eye(len(self.jacobian)) + self.jacobian @ self.jacobian.T
        gain = np.linalg.solve(inner, self.jacobian)
        tangent = (model.expected(self.mean[None, :]) / model.scales[:, None]).T + (normals - self.mean) @ self.jacobian.T
        for _ in range(RIDGE_STEPS):
            step = (model.expected(normals) / model.scales[:, None]).T @ gain - tangent @ gain
            size = np.linalg.norm(step, axis=1, keepdims=True)
            normals = normals - RIDGE_SHARE * step * np.minimum(1.0, LONGEST_STEP / np.maximum(size, LONGEST_STEP))
        return normals

    def known(self) -> Callable[[Factors], Factors]:
        """For `bands.band.of`: what the factors of draws become when the measurements are taken into account."""
        last: list[tuple[Draws, Factors]] = []

        def calibrated(factors: Factors) -> Factors:
            if not last or last[0][0] is not factors.draws:
                last[:] = [(factors.draws, Factors(self.applied(factors.draws), factors.priors))]
            return last[0][1]

        return calibrated

    def log_flow(self, loop: FillLoop) -> tuple[float, Reals]:
        """Logarithm of a flow (m3/s) at the mean, and its slopes (p,) in the whitened unknowns.

        Raises KeyError for a loop with unknowns that are not known here: ask `knowing` first.
        """
        normals = _steps(self.mean)
        logs = log_flows(loop, Factors(Draws(unknowns=self.unknowns, normals=normals), self.priors))
        return float(logs[0]), _slopes(logs[None, :])[0]

    def band(self, loop: FillLoop) -> FlowBand:
        """Delivered flow of a loop: lognormal about the most probable factors, in first order."""
        known = self.knowing(loop.candidate.unknowns)
        log, slopes = known.log_flow(loop)
        return flow_band(log, math.sqrt(float(slopes @ known.spread @ slopes)))

    def drawn(self, candidate: Candidate, figure_m3s: float) -> FlowBand:
        """The band of the delivered flow of a loop by the draws that bands are made of, about the one figure that everything says
        of it: its flow at the most probable factors."""
        made = self.applied(draw(candidate.unknowns, DRAWS, SEED))
        low, high = np.quantile(delivered_m3s(candidate, Factors(made, self.priors)), (0.1, 0.9)).tolist()
        return FlowBand(p10_m3s=min(low, figure_m3s), p50_m3s=figure_m3s, p90_m3s=max(high, figure_m3s))


def _variance_by(timed: Sequence[FlowObservation]) -> float:
    """Variance of the logarithm of a flow by fills alone, what is between their arrangements taken as known: generalised least
    squares of equal values, of which those into one container share its error; infinite without fills."""
    if not timed:
        return math.inf
    own = np.diag([one.relative**2 for one in timed])
    marks = [[(one.mark == other.mark) * one.mark_relative * other.mark_relative for one in timed] for other in timed]
    return 1.0 / float(np.linalg.inv(own + np.array(marks)).sum())


def flow_band(log: float, sigma: float) -> FlowBand:
    """A lognormal flow as a band.

    >>> round(flow_band(0.0, 0.1).p90_m3s, 4)
    1.1367
    """
    p10, p50, p90 = (math.exp(log + z * sigma) for z in (-Z90, 0.0, Z90))
    return FlowBand(p10_m3s=p10, p50_m3s=p50, p90_m3s=p90)


def calibrate(seen: Sequence[Observation], priors: Mapping[str, Prior] = PRIORS, also: Iterable[Unknown] = ()) -> Posterior:
    """The posterior of all unknowns that the measurements depend on, and those of ``also``; the order of ``seen`` does not count.

    Without measurements it is the prior. Raises ArithmeticError if the fit does not end.
    """
    rows = sorted(seen, key=lambda one: (one.label, one.log_value, one.relative, one.mark))
    unknowns = _ordered([*(unknown for one in rows for unknown in one.unknowns), *also])
    start = np.zeros(len(unknowns))
    if not rows:
        return Posterior(
            unknowns=unknowns, mean=start, covariance=np.eye(len(start)), jacobian=np.zeros((0, len(start))), priors=priors
        )
    model = Model(rows, unknowns, priors)
    mean, jacobian, cost = _most_probable(model, start)
    return Posterior(
        unknowns=unknowns,
        mean=mean,
        covariance=covariance_of(jacobian),
        jacobian=jacobian,
        priors=priors,
        seen=tuple(rows),
        tail=float(chdtrc(len(rows), 2.0 * cost)),
        cost=cost,
    )


def _most_probable(model: "Model", start: Reals) -> tuple[Reals, Reals, float]:
    """The unknowns (p,) at the top of the posterior, the whitened Jacobian (m, p) there, and half the sum of squares left."""
    message = ""
    for method, least_fall in ATTEMPTS:
        fit = least_squares(
            model.residuals,
            start + SHIFT,
            jac=model.jacobian,
            method=method,
            xtol=ACCURACY,
            ftol=least_fall,
            max_nfev=MOST_EVALUATIONS,
        )
        if fit.success:
            jacobian = -np.asarray(fit.jac, dtype=float)[: len(model.rows)]
            return np.asarray(fit.x, dtype=float) - SHIFT, jacobian, float(fit.cost)
        message = fit.message
    raise ArithmeticError(f"the calibration did not end: {message}")


def covariance_of(jacobian: Reals) -> Reals:
    """(I + A^T A)^-1 of a whitened Jacobian A (m, p), by way of the m by m matrix I + A A^T (Woodbury)."""
    inner = np.eye(len(jacobian)) + jacobian @ jacobian.T
    return np.asarray(np.eye(jacobian.shape[1]) - jacobian.T @ np.linalg.solve(inner, jacobian), dtype=float)


class Model:
    """Residuals of measurements and priors against the whitened unknowns, many points at once."""

    def __init__(self, rows: Sequence[Observation], unknowns: tuple[Unknown, ...], priors: Mapping[str, Prior]) -> None:
        self.rows, self.unknowns, self.priors = rows, unknowns, priors
        self.values = np.array([one.log_value for one in rows])
        self.scales = np.array([one.relative for one in rows])
        column = {unknown: number for number, unknown in enumerate(unknowns)}
        self._last = b"", np.empty(0)
        self.marks = np.zeros((len(rows), len(unknowns)))
        for row, one in enumerate(rows):
            if one.mark:
                self.marks[row, column[Unknown(prior=CONTAINER, part=one.mark)]] = one.mark_relative

    def expected(self, normals: Reals) -> Reals:
        """Logarithms expected at (n, p) points, (m, n); a container that holds less than its mark lets the flow seem larger."""
        factors = Factors(Draws(unknowns=self.unknowns, normals=normals), self.priors)
        return np.stack([one.log_expected(factors) for one in self.rows]) + self.marks @ normals.T

    def residuals(self, shifted: Reals) -> Reals:
        """(m + p,): what is left of each measurement over its uncertainty, and the unknowns themselves; these come shifted by
        `SHIFT`."""
        normals = shifted - SHIFT
        return np.concatenate([(self.values - self._around(normals)[:, 0]) / self.scales, normals])

    def jacobian(self, shifted: Reals) -> Reals:
        """Slopes of the residuals, (m + p, p)."""
        normals = shifted - SHIFT
        return np.vstack([-_slopes(self._around(normals)) / self.scales[:, None], np.eye(len(normals))])

    def _around(self, normals: Reals) -> Reals:
        """What is expected at a point and at the steps about it, (m, 1 + 2p), kept for the last point: a fit asks for the slopes
        nearly wherever it asked for the residuals, and so few points at once take hardly longer than one."""
        at = normals.tobytes()
        if self._last[0] != at:
            self._last = at, self.expected(_steps(normals))
        return self._last[1]


def slopes_of(expected: Callable[[Reals], Reals], mean: Reals) -> Reals:
    """Slopes (m, p) at ``mean`` (p,) of a function from points (n, p) to values (m, n), by central differences.

    >>> slopes_of(lambda points: (points[:, 0] * points[:, 1])[None, :], np.array([2.0, 3.0])).round(6).tolist()
    [[3.0, 2.0]]
    """
    return _slopes(expected(_steps(mean)))


def _steps(mean: Reals) -> Reals:
    """The point itself, then each unknown stepped down, then up: (1 + 2p, p)."""
    each = STEP * np.eye(len(mean))
    return mean + np.vstack([np.zeros((1, len(mean))), -each, each])


def _slopes(values: Reals) -> Reals:
    """Central differences from values (m, 1 + 2p) at the points of `_steps`."""
    p = (values.shape[1] - 1) // 2
    return (values[:, 1 + p :] - values[:, 1 : 1 + p]) / (2.0 * STEP)


def _companions(unknowns: tuple[Unknown, ...], draws: Draws) -> Draws:
    """As many draws of other unknowns, by streams of the same seed, so that it makes no difference to a bundle which others are
    drawn beside it; where all draws stand still, so do these."""
    if len(draws.normals) < 2 or not draws.normals.any():
        return Draws(unknowns=unknowns, normals=np.zeros((len(draws.normals), len(unknowns))))
    return draw(unknowns, len(draws.normals), draws.seed)


def _root(covariance: Reals) -> Reals:
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T, dtype=float)


def _ordered(unknowns: Iterable[Unknown]) -> tuple[Unknown, ...]:
    return tuple(sorted(set(unknowns), key=lambda unknown: (unknown.prior, unknown.part)))


def factor_rows(posterior: Posterior) -> tuple[tuple[Unknown, ...], Reals]:
    """The factors that belong to parts, and the matrix (factors, p) that makes of the whitened unknowns the normal number
    of each factor, from which `Prior.log_factor` makes its logarithm."""
    owned = tuple(unknown for unknown in posterior.unknowns if unknown.part and unknown.prior != CONTAINER)
    rows = np.zeros((len(owned), len(posterior.unknowns)))
    for row, unknown in enumerate(owned):
        prior = posterior.priors[unknown.prior]
        rows[row, posterior.column[Unknown(prior=unknown.prior)]] = math.sqrt(prior.common)
        rows[row, posterior.column[unknown]] = math.sqrt(1.0 - prior.common)
    return owned, rows


def factor_lines(posterior: Posterior) -> tuple[FactorLine, ...]:
    """All factors before and after the measurements, the one that was learned most about first."""
    owned, rows = factor_rows(posterior)
    normals = rows @ posterior.mean
    before, after = (np.einsum("fp,pq,fq->f", rows, each, rows) for each in (np.eye(rows.shape[1]), posterior.covariance))
    sigmas, left = np.sqrt(after), after / before
    lines = []
    for unknown, normal, sigma, still in zip(owned, normals.tolist(), sigmas.tolist(), left.tolist(), strict=True):
        prior = posterior.priors[unknown.prior]
        points = (-Z90, Z90, normal - Z90 * sigma, normal, normal + Z90 * sigma)
        prior_p10, prior_p90, p10, p50, p90 = np.exp(prior.log_factor(np.array(points))).tolist()
        lines.append(
            FactorLine(
                unknown=unknown.prior,
                part=unknown.part,
                group=prior.group,
                prior_p10=prior_p10,
                prior_p90=prior_p90,
                p10=p10,
                p50=p50,
                p90=p90,
                information=min(max(1.0 - still, 0.0), 1.0) if prior.sigma else 0.0,
            )
        )
    return tuple(sorted(lines, key=lambda line: (-line.information, line.unknown, line.part)))
