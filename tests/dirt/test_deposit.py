"""The law of a layer that catches solids: closed form against a naive march, published values, and what must never happen."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.integrate import quad

from optimizer.physics.deposit import (
    caught_share,
    filter_coefficient_1m,
    law_names,
    layer_factor,
    load_of_factor,
    passed_load,
    share_held,
    share_held_at,
)
from optimizer.physics.media import CLOGGING_LAWS, bed_clogging_factor, clogging_factor, filled_for_factor

LOADS = st.floats(0.0, 60.0)
PASSAGES = st.floats(0.0, 30.0)
LAWS = st.sampled_from(law_names())
VOIDS = st.floats(0.3, 0.98)


def marched(load: float, passage: float, slices: int = 400, steps: int = 4000) -> tuple[float, float]:
    """Load passed on and share held, by marching the two differential equations with small steps of depth and time."""
    held = np.zeros(slices)
    passed, dx, dt = 0.0, passage / slices, load / steps
    for _ in range(steps):
        per_slice = dx * (1.0 - held)
        # exact within a slice for the coefficient of the moment
        through = np.cumprod(np.exp(-per_slice))
        coming = np.concatenate(([1.0], through[:-1]))
        held = np.minimum(held + dt * (coming - through) / dx, 1.0)
        passed += dt * through[-1]
    return passed, float(held.mean())


@pytest.mark.parametrize(("load", "passage"), [(0.3, 0.3), (2.0, 0.3), (1.0, 2.0), (6.0, 4.0), (3.0, 8.0)])
def test_closed_form_meets_a_naive_march(load: float, passage: float) -> None:
    """Naive computation: explicit steps of dC/dx = -(1 - s) C, ds/dt = (1 - s) C."""
    passed, held = marched(load, passage)
    assert passed_load(load, passage) == pytest.approx(passed, rel=2e-3, abs=2e-3)
    assert share_held(load, passage) == pytest.approx(held, rel=2e-3)


@pytest.mark.parametrize("passage", [0.1, 1.0, 5.0])
def test_a_clean_layer_catches_by_iwasaki(passage: float) -> None:
    """Iwasaki (1937), from memory: C = C0 exp(-lambda L) in a clean filter."""
    assert caught_share(0.0, passage) == pytest.approx(1.0 - np.exp(-passage))
    assert passed_load(1e-9, passage) == pytest.approx(1e-9 * np.exp(-passage), rel=1e-6)


def test_coefficient_goes_with_one_over_the_pore() -> None:
    """Four times the permeability is twice the pore: half the filter coefficient."""
    assert filter_coefficient_1m(4e-8, 2e-3) == pytest.approx(filter_coefficient_1m(1e-8, 2e-3) / 2.0)


@given(load=LOADS, first=PASSAGES, second=PASSAGES)
def test_two_layers_of_one_medium_are_one(load: float, first: float, second: float) -> None:
    through = passed_load(passed_load(load, first), second)
    assert through == pytest.approx(passed_load(load, first + second), rel=1e-9, abs=1e-12)


@given(load=LOADS, passage=st.floats(1e-3, 30.0))
def test_what_comes_in_is_held_or_goes_on(load: float, passage: float) -> None:
    mean, _ = quad(lambda x: float(share_held_at(load, x)), 0.0, passage, points=[min(load, passage)], limit=200)
    assert load == pytest.approx(float(passed_load(load, passage)) + mean, rel=1e-6, abs=1e-9)
    assert share_held(load, passage) * passage == pytest.approx(mean, rel=1e-6, abs=1e-9)


@given(load=LOADS, passage=PASSAGES)
def test_the_share_caught_is_what_the_next_bit_leaves(load: float, passage: float) -> None:
    """The derivative of what goes on, by a difference."""
    step = 1e-5
    slope = (passed_load(load + step, passage) - passed_load(load, passage)) / step
    assert caught_share(load + step / 2.0, passage) == pytest.approx(1.0 - slope, abs=1e-6)


@pytest.mark.parametrize("law", law_names())
@pytest.mark.parametrize(("load", "passage"), [(0.5, 0.3), (3.0, 0.3), (2.0, 4.0), (6.0, 8.0), (12.0, 10.0)])
def test_layer_is_its_slices_in_series(law: str, load: float, passage: float) -> None:
    """Adaptive quadrature of 1/k over the depth."""
    resistance, _ = quad(
        lambda x: 1.0 / float(bed_clogging_factor(law, 0.8 * float(share_held_at(load, x)), 0.4)),
        0.0,
        passage,
        points=[min(load, 0.999 * passage)],
        limit=400,
    )
    assert layer_factor(law, load, passage, 0.8, 0.4) == pytest.approx(passage / resistance, rel=1e-3)


def test_uneven_dirt_costs_more_than_even_dirt() -> None:
    """Jensen: 1/k bends upwards, so the same amount in front costs more than spread out."""
    for law in ("cubic", "doubling"):
        assert layer_factor(law, 3.0, 4.0, 0.8) < clogging_factor(law, 0.8 * share_held(3.0, 4.0))


@example(law="cubic", load=1.0, more=3.0, passage=2.220446049250313e-16, voids=0.5)
@given(law=LAWS, load=LOADS, more=LOADS, passage=PASSAGES, voids=VOIDS)
def test_more_solids_never_open_a_layer(law: str, load: float, more: float, passage: float, voids: float) -> None:
    low, high = sorted((load, more))
    assert layer_factor(law, high, passage, 0.8, voids) <= layer_factor(law, low, passage, 0.8, voids) * (1.0 + 1e-12)
    assert share_held(high, passage) >= share_held(low, passage) - 1e-9
    assert caught_share(high, passage) <= caught_share(low, passage) + 1e-15


@given(law=LAWS, load=st.floats(0.0, 1e9), passage=st.floats(0.0, 1e6), full=st.floats(0.1, 0.95), voids=VOIDS)
def test_nothing_explodes_near_full_pores(law: str, load: float, passage: float, full: float, voids: float) -> None:
    """Never below what the law gives for a full medium, whatever has come in."""
    factor = float(layer_factor(law, load, passage, full, voids))
    assert bed_clogging_factor(law, full, voids) * (1.0 - 1e-9) <= factor <= 1.0 + 1e-12
    assert 0.0 <= float(share_held(load, passage)) <= 1.0
    assert 0.0 <= float(caught_share(load, passage)) <= 1.0
    assert 0.0 <= float(passed_load(load, passage)) <= load * (1.0 + 1e-9) + 1e-12


# Deposit per bed volume over voids, Kozeny and cubic by hand: (voids, deposit, Kozeny, cubic).
DEPOSITS = [
    (0.40, 0.02, 0.8030, 0.8574),
    (0.40, 0.05, 0.5708, 0.6699),
    (0.40, 0.10, 0.3099, 0.4219),
    (0.97, 0.05, 0.1200, 0.8532),
    (0.97, 0.20, 0.0085, 0.5002),
]


@pytest.mark.parametrize(("voids", "deposit", "kozeny", "cubic"), DEPOSITS)
def test_kozeny_stays_with_granular_beds(voids: float, deposit: float, kozeny: float, cubic: float) -> None:
    """By hand from (e/e0)^3 ((1-e0)/(1-e))^2 and (1 - s)^3: for foam the first calls a twentieth of dirt nearly shut."""
    expected = kozeny if voids < 0.6 else cubic
    assert bed_clogging_factor("kozeny", deposit / voids, voids) == pytest.approx(expected, abs=6e-5)
    assert bed_clogging_factor("cubic", deposit / voids, voids) == pytest.approx(cubic, abs=6e-5)


def test_full_media_are_clogged_as_the_trade_says() -> None:
    """Common practice, no published source: a clogged bed has about a hundredth of its permeability."""
    for law in ("cubic", "proportional"):
        assert 0.005 < clogging_factor(law, 0.8) < 0.015
    assert 1.0 / clogging_factor("proportional", 0.4) - 1.0 == pytest.approx(
        2.0 * (1.0 / float(clogging_factor("proportional", 0.2)) - 1.0)
    ), "O'Melia and Ali (1978), from memory: the gain in head is proportional to what is held"


@given(law=st.sampled_from(list(CLOGGING_LAWS)), filled=st.floats(0.0, 0.95))
def test_filled_share_is_found_again(law: str, filled: float) -> None:
    assert filled_for_factor(law, clogging_factor(law, filled)) == pytest.approx(filled, abs=1e-9)


@given(law=LAWS, load=st.floats(0.0, 8.0), passage=st.floats(0.05, 10.0), voids=VOIDS)
def test_load_is_found_again(law: str, load: float, passage: float, voids: float) -> None:
    factor = layer_factor(law, load, passage, 0.8, voids)
    again = load_of_factor(law, factor, passage, 0.8, voids)
    assert layer_factor(law, again, passage, 0.8, voids) == pytest.approx(factor, rel=1e-9)


def test_unknown_laws_are_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="cubic, doubling, proportional"):
        layer_factor("straight", 1.0, 1.0, 0.8)
    with pytest.raises(ValueError, match="cubic, doubling, proportional"):
        filled_for_factor("straight", 0.5)
