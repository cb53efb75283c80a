"""Intake guards: what a screen or sponge costs in head, and how fast the water is in front of it.

A screen's loss coefficient K here belongs to the face speed: flow over the whole face, bars and dirt
included. So four times the face at the same flow costs a sixteenth of the head. Dirt closes openings; K then
climbs slowly at first and steeply at the end, which is why a guard that is 80 % blocked may pass unnoticed
and one at 92 % does not. All arguments are floats or arrays that broadcast.
"""

from collections.abc import Callable, Mapping
from math import inf, pi
from types import MappingProxyType

import numpy as np

from optimizer.physics.arrays import Floats
from optimizer.physics.media import (
    clogged_coefficients,
    clogging_factor,
    foam_coefficients,
    layer_coefficients,
)
from optimizer.physics.validity import Validity
from optimizer.physics.water import GRAVITY_MS2

PASSIVE_APPROACH_MS = 0.20 * 0.3048
"""Greatest face speed, m/s, of a pump intake screen that is not cleaned by itself.

NMFS, Juvenile Fish Screen Criteria for Pump Intakes: 0.20 ft/s, only where there is little debris. Written
for salmon fry in rivers: a comfortable bound for ornamental fish, not a rule for them.
"""

MESH_RANGE = Validity(
    name="Idelchik wire mesh",
    quantity="open share",
    kind="share",
    low=0.05,
    high=0.95,
    source="Idelchik, Handbook of Hydraulic Resistance, diagram 8-6; range from memory",
)
MESH_WEAVE = Validity(
    name="Armour and Cannon woven mesh",
    quantity="open share when clean",
    kind="share",
    low=0.1,
    high=0.6,
    source="Armour and Cannon, AIChE J. 14 (1968) 415-420: voids of 0.35 to 0.76, open 0.1 to 0.5; to 0.6 held against Blevins",
)
MESH_REYNOLDS = Validity(
    name="Armour and Cannon woven mesh",
    quantity="Reynolds number of the mesh",
    low=0.1,
    high=inf,
    source="Armour and Cannon, AIChE J. 14 (1968) 415-420: 0.1 to 1000; above, its viscous part is below 2 % of the loss",
)
PLATE_RANGE = Validity(
    name="Idelchik thin perforated plate",
    quantity="open share",
    kind="share",
    low=0.02,
    high=1.0,
    source="Idelchik (1994) diagram 4-14, as used by the Modelica fluid library; range from memory",
)
SLOT_RANGE = Validity(
    name="Blevins square-edged grill",
    quantity="open share",
    kind="share",
    low=0.2,
    high=0.9,
    source="Blevins, Applied Fluid Dynamics Handbook (1984); range from memory",
)
VALIDITIES = (MESH_RANGE, MESH_WEAVE, MESH_REYNOLDS, PLATE_RANGE, SLOT_RANGE)

MESH_VISCOUS = 8.61
"""Viscous coefficient of woven mesh over its Reynolds number: Armour and Cannon (1968), beside 0.52 for the inertial part."""


def wire_mesh_k(open_fraction: Floats) -> Floats:
    """Return K on the face speed of a woven wire mesh of `open_fraction` phi, above 0 and at most 1.

    K = 1.3 (1 - phi) + (1/phi - 1)^2. Source: Idelchik, Handbook of Hydraulic Resistance, diagram 8-6, for
    Reynolds numbers on the wire above about 1000; below, `mesh_linear` comes on top. Range of phi in
    `MESH_RANGE`.

    >>> round(wire_mesh_k(0.4), 4)
    3.03
    """
    closed = 1.0 / open_fraction - 1.0
    return 1.3 * (1.0 - open_fraction) + closed * closed


def perforated_k(open_fraction: Floats) -> Floats:
    """Return K on the face speed of a thin plate with sharp round holes; `open_fraction` phi in (0, 1].

    K = [(1 - phi) + 0.707 (1 - phi)^0.375]^2 / phi^2. Source: Idelchik (1994) diagram 4-14, with both faces
    equal, as used by the Modelica fluid library. `PLATE_RANGE`.

    >>> round(perforated_k(0.4), 3)
    8.758
    """
    closed = 1.0 - open_fraction
    root = (closed + 0.707 * closed**0.375) / open_fraction
    return root * root


def slot_k(open_fraction: Floats) -> Floats:
    """Return K on the face speed of a grill of square-edged bars; `open_fraction` phi in (0, 1].

    K = [0.5 (1 - phi) + 1 - phi^2] / phi^2. Source: Blevins, Applied Fluid Dynamics Handbook (1984), without
    its term for wall friction in thick grills. `SLOT_RANGE`.

    >>> round(slot_k(0.4), 3)
    7.125
    """
    square = open_fraction * open_fraction
    return (0.5 * (1.0 - open_fraction) + 1.0 - square) / square


SCREEN_FORMS: Mapping[str, Callable[[Floats], Floats]] = MappingProxyType(
    {"slots": slot_k, "holes": perforated_k, "mesh": wire_mesh_k}
)
"""K on the face speed as a function of the open fraction, by the form of the openings."""


