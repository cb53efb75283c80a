"""Loss coefficients of joints, bends, valves, tees and ports.

A loss coefficient K gives the head h = K v^2 / (2 g), with v the mean speed in one stated bore. Here that is
the smaller bore of the two that meet, unless the name or docstring says otherwise; `change_basis` moves a K
to another bore and `quadratic_coefficient` turns it into h = b Q |Q|. Crane TP-410 is Crane Co., Flow of
Fluids Through Valves, Fittings, and Pipe. All arguments are floats or arrays that broadcast, bores are above
0.
"""

from collections.abc import Mapping
from math import pi
from types import MappingProxyType

import numpy as np

from optimizer.physics.arrays import Floats, choose
from optimizer.physics.validity import Validity
from optimizer.physics.water import GRAVITY_MS2

BEND_RADIUS_RANGE = Validity(
    name="smooth bend",
    quantity="bend radius over bore",
    low=1.0,
    high=20.0,
    source="Crane TP-410 (2009) appendix A; the law of Rennels is held constant outside the same",
)
TURBULENT_BORE_RANGE = Validity(
    name="Crane fully turbulent friction factor",
    quantity="bore",
    kind="length",
    low=0.0158,
    high=0.5779,
    source="Crane TP-410 (2009) appendix A: nominal 1/2 in to 24 in, schedule 40",
)
THREADED_BORE_RANGE = Validity(
    name="threaded elbow",
    quantity="bore",
    kind="length",
    low=0.0158,
    high=0.0266,
    source="Rishel, Durkin and Kincaid, HVAC Pump Handbook (2006) tables 3.8 and 3.9: nominal 1/2 to 1 in; Hooper names no size",
)
VALIDITIES = (BEND_RADIUS_RANGE, TURBULENT_BORE_RANGE, THREADED_BORE_RANGE)

STANDARD_ELBOWS: Mapping[str, float] = MappingProxyType(
    {
        "standard 90": 30.0,
        "standard 45": 16.0,
        "mitre 90": 60.0,
        "mitre 45": 15.0,
        "return 180": 50.0,
    }
)
"""K over `turbulent_factor` by kind of elbow: Crane TP-410 (2009) appendix A."""

THREADED_ELBOWS: Mapping[str, tuple[tuple[float, ...], tuple[float, ...]]] = MappingProxyType(
    {
        "standard 90": ((0.0158, 0.0209, 0.0266), (2.10, 1.70, 1.50)),
        "long 90": ((0.0209, 0.0266), (0.85, 0.76)),
        "standard 45": ((0.0158, 0.0209, 0.0266), (0.36, 0.35, 0.33)),
    }
)
"""Bores (m, schedule 40) and K of screwed elbows by kind: HVAC Pump Handbook (2006) tables 3.8 and 3.9."""

_BEND_RATIOS = (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 20.0)
_BEND_FACTORS = (20.0, 14.0, 12.0, 12.0, 14.0, 17.0, 24.0, 30.0, 34.0, 38.0, 42.0, 50.0)
_CONVERGING_ANGLES = (30.0, 45.0, 60.0, 90.0)
_CONVERGING_F = (1.74, 1.41, 1.0, 0.0)
_KV_DENSITY_KGM3 = 999.1
"""Density of water at 15 degC, to which Kv refers (IEC 60534-1)."""


def _blocked_share(small_m: Floats, large_m: Floats) -> Floats:
    """Return 1 - (d/D)^2, the share of the large bore's area that the small one closes."""
    ratio = small_m / large_m
    return 1.0 - ratio * ratio


def expansion_k(small_m: Floats, large_m: Floats) -> Floats:
    """Return K on the small bore of a sudden step from `small_m` up to `large_m` (m).

    K = (1 - d^2/D^2)^2; `large_m` must not be the smaller. Source: Borda and Carnot, a momentum balance;
    Crane TP-410.

    >>> round(expansion_k(0.0125, 0.016), 6)
    0.151826
    """
    blocked = _blocked_share(small_m, large_m)
    return blocked * blocked


