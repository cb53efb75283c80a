"""The cake on a face: Ruth's parabola by small steps, pores against what is known of foam and grains, and what a face keeps."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.physics.cake import (
    STRAINING_LAWS,
    cake_coefficient,
    cake_thickness_m,
    coarser_share,
    kept_by_faces,
    pore_opening_m,
    specific_resistance_mkg,
)
from optimizer.physics.dirt_figures import CAKE, PORE, SLUDGE, SOLIDS_SIZE, figure
from optimizer.physics.media import FOAM_PERMEABILITY, ergun_coefficients
from optimizer.physics.water import GRAVITY_MS2

RHO, MU = 997.3, 0.91e-3


def test_filtration_at_one_pressure_is_ruths_parabola() -> None:
    """Ruth (1935), from memory: at a constant pressure, and nothing else in the way, t = mu alpha c V^2 / (2 A^2 dp), with c the
    dry mass per volume of water. Here by 20 000 small steps of a cake that grows with the water it has let through."""
    area, head, conc, k, wet = 0.03, 0.5, 0.05, 1e-11, 0.0125
    step, time, volume, first = 1e-6, 0.0, 0.0, 2e-3
    while volume < 0.022 - 0.5 * step:
        if volume >= first:
            thickness = float(cake_thickness_m(volume * conc, area, wet))
            time += step * float(cake_coefficient(thickness, area, k, RHO, MU)) / head
        volume += step
    alpha, pressure = specific_resistance_mkg(k, wet), head * RHO * GRAVITY_MS2
    assert time == pytest.approx(MU * alpha * conc * (volume**2 - first**2) / (2.0 * area**2 * pressure), rel=1e-3)


def test_a_stated_specific_resistance_is_met() -> None:
    """dp = mu alpha w V, in the words of textbooks (Tien 2006, from memory), against the head that the tool gives."""
    dry, area, flow = 4e-3, 0.02, 2e-4
    alpha = specific_resistance_mkg(figure(CAKE), figure(SLUDGE))
    head = float(cake_coefficient(cake_thickness_m(dry, area, figure(SLUDGE)), area, figure(CAKE), RHO, MU)) * flow
    assert head * RHO * GRAVITY_MS2 == pytest.approx(MU * alpha * (dry / area) * (flow / area))
    assert 1e8 < alpha < 1e10


@pytest.mark.parametrize("pores", [20.0, 30.0, 45.0])
def test_pores_of_foam_are_those_of_its_count(pores: float) -> None:
    """25.4 mm over the pores in an inch, within a third."""
    assert pore_opening_m(FOAM_PERMEABILITY[pores], figure(PORE)) == pytest.approx(25.4e-3 / pores, rel=0.34)


@pytest.mark.parametrize("grain_mm", [5.0, 10.0, 15.0])
def test_gaps_between_grains_are_those_of_three_that_touch(grain_mm: float) -> None:
    """0.155 of the grain (Herzig, Leclerc and Le Goff 1970, from memory) for beds of 40 to 45 % voids, within 40 %."""
    for voids in (0.40, 0.45):
        permeability, _ = ergun_coefficients(grain_mm * 1e-3, voids)
        assert pore_opening_m(permeability, figure(PORE)) == pytest.approx(0.155e-3 * grain_mm, rel=0.4)


def test_most_solids_are_fine_and_some_are_coarse() -> None:
    """Half of the mass above 0.1 mm and a tenth above 1 mm: the prior itself, as its source has it."""
    shares = [float(coarser_share("sieve", size, figure(SOLIDS_SIZE))) for size in (0.0, 0.1e-3, 1.1e-3, np.inf)]
    assert shares == pytest.approx([1.0, 0.5, 0.1, 0.0], abs=0.02)
    assert not coarser_share("none", np.array([0.0, 1e-3]), 2e-4).any()
    with pytest.raises(ValueError, match=", ".join(STRAINING_LAWS)):
        coarser_share("net", 1e-3, 1e-3)


@given(shares=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=6), before=st.floats(0.0, 1.0))
def test_faces_together_keep_what_the_finest_of_them_would(shares: list[float], before: float) -> None:
    """Sorted by size: each keeps its own piece of the sizes, none twice."""
    kept = np.asarray(kept_by_faces(np.array([shares]), np.array([before])))[0]
    assert (kept >= 0.0).all()
    assert kept.sum() == pytest.approx(max(0.0, max(shares) - before), abs=1e-12)
    for n, share in enumerate(shares):
        assert kept[n] == pytest.approx(max(0.0, share - max([before, *shares[:n]])), abs=1e-12)
