"""Media against an independent library, printed measurements and the laws that must hold."""

import numpy as np
import pytest
from fluids import packed_bed
from hypothesis import given
from hypothesis import strategies as st

from optimizer.physics.arrays import Floats
from optimizer.physics.media import (
    CLOGGING_LAWS,
    DAVIES_RANGE,
    ERGUN_RANGE,
    FOAM_RANGE,
    KOZENY_RANGE,
    SURFACES,
    ammonia_g_day,
    biological_area_m2,
    clogged_coefficients,
    clogging_factor,
    equivalent_diameter_m,
    ergun_coefficients,
    fibre_coefficients,
    fibre_permeability_m2,
    foam_coefficients,
    grain_surface_m2m3,
    inertial_1m,
    kozeny_factor,
    layer_coefficients,
    ring_coefficients,
)
from optimizer.physics.validity import outside
from optimizer.physics.water import GRAVITY_MS2

# Water at 24 degC, IAPWS: kg/m3 and Pa s.
DENSITY, VISCOSITY = 997.30, 0.910682e-3
SHARES = st.floats(0.0, 0.99)


def drop_pa(permeability: Floats, inertial: Floats, length_m: float, speed_ms: float) -> float:
    """Pressure drop in Pa of a layer of 1 m2, through the coefficients on flow."""
    a, b = layer_coefficients(permeability, inertial, length_m, 1.0, DENSITY, VISCOSITY)
    return float(a * speed_ms + b * speed_ms * speed_ms) * DENSITY * GRAVITY_MS2


# Ergun, `fluids` packed_bed.Ergun 1.3.1, 0.10 m of bed: grain mm, voids, K m2, beta 1/m, Pa at 0.5, 1, 2 and 5 cm/s.
BEDS = [
    (3, 0.38, 8.5648e-9, 6591.1, 69.597, 172.06, 475.59, 2174.97),
    (5, 0.40, 2.9630e-8, 3281.25, 23.549, 63.459, 192.37, 971.78),
    (10, 0.45, 2.0083e-7, 1056.24, 4.901, 15.069, 51.205, 286.02),
    (15, 0.55, 1.2324e-6, 315.55, 1.156, 3.886, 14.066, 82.370),
]
# Other packed-bed equations at 2 cm/s, `fluids`: Carman, KTA, Harrison et al. in a 0.2 m tube, Idelchik.
OTHER_BEDS = [
    (3, 0.38, 525.8, 509.6, 492.0, 491.8),
    (5, 0.40, 201.3, 198.9, 195.2, 180.5),
    (10, 0.45, 48.9, 49.4, 48.2, 41.2),
    (15, 0.55, 12.5, 12.7, 12.2, 10.3),
]
# Surface m2/m3 and voids: Berl saddles in Billet's tables (Kolev, Packed Bed Columns, table 1); Raschig and Pall rings
# from memory (Perry). Then equivalent diameter mm and Ergun's Pa over 0.10 m at 1, 2 and 5 cm/s by `fluids`.
PACKINGS = [
    (546.0, 0.650, 3.846, 9.902, 31.371, 165.17),
    (260.0, 0.680, 7.385, 3.221, 11.253, 64.21),
    (370.0, 0.640, 5.838, 6.087, 20.386, 112.55),
    (190.0, 0.740, 8.211, 1.702, 6.132, 35.787),
    (206.0, 0.900, 2.913, 1.043, 3.730, 21.653),
]
# Darcy and Forchheimer by hand, 50 mm: K m2, beta 1/m, Pa at 1, 2, 5, 10 cm/s. Metal foams: K and c_F of
# Bhattacharya, Calmidi and Mahajan (2002); ceramic foam: k1 and k2 of Kennedy et al. (2013); both from memory.
FOAMS = [
    (1.2e-7, 0.097 / 1.2e-7**0.5, 5.19, 13.17, 53.9, 177.6),
    (1.1e-7, 0.089 / 1.1e-7**0.5, 5.48, 13.63, 54.2, 175.2),
    (0.61e-7, 0.089 / 0.61e-7**0.5, 9.26, 22.1, 82.2, 254.3),
    (5.08e-8, 1.0 / 5.46e-4, 18.1, 54.5, 273, 1003),
]
# Davies (1952) by hand: fibre um, solid share, K m2, Pa of the viscous term over 20 mm at 2 cm/s.
MATS = [
    (20, 0.02, 2.2087e-9, 164.9),
    (30, 0.03, 2.7022e-9, 134.8),
    (50, 0.05, 3.4696e-9, 105.0),
    (100, 0.05, 1.3878e-8, 26.25),
    (25, 0.01, 9.7651e-9, 37.3),
]
# By hand: voids, deposit per bed volume, K over clean K by Kozeny and Carman and by the cube of the pores left.
DEPOSITS = [
    (0.40, 0.02, 0.8030, 0.8574),
    (0.40, 0.05, 0.5708, 0.6699),
    (0.40, 0.10, 0.3099, 0.4219),
    (0.97, 0.05, 0.1200, 0.8532),
    (0.97, 0.20, 0.0085, 0.5002),
]
# Timmons and Ebeling, Recirculating Aquaculture, by hand: feed kg/day, protein, g of ammonia nitrogen a day, m2 at
# 0.20, 0.45 and 1.0 g/m2 and day.
FEEDINGS = [
    (1.0, 0.35, 32.20, 161.0, 71.56, 32.2),
    (0.010, 0.40, 0.3680, 1.840, 0.818, 0.368),
    (0.005, 0.45, 0.2070, 1.035, 0.460, 0.207),
]


