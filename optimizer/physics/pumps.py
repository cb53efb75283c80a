"""Pumps: head against flow from a label or from points, speed, power, and how far makers' figures may be off.

All heads are in m of the water pumped. Curves fall with the flow and go on below zero head past their last
point, because a loop that is fed by a second pump may push more through than the first could alone.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from optimizer.physics.arrays import Floats, choose
from optimizer.physics.validity import Validity

END_FALL = 0.1
"""Least fall of a curve outside its points, as a share of its mean fall, where it ends flat."""

SPEED_RANGE = Validity(
    name="affinity laws",
    quantity="speed over rated speed",
    low=0.7,
    high=1.3,
    source="from memory; further away the efficiency shifts and the laws drift",
)
VALIDITIES = (SPEED_RANGE,)


def label_head_m(flow_m3s: Floats, max_head_m: Floats, max_flow_m3s: Floats, shape: Floats) -> Floats:
    """Return the head in m of a pump known by its label: H0 (1 - (Q/Qmax)^n).

    `flow_m3s` in m3/s, `max_head_m` H0 > 0 the head at no flow in m, `max_flow_m3s` Qmax > 0 the flow at no
    head in m3/s and `shape` n > 0 (2 unless measured) are floats or arrays that broadcast. Falls strictly
    with Q: below zero head past Qmax, and above H0 for flow pushed backwards. Form of EPANET 2.2 (manual,
    chapter 12).

    >>> round(float(label_head_m(700e-3 / 3600, 2.5, 1500e-3 / 3600, 2.0)), 3)
    1.956
    """
    ratio = flow_m3s / max_flow_m3s
    head: Floats = max_head_m * (1.0 - np.sign(ratio) * np.abs(ratio) ** shape)
    return head


def monotone_slopes(flows_m3s: ArrayLike, heads_m: ArrayLike) -> NDArray[np.float64]:
    """Return slopes in s/m2 at the points of curves, such that a cubic through them never turns back.

    `flows_m3s` (rising, m3/s) and `heads_m` (m) have the points on their last axis, at least two. Within, the
    weighted harmonic mean of the neighbouring slopes, 0 where they differ in sign: Fritsch and Butland, SIAM
    J. Sci. Stat. Comput. 5 (1984) 300-304; at the ends a parabola through three points, held back to keep the
    shape: Moler, Numerical Computing with MATLAB (2004). Raises ValueError for fewer than two points or flows
    that do not rise.

    >>> monotone_slopes([0.0, 1.0, 2.0], [3.0, 2.0, 0.0]).round(4).tolist()
    [-0.5, -1.3333, -2.5]
    """
    flows, heads = np.asarray(flows_m3s, dtype=float), np.asarray(heads_m, dtype=float)
    width = np.diff(flows)
    if width.shape[-1] < 1 or not bool((width > 0.0).all()):
        raise ValueError("a curve needs at least two points, with flows that rise from point to point")
    secant = np.diff(heads) / width
    if width.shape[-1] == 1:
        return np.repeat(secant, 2, axis=-1)
    slopes = np.empty_like(flows)
    slopes[..., 0] = _end_slope(width[..., 0], width[..., 1], secant[..., 0], secant[..., 1])
    slopes[..., -1] = _end_slope(width[..., -1], width[..., -2], secant[..., -1], secant[..., -2])
    left, right = secant[..., :-1], secant[..., 1:]
    smooth = left * right > 0.0
    weight_left = 2.0 * width[..., 1:] + width[..., :-1]
    weight_right = width[..., 1:] + 2.0 * width[..., :-1]
    safe_left, safe_right = np.where(smooth, left, 1.0), np.where(smooth, right, 1.0)
    mean = (weight_left + weight_right) / (weight_left / safe_left + weight_right / safe_right)
    slopes[..., 1:-1] = np.where(smooth, mean, 0.0)
    return slopes


def _end_slope(near_width: Any, next_width: Any, near: Any, following: Any) -> Any:
    """Return the slope at an end from the two nearest secants, not against the first nor above 3 times it."""
    slope = ((2.0 * near_width + next_width) * near - near_width * following) / (near_width + next_width)
    slope = np.where(np.sign(slope) != np.sign(near), 0.0, slope)
    steep = (np.sign(near) != np.sign(following)) & (np.abs(slope) > 3.0 * np.abs(near))
    return np.where(steep, 3.0 * near, slope)


Stack = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
"""Flows, heads and slopes of several curves, one a row, all of the same number of points."""


def stack_points(curves: Sequence[tuple[Sequence[float], Sequence[float]]]) -> Stack:
    """Return flows, heads and slopes as arrays of shape (curves, points), ready for `stacked_head_m`.

    Each of `curves` is its flows (rising, m3/s) and heads (m). Shorter curves are filled up in front by
    repeating their first point. No curves give arrays of shape (0, 2). Raises ValueError as `monotone_slopes`
    does.

    >>> flows, heads, slopes = stack_points([([0.0, 1.0], [2.0, 0.0]), ([0.0, 1.0, 2.0], [3.0, 2.0, 0.0])])
    >>> flows.tolist()
    [[0.0, 0.0, 1.0], [0.0, 1.0, 2.0]]
    """
    length = max((len(flows) for flows, _ in curves), default=2)
    stack = np.zeros((3, len(curves), length))
    for row, (flows, heads) in enumerate(curves):
        blank = length - len(flows)
        slopes = monotone_slopes(flows, heads).tolist()
        for layer, values in enumerate((flows, heads, slopes)):
            stack[layer, row, :blank] = values[0]
            stack[layer, row, blank:] = values
    return stack[0], stack[1], stack[2]


def stacked_head_m(
    flow_m3s: Floats, flows: NDArray[np.float64], heads: NDArray[np.float64], slopes: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the head in m of n pumps, shape (n,), each at its own flow or all at one.

    `flow_m3s` in m3/s is a float or of shape (n,); `flows`, `heads` and `slopes` come from `stack_points`,
    shape (n, points). Piecewise cubic of Fritsch and Butland (1984); outside the points a straight line with
    the slope of the end point, falling at least `END_FALL` times the mean fall of the curve.

    >>> stack = stack_points([([0.0, 1.0], [2.0, 0.0]), ([0.0, 1.0, 2.0], [3.0, 2.0, 0.0])])
    >>> stacked_head_m(1.5, *stack).round(4).tolist()
    [-1.0, 1.1458]
    """
    flow = np.broadcast_to(np.asarray(flow_m3s, dtype=float), flows.shape[:1])
    inside = np.minimum(np.maximum(flow, flows[:, 0]), flows[:, -1])
    last = flows.shape[1] - 2
    piece = np.minimum((inside[:, None] >= flows).sum(axis=1) - 1, last)
    here = piece + np.arange(len(flow)) * flows.shape[1]
    low, low_head, low_slope = flows.ravel()[here], heads.ravel()[here], slopes.ravel()[here]
    width = flows.ravel()[here + 1] - low
    head: NDArray[np.float64] = _cubic(
        inside - low, width, low_head, heads.ravel()[here + 1], low_slope, slopes.ravel()[here + 1]
    )
    head += _beyond(flow - inside, flows, heads, slopes)
    return head


