"""How much friction in a straight run can bend: what a polynomial that follows it may be off by.

Friction in a straight run is a constant times ``g(Re) = (f Re) Re`` of Churchill's law (`hose`). Of its fifth derivative
``|Re^5 g'''''| <= K g``, with a K for each band of Reynolds numbers, whatever the roughness. The bounds are proved by interval
arithmetic over boxes of flow and roughness that cover all of them (`tests/worlds/friction_bounds.py`). Up to Re = 500 the law is
laminar to the last digit, a straight line; turbulent friction goes with a power of the flow from 1.75 to 2; most of the bend is
where the one turns into the other.
"""

from math import pi

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.arrays import Floats

Reals = NDArray[np.float64]

MOST_ROUGHNESS = 0.05
"""Roughness over bore up to which the bounds are proved: that of the Moody chart."""

BANDS = (
    (0.0, 0.0),
    (500.0, 1.1e-6),
    (1000.0, 0.014),
    (1300.0, 2.4),
    (1500.0, 24.0),
    (1600.0, 213.0),
    (1700.0, 1.66e3),
    (1800.0, 1.12e4),
    (1900.0, 5.65e4),
    (2000.0, 8.7e4),
    (2100.0, 5.9e5),
    (2400.0, 8.6e4),
    (2600.0, 5.0e4),
    (3200.0, 3.6e4),
    (3800.0, 2.6e4),
    (4300.0, 3.15e3),
    (4600.0, 2.95e3),
    (5000.0, 1.25e3),
    (5500.0, 280.0),
    (6000.0, 68.5),
    (6500.0, 18.5),
    (7000.0, 5.2),
    (8000.0, 0.94),
    (1e8, np.inf),
)
"""Reynolds number at which each band begins, and K up to the next one."""

_STARTS, _MOST = np.array(BANDS).T


def fifth_derivative_m(low_m3s: Floats, high_m3s: Floats, head_m: Floats, bore_m: Floats, kinematic_m2s: Floats) -> Reals:
    """Return a bound on the fifth derivative by the flow, in m per (m3/s)^5, of friction in straight runs between two flows.

    `low_m3s` >= 0 and `high_m3s` > 0 in m3/s, `head_m` the friction at the higher flow in m, `bore_m` > 0 in m and
    `kinematic_m2s` > 0 in m2/s are floats or arrays that broadcast. Infinite above Re = 1e8.

    >>> float(fifth_derivative_m(1e-6, 5e-6, 0.001, 0.016, 1e-6))
    0.0
    >>> bool(fifth_derivative_m(2e-4, 3e-4, 0.2, 0.016, 1e-6) < 0.2 * 0.95 / 2e-4**5)
    True
    """
    flow_at = np.multiply(bore_m, kinematic_m2s) * (pi / 4.0)  # the flow at which Re is 1
    starts = np.multiply.outer(flow_at, _STARTS)
    begins = np.maximum(starts, np.asarray(low_m3s)[..., None])
    ends = np.append(starts[..., 1:], np.full((*starts.shape[:-1], 1), np.inf), axis=-1)
    met = (begins <= np.asarray(high_m3s)[..., None]) & (ends > np.asarray(low_m3s)[..., None])
    most = np.where(met & (_MOST > 0.0), _MOST / np.where(_STARTS > 0.0, begins, np.inf) ** 5, 0.0)
    return np.asarray(most.max(axis=-1) * head_m)