@pytest.mark.parametrize("row", BEDS)
def test_granules_meet_the_printed_values(row: tuple[float, ...]) -> None:
    diameter, voids, permeability, inertial, *drops = row
    k, beta = ergun_coefficients(diameter * 1e-3, voids)
    assert k == pytest.approx(permeability, rel=2e-5)
    assert beta == pytest.approx(inertial, rel=2e-5)
    for speed, drop in zip((0.005, 0.01, 0.02, 0.05), drops, strict=True):
        assert drop_pa(k, beta, 0.10, speed) == pytest.approx(drop, rel=2e-4)


def test_ergun_meets_the_library_example() -> None:
    # Docstring of `fluids` packed_bed.Ergun.
    k, beta = ergun_coefficients(8e-4, 0.4)
    assert 1e-3 * 1e-3 / k + 1e3 * beta * 1e-6 == pytest.approx(1338.8671875)


@given(diameter=st.floats(5e-4, 0.03), voids=st.floats(0.3, 0.9), speed=st.floats(1e-4, 0.2))
def test_granules_are_the_library_ergun(diameter: float, voids: float, speed: float) -> None:
    library = packed_bed.Ergun(dp=diameter, voidage=voids, vs=speed, rho=DENSITY, mu=VISCOSITY, L=0.1)
    assert drop_pa(*ergun_coefficients(diameter, voids), 0.1, speed) == pytest.approx(library, rel=1e-9)


@pytest.mark.parametrize(("diameter", "voids", "carman", "kta", "harrison", "idelchik"), OTHER_BEDS)
def test_granules_are_within_the_spread_of_other_equations(
    diameter: float, voids: float, carman: float, kta: float, harrison: float, idelchik: float
) -> None:
    made = drop_pa(*ergun_coefficients(diameter * 1e-3, voids), 0.10, 0.02)
    assert made == pytest.approx(np.median([carman, kta, harrison, idelchik]), rel=0.25)
    for other in (carman, kta, harrison, idelchik):
        assert made == pytest.approx(other, rel=0.40)


@pytest.mark.parametrize("row", PACKINGS)
def test_rings_meet_the_printed_values(row: tuple[float, ...]) -> None:
    surface, voids, diameter, *drops = row
    assert equivalent_diameter_m(surface, voids) * 1e3 == pytest.approx(diameter, abs=6e-4)
    for speed, drop in zip((0.01, 0.02, 0.05), drops, strict=True):
        assert drop_pa(*ring_coefficients(surface, voids), 0.10, speed) == pytest.approx(drop, rel=3e-4)


@pytest.mark.parametrize(("diameter", "voids", "surface"), [(0.025, 0.43, 134.5), (0.013, 0.40, 282.2)])
def test_glass_balls_have_the_surface_in_the_table(diameter: float, voids: float, surface: float) -> None:
    # Billet's table of packings (Kolev, Packed Bed Columns, table 1), nominal sizes.
    assert grain_surface_m2m3(diameter, voids) == pytest.approx(surface, rel=0.02)


@pytest.mark.parametrize("row", FOAMS)
def test_foam_layers_meet_the_printed_values(row: tuple[float, ...]) -> None:
    permeability, inertial, *drops = row
    for speed, drop in zip((0.01, 0.02, 0.05, 0.10), drops, strict=True):
        assert drop_pa(permeability, inertial, 0.05, speed) == pytest.approx(drop, rel=3e-3)


