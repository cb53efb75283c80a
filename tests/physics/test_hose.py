"""Hose friction against printed tables, measured data, a library, and the laws that must hold."""

from math import pi

import numpy as np
import pytest
from fluids import friction
from hypothesis import given
from hypothesis import strategies as st

from optimizer.physics.hose import (
    RIBBED_FACTOR,
    ROUGHNESS,
    VALIDITIES,
    critical_reynolds,
    curvature_factor,
    friction_factor,
    friction_head_m,
    reynolds,
)
from optimizer.physics.water import GRAVITY_MS2, Water

INCH_M = 0.0254
FOOT_M = 0.3048
GALLON_M3 = 3.785411784e-3
GPM_M3S = GALLON_M3 / 60.0
PSI_PA = 6894.757
HOURLY_LITRE_M3S = 1e-3 / 3600.0

FLOWS = st.floats(1e-9, 3e-3)
BORES = st.floats(0.004, 0.06)
LENGTHS = st.floats(0.05, 20.0)
ROUGHNESSES = st.floats(0.0, 1e-4)
VISCOSITIES = st.floats(7e-7, 1.5e-6)
MORE = st.floats(1.001, 10.0)

# Churchill (1977) and Colebrook (1939) as given by the `fluids` library 1.3.1: Re, roughness over bore,
# Churchill, Colebrook.
GRID = [
    (500, 0.0, 0.128000, None),
    (2000, 0.0, 0.032043, None),
    (3000, 0.0, 0.042975, None),
    (5000, 0.0, 0.037887, 0.037393),
    (25_000, 0.0, 0.024446, 0.024521),
    (100_000, 0.0, 0.017875, 0.017990),
    (500, 1e-4, 0.128000, None),
    (2000, 1e-4, 0.032043, None),
    (3000, 1e-4, 0.043049, None),
    (5000, 1e-4, 0.038015, 0.037505),
    (25_000, 1e-4, 0.024725, 0.024766),
    (100_000, 1e-4, 0.018463, 0.018514),
    (500, 1e-3, 0.128000, None),
    (2000, 1e-3, 0.032043, None),
    (3000, 1e-3, 0.043692, None),
    (5000, 1e-3, 0.039138, 0.038495),
    (25_000, 1e-3, 0.026982, 0.026808),
    (100_000, 1e-3, 0.022343, 0.022175),
]
# `fluids` Churchill_1977, smooth hose, water at 24 degC (0.913148 mm2/s): l/h, bore mm, Re, f, head in m per
# m.
METRIC = [
    (400, 12.5, 12394, 0.02925, 0.09780),
    (400, 16.0, 9683, 0.03128, 0.03044),
    (400, 19.0, 8154, 0.03282, 0.01353),
    (400, 25.0, 6197, 0.03553, 0.00371),
    (800, 12.5, 24788, 0.02450, 0.32765),
    (800, 16.0, 19366, 0.02605, 0.10139),
    (800, 19.0, 16308, 0.02721, 0.04486),
    (800, 25.0, 12394, 0.02925, 0.01222),
    (1200, 12.5, 37182, 0.02224, 0.66916),
    (1200, 16.0, 29049, 0.02357, 0.20646),
    (1200, 19.0, 24462, 0.02458, 0.09116),
    (1200, 25.0, 18591, 0.02632, 0.02475),
    (2000, 12.5, 61971, 0.01981, 1.65571),
    (2000, 16.0, 48415, 0.02093, 0.50916),
    (2000, 19.0, 40770, 0.02177, 0.22425),
    (2000, 25.0, 30985, 0.02321, 0.06064),
    (3000, 12.5, 92956, 0.01815, 3.41394),
    (3000, 16.0, 72622, 0.01913, 1.04734),
    (3000, 19.0, 61155, 0.01986, 0.46048),
    (3000, 25.0, 46478, 0.02112, 0.12415),
]
# Illinois Admin. Code title 77 part 906 app. A exh. I, schedule 40 plastic pipe, C = 150: gpm, bore in, ft
# per 100 ft.
STATE_TABLE = [
    (2, 1.049, 0.28),
    (3, 1.049, 0.60),
    (5, 1.049, 1.52),
    (8, 1.049, 3.63),
    (10, 1.049, 5.50),
    (5, 1.380, 0.39),
    (10, 1.380, 1.46),
    (20, 1.380, 5.23),
]
# Irrigation catalogue, class 315 PVC, ASTM D2241 SDR 13.5, C = 150, stated average bores: gpm, bore in, psi
# per 100 ft.
IRRIGATION_TABLE = [
    (1, 0.696, 0.25),
    (2, 0.696, 0.90),
    (4, 0.696, 3.24),
    (8, 0.696, 11.68),
    (1, 0.874, 0.08),
    (2, 0.874, 0.30),
    (4, 0.874, 1.07),
    (8, 0.874, 3.86),
    (2, 1.101, 0.10),
    (4, 1.101, 0.35),
    (8, 1.101, 1.25),
]
# `fluids` Churchill_1977, smooth, water at 20 degC: gpm, then psi per 100 ft in 1/2, 5/8, 3/4 and 1 in bore.
EXACT_BORES = [
    (1, 1.523, 0.534, 0.227, 0.058),
    (2, 5.019, 1.747, 0.739, 0.190),
    (4, 16.82, 5.825, 2.452, 0.627),
    (6, 34.36, 11.87, 4.984, 1.270),
    (8, 57.19, 19.72, 8.269, 2.103),
    (10, 85.03, 29.28, 12.27, 3.113),
]
# An agricultural sprayer pump manual, "pressure drop in psi per 100 ft of hose": gpm, bore in, psi.
HOSE_TABLE = [
    (2, 0.5, 6),
    (3, 0.5, 13),
    (4, 0.5, 24),
    (5, 0.5, 34),
    (6, 0.5, 52),
    (8, 0.5, 80),
    (10, 0.5, 120),
    (2, 0.625, 2),
    (3, 0.625, 4),
    (4, 0.625, 7),
    (5, 0.625, 10),
    (6, 0.625, 16),
    (8, 0.625, 25),
    (10, 0.625, 38),
    (4, 0.75, 3),
    (5, 0.75, 4),
    (6, 0.75, 7),
    (8, 0.75, 10),
    (10, 0.75, 14),
    (10, 1.0, 3),
]