def screen_k(form: str, open_fraction: Floats) -> Floats:
    """Return K on the face speed of a screen of a form in `SCREEN_FORMS`; `open_fraction` in (0, 1].

    Raises ValueError for another form.

    >>> round(screen_k("mesh", 0.5), 3), round(screen_k("slots", 0.5), 3)
    (1.65, 4.0)
    """
    if form not in SCREEN_FORMS:
        raise ValueError(f"no screen of form {form!r}; forms are {', '.join(SCREEN_FORMS)}")
    return SCREEN_FORMS[form](open_fraction)


def blocked_open_fraction(open_fraction: Floats, blocked: Floats) -> Floats:
    """Return the open fraction left when a share `blocked` (0 to below 1) of the openings is shut.

    phi (1 - blocked), with `open_fraction` phi of the clean screen in (0, 1].

    >>> round(blocked_open_fraction(0.4, 0.92), 3)
    0.032
    """
    return open_fraction * (1.0 - blocked)


def guard_quadratic(face_area_m2: Floats, open_fraction: Floats, blocked: Floats, form: str) -> Floats:
    """Return b of h = b Q |Q|, in s2/m5, of water passing a screen: K / (2 g A^2).

    `face_area_m2` A > 0 is the whole face in m2, `open_fraction` in (0, 1] that of the clean screen,
    `blocked` (0 to below 1) the share of its openings that is shut, and `form` one of `SCREEN_FORMS`. The way
    from the guard into its hose is not included, nor what a mesh loses besides (`mesh_linear`). Raises ValueError
    for another form.

    >>> clean, dirty, choked = (guard_quadratic(0.00175, 0.4, p, "mesh") for p in (0.0, 0.8, 0.92))
    >>> round(clean), round(dirty), round(choked)
    (50445, 2221666, 15255302)
    """
    k = screen_k(form, blocked_open_fraction(open_fraction, blocked))
    return k / (2.0 * GRAVITY_MS2 * face_area_m2 * face_area_m2)


def wire_m(opening_m: Floats, open_fraction: Floats) -> Floats:
    """Return the diameter in m of the wire of a square mesh: o (phi^-0.5 - 1), since phi = (o / (o + d))^2.

    `opening_m` o > 0 in m is the width of an opening, `open_fraction` phi in (0, 1] that of the clean mesh.

    >>> round(1e3 * wire_m(0.8e-3, 0.4), 3)
    0.465
    """
    return opening_m * (open_fraction**-0.5 - 1.0)


def _weave(opening_m: Floats, open_fraction: Floats) -> tuple[Floats, Floats]:
    """Return the share of voids of a square mesh two wires thick, and its a^2 D (1/m) with a the surface of the wires over their
    volume of mesh and D the opening."""
    wire = wire_m(opening_m, open_fraction)
    pitch = opening_m + wire
    solid = pi * wire * (pitch * pitch + wire * wire) ** 0.5 / (4.0 * pitch * pitch)
    surface = 4.0 * solid / wire
    return 1.0 - solid, surface * surface * opening_m


def mesh_reynolds(speed_ms: Floats, opening_m: Floats, open_fraction: Floats, blocked: Floats, kinematic_m2s: Floats) -> Floats:
    """Return the Reynolds number of a woven mesh as Armour and Cannon (1968) have it: v / (nu a^2 D), never negative.

    `speed_ms` is the flow over the whole face, in m/s (either sign); v is what that is over the share that is not
    `blocked`. `opening_m` D > 0 in m, `open_fraction` below 1 that of the clean mesh, `kinematic_m2s` nu in m2/s; a
    in 1/m is the surface of the wires over the volume of the mesh. About two fifths of the number on the wire.

    >>> round(float(mesh_reynolds(0.1, 0.8e-3, 0.4, 0.0, 0.913e-6)), 1)
    19.6
    """
    _, rough = _weave(opening_m, open_fraction)
    number: Floats = np.abs(speed_ms) / ((1.0 - blocked) * kinematic_m2s * rough)
    return number


def mesh_linear(face_area_m2: Floats, opening_m: Floats, open_fraction: Floats, blocked: Floats, kinematic_m2s: Floats) -> Floats:
    """Return a of h = a Q + b Q |Q|, in s/m2, of a woven mesh: what its wires lose by viscosity, beside `guard_quadratic`.

    `face_area_m2` A > 0 in m2, `opening_m` D > 0 in m the width of an opening, `open_fraction` (0 to below 1) that of
    the clean mesh, `blocked` (0 to below 1) the share of the face that is shut: the water passes the rest faster,
    through openings that are what they were. `kinematic_m2s` nu in m2/s.

        a = 8.61 nu B a_s^2 / (g e^2 (1 - blocked) A)

    with B two wires thick, e the share of voids and a_s the surface of the wires over the volume of the mesh. Source:
    Armour and Cannon, AIChE J. 14 (1968) 415-420, who add the viscous and the inertial part as is done here
    (`MESH_REYNOLDS`, `MESH_WEAVE`). With the inertial part of `wire_mesh_k` a clean mesh of 0.3 to 0.6 open loses from
    5 % less to 34 % more than the round wire screens of Blevins (1984) at Reynolds numbers on the wire of 20 to 400;
    with that of Armour and Cannon it would be from 9 % less to 21 % more. At catalog openings of 0.4 to 0.45 it is 7
    to 24 % more.

    >>> round(float(mesh_linear(0.00175, 0.8e-3, 0.4, 0.0, 0.913e-6)), 2)
    6.22
    """
    voids, rough = _weave(opening_m, open_fraction)
    thick = 2.0 * wire_m(opening_m, open_fraction) / opening_m
    per_speed = MESH_VISCOUS * kinematic_m2s * rough * thick / (GRAVITY_MS2 * voids * voids)
    return per_speed / (face_area_m2 * (1.0 - blocked))


