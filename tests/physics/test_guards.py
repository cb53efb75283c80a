"""Guards against handbook values, an independent library, published fish-protection rules, and their laws."""

from math import pi

import numpy as np
import pytest
from fluids import filters
from hypothesis import given
from hypothesis import strategies as st

from optimizer.physics.arrays import Floats
from optimizer.physics.guards import (
    PASSIVE_APPROACH_MS,
    SCREEN_FORMS,
    VALIDITIES,
    guard_quadratic,
    mesh_linear,
    mesh_reynolds,
    perforated_k,
    screen_k,
    slot_k,
    sponge_coefficients,
    wire_m,
    wire_mesh_k,
)
from optimizer.physics.media import foam_coefficients, layer_coefficients
from optimizer.physics.validity import outside
from optimizer.physics.water import GRAVITY_MS2, Water

FOOT_M = 0.3048
LITRE_PER_HOUR = 1e-3 / 3600.0
WATER = Water(temperature_c=24.0)

FORMS = st.sampled_from(list(SCREEN_FORMS))
OPEN = st.floats(0.02, 0.95)
BLOCKED = st.floats(0.0, 0.97)
MORE = st.floats(1.001, 3.0)

# Open fraction; K of wire mesh by Idelchik diagram 8-6 and of a thin plate by Idelchik (1994) diagram 4-14, computed
# from their formulas; K of a square-edged grill (Blevins 1984) from the `fluids` library 1.3.1.
SCREENS = [
    (0.20, 17.040, 52.58, 34.00),
    (0.25, 9.975, 30.68, 21.00),
    (0.30, 6.3544, 19.32, 14.00),
    (0.40, 3.0300, 8.758, 7.125),
    (0.50, 1.6500, 4.370, 4.000),
    (0.60, 0.9644, 2.257, 2.3333),
    (0.70, 0.5737, 1.148, 1.3469),
    (0.80, 0.3225, 0.538, 0.71875),
]
# Idelchik's wire mesh formula: face area over the area of a 16 mm bore, then mm of head at 1000 l/h for open
# fractions of 0.40, 0.30, 0.20 and 0.10.
PLUGGED = [
    (2, 73.7, 154.6, 414.6, 1999),
    (4, 18.43, 38.65, 103.6, 499.8),
    (8, 4.607, 9.662, 25.91, 124.9),
    (16, 1.152, 2.416, 6.478, 31.24),
]


@pytest.mark.parametrize(("phi", "mesh", "plate", "grill"), SCREENS)
def test_screens_meet_the_printed_values(phi: float, mesh: float, plate: float, grill: float) -> None:
    assert wire_mesh_k(phi) == pytest.approx(mesh, rel=5e-5)
    assert perforated_k(phi) == pytest.approx(plate, abs=6e-3)
    assert slot_k(phi) == pytest.approx(grill, abs=5e-5)


@given(phi=st.floats(0.05, 1.0))
def test_slots_are_the_library_grill(phi: float) -> None:
    # `fluids` square_edge_grill, Blevins (1984).
    assert slot_k(phi) == pytest.approx(filters.square_edge_grill(phi), rel=1e-12, abs=1e-15)


def test_slots_meet_the_library_example() -> None:
    # Docstring of `fluids` square_edge_grill.
    assert slot_k(0.45) == pytest.approx(5.296296296296296)


@pytest.mark.parametrize("phi", [0.2, 0.25, 0.3, 0.4, 0.5, 0.6])
def test_plate_agrees_with_an_independent_table(phi: float) -> None:
    # Blevins (1984) table of square-edged screens, via `fluids`: two handbooks within 16 %.
    assert perforated_k(phi) == pytest.approx(filters.square_edge_screen(phi), rel=0.16)


