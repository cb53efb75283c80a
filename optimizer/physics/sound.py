"""Sound: adding the levels of several pumps, distance, cabinets and background.

Levels are in dB(A) re 20 micropascal (pressure) or re 1 picowatt (power). All arguments are floats or arrays
that broadcast.
"""

from math import log, pi
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from optimizer.physics.arrays import Floats
from optimizer.physics.validity import Validity

_NEPERS_PER_DB = log(10.0) / 10.0

DISTANCE_RANGE = Validity(
    name="sound over distance",
    quantity="distance in m",
    low=0.25,
    high=3.0,
    source="from memory: nearer the source is no point, further the echo of a living room takes over",
)
BACKGROUND_RANGE = Validity(
    name="background correction",
    quantity="level with the source on above the background, dB",
    low=6.0,
    high=15.0,
    source="form of ISO 3744, from memory: nearer is no valid measurement, above 15 needs no correction",
)
VALIDITIES = (DISTANCE_RANGE, BACKGROUND_RANGE)


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


def mean_dba(levels_dba: ArrayLike, axis: int = -1) -> Floats:
    """Return the mean by energy in dB(A), as of readings around a source: `combine_dba` less 10 lg n.

    `levels_dba` are at least one level along `axis`.

    >>> round(float(mean_dba([38.0, 40.0, 41.0, 39.0, 42.0])), 3)
    40.228
    """
    count = np.shape(levels_dba)[axis]
    mean: Floats = combine_dba(levels_dba, axis) - 10.0 * np.log10(count)
    return mean


def at_distance_dba(level_dba: Floats, from_m: Floats, to_m: Floats) -> Floats:
    """Return the level at `to_m` of a source with `level_dba` at `from_m` (both > 0, m): L - 20 lg(to/from).

    A point source in the open; rooms echo, so the true fall indoors is smaller. `DISTANCE_RANGE`.

    >>> round(float(at_distance_dba(40.0, 1.0, 2.0)), 3)
    33.979
    """
    level: Floats = level_dba - 20.0 * np.log10(to_m / from_m)
    return level


def attenuated_dba(level_dba: Floats, attenuation_db: Floats) -> Floats:
    """Return the level in dB(A) behind a cabinet that takes `attenuation_db` (dB, >= 0) off `level_dba`.

    >>> attenuated_dba(40.0, 6.0)
    34.0
    """
    return level_dba - attenuation_db


def pressure_dba(power_dba: Floats, distance_m: Floats) -> Floats:
    """Return the sound pressure level at `distance_m` > 0 (m) of a source of sound power level `power_dba`.

    L_p = L_W - 10 lg(2 pi r^2), a half sphere over a hard floor.

    >>> round(float(pressure_dba(48.0, 1.0)), 3)
    40.018
    """
    level: Floats = power_dba - 10.0 * np.log10(2.0 * pi * distance_m * distance_m)
    return level


def power_dba(pressure_dba: Floats, distance_m: Floats) -> Floats:
    """Return the sound power level of a source that has the level `pressure_dba` at `distance_m` > 0 (m).

    L_W = L_p + 10 lg(2 pi r^2), a half sphere over a hard floor.

    >>> round(float(power_dba(40.0, 1.0)), 3)
    47.982
    """
    level: Floats = pressure_dba + 10.0 * np.log10(2.0 * pi * distance_m * distance_m)
    return level


def background_correction_db(above_background_db: Floats) -> Floats:
    """Return what to take off a reading for the background, in dB: -10 lg(1 - 10^(-d/10)).

    `above_background_db` d > 0 is the reading with the source on less that with it off. Form of ISO 3744
    (from memory). `BACKGROUND_RANGE`.

    >>> round(float(background_correction_db(6.0)), 3)
    1.256
    """
    share_left = -np.expm1(-np.asarray(above_background_db) * _NEPERS_PER_DB)
    correction: Floats = -np.log(share_left) / _NEPERS_PER_DB
    return correction


def without_background_dba(total_dba: Floats, background_dba: Floats) -> Floats:
    """Return the level in dB(A) of a source alone: `total_dba` is read with it on, `background_dba` with it off.

    `total_dba` must be the higher.

    >>> round(float(without_background_dba(85.0, 80.0)), 2)
    83.35
    """
    return total_dba - background_correction_db(total_dba - background_dba)