def sponge_coefficients(
    face_area_m2: Floats,
    thickness_m: Floats,
    pores_ppi: Floats,
    blocked: Floats,
    density_kgm3: Floats,
    viscosity_pas: Floats,
    law: str = "cubic",
) -> tuple[Floats, Floats]:
    """Return a (s/m2) and b (s2/m5) of h = a Q + b Q |Q| of a sponge over an intake.

    `face_area_m2` > 0 (m2) is the area the water passes and `thickness_m` (m) the wall of the sponge, counted
    as a flat layer: for a thick sleeve on a thin tube use the area at half its wall. `pores_ppi` > 0 are
    pores per inch; `blocked` (0 to below 1) is the share of the pore volume full of dirt, which a `law` of
    `clogging_factor` turns into lost permeability; `density_kgm3` and `viscosity_pas` are those of the water.
    Raises ValueError for another law. Sources: `foam_coefficients`, `clogging_factor`.

    >>> a, b = sponge_coefficients(0.01, 0.02, 30.0, 0.0, 997.3, 0.91e-3)
    >>> round(float(a), 2), round(float(b))
    (2.19, 6296)
    """
    permeability, inertial = foam_coefficients(pores_ppi)
    permeability, inertial = clogged_coefficients(permeability, inertial, clogging_factor(law, blocked))
    return layer_coefficients(permeability, inertial, thickness_m, face_area_m2, density_kgm3, viscosity_pas)


def stopped_share(opening_m: Floats, scrap_m: Floats) -> Floats:
    """Return the share of drifting debris that is too coarse for openings of a width: exp(-opening / scrap).

    `opening_m` >= 0 and `scrap_m` > 0, the typical size of the debris, both in m. Sizes of fragments fall off
    exponentially: a prior of the authors, as is the size itself.

    >>> round(float(stopped_share(0.8e-3, 1.2e-3)), 3), round(float(stopped_share(3e-3, 1.2e-3)), 3)
    (0.513, 0.082)
    """
    share: Floats = np.exp(-np.asarray(opening_m) / scrap_m)[()]
    return share


def _overlapping(covered: Floats, most: Floats) -> Floats:
    shut: Floats = most * -np.expm1(-np.asarray(covered) / most)
    return shut


def _side_by_side(covered: Floats, most: Floats) -> Floats:
    shut: Floats = np.minimum(covered, most)
    return shut


COVERING_LAWS: Mapping[str, Callable[[Floats, Floats], Floats]] = MappingProxyType(
    {"overlap": _overlapping, "side by side": _side_by_side}
)
"""Blocked share as a function of the area of debris over the open area, and of the most that can be shut, by name."""


def blocked_share(law: str, covered: Floats, most: Floats) -> Floats:
    """Return the share of a guard's openings that debris has shut: rises with the debris from 0 to at most `most`.

    `covered` >= 0 is the area of all debris that lies on the guard over the area of its openings, `most`
    (below 1) the share that can be shut at all. `law` is one of

    - "overlap": most (1 - exp(-covered / most)), for debris that comes to lie anywhere, on other debris too;
    - "side by side": min(covered, most), for debris that the water draws to what is still open.

    Both are priors of the authors and start alike. The cliff is in what the guard then costs: see
    `guard_quadratic`. Raises ValueError for another law.

    >>> round(float(blocked_share("overlap", 1.0, 0.98)), 3), float(blocked_share("side by side", 3.0, 0.98))
    (0.627, 0.98)
    """
    if law not in COVERING_LAWS:
        raise ValueError(f"no covering law {law!r}; laws are {', '.join(COVERING_LAWS)}")
    share: Floats = np.asarray(COVERING_LAWS[law](covered, most), dtype=float)[()]
    return share


def covered_for_blocked(law: str, blocked: Floats, most: Floats) -> Floats:
    """Return the area of debris over the open area at which a law of `blocked_share` gives `blocked`: its inverse.

    A share at or above `most` counts as just below it. Raises ValueError for another law.

    >>> round(float(covered_for_blocked("overlap", blocked_share("overlap", 1.7, 0.98), 0.98)), 6)
    1.7
    """
    blocked_share(law, 0.0, most)
    under = np.minimum(blocked, np.asarray(most) * (1.0 - 1e-9))
    covered: Floats = under[()] if law == "side by side" else (-most * np.log1p(-under / most))[()]
    return covered