def contraction_k(large_m: Floats, small_m: Floats) -> Floats:
    """Return K on the small bore of a sudden step from `large_m` down to `small_m` (m).

    K = 0.5 (1 - d^2/D^2); `small_m` must not be the larger. Source: Crane TP-410. Other handbooks are up to
    40 % higher for a sharp edge, see `fitting_laws`.

    >>> round(contraction_k(0.016, 0.0125), 6)
    0.194824
    """
    return 0.5 * _blocked_share(small_m, large_m)


def gradual_expansion_k(small_m: Floats, large_m: Floats, angle_deg: Floats) -> Floats:
    """Return K on the small bore of a cone widening from `small_m` to `large_m` (m, not smaller).

    `angle_deg` is the full angle of the cone, 0 to 180 degrees. K = min(2.6 sin(angle/2), 1) (1 - d^2/D^2)^2.
    Source: Crane TP-410 (2009) appendix A, which switches at 45 degrees; the smaller of the two is the same
    within 0.5 % and has no jump. Wall friction is not included.

    >>> round(float(gradual_expansion_k(0.016, 0.025, 40.0)), 6)
    0.309969
    """
    half_sine = np.sin(np.radians(angle_deg) / 2.0)
    k: Floats = np.minimum(2.6 * half_sine, 1.0) * expansion_k(small_m, large_m)
    return k


def gradual_contraction_k(large_m: Floats, small_m: Floats, angle_deg: Floats) -> Floats:
    """Return K on the small bore of a cone narrowing from `large_m` to `small_m` (m, not larger).

    `angle_deg` is the full angle of the cone, 0 to 180 degrees. K = min(1.6 sin(angle/2), sqrt(sin(angle/2)))
    times the sudden 0.5 (1 - d^2/D^2). Source: Crane TP-410 (2009) appendix A, which switches at 45 degrees;
    the smaller of the two is the same within 1.1 % and has no jump.

    >>> round(float(gradual_contraction_k(0.025, 0.016, 60.0)), 6)
    0.208738
    """
    half_sine = np.sin(np.radians(angle_deg) / 2.0)
    k: Floats = np.minimum(1.6 * half_sine, np.sqrt(half_sine)) * contraction_k(large_m, small_m)
    return k


def change_basis(k: Floats, from_bore_m: Floats, to_bore_m: Floats) -> Floats:
    """Return the K on `to_bore_m` that loses the same head as `k` on `from_bore_m` (both m): K (to/from)^4.

    >>> round(change_basis(0.151826, 0.0125, 0.016), 4)
    0.4076
    """
    ratio = to_bore_m / from_bore_m
    square = ratio * ratio
    return k * square * square


def quadratic_coefficient(k: Floats, bore_m: Floats) -> Floats:
    """Return b of h = b Q |Q|, in s2/m5, for a loss coefficient `k` on `bore_m` (m): K / (2 g A^2).

    >>> round(quadratic_coefficient(1.0, 0.016))
    1261216
    """
    square = bore_m * bore_m
    return k * (8.0 / (GRAVITY_MS2 * pi * pi)) / (square * square)


def quadratic_from_kv(kv_m3h: Floats) -> Floats:
    """Return b of h = b Q |Q|, in s2/m5, for a valve coefficient `kv_m3h` > 0.

    Kv is the flow in m3/h that loses 1 bar. b = 1 bar / (rho g) (3600 / Kv)^2 with rho = 999.1 kg/m3, the
    water of the definition in IEC 60534-1; in other water the pressure scales with density, so the head does
    not change.

    >>> round(quadratic_from_kv(2.0) * (2.0 / 3600) ** 2, 3)
    10.206
    """
    per_unit_flow = 3600.0 / kv_m3h
    return 1e5 / (_KV_DENSITY_KGM3 * GRAVITY_MS2) * per_unit_flow * per_unit_flow


