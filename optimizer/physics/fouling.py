"""What grows with time whatever the water does: film on walls, dirt on the impeller. Laws start at 0 and rise to a bound."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from optimizer.physics.arrays import Floats


def _saturating(age: Floats) -> Floats:
    share: Floats = -np.expm1(-np.asarray(age))
    return share


def _steady(age: Floats) -> Floats:
    share: Floats = np.minimum(age, 1.0)
    return share


def _lagging(age: Floats) -> Floats:
    square = np.asarray(age) * np.asarray(age)
    share: Floats = square / (1.0 + square)
    return share


GROWTH_LAWS: Mapping[str, Callable[[Floats], Floats]] = MappingProxyType(
    {"saturating": _saturating, "steady": _steady, "lagging": _lagging}
)
"""Share of the bound as a function of the age over its time constant, by name of the law."""


def grown_share(law: str, age: Floats) -> Floats:
    """Return how much has grown, as a share of the most that can: 0 at age 0, rising, at most 1.

    `age` >= 0 is the time over the time constant. `law` is one of

    - "saturating": 1 - exp(-age), asymptotic fouling after Kern and Seaton (1959), from memory;
    - "steady": min(age, 1), growth at one rate until the bound;
    - "lagging": age^2 / (1 + age^2), slow to start on a new wall; a prior of the authors.

    Raises ValueError for another law.

    >>> [round(float(grown_share(law, 0.7)), 3) for law in ("saturating", "steady", "lagging")]
    [0.503, 0.7, 0.329]
    """
    if law not in GROWTH_LAWS:
        raise ValueError(f"no growth law {law!r}; laws are {', '.join(GROWTH_LAWS)}")
    share: Floats = np.asarray(GROWTH_LAWS[law](age), dtype=float)[()]
    return share


def age_of_share(law: str, share: Floats) -> Floats:
    """Return the age at which a law of `grown_share` gives `share` (0 to 1): its inverse. A share of 1 counts as just below.

    Raises ValueError for another law.

    >>> round(float(age_of_share("lagging", grown_share("lagging", 0.7))), 6)
    0.7
    """
    grown_share(law, 0.0)
    under = np.minimum(share, 1.0 - 1e-9)
    ages = {"saturating": -np.log1p(-under), "steady": under, "lagging": np.sqrt(under / (1.0 - under))}
    age: Floats = np.asarray(ages[law], dtype=float)[()]
    return age


def grown(law: str, start: Floats, days: Floats, most: Floats, time_days: Floats) -> Floats:
    """Return what there is after some days of what was `start` on the first: rising with the days, to at most `most`.

    `start` >= 0 and `most` > 0 in one unit, `days` >= 0 and `time_days` > 0 in days. What starts above the
    most stays as it is. Laws as in `grown_share`.

    >>> round(1e3 * float(grown("saturating", 0.0, 42.0, 0.8e-3, 60.0)), 3)
    0.403
    """
    before = age_of_share(law, np.minimum(np.asarray(start) / most, 1.0))
    after: Floats = np.maximum(start, most * grown_share(law, before + np.asarray(days) / time_days))[()]
    return after