def psi_per_100_ft(gpm: float, bore_in: float) -> float:
    """Smooth hose carrying water at 20 degC."""
    water = Water(temperature_c=20.0)
    head = friction_head_m(gpm * GPM_M3S, bore_in * INCH_M, 100 * FOOT_M, 0.0, water.kinematic_m2s)
    return float(head) * water.density_kgm3 * GRAVITY_MS2 / PSI_PA


@pytest.mark.parametrize(("re", "rough", "churchill", "colebrook"), GRID)
def test_friction_factor_meets_the_grid(re: float, rough: float, churchill: float, colebrook: float | None) -> None:
    assert friction_factor(re, rough) == pytest.approx(churchill, abs=6e-7)
    if colebrook is not None:
        assert friction_factor(re, rough) == pytest.approx(colebrook, rel=0.02)


def test_friction_factor_meets_the_printed_check_value() -> None:
    # `fluids` documentation of Churchill_1977(1e5, 1e-4).
    assert friction_factor(1e5, 1e-4) == pytest.approx(0.018462624566, rel=1e-10)


@given(st.floats(0.0, 8.0), st.floats(0.0, 0.05))
def test_friction_factor_is_churchill_of_the_library(log_re: float, rough: float) -> None:
    re = 10.0**log_re
    assert friction_factor(re, rough) == pytest.approx(friction.Churchill_1977(re, rough), rel=1e-12)


def test_friction_factor_follows_blasius_in_smooth_hose() -> None:
    # Blasius 1913, 0.3164 Re^-0.25, for Re 4000 to 1e5; Swamee and Jain 1976 agree with Churchill in the
    # rough range.
    re = np.geomspace(5000.0, 1e5, 30)
    assert friction_factor(re, 0.0) == pytest.approx(0.3164 * re**-0.25, rel=0.035)
    swamee = np.array([friction.Swamee_Jain_1976(r, 1e-3) for r in re])
    assert friction_factor(re, 1e-3) == pytest.approx(swamee, rel=0.002)


def test_friction_factor_follows_measured_smooth_pipe() -> None:
    # University of Oregon measurements (Swanson et al. 2002, McKeon et al. 2004), held by the `fluids`
    # library. The laminar points scatter by 10 % around 64/Re itself.
    re, measured = (np.array(column) for column in friction.oregon_smooth_data)
    laminar = (re > 50.0) & (re < 1500.0)
    turbulent = (re > 3500.0) & (re < 1e7)
    assert laminar.sum() > 5 and turbulent.sum() > 15
    assert friction_factor(re[laminar], 0.0) == pytest.approx(measured[laminar], rel=0.11)
    assert friction_factor(re[turbulent], 0.0) == pytest.approx(measured[turbulent], rel=0.05)