@pytest.mark.parametrize(("ppi", "inches", "factor"), [(20.0, 0.045, 1.5), (100.0, 1.0, 1.05)])
def test_foam_by_pores_meets_the_air_test(ppi: float, inches: float, factor: float) -> None:
    # Design News, 25 November 1964: reticulated polyurethane, 1/2 in thick, air at 350 ft/min. Air at 20 degC.
    k, beta = foam_coefficients(ppi)
    speed, air_density, air_viscosity = 350 * 0.3048 / 60.0, 1.204, 1.813e-5
    drop = (air_viscosity * speed / k + air_density * beta * speed * speed) * 0.0127
    measured = inches * 249.089
    assert measured / factor < drop < measured * factor


# Bhattacharya, Calmidi and Mahajan (2002), from memory: aluminium foam, pores per inch and K.
@pytest.mark.parametrize(("ppi", "permeability"), [(10, 1.2e-7), (20, 1.2e-7), (40, 0.57e-7)])
def test_foam_by_pores_is_within_a_factor_of_two_of_metal_foam(ppi: float, permeability: float) -> None:
    k, _ = foam_coefficients(ppi)
    assert 0.5 < k / permeability < 2.0


def test_clean_foam_costs_next_to_nothing() -> None:
    # Common practice, no published source; 0.5 to 2.3 mm of water by the rows above.
    for ppi in (10.0, 20.0, 30.0, 40.0):
        for speed in (0.01, 0.02):
            head_mm = drop_pa(*foam_coefficients(ppi), 0.05, speed) / (DENSITY * GRAVITY_MS2) * 1e3
            assert 0.3 < head_mm < 2.5


@pytest.mark.parametrize(("micrometres", "solid", "permeability", "drop"), MATS)
def test_floss_meets_the_printed_values(micrometres: float, solid: float, permeability: float, drop: float) -> None:
    k = fibre_permeability_m2(micrometres * 1e-6, solid)
    assert k == pytest.approx(permeability, rel=3e-5)
    assert drop_pa(k, 0.0, 0.020, 0.02) == pytest.approx(drop, rel=1.5e-3)


def test_floss_resists_more_than_foam() -> None:
    # Common practice, no published source: 5 to 30 times the loss of foam, thickness for thickness.
    for micrometres, solid, *_ in MATS:
        mat = drop_pa(*fibre_coefficients(micrometres * 1e-6, solid), 0.02, 0.01)
        assert mat > 2.5 * drop_pa(*foam_coefficients(20.0), 0.02, 0.01)


def test_surface_by_geometry() -> None:
    # Geometry by hand: 5 mm balls with 0.4 voids.
    assert grain_surface_m2m3(0.005, 0.4) == pytest.approx(720.0)


def test_surface_priors_are_ordered_and_sourced() -> None:
    for prior in SURFACES.values():
        assert 0.0 < prior.low_m2m3 < prior.high_m2m3
        assert "memory" in prior.source
    foams = [prior for name, prior in SURFACES.items() if name.startswith("foam")]
    assert [prior.low_m2m3 for prior in foams] == sorted(prior.low_m2m3 for prior in foams)


def test_layer_meets_a_worked_loop() -> None:
    # Darcy and Forchheimer by hand: 0.04 m2, 50 mm, K 1.2e-7 m2, c_F 0.097, water at 24 degC.
    a, b = layer_coefficients(1.2e-7, inertial_1m(1.2e-7, 0.097), 0.05, 0.04, DENSITY, VISCOSITY)
    assert a == pytest.approx(0.969949, rel=2e-6)
    assert b == pytest.approx(892.299, rel=2e-6)


@pytest.mark.parametrize(("factor", "flow_lh", "head_mm"), [(1.0, 1047.312, 0.36), (0.01, 1041.335, 28.8)])
def test_clean_and_clogged_bed_in_a_loop(factor: float, flow_lh: float, head_mm: float) -> None:
    # Closed quadratic by hand: pump 2.5 m and 1500 l/h, K = 12 on 16 mm, the layer above, then at K/100 with c_F kept.
    k, beta = clogged_coefficients(1.2e-7, inertial_1m(1.2e-7, 0.097), factor)
    a, b = layer_coefficients(k, beta, 0.05, 0.04, DENSITY, VISCOSITY)
    square = 1.44e7 + 1.513460e7 + float(b)
    flow = (-float(a) + (float(a) ** 2 + 4.0 * square * 2.5) ** 0.5) / (2.0 * square)
    assert flow * 3.6e6 == pytest.approx(flow_lh, rel=1e-5)
    assert (float(a) * flow + float(b) * flow * flow) * 1e3 == pytest.approx(head_mm, rel=0.03)