def quadratic_from_point(flow_m3s: Floats, head_m: Floats) -> Floats:
    """Return b of h = b Q |Q|, in s2/m5, through one point: `head_m` (m) lost at `flow_m3s` > 0 (m3/s).

    >>> quadratic_from_point(0.5, 1.0)
    4.0
    """
    return head_m / (flow_m3s * flow_m3s)


def turbulent_factor(bore_m: Floats) -> Floats:
    """Return f_T, Crane's friction factor of fully turbulent flow in steel pipe of bore `bore_m` (m).

    It scales the losses of fittings. Crane TP-410 (2009) appendix A prints f_T rounded to three decimals.
    This is the Colebrook (1939) equation with Re = 7.5e6 D and relative roughness 3.4126825e-5 D^-1.0112 (D
    in m), the fit of the `fluids` library, which meets every printed value. Fixed-point iteration from full
    roughness; eight steps settle all digits above 1e-9. Printed for nominal 1/2 in and up
    (`TURBULENT_BORE_RANGE`).

    >>> round(float(turbulent_factor(0.016)), 5)
    0.02546
    """
    rough = 3.4126825352925e-5 * bore_m**-1.0112 / 3.7
    inverse_re = 2.51 / (7.5e6 * bore_m)
    root = -2.0 * np.log10(rough)
    for _ in range(8):
        root = -2.0 * np.log10(rough + inverse_re * root)
    factor: Floats = 1.0 / (root * root)
    return factor


def elbow_k(bore_m: Floats, kind: str = "standard 90") -> Floats:
    """Return K of an elbow of bore `bore_m` (m) and of a kind in `STANDARD_ELBOWS`.

    K is the kind's factor times `turbulent_factor`. Raises ValueError for another kind. Source: Crane TP-410
    (2009) appendix A. For small threaded elbows see `fitting_laws`: they lose more.

    >>> round(float(elbow_k(0.016)), 4)
    0.7637
    """
    if kind not in STANDARD_ELBOWS:
        raise ValueError(f"no elbow of kind {kind!r}; kinds are {', '.join(STANDARD_ELBOWS)}")
    return STANDARD_ELBOWS[kind] * turbulent_factor(bore_m)


def threaded_elbow_k(bore_m: Floats, kind: str = "standard 90") -> Floats:
    """Return K of a small screwed or moulded elbow of bore `bore_m` (m) and of a kind in `THREADED_ELBOWS`.

    Read between the printed sizes 1/2 in, 3/4 in and 1 in by their schedule 40 bores, constant outside
    (`THREADED_BORE_RANGE`). Raises ValueError for another kind. Source: HVAC Pump Handbook (2006) tables 3.8
    and 3.9.

    >>> round(float(threaded_elbow_k(0.0209)), 2)
    1.7
    """
    if kind not in THREADED_ELBOWS:
        raise ValueError(f"no threaded elbow of kind {kind!r}; kinds are {', '.join(THREADED_ELBOWS)}")
    bores, values = THREADED_ELBOWS[kind]
    k: Floats = np.interp(bore_m, bores, values)
    return k


def bend_k(bore_m: Floats, radius_ratio: Floats, angle_deg: Floats = 90.0) -> Floats:
    """Return K of a smooth bend of bore `bore_m` (m) turning by `angle_deg`, its own length of wall included.

    For a hose whose length goes round the bend too see `fitting_laws.crane_turn_k`.

    `radius_ratio` is the radius of the centre line over the bore, 1 to 20 (`BEND_RADIUS_RANGE`, constant
    outside). With
    K90 the printed factor times f_T and n = angle/90: K = K90 + (n - 1)(0.25 pi f_T r/d + 0.5 K90). Source:
    Crane TP-410 (2009) appendix A, printed for n >= 1; below 90 degrees the same line is on the high side.

    >>> round(float(bend_k(0.016, 1.0)), 4)
    0.5091
    """
    f_t = turbulent_factor(bore_m)
    ratio = np.clip(radius_ratio, _BEND_RATIOS[0], _BEND_RATIOS[-1])
    right_angle = np.interp(ratio, _BEND_RATIOS, _BEND_FACTORS) * f_t
    turns = angle_deg / 90.0
    k: Floats = right_angle + (turns - 1.0) * (0.25 * pi * f_t * ratio + 0.5 * right_angle)
    return k