def test_crane_example_7_1() -> None:
    # Crane TP-410M example 7-1: 200 l/min at 30 degC in smooth plastic pipe of nominal 50 mm: Re 100 600, f
    # 0.0179. The bore of schedule 40 pipe of that size, 52.48 mm, is the one that gives this Re.
    re = reynolds(0.2 / 60.0, 0.05248, Water(temperature_c=30.0).kinematic_m2s)
    assert re == pytest.approx(100_600, rel=0.005)
    assert friction_factor(re, 0.0) == pytest.approx(0.0179, rel=0.005)


# Jeppson, Steady Flow Analysis of Pipe Networks (1976), chapter 2 examples in US and SI units:
# flow m3/s, bore m, length m, nu m2/s, roughness m, g m/s2, f, head m.
@pytest.mark.parametrize(
    ("flow", "bore", "length", "nu", "rough", "gravity", "f", "head"),
    [
        (
            *(0.5 * FOOT_M**3, FOOT_M / 3, 150 * FOOT_M, 1.217e-5 * FOOT_M**2, 7e-6 * FOOT_M, 32.2 * FOOT_M),
            *(0.01655, 3.7976 * FOOT_M),
        ),
        (0.0140, 0.1016, 45.72, 1.131e-6, 2.1e-6, 9.81, 0.01659, 1.1346),
    ],
)
def test_jeppson_pipe(
    flow: float, bore: float, length: float, nu: float, rough: float, gravity: float, f: float, head: float
) -> None:
    assert friction_factor(reynolds(flow, bore, nu), rough / bore) == pytest.approx(f, rel=0.006)
    scaled = friction_head_m(flow, bore, length, rough, nu) * GRAVITY_MS2 / gravity
    assert scaled == pytest.approx(head, rel=0.006)


@pytest.mark.parametrize(("flow_lh", "bore_mm", "re", "f", "head"), METRIC)
def test_metric_hose_table(flow_lh: float, bore_mm: float, re: float, f: float, head: float) -> None:
    flow, bore, nu = flow_lh * HOURLY_LITRE_M3S, bore_mm / 1000.0, 0.913148e-6
    assert reynolds(flow, bore, nu) == pytest.approx(re, abs=0.6)
    assert friction_factor(reynolds(flow, bore, nu), 0.0) == pytest.approx(f, abs=6e-6)
    assert friction_head_m(flow, bore, 1.0, 0.0, nu) == pytest.approx(head, abs=6e-6)


def test_bore_scaling_at_one_flow() -> None:
    # Pure D^-4.75 gives 3.23 from 16 to 12.5 mm.
    for flow_lh in (400, 800, 1200, 2000):
        wide, narrow = friction_head_m(flow_lh * HOURLY_LITRE_M3S, np.array([0.016, 0.0125]), 1.0, 0.0, 0.913148e-6)  # type: ignore[misc]
        assert 3.2 <= narrow / wide <= 3.3


@pytest.mark.parametrize(("gpm", "half", "five_eighths", "three_quarters", "one"), EXACT_BORES)
def test_exact_inch_bores(gpm: float, half: float, five_eighths: float, three_quarters: float, one: float) -> None:
    for bore_in, psi in ((0.5, half), (0.625, five_eighths), (0.75, three_quarters), (1.0, one)):
        assert psi_per_100_ft(gpm, bore_in) == pytest.approx(psi, rel=5e-4, abs=6e-4)


@pytest.mark.parametrize(("gpm", "bore_in", "feet"), STATE_TABLE)
def test_plastic_pipe_table_of_a_state_code(gpm: float, bore_in: float, feet: float) -> None:
    # Hazen-Williams with C = 150 is fitted at higher Re: it reads up to 26 % low at hose flows.
    head = friction_head_m(gpm * GPM_M3S, bore_in * INCH_M, 100.0, 0.0, Water(temperature_c=20.0).kinematic_m2s)
    assert 0.95 * feet <= head <= 1.36 * feet


@pytest.mark.parametrize(("gpm", "bore_in", "psi"), IRRIGATION_TABLE)
def test_plastic_pipe_table_of_an_irrigation_catalogue(gpm: float, bore_in: float, psi: float) -> None:
    # The same Hazen-Williams bias; 0.005 psi is the rounding of the table.
    assert 0.95 * (psi - 0.005) <= psi_per_100_ft(gpm, bore_in) <= 1.36 * (psi + 0.005)