@pytest.mark.parametrize("phi", [0.2, 0.3, 0.4, 0.5, 0.6])
def test_mesh_agrees_with_an_independent_table(phi: float) -> None:
    # Blevins (1984) round wire screens at Reynolds numbers of 400 and more, via `fluids`: two handbooks within 40 %.
    assert wire_mesh_k(phi) == pytest.approx(filters.round_edge_screen(phi, 400), rel=0.40)


def mesh_k(phi: float, wire_reynolds: float, inertial: float) -> float:
    """K on the face speed of a clean mesh at a Reynolds number of that speed and the wire, with an inertial part by some law."""
    opening, nu = 0.8e-3, 0.913e-6
    speed = wire_reynolds * nu / float(wire_m(opening, phi))
    return inertial + float(mesh_linear(1.0, opening, phi, 0.0, nu)) * 2.0 * GRAVITY_MS2 / speed


def armour_and_cannon_k(phi: float) -> float:
    """The inertial part by Armour and Cannon (1968): 2 x 0.52 B / (e^2 D), a square weave two wires thick; voids by geometry."""
    wire = phi**-0.5 - 1.0
    voids = 1.0 - pi * wire * ((1.0 + wire) ** 2 + wire**2) ** 0.5 / (4.0 * (1.0 + wire) ** 2)
    return 2.0 * 0.52 * 2.0 * wire / voids**2


@pytest.mark.parametrize("phi", [0.3, 0.4, 0.45, 0.5, 0.6])
@pytest.mark.parametrize("number", [20.0, 30.0, 50.0, 100.0, 200.0, 400.0])
def test_mesh_at_low_reynolds_numbers_agrees_with_an_independent_table(phi: float, number: float) -> None:
    """Blevins (1984) round wire screens via `fluids`, whose number is that of the approach speed and the wire (so Annand, J. R.
    Aeronaut. Soc. 57 (1953), for the same screens). The law without its viscous part had less than half of it at 20."""
    printed = filters.round_edge_screen(phi, number)
    assert -0.06 < mesh_k(phi, number, float(wire_mesh_k(phi))) / printed - 1.0 < 0.35
    assert -0.10 < mesh_k(phi, number, armour_and_cannon_k(phi)) / printed - 1.0 < 0.22
    if number == 20.0:
        assert wire_mesh_k(phi) < 0.5 * printed


@pytest.mark.parametrize("phi", [0.2, 0.3, 0.4, 0.5, 0.6])
def test_mesh_in_slow_water_agrees_with_a_second_handbook(phi: float) -> None:
    """Perry, Chemical Engineers' Handbook, flow through screens (from memory): h = (1 - phi^2) / (C phi)^2 v^2 / 2g with
    C = 0.1 Re^0.5 below Re = 20, of the opening and the speed in it."""
    opening, nu, speed = 1e-3, 0.913e-6, 0.002
    number = opening * speed / (phi * nu)
    head = (1.0 - phi**2) / (0.01 * number * phi**2) * speed**2 / (2.0 * GRAVITY_MS2)
    assert number < 20.0
    assert float(mesh_linear(1.0, opening, phi, 0.0, nu)) * speed == pytest.approx(head, rel=0.14)


def test_mesh_reynolds_number_is_that_of_its_authors() -> None:
    """Armour and Cannon (1968): u / (nu a^2 D), a from the length of wire in one mesh; by hand for 1 mm openings, 0.5 mm wire."""
    phi = (1.0 / 1.5) ** 2
    wire_length, wire, pitch = 2.0 * (1.5e-3**2 + 0.5e-3**2) ** 0.5, 0.5e-3, 1.5e-3
    a = pi * wire * wire_length / (pitch * pitch * 2.0 * wire)
    assert wire_m(1e-3, phi) == pytest.approx(wire)
    assert mesh_reynolds(0.1, 1e-3, phi, 0.0, 1e-6) == pytest.approx(0.1 / (1e-6 * a * a * 1e-3), rel=1e-12)
    assert mesh_reynolds(-0.1, 1e-3, phi, 0.5, 1e-6) == pytest.approx(0.2 / (1e-6 * a * a * 1e-3), rel=1e-12)


