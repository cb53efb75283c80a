"""Values that stand far from others of their kind: a slipped decimal point, a price of a pack in the row of a piece, inches in a
column of millimetres.

Values and sizes are compared as logarithms, since slips multiply. The trend over size is the median slope between all pairs of
different size (Theil 1950, Sen 1968), the spread the median distance from it (MAD): both stay where they are while
fewer than three in ten values are wrong. A value is out of line when its distance is more than `FAR` robust standard deviations
(3.5 by Iglewicz and Hoaglin 1993; all three from memory) and at least the factor that its caller calls a slip.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FAR = 3.5
LEAST = 6
"""Of fewer values nobody can say which is out of line."""
MOST = 400
"""So many values are enough to know their trend by."""
AS_SIGMA = 1.4826
"""MAD times this is the standard deviation of a normal distribution."""


@dataclass(frozen=True, slots=True)
class OutOfLine:
    """A value by its place in the row that was asked about, and what is usual there: the middle, and where half of them lie."""

    place: int
    usual: float
    low: float
    high: float


def out_of_line(sizes: Sequence[float], values: Sequence[float], slip: float) -> list[OutOfLine]:
    """The values (above zero) that stand at least a factor ``slip`` from what is usual for their size.

    >>> prices = [100, 110, 120, 130, 140, 1300]
    >>> [each.place for each in out_of_line([1.0] * 6, prices, 2.5)]
    [5]
    """
    if len(values) < LEAST:
        return []
    x, y = np.log(np.asarray(sizes, float)), np.log(np.asarray(values, float))
    some = np.arange(len(y)) if len(y) <= MOST else np.linspace(0, len(y) - 1, MOST).astype(int)
    slope = _slope(x[some], y[some])
    level = y - slope * x
    middle = float(np.median(level[some]))
    away = level - middle
    sigma = AS_SIGMA * float(np.median(np.abs(away[some])))
    far = np.abs(away) > max(FAR * sigma, np.log(slip) - 1e-9)
    quartiles = np.quantile(level[some], (0.25, 0.75))
    return [OutOfLine(int(n), *(float(np.exp(one + slope * x[n])) for one in (middle, *quartiles))) for n in np.flatnonzero(far)]


def _slope(x: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """The median slope; between values of one size there is none."""
    apart = x[:, None] - x[None, :]
    pairs = apart > np.log(1.05)
    return float(np.median((y[:, None] - y[None, :])[pairs] / apart[pairs])) if pairs.any() else 0.0
