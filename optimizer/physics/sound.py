"""Sound: adding the levels of several pumps, and distance.

Levels are in dB(A) re 20 micropascal. All arguments are floats or arrays that broadcast.
"""

from math import log
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optimizer.physics.arrays import Floats
from optimizer.physics.validity import Validity

_NEPERS_PER_DB = log(10.0) / 10.0

DISTANCE_RANGE = Validity(
    name="sound over distance",
    quantity="distance",
    kind="length",
    low=0.25,
    high=3.0,
    source="from memory: nearer the source is no point, further the echo of a living room takes over",
)
VALIDITIES = (DISTANCE_RANGE,)


def combine_dba(levels_dba: ArrayLike, axis: int = -1) -> Floats:
    """Return the level in dB(A) of independent sources together, summed along `axis`: 10 lg sum 10^(L/10).

    `levels_dba` are their levels at the same place, an array or sequence of any shape; -inf is silence, and
    so is the answer for no sources at all. Powers add because the sources are not in step.

    >>> round(float(combine_dba([40.0, 38.0, 35.0])), 3)
    42.894
    """
    levels: Any = np.asarray(levels_dba, dtype=float)
    total: Floats = np.logaddexp.reduce(levels * _NEPERS_PER_DB, axis=axis) / _NEPERS_PER_DB
    return total


def at_distance_dba(level_dba: Floats, from_m: Floats, to_m: Floats) -> Floats:
    """Return the level at `to_m` of a source with `level_dba` at `from_m` (both > 0, m): L - 20 lg(to/from).

    A point source in the open; rooms echo, so the true fall indoors is smaller. `DISTANCE_RANGE`.

    >>> round(float(at_distance_dba(40.0, 1.0, 2.0)), 3)
    33.979
    """
    level: Floats = level_dba - 20.0 * np.log10(to_m / from_m)
    return level