def ball_valve_k(seat_m: Floats, bore_m: Floats, inlet_deg: Floats = 30.0, outlet_deg: Floats = 30.0) -> Floats:
    """Return K on `bore_m` of an open ball valve with a seat of `seat_m` (m, not larger).

    The seat is reached by cones of full angle `inlet_deg` and `outlet_deg`: (3 f_T + gradual contraction +
    gradual expansion) / (seat/bore)^4; a full-bore valve is 3 f_T. Source: Crane TP-410 (2009) appendix A.

    >>> round(float(ball_valve_k(0.016, 0.016)), 4), round(float(ball_valve_k(0.012, 0.016)), 4)
    (0.0764, 0.9347)
    """
    cones = gradual_contraction_k(bore_m, seat_m, inlet_deg) + gradual_expansion_k(seat_m, bore_m, outlet_deg)
    return change_basis(3.0 * turbulent_factor(bore_m) + cones, seat_m, bore_m)


def gate_valve_k(bore_m: Floats) -> Floats:
    """Return K of an open full-bore gate valve of bore `bore_m` (m): 8 f_T (Crane TP-410 (2009) appendix A).

    >>> round(float(gate_valve_k(0.016)), 4)
    0.2037
    """
    return 8.0 * turbulent_factor(bore_m)


def swing_check_k(bore_m: Floats) -> Floats:
    """Return K of a fully open swing (flap) check valve of bore `bore_m` (m): 100 f_T (Crane TP-410 (2009) appendix A).

    >>> round(float(swing_check_k(0.016)), 3)
    2.546
    """
    return 100.0 * turbulent_factor(bore_m)


def lift_check_k(bore_m: Floats) -> Floats:
    """Return K of a fully open lift (poppet) check valve of bore `bore_m` (m), its way turning in the seat as in a globe valve:
    600 f_T (Crane TP-410 (2009) appendix A).

    >>> round(float(lift_check_k(0.016)), 2)
    15.27
    """
    return 600.0 * turbulent_factor(bore_m)


def converging_branch_k(branch_share: Floats, branch_m: Floats, run_m: Floats, angle_deg: Floats = 90.0) -> Floats:
    """Return K of the way from the branch of a tee or wye into the joined stream.

    K is on the speed of the joined flow in `run_m`. `branch_share` q is the branch's part of the joined flow,
    0 to 1; `branch_m` and `run_m` are bores in m, the run as wide as the joined end; `angle_deg` is 30 to 90.
    With B = (branch/run)^2: K = C (1 + (q/B)^2 - 2 (1 - q)^2 - F q^2 / B), F falling from 1.74 at 30 to 0 at
    90 degrees, C = 1 for B <= 0.35, else the larger of 0.9 (1 - q) and 0.55. Negative where the main stream
    drags the branch along. Source: Crane TP-410 (2009) chapter 2 with errata, which switches C at q =
    0.4; the larger of the two is within 2 % and has no jump.

    >>> round(float(converging_branch_k(0.25, 0.016, 0.016)), 6)
    -0.042188
    """
    area_ratio = (branch_m / run_m) ** 2
    rest = 1.0 - branch_share
    c = choose(area_ratio <= 0.35, 1.0, np.maximum(0.9 * rest, 0.55))
    speed = branch_share / area_ratio
    turn = np.interp(angle_deg, _CONVERGING_ANGLES, _CONVERGING_F)
    k: Floats = c * (1.0 + speed * speed - 2.0 * rest * rest - turn * branch_share * speed)
    return k


