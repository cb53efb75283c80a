"""Water against printed tables, the IAPWS and TEOS-10 libraries, and the laws that must hold."""

from dataclasses import FrozenInstanceError

import gsw
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS95

from optimizer.physics.validity import outside
from optimizer.physics.water import (
    DENSITY_SALINITY,
    DENSITY_TEMPERATURE,
    GRAVITY_MS2,
    PRACTICAL_PER_ABSOLUTE,
    VALIDITIES,
    Water,
    density_kgm3,
    kinematic_viscosity_m2s,
    viscosity_pas,
)

TEMPERATURES = st.floats(0.0, 40.0)
SALINITIES = st.floats(0.0, 41.0)

# IAPWS R6-95 (density) and R12-08 (viscosity), 0.101325 MPa: degC, kg/m3, mPa s, mm2/s.
FRESH = [
    (15.0, 999.103, 1.13757, 1.13859),
    (20.0, 998.207, 1.00160, 1.00340),
    (24.0, 997.299, 0.910682, 0.913148),
    (25.0, 997.048, 0.890022, 0.892658),
    (28.0, 996.236, 0.832378, 0.835523),
    (30.0, 995.650, 0.797222, 0.800705),
]
# Density TEOS-10 at absolute salinity 35 g/kg; viscosity Sharqawy et al. 2010 eqs. 22 and 23: degC, kg/m3,
# mPa s, mm2/s.
SEA = [
    (20.0, 1024.641, 1.07663, 1.05074),
    (24.0, 1023.520, 0.980660, 0.958125),
    (25.0, 1023.220, 0.958828, 0.937070),
    (28.0, 1022.272, 0.897865, 0.878304),
]


@pytest.mark.parametrize(("t", "rho", "mu", "nu"), FRESH)
def test_fresh_water_meets_iapws_values(t: float, rho: float, mu: float, nu: float) -> None:
    assert density_kgm3(t) == pytest.approx(rho, rel=1e-5)
    assert 1e3 * viscosity_pas(t) == pytest.approx(mu, rel=5e-4)
    assert 1e6 * kinematic_viscosity_m2s(t) == pytest.approx(nu, rel=5e-4)


@pytest.mark.parametrize(("t", "rho", "mu", "nu"), SEA)
def test_sea_water_meets_teos_density_and_sharqawy_viscosity(t: float, rho: float, mu: float, nu: float) -> None:
    assert density_kgm3(t, 35.0) == pytest.approx(rho, rel=2e-5)
    assert 1e3 * viscosity_pas(t, 35.0) == pytest.approx(mu, rel=1e-3)
    assert 1e6 * kinematic_viscosity_m2s(t, 35.0) == pytest.approx(nu, rel=1e-3)


@pytest.mark.parametrize("t", [0.5, 10.0, 18.0, 26.0, 33.0, 40.0])
def test_fresh_water_follows_the_iapws_library(t: float) -> None:
    exact = IAPWS95(T=273.15 + t, P=0.101325)
    assert density_kgm3(t) == pytest.approx(exact.rho, rel=2e-5)
    assert viscosity_pas(t) == pytest.approx(exact.mu, rel=1e-3)


def test_sea_water_density_follows_the_teos_10_library() -> None:
    t, s = np.meshgrid(np.linspace(0.0, 35.0, 15), np.linspace(0.0, 40.0, 9))
    assert density_kgm3(t, s) == pytest.approx(gsw.rho_t_exact(s, t, 0.0), rel=5e-5)


# London South Bank University water data page: degC, kg/m3, mPa s.
@pytest.mark.parametrize(("t", "rho", "mu"), [(20.0, 998.2, 1.002), (30.0, 995.7, 0.797)])
def test_fresh_water_meets_university_data_page(t: float, rho: float, mu: float) -> None:
    assert density_kgm3(t) == pytest.approx(rho, abs=0.06)
    assert 1e3 * viscosity_pas(t) == pytest.approx(mu, rel=1e-3)


# Encyclopedia of Environmental Science and Engineering, app. table 2 (International Critical Tables 1928/29),
# whose viscosities are 0.5 to 0.7 % above IAPWS: degC, kg/m3, mm2/s.
@pytest.mark.parametrize(("t", "rho", "nu"), [(20.0, 998.23, 1.0105), (24.0, 997.33, 0.9186), (28.0, 996.26, 0.8394)])
def test_fresh_water_is_within_one_percent_of_the_old_tables(t: float, rho: float, nu: float) -> None:
    assert density_kgm3(t) == pytest.approx(rho, rel=5e-5)
    assert 1e6 * kinematic_viscosity_m2s(t) == pytest.approx(nu, rel=1e-2)


