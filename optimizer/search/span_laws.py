"""Laws that are no quadratics of the flow, enclosed over a span: a polynomial for each, and how far the law may lie from it.

The polynomial is that through the law's values at `DEGREE` + 1 even steps of the span. How far the law may lie from it is proved
cell by cell. Through `DEGREE` + 1 flows of a cell goes another polynomial; the Bernstein coefficients of the difference of the
two enclose how far they lie apart, and the law lies from the second

- not at all where it is one itself: between two points of a pump's curve, which is cubic there;
- by no more than Lagrange's form of the rest of an interpolation, from a bound on the fifth derivative: that of friction in a
  straight run (`physics.friction_bends`), that of the power of the flow by which a pump known by its label loses head.

Of any other friction, that of a coil or a wall of extreme roughness, and of branches side by side it is used that they rise, and
no more: between two flows such a law lies between its values there. The least of what the two ways allow is taken.
"""

from collections.abc import Callable, Iterator
from math import comb

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.option_heads import Heads
from optimizer.loop.pump_heads import PointCurves, Pumps
from optimizer.loop.runs import Runs
from optimizer.physics.friction_bends import MOST_ROUGHNESS, fifth_derivative_m

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

DEGREE = 4
"""Of the polynomials: a loss that is none is met to a micrometre over a span as wide as half its flow."""

CELLS, MANY_CELLS = 8, 128
"""Cells of a span, and those for laws of which nothing is used but that they rise."""

BRANCH_CELLS = 8
"""Cells of a span for branches side by side, of which each look costs as much as all other laws together."""

LAGRANGE = 3.6315 / 120.0
"""The most that the product of the distances from `DEGREE` + 1 flows one apart comes to between them (3.63143), over 5!."""

ROUNDING_M = 1e-12
"""Rounding of a head and of a polynomial through some."""

TRICKLE_M3S = 1e-12
"""Below this a power of the flow is taken to bend as it does here; only how the law rises is of use there."""

Followed = tuple[Reals, Reals]
"""Coefficients (k, degree + 1) of polynomials over a span, and how far each of k laws may lie from its own (k,), in m."""


def followed(heads: Heads, low: float, high: float) -> Iterator[tuple[tuple[Ints, Ints], Followed]]:
    """All laws of options that are no quadratics between two flows in m3/s, with the options that have one and which it is."""
    if len(heads.run_of[0]):
        yield heads.run_of, _frictions(heads.runs, low, high)
    if len(heads.curve_of[0]):
        yield heads.curve_of, _pump_heads(heads.curves, low, high)
    if heads.splits is not None:
        yield heads.split_of, _branch_heads(heads.splits.over, low, high)


def basis(share: Reals) -> Reals:
    """Values of the Bernstein polynomials (degree + 1, ...) at shares (...) of a span."""
    return np.stack([comb(DEGREE, n) * share**n * (1.0 - share) ** (DEGREE - n) for n in range(DEGREE + 1)])


_EVEN = np.arange(DEGREE + 1) / DEGREE
_THROUGH = np.linalg.inv(basis(_EVEN))


def _frictions(runs: Runs, low: float, high: float) -> Followed:
    """The friction of each of some hose runs."""
    through, far = _friction(runs, low, high, CELLS)
    wild = np.flatnonzero(_wild(runs))
    if len(wild):
        far[wild] = _friction(runs.rows(wild), low, high, MANY_CELLS)[1]
    return through, far


def _wild(runs: Runs) -> Bools:
    """Runs whose bend is not bounded."""
    return np.asarray(np.isfinite(runs.coil) | (runs.roughness > MOST_ROUGHNESS * runs.bore))


def _friction(runs: Runs, low: float, high: float, cells: int) -> Followed:
    flow, count = _looks(np.linspace(low, high, cells + 1)[None]), len(runs.bore)
    each = runs.rows(np.repeat(np.arange(count), flow.size))
    head = each.at(np.tile(flow.ravel(), count)).reshape(count, *flow.shape[1:])
    bend = fifth_derivative_m(flow[..., 0], flow[..., -1], head[..., -1], runs.bore[:, None], runs.kinematic_m2s)
    bend[_wild(runs)] = np.inf
    return _enclosed(head, flow, _met(head), bend)


