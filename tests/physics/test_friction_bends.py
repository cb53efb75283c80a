"""How much friction bends: the bounds against intervals over all flows and roughnesses, and against the law itself."""

import friction_bounds
import numpy as np

from optimizer.physics.friction_bends import BANDS, MOST_ROUGHNESS, fifth_derivative_m
from optimizer.physics.hose import friction_head_m

BORE_M, KINEMATIC_M2S = 0.016, 1e-6


def fifth_on_a_circle(reynolds: float, roughness: float) -> float:
    """``|Re^5 g'''''| / g`` by Cauchy's formula on a circle round a Reynolds number, Churchill's equation written anew."""
    radius = 0.02 * reynolds
    turn = np.exp(2j * np.pi * np.arange(64) / 64)
    re = np.append(reynolds + radius * turn, reynolds)
    s = -2.457 * np.log((7.0 / re) ** 0.9 + 0.27 * roughness)
    factor = 8.0 * ((8.0 / re) ** 12 + (s**16 + (37530.0 / re) ** 16) ** -1.5) ** (1.0 / 12.0)
    g = factor * re * re
    return float(abs((g[:-1] / turn**5).mean()) * 120.0 / radius**5 * reynolds**5 / abs(g[-1]))


def test_every_band_is_proved_by_intervals() -> None:
    """Over boxes that cover all roughnesses up to the greatest, and no bound is much larger than the boxes need."""
    for (low, most), (high, _) in zip(BANDS[1:-1], BANDS[2:], strict=True):
        middle = min(max(low, 3e4), high)
        parts = [(low, middle, 0.002, 0.02), (middle, high, 0.01, 0.05)]
        boxes = [friction_bounds.boxes(*part, MOST_ROUGHNESS) for part in parts if part[0] < part[1]]
        proved = max(float(friction_bounds.fifth(*each).max()) for each in boxes)
        assert proved * (1.0 + 1e-6) <= most <= 1.1 * proved, (low, high, proved)


def test_the_intervals_hold_what_the_law_does() -> None:
    """The fifth derivative by another way, at flows and roughnesses at random, is never above that of a small box round it, and
    often close to it. Rounding on so small a circle comes to less than a thousandth of g."""
    rng, shares = np.random.default_rng(3), []
    for _ in range(60):
        reynolds, roughness = float(np.exp(rng.uniform(np.log(1500.0), np.log(1e5)))), float(rng.choice([0.0, 1e-4, 0.003, 0.05]))
        smooth = (7.0 / reynolds) ** 0.9
        share = smooth / (smooth + 0.27 * roughness)
        u, w = np.log(reynolds) + np.array([[-1e-4], [1e-4]]), share * np.array([[1 - 1e-4], [1.0]])
        box = friction_bounds.fifth(friction_bounds.Interval(*u), friction_bounds.Interval(*w))
        seen = fifth_on_a_circle(reynolds, roughness)
        assert seen <= float(box[0]) + 1e-3
        shares.append(seen / float(box[0]))
    assert np.median(shares) > 0.9


def test_up_to_where_bands_begin_the_law_is_a_straight_line() -> None:
    """To the last digits: nothing is added for bending there."""
    flow = np.linspace(0.01, 1.0, 500) * BANDS[1][0] * BORE_M * KINEMATIC_M2S * np.pi / 4.0
    for roughness in (0.0, MOST_ROUGHNESS * BORE_M):
        head = friction_head_m(flow, BORE_M, 1.0, roughness, KINEMATIC_M2S)
        assert np.abs(head / flow / (head[-1] / flow[-1]) - 1.0).max() < 1e-14
    assert fifth_derivative_m(0.0, flow[-1] * (1 - 1e-9), 1.0, BORE_M, KINEMATIC_M2S) == 0.0


def test_a_range_of_flows_takes_the_most_of_every_band_it_touches() -> None:
    """From laminar to turbulent the bend of the transition counts; above the Moody chart nothing is promised."""
    flow_at = BORE_M * KINEMATIC_M2S * np.pi / 4.0
    across = float(fifth_derivative_m(800.0 * flow_at, 9000.0 * flow_at, 1.0, BORE_M, KINEMATIC_M2S))
    assert across >= 5.9e5 / (2100.0 * flow_at) ** 5 * (1 - 1e-9)
    assert np.isinf(fifth_derivative_m(1e7 * flow_at, 2e8 * flow_at, 1.0, BORE_M, KINEMATIC_M2S))