def _cubic(along: Any, width: Any, head: Any, next_head: Any, slope: Any, next_slope: Any) -> Any:
    """Return the value at `along` of the cubic with given values and slopes at 0 and at `width`."""
    secant = (next_head - head) / width
    bend = (3.0 * secant - 2.0 * slope - next_slope) / width
    twist = (slope + next_slope - 2.0 * secant) / (width * width)
    return head + along * (slope + along * (bend + along * twist))


def _beyond(excess: Any, flows: Any, heads: Any, slopes: Any) -> Any:
    """Return what the straight ends of curves add for flow in `excess` of their points, below if negative."""
    least = END_FALL * (heads[..., -1] - heads[..., 0]) / (flows[..., -1] - flows[..., 0])
    end = choose(excess > 0.0, slopes[..., -1], slopes[..., 0])
    return excess * np.minimum(end, least)


def points_head_m(
    flow_m3s: Floats, flows: NDArray[np.float64], heads: NDArray[np.float64], slopes: NDArray[np.float64]
) -> Floats:
    """Return the head in m of one pump at any number of flows: the same curve as `stacked_head_m`.

    `flow_m3s` in m3/s is a float or an array of any shape; `flows` (rising), `heads` (falling) and `slopes`
    (from `monotone_slopes`) are of shape (points,).

    >>> flows, heads = np.array([0.0, 1.0, 2.0]), np.array([3.0, 2.0, 0.0])
    >>> round(float(points_head_m(1.5, flows, heads, monotone_slopes(flows, heads))), 4)
    1.1458
    """
    inside = np.minimum(np.maximum(flow_m3s, flows[0]), flows[-1])
    at = np.minimum(np.searchsorted(flows, inside, side="right") - 1, len(flows) - 2)
    head = _cubic(inside - flows[at], flows[at + 1] - flows[at], heads[at], heads[at + 1], slopes[at], slopes[at + 1])
    total: Floats = head + _beyond(flow_m3s - inside, flows, heads, slopes)
    return total