# Introduction to Naval Architecture, table 5.1, 3.5 % salt: degC, kg/m3, mm2/s.
@pytest.mark.parametrize(("t", "rho", "nu"), [(20.0, 1024.7, 1.054), (30.0, 1021.7, 0.849)])
def test_sea_water_meets_ship_builders_table(t: float, rho: float, nu: float) -> None:
    assert density_kgm3(t, 35.0) == pytest.approx(rho, rel=1e-4)
    assert 1e6 * kinematic_viscosity_m2s(t, 35.0) == pytest.approx(nu, rel=1e-2)


def test_density_is_the_eos_80_polynomial_at_practical_salinity_35() -> None:
    # Landolt-Boernstein V/3a (1986), EOS-80 at 25 degC: 1023.343 kg/m3; TEOS-10 there: 1023.344.
    assert density_kgm3(25.0, 35.0 / PRACTICAL_PER_ABSOLUTE) == pytest.approx(1023.343, abs=6e-4)


def test_sea_viscosity_is_near_millero_1974() -> None:
    # Millero 1974, printed check value 25 degC, salinity 40: 9.6541e-4 Pa s; Sharqawy states 1.5 % for his
    # own formula.
    assert viscosity_pas(25.0, 40.0) == pytest.approx(9.6541e-4, rel=1.5e-2)


def test_head_of_a_pressure_uses_density_and_standard_gravity() -> None:
    # 1 psi = 6894.757 Pa is 0.70433 m and 1 kPa is 0.102155 m of water at 20 degC (rho 998.207, g 9.80665).
    # engineeringtoolbox.com d_1147 prints 1 psi = 2.307 ft at 62 degF, a factor for 1000 kg/m3: 0.1 % off by
    # itself.
    weight = density_kgm3(20.0) * GRAVITY_MS2
    assert 6894.757 / weight == pytest.approx(0.70433, abs=5e-6)
    assert 1000.0 / weight == pytest.approx(0.102155, abs=5e-7)
    assert 6894.757 / (density_kgm3((62.0 - 32.0) / 1.8) * GRAVITY_MS2) / 0.3048 == pytest.approx(2.307, rel=1.2e-3)


@given(TEMPERATURES, SALINITIES, st.floats(0.01, 10.0))
def test_salt_makes_water_heavier_and_thicker(t: float, s: float, more: float) -> None:
    assert density_kgm3(t, s + more) > density_kgm3(t, s)
    assert viscosity_pas(t, s + more) > viscosity_pas(t, s)


@given(TEMPERATURES, SALINITIES, st.floats(0.01, 10.0))
def test_warmth_makes_water_thinner(t: float, s: float, warmer: float) -> None:
    assert kinematic_viscosity_m2s(t + warmer, s) < kinematic_viscosity_m2s(t, s)


@given(TEMPERATURES, SALINITIES)
def test_water_and_arrays_agree_with_floats(t: float, s: float) -> None:
    water = Water(temperature_c=t, salinity_gkg=s)
    grid = np.full((2, 3), t)
    assert density_kgm3(grid, s) == pytest.approx(np.full((2, 3), water.density_kgm3), rel=1e-15)
    assert viscosity_pas(grid, s) == pytest.approx(np.full((2, 3), water.viscosity_pas), rel=1e-14)
    assert water.kinematic_m2s == pytest.approx(water.viscosity_pas / water.density_kgm3, rel=1e-15)
    assert type(water.kinematic_m2s) is float


def test_water_is_fresh_unless_said_and_cannot_be_changed() -> None:
    water = Water(temperature_c=24.0)
    assert water.salinity_gkg == 0.0
    with pytest.raises(FrozenInstanceError):
        water.temperature_c = 25.0  # type: ignore[misc]


def test_outside_marks_values_beyond_the_range_and_nan() -> None:
    assert outside(DENSITY_TEMPERATURE, 40.0) is False
    assert outside(DENSITY_TEMPERATURE, 40.1) is True
    assert outside(DENSITY_TEMPERATURE, float("nan")) is True
    assert list(np.asarray(outside(DENSITY_SALINITY, np.array([-0.1, 0.0, 35.0, 60.0])))) == [
        True,
        False,
        False,
        True,
    ]


def test_every_range_names_its_source() -> None:
    assert all(v.low < v.high and v.source and v.name and v.quantity for v in VALIDITIES)