def _pump_heads(pumps: Pumps, low: float, high: float) -> Followed:
    """What each of some pumps adds, as a loss below nothing."""
    flow = _looks(np.linspace(low, high, CELLS + 1)[None])
    head, free, shape = (each[:, None, None] for each in (pumps.max_head_m, pumps.max_flow_m3s, pumps.shape))
    lost = head * (flow / free) ** shape
    # the fifth derivative of a power is a power itself, so it is largest at an end
    ends, at = np.maximum(flow[..., ::DEGREE], TRICKLE_M3S), lost[..., ::DEGREE]
    bend = np.abs(np.multiply.reduce([shape - n for n in range(DEGREE + 1)])) * (at / ends**5)
    through, far = _enclosed(lost - head, flow, _met(lost - head), bend.max(axis=-1))
    if pumps.curves is not None:
        rows = np.flatnonzero(pumps.curves.pointed)
        through[rows], far[rows] = _between_points(pumps.curves.rows(rows), low, high)
    return through, far


def _between_points(curves: PointCurves, low: float, high: float) -> Followed:
    """Pump curves through points (k, points): cells end at them."""
    points = np.clip(curves.points[0] * curves.flow_scale[:, None], low, high)
    count, even = len(points), low + _EVEN * (high - low)
    flow = _looks(np.hstack([np.full((count, 1), low), points, np.full((count, 1), high)]))
    asked = np.hstack([flow.reshape(count, -1), np.tile(even, (count, 1))])
    head = curves.rows(np.repeat(np.arange(count), asked.shape[1])).head_m(asked.ravel()).reshape(asked.shape)
    within = -head[:, : -len(even)].reshape(flow.shape)
    return _enclosed(within, flow, -head[:, -len(even) :], np.zeros(flow.shape[:2]))


def _branch_heads(law: Callable[[Reals], Reals], low: float, high: float) -> Followed:
    """What two branches side by side lose. Nothing is known of it but that it rises, as was looked at when they were listed."""
    flow = _looks(np.linspace(low, high, BRANCH_CELLS + 1)[None])
    ends = law(np.append(flow[0, :, :-1].ravel(), high))
    cells = np.arange(BRANCH_CELLS)[:, None] * DEGREE + np.arange(DEGREE + 1)
    head = ends[:, cells]
    return _enclosed(head, flow, _met(head), np.full((len(head), BRANCH_CELLS), np.inf))


def _looks(ends: Reals) -> Reals:
    """Even flows (n, cells, degree + 1) of cells between ends (n, cells + 1)."""
    return ends[:, :-1, None] + np.diff(ends, axis=1)[..., None] * _EVEN


def _met(value: Reals) -> Reals:
    """Values at even steps of a span of even cells (k, cells, degree + 1)."""
    return np.hstack([value[:, :: value.shape[1] // DEGREE, 0], value[:, -1:, -1]])


def _enclosed(value: Reals, flow: Reals, met: Reals, bend: Reals) -> Followed:
    """Laws by their ``value`` (k, cells, degree + 1) at the ``flow`` of cells (k or 1, cells, degree + 1) that make up a span,
    by those at even steps of the span (``met``: k, degree + 1), and a bound on their fifth derivative (``bend``: k, cells)."""
    low, high = flow[0, 0, 0], flow[0, -1, -1]
    through = met @ _THROUGH
    share = (flow - low) / (high - low)
    rest = value - np.einsum("km,mkcl->kcl", through, np.broadcast_to(basis(share), (DEGREE + 1, *value.shape)))
    step = (flow[..., 1] - flow[..., 0]) ** (DEGREE + 1)
    bent = np.abs(rest @ _THROUGH).max(axis=-1) + LAGRANGE * bend * step
    # the polynomial changes by no more than its steepest slope allows
    steepest = DEGREE * np.abs(np.diff(through, axis=1)).max(axis=1)
    turned = np.abs(np.diff(value, axis=-1)).max(axis=-1) + steepest[:, None] * np.diff(share, axis=-1).max(axis=-1)
    risen = np.abs(rest).max(axis=-1) + turned
    return through, np.minimum(bent, risen).max(axis=1) + ROUNDING_M