def converging_run_k(branch_share: Floats, branch_m: Floats, run_m: Floats, angle_deg: Floats = 90.0) -> Floats:
    """Return K of the way straight through a tee or wye in which a branch joins.

    Arguments and basis as in `converging_branch_k`. From 75 degrees on: K = 1.55 q - q^2; below: 1 - (1 -
    q)^2 - F q^2 / B with F from 1.74 at 30 to 1 at 60 degrees. May be negative. Source: Crane TP-410 (2009)
    chapter 2 with errata, which leaves 60 to 90 degrees open; the change at 75 follows the `fluids` library.

    >>> round(float(converging_run_k(0.25, 0.016, 0.016)), 6)
    0.325
    """
    rest = 1.0 - branch_share
    turn = np.interp(angle_deg, _CONVERGING_ANGLES[:3], _CONVERGING_F[:3])
    square = branch_share * branch_share
    wye = 1.0 - rest * rest - turn * square / (branch_m / run_m) ** 2
    k: Floats = choose(np.asarray(angle_deg) >= 75.0, 1.55 * branch_share - square, wye)
    return k


def diverging_branch_k(branch_share: Floats, branch_m: Floats, run_m: Floats, angle_deg: Floats = 90.0) -> Floats:
    """Return K of the way from the joined stream into the branch of a tee or wye.

    Arguments and basis as in `converging_branch_k`. K = G (1 + H (q/B)^2 - J (q/B) cos(angle)) with H = 0.3,
    J = 0 for a tee of nearly equal bores (branch/run > 2/3, 75 degrees and up), else H = 1, J = 2; G for tees
    is 1 where B <= 2/3, else 1 + 0.3 q^2; for wyes max(1.1 - 0.7 q, 0.85) where B <= 0.35, else max(1 - 0.6
    q, 0.6). Source: Crane TP-410 (2009) chapter 2 with errata; the wye's G there jumps by up to 7 % at
    q = 0.4 or 0.6, the larger of the two does not.

    Between the printed rows: that of wyes holds up to 60 degrees, 60 among them, that of tees for 90; between the two, of which
    the source says nothing, the change at 75 follows the `fluids` library. At 60 degrees and branch/run > 2/3 that library has
    the H and J of tees with the G of wyes, which is no row of the source; the wye's J = 2 is the momentum that the branch
    keeps, and K goes on without a jump from 45 to 60.

    >>> round(float(diverging_branch_k(0.25, 0.016, 0.016)), 6)
    1.037852
    """
    area_ratio = (branch_m / run_m) ** 2
    speed = branch_share / area_ratio
    tee = np.asarray(angle_deg) >= 75.0
    equal_tee = tee & (area_ratio > 4.0 / 9.0)
    h = choose(equal_tee, 0.3, 1.0)
    j = choose(equal_tee, 0.0, 2.0)
    g_tee = choose(area_ratio <= 2.0 / 3.0, 1.0, 1.0 + 0.3 * branch_share * branch_share)
    narrow_wye = np.maximum(1.1 - 0.7 * branch_share, 0.85)
    g_wye = choose(area_ratio <= 0.35, narrow_wye, np.maximum(1.0 - 0.6 * branch_share, 0.6))
    turn = np.cos(np.radians(angle_deg))
    k: Floats = choose(tee, g_tee, g_wye) * (1.0 + h * speed * speed - j * speed * turn)
    return k


def diverging_run_k(branch_share: Floats, branch_m: Floats, run_m: Floats) -> Floats:
    """Return K of the way straight through a tee or wye from which a branch leaves.

    Arguments and basis as in `converging_branch_k`, any angle. K = M q^2 with M = 0.4 where (branch/run)^2 <=
    0.4, else 2 (2 q - 1) up to q = 0.5 and 0.3 (2 q - 1) above. May be negative. Source: Crane TP-410 (2009)
    chapter 2 with errata.

    >>> round(float(diverging_run_k(0.25, 0.016, 0.016)), 6)
    -0.0625
    """
    lean = 2.0 * branch_share - 1.0
    wide = lean * choose(np.asarray(branch_share) <= 0.5, 2.0, 0.3)
    k: Floats = branch_share * branch_share * choose((branch_m / run_m) ** 2 <= 0.4, 0.4, wide)
    return k
