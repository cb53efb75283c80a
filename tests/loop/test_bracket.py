"""Roots between two ends against scipy's Brent: the same root, by way of the same points."""

import math
import random
from collections.abc import Callable

import pytest
from scipy.optimize import brentq

from optimizer.loop.bracket import bracketed

Function = Callable[[float], float]


def function(chance: random.Random) -> tuple[Function, float, float]:
    """A function with one root, and two ends that hold it."""
    steep, bent = 10 ** chance.uniform(-6, 6), 10 ** chance.uniform(-6, 6)
    root = 10 ** chance.uniform(-6, 1) * chance.choice([1, 1, -1])
    shapes: list[Function] = [
        lambda x: steep * (x - root) + bent * (x - root) ** 3,
        lambda x: math.expm1(min(700.0, (x - root) * steep)),
        lambda x: -math.atan(steep * (x - root)),
        lambda x: (x - root) * abs(x - root) * steep,
        lambda x: max(steep * (x - root), -bent),
    ]
    return chance.choice(shapes), min(0.0, 2.0 * root), max(1.0, 2.0 * abs(root)) * chance.uniform(1.0, 3.0)


def with_points(solve: Callable[..., float], shape: Function, *ends: float, **tolerances: float) -> tuple[float, list[float]]:
    """The root that a solver finds, and the points it looked at."""
    points: list[float] = []

    def noted(x: float) -> float:
        points.append(x)
        return shape(x)

    return solve(noted, *ends, **tolerances), points


@pytest.mark.parametrize("seed", range(40))
def test_it_goes_where_brent_goes(seed: int) -> None:
    """Functions of five kinds; the last bits may differ where a compiler fuses a product and a sum."""
    chance = random.Random(seed)
    for _ in range(25):
        shape, low, high = function(chance)
        xtol, rtol = chance.choice([(1e-14, 1e-13), (1e-16, 1e-15), (1e-6, 1e-6)])
        root, points = with_points(bracketed, shape, low, high, xtol=xtol, rtol=rtol)
        other, others = with_points(brentq, shape, low, high, xtol=xtol, rtol=rtol, maxiter=200)
        assert root == pytest.approx(other, rel=1e-14, abs=xtol)
        assert points == pytest.approx(others, rel=1e-12, abs=xtol)


def test_an_end_may_be_the_root() -> None:
    assert bracketed(lambda x: x, 0.0, 1.0, xtol=1e-15, rtol=1e-15) == 0.0
    assert bracketed(lambda x: x - 1.0, 0.0, 1.0, xtol=1e-15, rtol=1e-15) == 1.0


def test_what_has_no_bracket_is_refused() -> None:
    with pytest.raises(ValueError, match="same sign"):
        bracketed(lambda x: x * x + 1.0, -1.0, 1.0, xtol=1e-15, rtol=1e-15)
    with pytest.raises(ValueError, match="no number"):
        bracketed(lambda x: math.nan if 0.0 < x < 1.0 else x - 0.5, 0.0, 1.0, xtol=1e-15, rtol=1e-15)
