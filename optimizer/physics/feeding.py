"""From food to solids in the filter: how much is made, how much of it the loop catches, and what warmth does to bacteria."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from optimizer.physics.arrays import Floats


def solids_kg_day(feed_kg_day: Floats, solids_share: Floats = 0.25) -> Floats:
    """Return the dry solids in kg/day that feeding makes: `feed_kg_day` >= 0 in kg/day times `solids_share`.

    0.25 kg of suspended solids per kg of feed: Timmons and Ebeling, Recirculating Aquaculture.

    >>> solids_kg_day(0.005)
    0.00125
    """
    return feed_kg_day * solids_share


def through_loop_kg_day(made_kg_day: Floats, turnover_1h: Floats, caught: Floats, settling_1h: Floats) -> Floats:
    """Return the mass in kg/day that goes through the loop, counting what comes round again: P n / (k + n E).

    Well-mixed tank in balance: what is made, `made_kg_day` P >= 0, either settles at the rate `settling_1h` k
    > 0 or goes with the water, `turnover_1h` n >= 0 times an hour, of which the loop keeps the share `caught`
    E (0 to 1). The tank comes into balance within hours, so days follow one another in balance.

    >>> round(through_loop_kg_day(1.0, 3.0, 0.5, 0.5), 4)
    1.5
    """
    return made_kg_day * turnover_1h / (settling_1h + turnover_1h * caught)


def kept_share(turnover_1h: Floats, caught: Floats, settling_1h: Floats) -> Floats:
    """Return the share of the solids that ends in the loop and not in the gravel: n E / (k + n E).

    Arguments as in `through_loop_kg_day`. It rises with the turnover ever more slowly: why dirt hangs only
    weakly on the flow.

    >>> round(kept_share(3.0, 0.5, 0.5), 4)
    0.75
    """
    return turnover_1h * caught / (settling_1h + turnover_1h * caught)


REFERENCE_C = 24.0
"""Temperature in degC at which the rate of nitrification is stated: the middle of the design range, 20 to 28 degC."""

THETA = 1.04
"""Rate over the rate one degC colder, of a film that oxygen does not limit.

About 4 % per degC: Zhu and Chen, Aquacultural Engineering 26 (2002) 221-237, from memory.
"""


def _unaffected(temperature_c: Floats) -> Floats:
    return np.ones_like(np.asarray(temperature_c, dtype=float))


def _fed_with_oxygen(temperature_c: Floats) -> Floats:
    factor: Floats = THETA ** (np.clip(temperature_c, 5.0, 35.0) - REFERENCE_C)
    return factor


WARMTH_LAWS: Mapping[str, Callable[[Floats], Floats]] = MappingProxyType({"oxygen": _fed_with_oxygen, "none": _unaffected})
"""Rate of nitrification over that at `REFERENCE_C`, by name of the law."""


def warmth_factor(law: str, temperature_c: Floats) -> Floats:
    """Return the rate of nitrification over that at 24 degC. `law` is one of

    - "oxygen": 1.04^(T - 24), held below 5 and above 35 degC, for films with oxygen enough (`THETA`);
    - "none": 1. In films short of oxygen 15 and 20 degC were not told apart (Aquacultural Engineering, 2005).

    `temperature_c` in degC. Raises ValueError for another law.

    >>> round(float(warmth_factor("oxygen", 18.0)), 3), float(warmth_factor("none", 18.0))
    (0.79, 1.0)
    """
    if law not in WARMTH_LAWS:
        raise ValueError(f"no warmth law {law!r}; laws are {', '.join(WARMTH_LAWS)}")
    factor: Floats = np.asarray(WARMTH_LAWS[law](temperature_c), dtype=float)[()]
    return factor