@pytest.mark.parametrize(("voids", "deposit", "kozeny", "cubic"), DEPOSITS)
def test_clogging_meets_the_printed_values(voids: float, deposit: float, kozeny: float, cubic: float) -> None:
    assert kozeny_factor(deposit / voids, voids) == pytest.approx(kozeny, abs=6e-5)
    assert clogging_factor("cubic", deposit / voids) == pytest.approx(cubic, abs=6e-5)


def test_doubling_law_doubles_at_capacity() -> None:
    # Modelica Buildings library, air filters, after Li et al. (2022): loss times 2^M, M the load over the capacity.
    assert 1.0 / clogging_factor("doubling", 1.0) == pytest.approx(2.0)
    assert 1.0 / clogging_factor("doubling", 0.5) == pytest.approx(2.0**0.5)


def test_kozeny_is_refused_for_any_medium_and_out_of_range_for_foam() -> None:
    with pytest.raises(ValueError, match=r"granular.*cubic, doubling"):
        clogging_factor("kozeny", 0.1)
    with pytest.raises(ValueError, match="'linear'"):
        clogging_factor("linear", 0.1)
    assert outside(KOZENY_RANGE, 0.97)
    assert not outside(KOZENY_RANGE, 0.40)


@given(law=st.sampled_from(list(CLOGGING_LAWS)), filled=SHARES, more=SHARES)
def test_dirt_never_opens_a_medium(law: str, filled: float, more: float) -> None:
    low, high = sorted((filled, more))
    assert clogging_factor(law, 0.0) == 1.0
    assert 0.0 < clogging_factor(law, high) <= clogging_factor(law, low) <= 1.0


@given(filled=SHARES, more=SHARES, voids=st.floats(0.3, 0.6))
def test_dirt_never_opens_a_granular_bed(filled: float, more: float, voids: float) -> None:
    low, high = sorted((filled, more))
    assert kozeny_factor(high, voids) <= kozeny_factor(low, voids) <= 1.0
    assert kozeny_factor(high, voids) <= clogging_factor("cubic", high) * (1.0 + 1e-12)


@given(ppi=st.floats(5.0, 200.0), more=st.floats(1.0, 3.0))
def test_finer_foam_never_passes_more(ppi: float, more: float) -> None:
    (coarse, coarse_beta), (fine, fine_beta) = foam_coefficients(ppi), foam_coefficients(ppi * more)
    assert fine <= coarse * (1.0 + 1e-12)
    assert fine_beta >= coarse_beta * (1.0 - 1e-12)


@given(thickness=st.floats(0.001, 0.3), area=st.floats(1e-3, 0.2), ppi=st.floats(10.0, 60.0))
def test_layers_add_up(thickness: float, area: float, ppi: float) -> None:
    once = layer_coefficients(*foam_coefficients(ppi), thickness, area, DENSITY, VISCOSITY)
    half = layer_coefficients(*foam_coefficients(ppi), thickness / 2.0, area, DENSITY, VISCOSITY)
    assert once == pytest.approx((2.0 * half[0], 2.0 * half[1]))


@pytest.mark.parametrize("row", FEEDINGS)
def test_feeding_meets_the_printed_values(row: tuple[float, ...]) -> None:
    feed, protein, ammonia, *areas = row
    assert ammonia_g_day(feed, protein) == pytest.approx(ammonia, rel=1e-4)
    for rate, area in zip((0.20, 0.45, 1.0), areas, strict=True):
        assert biological_area_m2(feed, protein, rate) == pytest.approx(area, rel=7e-4)


def test_arrays_give_what_scalars_give() -> None:
    ppi = np.array([10.0, 17.0, 30.0, 60.0])
    k, beta = foam_coefficients(ppi)
    assert k == pytest.approx([foam_coefficients(p)[0] for p in ppi.tolist()])
    assert beta == pytest.approx([foam_coefficients(p)[1] for p in ppi.tolist()])
    a, b = layer_coefficients(k, beta, 0.05, np.array([[0.01], [0.02]]), DENSITY, VISCOSITY)
    assert np.shape(a) == np.shape(b) == (2, 4)
    filled = np.array([0.0, 0.5, 0.9])
    for law in CLOGGING_LAWS:
        assert clogging_factor(law, filled) == pytest.approx([clogging_factor(law, s) for s in filled.tolist()])


def test_ranges_hold_what_keepers_use() -> None:
    assert not np.any(outside(FOAM_RANGE, np.array([10.0, 20.0, 30.0, 45.0])))
    assert outside(FOAM_RANGE, 100.0)
    assert not np.any(outside(ERGUN_RANGE, np.array([0.38, 0.45, 0.64])))
    assert not np.any(outside(DAVIES_RANGE, np.array([0.01, 0.05])))