@pytest.mark.parametrize(("gpm", "bore_in", "psi"), HOSE_TABLE)
def test_published_hose_table_is_one_to_one_and_a_half_times_smooth(gpm: float, bore_in: float, psi: float) -> None:
    # Real hose against smooth tube; 0.5 psi is the rounding of the table.
    smooth = psi_per_100_ft(gpm, bore_in)
    assert smooth <= psi + 0.5
    assert psi - 0.5 <= 1.55 * smooth


def test_garden_hose_example() -> None:
    # engineeringtoolbox.com d_1525: 2 gpm in a 1/2 in garden hose loses about 5 psi per 100 ft.
    assert psi_per_100_ft(2.0, 0.5) == pytest.approx(5.0, rel=0.02)


# White 1929, as the `fluids` library gives it: Re, bore m, coil m, coil friction factor while laminar.
@pytest.mark.parametrize(
    ("re", "bore", "coil", "f"),
    [
        (250, 0.02, 0.10, 0.406328),
        (500, 0.016, 0.30, 0.205355),
        (2000, 0.016, 0.30, 0.085372),
        (2000, 0.016, 0.15, 0.097972),
        (5000, 0.0254, 0.60, 0.047136),
    ],
)
def test_laminar_coil_is_white(re: float, bore: float, coil: float, f: float) -> None:
    coiled = curvature_factor(re, bore, coil) * friction_factor(re, 0.0)
    assert coiled == pytest.approx(f, abs=6e-7)
    assert coiled == pytest.approx(friction.helical_laminar_fd_White(re, bore, coil), rel=1e-12)


# Re, bore m, coil m, then Mori and Nakayama 1967 and Ito 1959 coil friction factors above the critical Re.
@pytest.mark.parametrize(
    ("re", "bore", "coil", "mori", "ito"),
    [
        (10_000, 0.016, 0.30, 0.037500, 0.037097),
        (20_000, 0.016, 0.256, 0.032839, 0.032813),
        (25_000, 0.016, 0.30, 0.030937, 0.030872),
        (60_000, 0.0254, 0.60, 0.025283, 0.025391),
    ],
)
def test_turbulent_coil_is_near_ito_and_mori(re: float, bore: float, coil: float, mori: float, ito: float) -> None:
    coiled = curvature_factor(re, bore, coil) * friction_factor(re, 0.0)
    assert coiled == pytest.approx(ito, rel=0.03)
    assert coiled == pytest.approx(mori, rel=0.035)
    assert mori == pytest.approx(friction.helical_turbulent_fd_Mori_Nakayama(re, bore, coil), abs=6e-7)


@pytest.mark.parametrize(("bore", "coil", "re"), [(0.016, 0.30, 7828), (0.016, 0.15, 9772), (0.0254, 0.60, 7271)])
def test_critical_reynolds_is_ito(bore: float, coil: float, re: float) -> None:
    assert critical_reynolds(bore, coil) == pytest.approx(re, abs=0.6)
    assert critical_reynolds(bore, coil) == pytest.approx(friction.helical_transition_Re_Ito(bore, coil), rel=1e-12)


@given(BORES, st.floats(0.0, 7.0))
def test_straight_hose_has_no_curvature_loss(bore: float, log_re: float) -> None:
    assert curvature_factor(10.0**log_re, bore, np.inf) == 1.0
    assert curvature_factor(10.0**log_re, bore, 1e12) == pytest.approx(1.0, abs=1e-4)


@given(st.floats(0.08, 100.0))
def test_coil_friction_is_continuous_and_rises_with_flow(coil: float) -> None:
    re = np.geomspace(1.0, 1e6, 40_001)
    factor = np.asarray(curvature_factor(re, 0.016, coil))
    assert (factor >= 1.0).all()
    assert np.abs(np.diff(np.log(factor))).max() < 0.005
    flow = re * pi * 0.016 * 1e-6 / 4.0
    head = np.asarray(friction_head_m(flow, 0.016, 1.0, 0.0, 1e-6, factor))
    assert (np.diff(head) > 0.0).all()


@given(st.floats(0.0, 6.0), BORES)
def test_a_tighter_laminar_coil_loses_more(log_re: float, bore: float) -> None:
    re = min(10.0**log_re, 1800.0)
    assert curvature_factor(re, bore, 5.0 * bore) >= curvature_factor(re, bore, 50.0 * bore)


def test_friction_factor_is_continuous_over_all_regimes() -> None:
    re = np.geomspace(1e-6, 1e8, 400_001)
    for rough in (0.0, 1e-4, 1e-2):
        assert np.abs(np.diff(np.log(friction_factor(re, rough)))).max() < 1e-3