@pytest.mark.parametrize(("ratio", "clean", "third", "half", "quarter"), PLUGGED)
def test_head_of_a_plugged_guard(ratio: int, clean: float, third: float, half: float, quarter: float) -> None:
    face = ratio * pi / 4.0 * 0.016**2
    flow = 1000 * LITRE_PER_HOUR
    for phi, millimetres in ((0.4, clean), (0.3, third), (0.2, half), (0.1, quarter)):
        head = guard_quadratic(face, 0.4, 1.0 - phi / 0.4, "mesh") * flow * flow
        assert head * 1e3 == pytest.approx(millimetres, rel=7e-4)


def test_plugging_multiplies_the_loss() -> None:
    # Idelchik's wire mesh formula by hand: open 0.40 to 0.20 and to 0.10.
    assert wire_mesh_k(0.2) / wire_mesh_k(0.4) == pytest.approx(5.624, abs=5e-4)
    assert wire_mesh_k(0.1) / wire_mesh_k(0.4) == pytest.approx(27.1, abs=0.05)


def test_guard_on_the_face_against_on_the_pipe() -> None:
    # The same loss written on a 16 mm bore, face area 2, 4, 8 and 16 times the bore's: K (A_pipe / A_face)^2.
    bore = pi / 4.0 * 0.016**2
    on_pipe = [guard_quadratic(n * bore, 0.4, 0.0, "mesh") * 2.0 * GRAVITY_MS2 * bore * bore for n in (2, 4, 8, 16)]
    assert on_pipe == pytest.approx([0.7575, 0.1894, 0.0473, 0.0118], abs=6e-5)


def test_fish_protection_speeds() -> None:
    # NMFS, Juvenile Fish Screen Criteria for Pump Intakes: 0.20 ft/s, 6.10 cm/s.
    assert pytest.approx(0.0610, abs=5e-5) == PASSIVE_APPROACH_MS


def flow_through(guard: Floats) -> float:
    """Flow of a loop of 1.6 m shut-off and 1200 l/h free flow, losing 1.2 m at 660 l/h besides its guard."""
    pump = 1.6 / (1200 * LITRE_PER_HOUR) ** 2
    rest = (1.6 - pump * (660 * LITRE_PER_HOUR) ** 2) / (660 * LITRE_PER_HOUR) ** 2
    return float((1.6 / (pump + rest + float(guard))) ** 0.5 / LITRE_PER_HOUR)


@pytest.mark.parametrize("form", list(SCREEN_FORMS))
def test_a_small_guard_fails_as_a_cliff(form: str) -> None:
    # Common practice, no published source: little is lost at 80 % blocked, a lot at 92 %. Face 17.5 cm2, 40 % open.
    clean, dirty, choked = (flow_through(guard_quadratic(17.5e-4, 0.4, p, form)) for p in (0.0, 0.8, 0.92))
    assert clean == pytest.approx(660, rel=0.01)
    assert dirty > 0.92 * clean
    assert choked < 0.90 * clean
    assert (clean - choked) > 3.0 * (clean - dirty)
    # Six times the face, as dirty, costs next to nothing.
    large = flow_through(guard_quadratic(6 * 17.5e-4, 0.4, 0.8, form))
    assert large == pytest.approx(660, rel=0.01)


def test_a_sponge_fails_as_a_cliff() -> None:
    def flow(blocked: float) -> float:
        a, b = sponge_coefficients(60e-4, 0.02, 30.0, blocked, WATER.density_kgm3, WATER.viscosity_pas)
        at = np.linspace(1e-6, 660 * LITRE_PER_HOUR, 20_001)
        spare = 1.6 * (1.0 - (at / (660 * LITRE_PER_HOUR)) ** 2) - a * at - b * at * at
        return float(at[np.flatnonzero(spare > 0.0)[-1]]) / LITRE_PER_HOUR

    clean, dirty, choked = flow(0.0), flow(0.8), flow(0.92)
    assert clean == pytest.approx(660, rel=0.01)
    assert dirty > 0.9 * clean
    assert choked < 0.7 * clean