def power_share(flow_ratio: Floats, shut_share: Floats) -> Floats:
    """Return the power that a pump draws over that at its free flow: s + (1 - s) Q / Qmax.

    `flow_ratio` is Q / Qmax, at least 0, and `shut_share` s from 0 to 1 the power at no flow over that at free flow. The shaft
    power of radial pumps of low specific speed rises nearly straight from shut-off on: at no flow it is some 0.45 of that at
    the design point (worked example for such a pump in Karassik et al., Pump Handbook, section 2.1: 0.44). A small motor adds
    losses that hang little on the load, so at its socket the rise is flatter.

    >>> round(power_share(0.5, 0.7), 3)
    0.85
    """
    return shut_share + (1.0 - shut_share) * flow_ratio


AIR_KGM3 = 1.2
"""Density of air at 20 degC and sea level (from memory, any handbook)."""


def head_full_of_air_m(max_head_m: Floats, density_kgm3: Floats) -> Floats:
    """Return the head in m of water that a pump gives at no flow while it is full of air.

    `max_head_m` is its head at no flow in m of what it pumps, and the same number of m of air, since the head of a centrifugal
    pump hangs on the speed alone; `density_kgm3` that of the water. So it does not lift water over anything.

    >>> round(head_full_of_air_m(2.0, 998.0) * 1e3, 1)
    2.4
    """
    return max_head_m * AIR_KGM3 / density_kgm3


def mains_ratio(label_hz: Floats, mains_hz: Floats) -> Floats:
    """Return the speed on the mains over that of the label: `mains_hz` / `label_hz`, both > 0 in Hz.

    For pumps that run in step with the mains, as synchronous motors do; their speed is 120 f over the number
    of poles, in turns a minute.

    >>> round(mains_ratio(60.0, 50.0), 4)
    0.8333
    """
    return mains_hz / label_hz


def free_flow_m3s(flows_m3s: Sequence[float], heads_m: Sequence[float]) -> float:
    """Return the flow in m3/s at which a curve through points has no head left, continued straight past its last point.

    `flows_m3s` (rising, m3/s) and `heads_m` (m) as for `stack_points`.

    >>> free_flow_m3s((0.0, 1e-4, 2e-4), (2.0, 1.5, 0.0)) == 2e-4
    True
    """
    last, head = float(flows_m3s[-1]), float(heads_m[-1])
    if head <= 0.0:
        return last
    further = float(stacked_head_m(2.0 * last, *stack_points([(flows_m3s, heads_m)]))[0])
    return last + head * last / (head - further)
