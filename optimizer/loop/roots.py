"""Roots of many falling functions at once: secants inside a bracket that shrinks."""

from typing import Protocol, Self

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

MOST_STEPS = 160
FREE_STEPS = 12
"""After so many steps every third goes to the middle of the bracket, so that 160 suffice for any function."""


class Gap(Protocol):
    """n falling functions, each of its own unknown."""

    def at(self, here: Reals) -> Reals:
        """Their values (n,) at unknowns (n,)."""

    def rows(self, rows: Ints) -> Self:
        """Some of them."""


def falling_roots(gap: Gap, low: Reals, high: Reals, start: Reals, slope: Reals, tolerance: Reals, noise: Reals) -> Reals:
    """Where each function passes 0: all arguments (n,), values above 0 at ``low`` and below 0 at ``high``.

    ``start`` lies between, ``slope`` < 0 is about that of the function there and steers the first step only. A root is
    found where the last step is below ``tolerance``, or the value below ``noise``, its rounding. A secant over a kink may
    point wrong, and only a short step from an evaluated point bounds that. A function with several roots gives one of them.
    Raises ArithmeticError where none is found, as for values that are no numbers.
    """
    root, active = np.empty_like(start), np.arange(len(start))
    here, value = start, gap.at(start)
    for steps in range(1, MOST_STEPS + 1):
        above = value > 0.0
        low, high = np.where(above, here, low), np.where(above, high, here)
        with np.errstate(invalid="ignore", divide="ignore"):
            ahead = np.where(slope < 0.0, here - value / slope, np.nan)
        halves = ~((ahead > low) & (ahead < high)) if steps <= FREE_STEPS or steps % 3 else np.ones_like(above)
        exact = np.abs(value) <= noise
        ahead = np.where(exact, here, np.where(halves, 0.5 * (low + high), ahead))
        small = exact | (high - low <= tolerance) | (~halves & (np.abs(ahead - here) <= tolerance))
        root[active] = ahead
        open_ = np.flatnonzero(~small)
        if not len(open_):
            return root
        if len(open_) < len(active):
            active, gap = active[open_], gap.rows(open_)
            low, high, tolerance, noise = low[open_], high[open_], tolerance[open_], noise[open_]
            here, ahead, value = here[open_], ahead[open_], value[open_]
        before, value = value, gap.at(ahead)
        with np.errstate(invalid="ignore", divide="ignore"):
            slope = (value - before) / (ahead - here)
        here = ahead
    raise ArithmeticError(f"{len(active)} of {len(root)} roots were not found")