@given(FLOWS, BORES, LENGTHS, ROUGHNESSES, VISCOSITIES, MORE)
def test_head_rises_with_flow_length_and_roughness_and_falls_with_bore(
    flow: float, bore: float, length: float, rough: float, nu: float, more: float
) -> None:
    head = friction_head_m(flow, bore, length, rough, nu)
    assert friction_head_m(flow * more, bore, length, rough, nu) > head
    assert friction_head_m(flow, bore, length * more, rough, nu) == pytest.approx(head * more, rel=1e-12)
    assert friction_head_m(flow, bore, length, rough * more, nu) >= head
    assert friction_head_m(flow, bore * more, length, rough, nu) < head
    assert friction_head_m(flow, bore, length, rough, nu, RIBBED_FACTOR) == pytest.approx(head * RIBBED_FACTOR)


def test_turbulent_head_rises_strictly_with_roughness() -> None:
    head = np.asarray(friction_head_m(3e-4, 0.016, 1.0, np.linspace(0.0, 1e-4, 50), 1e-6))
    assert (np.diff(head) > 0.0).all()


@given(FLOWS, BORES, LENGTHS, ROUGHNESSES, VISCOSITIES)
def test_head_is_darcy_weisbach_and_odd(flow: float, bore: float, length: float, rough: float, nu: float) -> None:
    speed = flow / (pi / 4.0 * bore**2)
    f = friction.Churchill_1977(max(speed * bore / nu, 1e-3), rough / bore)
    head = friction_head_m(flow, bore, length, rough, nu)
    if speed * bore / nu > 1.0:
        assert head == pytest.approx(f * length / bore * speed**2 / (2.0 * GRAVITY_MS2), rel=1e-11)
    assert friction_head_m(-flow, bore, length, rough, nu) == -head


def test_still_water_loses_nothing_and_creeping_flow_is_poiseuille() -> None:
    assert friction_head_m(0.0, 0.016, 1.5, 1.5e-6, 1e-6) == 0.0
    assert np.isfinite(friction_factor(0.0, 0.0))
    # Hagen and Poiseuille: h = 128 nu L Q / (pi g D^4).
    poiseuille = 128.0 * 1e-6 * 1.5 * 1e-12 / (pi * GRAVITY_MS2 * 0.016**4)
    assert friction_head_m(1e-12, 0.016, 1.5, 1.5e-6, 1e-6) == pytest.approx(poiseuille, rel=1e-12)


def test_arrays_broadcast_to_the_same_numbers_as_floats() -> None:
    flows = np.array([[-3e-4], [0.0], [2e-4]])
    bores = np.array([0.0125, 0.016, 0.019, 0.025])
    heads = np.asarray(friction_head_m(flows, bores, 1.5, 1.5e-6, 1e-6))
    assert heads.shape == (3, 4)
    for (i, j), head in np.ndenumerate(heads):
        assert head == pytest.approx(friction_head_m(float(flows[i, 0]), float(bores[j]), 1.5, 1.5e-6, 1e-6), rel=1e-13)
    assert isinstance(friction_head_m(2e-4, 0.016, 1.5, 0.0, 1e-6), float)
    assert isinstance(curvature_factor(1e4, 0.016, 0.3), float)


def test_inputs_are_left_as_they_were() -> None:
    flows, bores = np.array([1e-4, 2e-4]), np.array([0.016, 0.019])
    friction_head_m(flows, bores, 1.0, 0.0, 1e-6, curvature_factor(reynolds(flows, bores, 1e-6), bores, 0.3))
    assert flows.tolist() == [1e-4, 2e-4] and bores.tolist() == [0.016, 0.019]


def test_roughness_table_is_positive_sourced_and_in_the_printed_ranges() -> None:
    assert all(wall.roughness_m > 0.0 and wall.source for wall in ROUGHNESS.values())
    # Process engineering tables of absolute roughness: plastic and glass 0.0015 to 0.01 mm, smooth flexible
    # rubber tubing 0.006 to 0.07 mm, new carbon steel 0.02 to 0.05 mm.
    for material, low, high in (
        ("pvc hose", 1.5e-6, 1e-5),
        ("pvc pipe", 1.5e-6, 1e-5),
        ("glass", 1.5e-6, 1e-5),
        ("rubber", 6e-6, 7e-5),
        ("steel", 2e-5, 5e-5),
    ):
        assert low <= ROUGHNESS[material].roughness_m <= high


def test_every_range_names_its_source() -> None:
    assert all(v.low < v.high and v.source and v.name and v.quantity for v in VALIDITIES)
