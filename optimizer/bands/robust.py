"""The candidate with the best chosen quantile, said together with what it was chosen from."""

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from optimizer.model.bands import RobustChoice
from optimizer.search.best import RESOLUTION_M3S

LEAST_PERCENT, MOST_PERCENT = 5, 95
"""Further out the tails say more of the priors' form than of the loop."""


def quantile_of(text: str) -> int:
    """The percent of a quantile such as P10. Raises ValueError for anything but P5 to P95.

    >>> quantile_of("P10")
    10
    """
    found = re.fullmatch(r"[Pp]?(\d{1,2})", text.strip())
    if found is None or not LEAST_PERCENT <= int(found[1]) <= MOST_PERCENT:
        raise ValueError(f"{text!r} is no quantile from P{LEAST_PERCENT} to P{MOST_PERCENT}; write for example P10")
    return int(found[1])


def best_at(flows_m3s: NDArray[np.float64], percent: int) -> int:
    """Row of (candidates, draws) flows with the best quantile; of rows within the resolution of flows, the first.

    >>> best_at(np.array([[1.0, 9.0, 9.0], [3.0, 4.0, 5.0]]), 10)
    1
    """
    values = np.quantile(flows_m3s, percent / 100.0, axis=1)
    return int(np.argmax(values >= values.max() - RESOLUTION_M3S))


def chosen(names: Sequence[str], flows_m3s: NDArray[np.float64], percent: int, made: str) -> RobustChoice:
    """The choice among candidates in their order of preference, (candidates, draws) flows in m3/s.

    ``made`` says in words how the set came about. Raises ValueError if it is empty: a choice from a set that nobody knows
    is none.
    """
    if not made.strip():
        raise ValueError("say how the set of candidates was made")
    row = best_at(flows_m3s, percent)
    at = np.quantile(flows_m3s[[row, 0]], [percent / 100.0, 0.5], axis=1)
    gives_up = max(float(at[1, 1] - at[1, 0]), 0.0)
    return RobustChoice(
        name=names[row],
        quantile=f"P{percent}",
        flow_m3s=float(at[0, 0]),
        first_m3s=float(at[0, 1]),
        gives_up_m3s=gives_up,
        made=made,
    )
