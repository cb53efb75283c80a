"""Sound levels against published sums, hand calculation and the laws that must hold."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.physics.sound import (
    DISTANCE_RANGE,
    at_distance_dba,
    combine_dba,
)
from optimizer.physics.validity import outside

LEVELS = st.floats(0.0, 120.0)
DISTANCES = st.floats(0.1, 20.0)

# Levels and their sum. 80 + 85 and 80 + 80: lecture of A. Farina, University of Parma; 62 + 73: a published answer;
# n equal: published rounded to 3, 4.8, 6 and 10 dB; the rest 10 lg sum 10^(L/10) by hand.
SUMS = [
    ([80.0, 85.0], 86.2, 0.05),
    ([80.0, 85.0], 86.19, 0.005),
    ([80.0, 80.0], 83.0, 0.05),
    ([62.0, 73.0], 73.3, 0.05),
    ([0.0] * 2, 3.01, 0.005),
    ([0.0] * 3, 4.77, 0.005),
    ([0.0] * 4, 6.02, 0.005),
    ([0.0] * 10, 10.0, 1e-9),
    ([40.0, 38.0, 35.0], 42.894, 5e-4),
    ([45.0] * 4, 51.021, 5e-4),
]


@pytest.mark.parametrize(("levels", "total", "slack"), SUMS)
def test_levels_add_as_powers(levels: list[float], total: float, slack: float) -> None:
    assert combine_dba(levels) == pytest.approx(total, abs=slack)


def test_sources_are_not_taken_as_in_step() -> None:
    # Farina's lecture gives 88.9 and 86 dB for sources in step, which pumps are not.
    assert combine_dba([80.0, 85.0]) < 88.0
    assert combine_dba([80.0, 80.0]) < 85.0


@pytest.mark.parametrize(("ratio", "change"), [(2.0, -6.021), (3.0, -9.542)])
def test_distance(ratio: float, change: float) -> None:
    # Point source in the open, 20 lg r, by hand.
    assert at_distance_dba(40.0, 1.0, ratio) - 40.0 == pytest.approx(change, abs=5e-4)


@given(levels=st.lists(LEVELS, min_size=1, max_size=8))
def test_sum_is_between_the_loudest_and_all_as_loud(levels: list[float]) -> None:
    total = combine_dba(levels)
    assert max(levels) - 1e-9 <= total <= max(levels) + 10.0 * np.log10(len(levels)) + 1e-9


@given(level=LEVELS, near=DISTANCES, middle=DISTANCES, far=DISTANCES)
def test_distance_goes_there_and_back(level: float, near: float, middle: float, far: float) -> None:
    straight = at_distance_dba(level, near, far)
    assert at_distance_dba(at_distance_dba(level, near, middle), middle, far) == pytest.approx(straight)


def test_silence_adds_nothing() -> None:
    assert combine_dba([-np.inf, 40.0]) == pytest.approx(40.0)
    assert combine_dba([-np.inf, -np.inf]) == -np.inf
    assert combine_dba([]) == -np.inf


def test_sums_run_along_the_axis_asked_for() -> None:
    rows = np.array([[40.0, 40.0], [30.0, -np.inf], [35.0, 35.0]])
    assert combine_dba(rows) == pytest.approx([43.0103, 30.0, 38.0103], abs=1e-4)
    assert combine_dba(rows, axis=0).shape == (2,)


def test_ranges() -> None:
    assert not outside(DISTANCE_RANGE, 1.5)
    assert outside(DISTANCE_RANGE, 10.0)
