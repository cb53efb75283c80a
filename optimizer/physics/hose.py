"""Friction of water in hose and pipe: straight, ribbed or laid in a coil."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi
from types import MappingProxyType
from typing import Any

import numpy as np

from optimizer.physics.arrays import Floats
from optimizer.physics.validity import Validity
from optimizer.physics.water import GRAVITY_MS2

STRAIGHT_CRITICAL_REYNOLDS = 2300.0
"""Where flow in a straight tube commonly turns turbulent."""

RIBBED_FACTOR = 2.0
"""Friction of ribbed (corrugated) hose over smooth hose of the same least bore.

A prior, not a measurement: common practice, no published source for ribbed aquarium and pond hose. Makers'
sheets for corrugated metal hose speak of "almost 100 %" above plain pipe. From memory, real values spread
from about 1.3 to 4 with the ribs.
"""

ITO_BAND = 0.2
"""Half width, over the critical Reynolds number, of the band where coil friction turns turbulent."""

ROUGHNESS_RANGE = Validity(
    name="Churchill 1977 friction factor",
    quantity="roughness over bore",
    low=0.0,
    high=0.05,
    source="range of the Moody chart, Trans. ASME 66 (1944) 671-684",
)
REYNOLDS_RANGE = Validity(
    name="Churchill 1977 friction factor",
    quantity="Reynolds number",
    low=0.0,
    high=1e8,
    source="range of the Moody chart, Trans. ASME 66 (1944) 671-684",
)
CURVATURE_RANGE = Validity(
    name="Ito 1959 critical Reynolds number in a coil",
    quantity="bore over coil diameter (0 when straight)",
    low=0.0,
    high=1.0 / 15.0,
    source="Ito, Trans. ASME J. Basic Eng. 81 (1959) 123-134: 1/860 to 1/15, straight below",
)
TRANSITION = Validity(
    name="laminar or turbulent friction",
    quantity="Reynolds number",
    low=2000.0,
    high=4000.0,
    inside=True,
    source="Churchill, Chemical Engineering 84 (24) (1977) 91-92 joins the two laws here",
)
"""The band in which friction in a pipe is uncertain by about a fifth."""
VALIDITIES = (ROUGHNESS_RANGE, REYNOLDS_RANGE, CURVATURE_RANGE, TRANSITION)


@dataclass(frozen=True, slots=True, kw_only=True)
class Roughness:
    """The equivalent sand roughness of one wall material in m, and where the number comes from."""

    roughness_m: float
    source: str


_DRAWN = "drawn tubing, Moody, Trans. ASME 66 (1944) 671-684; process tables give plastic 0.0015 to 0.01 mm"
_RUBBER = "low end of smooth flexible rubber tubing, 0.006 to 0.07 mm in process tables"

ROUGHNESS: Mapping[str, Roughness] = MappingProxyType(
    {
        "pvc hose": Roughness(roughness_m=1.5e-6, source=_DRAWN),
        "pvc pipe": Roughness(roughness_m=1.5e-6, source=_DRAWN),
        "acrylic": Roughness(roughness_m=1.5e-6, source=_DRAWN),
        "glass": Roughness(roughness_m=1.5e-6, source=_DRAWN),
        "pe": Roughness(roughness_m=1.5e-6, source=_DRAWN),
        "silicone": Roughness(roughness_m=6.0e-6, source="from memory, taken as " + _RUBBER),
        "rubber": Roughness(roughness_m=1.0e-5, source=_RUBBER),
        "steel": Roughness(roughness_m=4.5e-5, source="commercial steel, Moody (1944), 1.5e-4 ft"),
    }
)
"""Wall roughness by material, clean. Films and slime count as dirt, not here."""


def reynolds(flow_m3s: Floats, bore_m: Floats, kinematic_m2s: Floats) -> Floats:
    """Return the Reynolds number 4 |Q| / (pi D nu) of flow in a round bore, never negative.

    `flow_m3s` in m3/s (either sign), `bore_m` > 0 in m and `kinematic_m2s` > 0 in m2/s are floats or arrays
    that broadcast.

    >>> round(reynolds(800e-3 / 3600, 0.016, 0.913148e-6))
    19366
    """
    re: Floats = np.abs(flow_m3s) * (4.0 / pi) / (bore_m * kinematic_m2s)
    return re


def _friction_times_reynolds(reynolds: Floats, relative_roughness: Floats) -> Any:
    """Return f Re of Churchill (1977), which tends to 64 as Re goes to 0.

    With x = Re / 37530 and s = -2.457 ln((7/Re)^0.9 + 0.27 r), Churchill's equation is the same as f Re = 64
    (1 + z^1.5)^(1/12) with z = (37530/8)^8 x^24 / ((x s)^16 + 1): no term overflows for any Re below 1e12.
    Below Re = 1 the bracket is 1 to the last digit, so Re may stop there. Works in place on arrays it made
    itself, for this is where the search spends its time.
    """
    re = np.maximum(reynolds, 1.0)
    xs = (7.0 / re) ** 0.9 + 0.27 * relative_roughness
    xs = np.log(xs)
    xs *= re * (-2.457 / 37530.0)
    xs *= xs
    xs *= xs
    xs *= xs
    xs *= xs
    xs += 1.0
    x = re * ((37530.0 / 8.0) ** (1.0 / 3.0) / 37530.0)
    x *= x
    x *= x
    x *= x
    z = x * x
    z *= x
    z = z / xs
    z *= np.sqrt(z)
    z += 1.0
    return 64.0 * z ** (1.0 / 12.0)


def friction_factor(reynolds: Floats, relative_roughness: Floats) -> Floats:
    """Return the Darcy friction factor f, by Churchill's equation for all regimes.

    `reynolds` >= 0 and `relative_roughness` >= 0 (roughness over bore) are floats or arrays that broadcast.

        f = 8 [ (8/Re)^12 + (A + B)^-1.5 ]^(1/12)
        A = { 2.457 ln[ 1 / ((7/Re)^0.9 + 0.27 r) ] }^16,    B = (37530/Re)^16

    Source: Churchill, Chemical Engineering 84 (24) (1977) 91-92. Laminar 64/Re below about 2000; between 2000
    and 4000 nature itself is uncertain by about 20 %. f grows without bound as Re goes to 0; it is held at
    its value for Re = 1e-9 below that, so a still hose gives a large finite number.

    >>> round(float(friction_factor(1e5, 1e-4)), 9)
    0.018462625
    >>> round(float(friction_factor(500.0, 0.0)), 6)
    0.128
    """
    re = np.maximum(reynolds, 1e-9)
    f: Floats = _friction_times_reynolds(re, relative_roughness) / re
    return f


def friction_head_m(
    flow_m3s: Floats,
    bore_m: Floats,
    length_m: Floats,
    roughness_m: Floats,
    kinematic_m2s: Floats,
    factor: Floats = 1.0,
    coil_diameter_m: Floats | None = None,
) -> Floats:
    """Return the head lost to friction in m of the flowing water, with the sign of the flow; 0 at no flow.

    `flow_m3s` in m3/s (either sign), `bore_m` > 0 and `length_m` >= 0 in m, `roughness_m` >= 0 in m,
    `kinematic_m2s` > 0 in m2/s, `factor` >= 0 (for example `RIBBED_FACTOR`) and `coil_diameter_m` > 0 in m
    (`inf`: straight; None: all are) are floats or arrays that broadcast. In a coil f is raised by
    `curvature_factor`.

        h = factor f (L/D) v |v| / (2 g) = factor (f Re) 2 nu L Q / (pi g D^4)

    Darcy and Weisbach with `friction_factor`. The second form has no division by the flow. h rises strictly
    with Q.

    >>> round(float(friction_head_m(800e-3 / 3600, 0.016, 1.0, 0.0, 0.913148e-6)), 5)
    0.10139
    >>> float(friction_head_m(0.0, 0.016, 1.0, 0.0, 0.913148e-6))
    0.0
    """
    re = reynolds(flow_m3s, bore_m, kinematic_m2s)
    if coil_diameter_m is not None and np.isfinite(coil_diameter_m).any():
        factor = factor * curvature_factor(re, bore_m, coil_diameter_m)
    f_re = _friction_times_reynolds(re, roughness_m / bore_m)
    bore_square = bore_m * bore_m
    per_f_re = (2.0 / (pi * GRAVITY_MS2)) * factor * kinematic_m2s * length_m / (bore_square * bore_square)
    head: Floats = f_re * flow_m3s * per_f_re
    return head


def critical_reynolds(bore_m: Floats, coil_diameter_m: Floats) -> Floats:
    """Return the Reynolds number where flow in a coil turns turbulent: 20 000 (d/D)^0.32, at least 2300.

    `bore_m` > 0 and `coil_diameter_m` > 0 (centre line, `inf` for a straight hose), both in m, are floats or
    arrays that broadcast. Source: Ito, Trans. ASME J. Basic Eng. 81 (1959) 123-134, for d/D from 1/860 to
    1/15; at 1/860 it meets the 2300 of a straight tube.

    >>> round(float(critical_reynolds(0.016, 0.30)))
    7828
    >>> float(critical_reynolds(0.016, np.inf))
    2300.0
    """
    critical: Floats = np.maximum(20000.0 * (bore_m / coil_diameter_m) ** 0.32, STRAIGHT_CRITICAL_REYNOLDS)
    return critical


def curvature_factor(reynolds: Floats, bore_m: Floats, coil_diameter_m: Floats) -> Floats:
    """Return the friction in a coil over that in the same hose laid straight (`friction_factor`), at least 1.

    `reynolds` >= 0, `bore_m` > 0 and `coil_diameter_m` > 0 (centre line, `inf` for a straight hose), both in
    m, are floats or arrays that broadcast. With De = Re sqrt(d/D):

    - laminar, White, Proc. R. Soc. A 123 (1929) 645-663:
      f_coil = (64/Re) / (1 - (1 - (11.6/De)^0.45)^(1/0.45)), plain 64/Re for De < 11.6. A coil stays laminar
      beyond the Re where a straight hose does not, so this is put over the straight `friction_factor` of the
      same Re, not below 1;
    - turbulent, Ito 1959, f_coil = 0.304 Re^-0.25 + 0.029 sqrt(d/D), as a ratio to its own straight term:
      1 + (0.029/0.304) Re^0.25 sqrt(d/D). It is taken instead of the Mori and Nakayama (1967) law, which it
      follows within 4 % over hose sizes, because only Ito's goes to 1 for a straight hose.

    Between 0.8 and 1.2 times `critical_reynolds` the two are joined by a cubic step in Re, so friction stays
    continuous and rises with the flow.

    >>> round(float(curvature_factor(500.0, 0.016, 0.30)), 3)
    1.604
    >>> round(float(curvature_factor(25000.0, 0.016, 0.30)), 3)
    1.277
    >>> float(curvature_factor(25000.0, 0.016, np.inf))
    1.0
    """
    root_ratio = np.sqrt(bore_m / coil_diameter_m)
    dean = np.maximum(reynolds * root_ratio, 11.6)
    white = 1.0 / (1.0 - (1.0 - (11.6 / dean) ** 0.45) ** (1.0 / 0.45))
    laminar = np.maximum(64.0 * white / _friction_times_reynolds(reynolds, 0.0), 1.0)
    turbulent = 1.0 + (0.029 / 0.304) * np.maximum(reynolds, 0.0) ** 0.25 * root_ratio
    position = reynolds / critical_reynolds(bore_m, coil_diameter_m) - (1.0 - ITO_BAND)
    step = np.clip(position / (2.0 * ITO_BAND), 0.0, 1.0)
    step = step * step * (3.0 - 2.0 * step)
    ratio: Floats = laminar + step * (turbulent - laminar)
    return ratio
