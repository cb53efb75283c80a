"""Outlets against hand calculation, a printed march along spray bars, textbook manifolds, and their laws."""

from math import log, log10, pi

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from optimizer.physics.fittings import quadratic_coefficient
from optimizer.physics.hose import friction_factor
from optimizer.physics.outlets import (
    BAR_AREA_RATIO,
    SprayBar,
    bar_quadratic,
    lift_m,
    nozzle_quadratic,
    spray_bar,
)
from optimizer.physics.validity import outside

LITRE_PER_HOUR = 1e-3 / 3600.0
FLOW = 800 * LITRE_PER_HOUR
BORE, PITCH, ROUGHNESS, KINEMATIC = 0.016, 0.030, 1.5e-6, 1.021933e-6

# March along a 16 mm bar at 800 l/h, 30 mm pitch, Cd 0.62, friction as EPANET has it; the march of 12 x 4 mm without
# regain was re-solved by EPANET with emitters, equal within 2e-5 m. Holes, mm, regain, head at the inlet, first and
# last hole in l/h, least over greatest.
MARCHES = [
    (12, 3, 0.0, 0.92209, 66.98, 66.53, 0.993),
    (12, 4, 0.0, 0.29975, 67.65, 66.25, 0.979),
    (20, 4, 0.0, 0.12190, 42.81, 38.87, 0.908),
    (24, 5, 0.0, 0.05017, 42.08, 29.76, 0.707),
    (12, 3, 1.0, 0.87829, 65.73, 67.20, 0.978),
    (12, 4, 1.0, 0.25649, 63.69, 68.39, 0.931),
    (20, 4, 1.0, 0.08106, 35.87, 42.62, 0.842),
    (24, 5, 1.0, 0.01492, 24.14, 40.75, 0.592),
]
# Exact sum of i^2 / N^3, i = 1 to N, by hand.
MANIFOLDS = [(2, 0.6250), (5, 0.4400), (10, 0.3850), (20, 0.3588)]

HOLES = st.integers(1, 40)
DIAMETERS = st.floats(0.001, 0.008)
REGAINS = st.floats(0.0, 1.0)
FRICTIONS = st.floats(0.015, 0.08)


def epanet_friction(re: float, relative: float) -> float:
    """Darcy's f of EPANET 2.2 (manual, chapter 12): Hagen and Poiseuille, Dunlop's cubic, Swamee and Jain."""
    if re < 2000.0:
        return 64.0 / max(re, 1e-9)
    if re > 4000.0:
        return 0.25 / log10(relative / 3.7 + 5.74 / re**0.9) ** 2
    y2 = relative / 3.7 + 5.74 / 4000.0**0.9
    y3 = -0.86859 * log(y2)
    fa = y3**-2
    fb = fa * (2.0 - 0.00514215 / (y2 * y3))
    r = re / 2000.0
    upper = -0.128 + 13.0 * fa - 2.0 * fb + r * (0.032 - 3.0 * fa + 0.5 * fb)
    return 7.0 * fa - fb + r * (0.128 - 17.0 * fa + 2.5 * fb + r * upper)


def marched(holes: int, millimetres: float, regain: float) -> SprayBar:
    """The bar with the friction of every length at its own flow: repeated until flows and friction agree."""
    bar = spray_bar(holes, millimetres * 1e-3, BORE, PITCH, regain=regain)
    for _ in range(30):
        flows = [FLOW * sum(bar.flow_shares[hole:]) for hole in range(holes)]
        friction = [epanet_friction(4.0 * q / (pi * BORE * KINEMATIC), ROUGHNESS / BORE) for q in flows]
        bar = spray_bar(holes, millimetres * 1e-3, BORE, PITCH, regain=regain, friction=friction)
    return bar


@pytest.mark.parametrize(("holes", "millimetres", "regain", "head", "first", "last", "evenness"), MARCHES)
def test_march_meets_the_printed_values(
    holes: int, millimetres: float, regain: float, head: float, first: float, last: float, evenness: float
) -> None:
    bar = marched(holes, millimetres, regain)
    assert bar.gauge_quadratic_s2m5 * FLOW**2 == pytest.approx(head, rel=1e-3)
    assert bar.first_share * 800 == pytest.approx(first, rel=1e-3)
    assert bar.last_share * 800 == pytest.approx(last, rel=1e-3)
    assert bar.evenness == pytest.approx(evenness, abs=1.5e-3)