def test_clean_sponge_is_a_foam_layer() -> None:
    made = sponge_coefficients(0.01, 0.02, 30.0, 0.0, WATER.density_kgm3, WATER.viscosity_pas)
    layer = layer_coefficients(*foam_coefficients(30.0), 0.02, 0.01, WATER.density_kgm3, WATER.viscosity_pas)
    assert made == pytest.approx(layer)


def test_unknown_form_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r"'net'.*slots, holes, mesh"):
        screen_k("net", 0.4)


@given(form=FORMS, phi=OPEN, more=MORE)
def test_more_open_loses_less(form: str, phi: float, more: float) -> None:
    assert screen_k(form, min(phi * more, 1.0)) < screen_k(form, phi)


@given(form=FORMS, phi=OPEN, blocked=BLOCKED, more=BLOCKED, face=st.floats(1e-4, 0.1))
def test_more_dirt_never_lowers_the_loss(form: str, phi: float, blocked: float, more: float, face: float) -> None:
    low, high = sorted((blocked, more))
    assert guard_quadratic(face, phi, high, form) >= guard_quadratic(face, phi, low, form)


@given(phi=OPEN, blocked=BLOCKED, more=BLOCKED, face=st.floats(1e-4, 0.1), opening=st.floats(1e-4, 5e-3))
def test_more_dirt_never_opens_a_mesh(phi: float, blocked: float, more: float, face: float, opening: float) -> None:
    low, high = sorted((blocked, more))
    clean, dirty = (float(mesh_linear(face, opening, phi, share, 0.9e-6)) for share in (low, high))
    assert 0.0 < clean <= dirty
    assert float(mesh_linear(face / 4.0, opening, phi, low, 0.9e-6)) == pytest.approx(4.0 * clean)


@given(form=FORMS, phi=OPEN, blocked=BLOCKED, face=st.floats(1e-4, 0.1))
def test_four_times_the_face_is_a_sixteenth(form: str, phi: float, blocked: float, face: float) -> None:
    one, four = (guard_quadratic(n * face, phi, blocked, form) for n in (1.0, 4.0))
    assert four == pytest.approx(one / 16.0)


@given(ppi=st.floats(10.0, 60.0), blocked=BLOCKED, more=BLOCKED, law=st.sampled_from(["cubic", "doubling"]))
def test_more_dirt_never_opens_a_sponge(ppi: float, blocked: float, more: float, law: str) -> None:
    low, high = sorted((blocked, more))
    clean = sponge_coefficients(0.01, 0.02, ppi, low, 998.0, 1e-3, law)
    dirty = sponge_coefficients(0.01, 0.02, ppi, high, 998.0, 1e-3, law)
    assert dirty[0] >= clean[0]
    assert dirty[1] >= clean[1]


def test_arrays_give_what_scalars_give() -> None:
    phi, blocked, face = np.array([0.3, 0.4, 0.5]), np.array([[0.0], [0.8]]), 0.002
    for form in SCREEN_FORMS:
        made = guard_quadratic(face, phi, blocked, form)
        each = [[guard_quadratic(face, p, float(b[0]), form) for p in phi.tolist()] for b in blocked]
        assert made == pytest.approx(np.array(each))


def test_ranges_hold_the_usual_and_not_the_odd() -> None:
    by_name = {(each.name, each.quantity): each for each in VALIDITIES}
    assert len(by_name) == len(VALIDITIES)
    fractions = [each for each in VALIDITIES if each.quantity == "open share"]
    others = {each.quantity for each in VALIDITIES} - {"open share"}
    assert others == {"open share when clean", "Reynolds number of the mesh"}
    assert len(fractions) == len(SCREEN_FORMS)
    for each in fractions:
        assert not outside(each, 0.4)
        assert outside(each, 0.01)