@pytest.mark.parametrize(("holes", "millimetres", "regain"), [row[:3] for row in MARCHES])
def test_one_friction_factor_is_good_enough(holes: int, millimetres: float, regain: float) -> None:
    # The factor at the inlet's Reynolds number, and the planning value, against friction of every length.
    exact = marched(holes, millimetres, regain).quadratic_s2m5
    inlet = float(friction_factor(4.0 * FLOW / (pi * BORE * KINEMATIC), ROUGHNESS / BORE))
    made = spray_bar(holes, millimetres * 1e-3, BORE, PITCH, regain=regain, friction=inlet)
    assert made.quadratic_s2m5 == pytest.approx(exact, rel=0.015)
    planned = spray_bar(holes, millimetres * 1e-3, BORE, PITCH, regain=regain)
    assert planned.quadratic_s2m5 == pytest.approx(exact, rel=0.03)


# By hand, 16 mm bore, 800 l/h, Cd 0.62: holes, mm, hole area over bore area, ideal head m, jet m/s, K on the bore.
@pytest.mark.parametrize(
    ("holes", "millimetres", "ratio", "head", "jet", "k"),
    [(12, 3, 0.4219, 0.91036, 2.6198, 14.617), (12, 4, 0.7500, 0.28804, 1.4737, 4.6248)],
)
def test_ideal_bar_meets_the_printed_values(
    holes: int, millimetres: float, ratio: float, head: float, jet: float, k: float
) -> None:
    hole = millimetres * 1e-3
    assert holes * (hole / BORE) ** 2 == pytest.approx(ratio, abs=6e-5)
    b = bar_quadratic(holes, hole)
    assert b * FLOW**2 == pytest.approx(head, rel=2e-5)
    assert FLOW / (holes * pi / 4.0 * hole**2) == pytest.approx(jet, abs=5e-5)
    assert b / quadratic_coefficient(1.0, BORE) == pytest.approx(k, rel=3e-5)
    assert nozzle_quadratic(hole) * (FLOW / holes) ** 2 == pytest.approx(head, rel=4e-5)


@given(holes=HOLES, hole=DIAMETERS, cd=st.floats(0.5, 1.0))
def test_bar_in_a_wide_bore_is_ideal(holes: int, hole: float, cd: float) -> None:
    bar = spray_bar(holes, hole, 1.0, PITCH, cd)
    assert bar.quadratic_s2m5 == pytest.approx(bar_quadratic(holes, hole, cd), rel=1e-3)
    assert bar.evenness == pytest.approx(1.0, abs=1e-3)


@given(hole=DIAMETERS, cd=st.floats(0.5, 1.0))
def test_one_hole_without_friction_keeps_energy(hole: float, cd: float) -> None:
    # Bernoulli: with full regain the total head at the inlet is the gauge head at the closed end.
    bar = spray_bar(1, hole, BORE, PITCH, cd, regain=1.0, friction=0.0)
    assert bar.quadratic_s2m5 == pytest.approx(nozzle_quadratic(hole, cd), rel=1e-9)


@given(holes=HOLES, hole=DIAMETERS, friction=FRICTIONS)
def test_full_regain_without_friction_loses_nothing_along_the_bar(holes: int, hole: float, friction: float) -> None:
    # Bernoulli again: total head at the inlet over the last hole's flow squared is that of one hole.
    assume(holes * (hole / BORE) ** 2 < 2.0)
    bar = spray_bar(holes, hole, BORE, PITCH, regain=1.0, friction=0.0)
    assert bar.quadratic_s2m5 == pytest.approx(nozzle_quadratic(hole) * bar.last_share**2, rel=1e-9)
    rubbed = spray_bar(holes, hole, BORE, PITCH, regain=1.0, friction=friction)
    assert rubbed.quadratic_s2m5 > bar.quadratic_s2m5 * (1.0 - 1e-12)


@given(holes=HOLES, hole=DIAMETERS, regain=REGAINS, friction=FRICTIONS)
def test_shares_add_up_and_evenness_is_a_share(holes: int, hole: float, regain: float, friction: float) -> None:
    assume(not outside(BAR_AREA_RATIO, holes * (hole / BORE) ** 2))
    bar = spray_bar(holes, hole, BORE, PITCH, regain=regain, friction=friction)
    assert sum(bar.flow_shares) == pytest.approx(1.0)
    assert 0.0 < bar.evenness <= 1.0
    area = pi / 4.0 * hole * hole
    assert sum(speed * area for speed in bar.jet_speeds_1m2) == pytest.approx(1.0)
    assert bar.quadratic_s2m5 == pytest.approx(bar.gauge_quadratic_s2m5 + quadratic_coefficient(1.0, BORE))


@given(holes=st.integers(1, 200), hole=st.floats(0.001, 0.016), regain=REGAINS)
def test_any_bar_has_a_finite_positive_loss(holes: int, hole: float, regain: float) -> None:
    bar = spray_bar(holes, hole, BORE, PITCH, regain=regain)
    assert 0.0 < bar.quadratic_s2m5 < np.inf
    assert min(bar.flow_shares) >= 0.0


@given(holes=HOLES, hole=DIAMETERS, regain=REGAINS, wider=st.floats(1.01, 1.5))
def test_wider_holes_lose_less(holes: int, hole: float, regain: float, wider: float) -> None:
    assume(not outside(BAR_AREA_RATIO, holes * (hole * wider / BORE) ** 2))
    made = spray_bar(holes, hole, BORE, PITCH, regain=regain)
    wide = spray_bar(holes, hole * wider, BORE, PITCH, regain=regain)
    assert wide.quadratic_s2m5 < made.quadratic_s2m5


@given(holes=st.integers(2, 40), hole=DIAMETERS, less=REGAINS, more=REGAINS)
def test_regain_never_costs_head(holes: int, hole: float, less: float, more: float) -> None:
    assume(holes * (hole / BORE) ** 2 < 1.5)
    low, high = sorted((less, more))
    wasteful = spray_bar(holes, hole, BORE, PITCH, regain=low)
    thrifty = spray_bar(holes, hole, BORE, PITCH, regain=high)
    assert thrifty.quadratic_s2m5 <= wasteful.quadratic_s2m5 * (1.0 + 1e-12)


@given(holes=st.integers(2, 40), hole=DIAMETERS, regain=REGAINS)
def test_hole_area_up_to_the_bore_keeps_a_bar_even(holes: int, hole: float, regain: float) -> None:
    # Common practice, no published source: all holes together no more than the bore, bars up to 1.2 m.
    assume(holes * (hole / BORE) ** 2 <= 1.0)
    assert spray_bar(holes, hole, BORE, PITCH, regain=regain).evenness > 0.8


def test_short_bars_give_more_at_the_far_end() -> None:
    # Manifold theory: in a short bar the regain of head beats friction.
    bar = spray_bar(12, 0.004, BORE, PITCH)
    assert bar.last_share > bar.first_share


@pytest.mark.parametrize(("holes", "friction"), [(0, 0.03), (3, [0.03, 0.03]), (-1, 0.03)])
def test_impossible_bars_are_refused(holes: int, friction: float | list[float]) -> None:
    with pytest.raises(ValueError, match="at least one"):
        spray_bar(holes, 0.004, BORE, PITCH, friction=friction)


@pytest.mark.parametrize(("holes", "share"), MANIFOLDS)
def test_friction_of_the_march_is_the_manifold_friction(holes: int, share: float) -> None:
    # In a bar of tiny holes all flows are equal, so its friction is a known share of the plain pipe's.
    bar = spray_bar(holes, 0.0003, BORE, PITCH, regain=0.0, friction=0.03)
    plain = 0.03 * holes * PITCH / BORE * quadratic_coefficient(1.0, BORE)
    friction_head = bar.gauge_quadratic_s2m5 - bar_quadratic(1, 0.0003) * bar.last_share**2
    assert friction_head / plain == pytest.approx(share, rel=1e-3)


def test_only_the_rise_above_the_water_counts() -> None:
    # Hydrostatics: under water the way up and the way down cancel.
    assert lift_m(np.array([-0.5, 0.0, 0.2])).tolist() == [0.0, 0.0, 0.2]


def test_arrays_give_what_scalars_give() -> None:
    holes, hole = np.array([8.0, 12.0, 20.0]), np.array([[0.003], [0.004]])
    made = bar_quadratic(holes, hole)
    assert made == pytest.approx(np.array([[bar_quadratic(n, float(d[0])) for n in holes.tolist()] for d in hole]))
