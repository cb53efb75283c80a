"""Filter media: head lost in granules, rings, foam and floss, clean or clogged, and their use for bacteria.

The law of a layer is that of Darcy and Forchheimer, dp/L = mu V/K + rho beta V^2, with V the flow over the
whole area of the bed, K the permeability in m2 and beta the inertial coefficient in 1/m, often written c_F /
sqrt(K). All arguments are floats or arrays that broadcast.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from optimizer.physics.arrays import Floats
from optimizer.physics.validity import Validity
from optimizer.physics.water import GRAVITY_MS2

FOAM_INERTIA = 0.09
"""c_F of reticulated foam, without unit; planning prior, sources give 0.06 to 0.15.

Bhattacharya, Calmidi and Mahajan, Int. J. Heat Mass Transfer 45 (2002) 1017-1031: 0.084 to 0.097 for metal
foam (from memory).
"""

FIBRE_INERTIA = 0.074
"""c_F of a fibre mat, without unit: Beavers and Sparrow, J. Appl. Mech. 36 (1969) 711-714 (from memory)."""

FOAM_PERMEABILITY: Mapping[float, float] = MappingProxyType(
    {10.0: 1.7e-7, 20.0: 1.4e-7, 30.0: 8.5e-8, 45.0: 4.6e-8, 100.0: 2.5e-9}
)
"""Permeability in m2 of clean reticulated polyurethane foam by pores per inch; a planning prior.

Up to 45 ppi the middle of what is consistent with air tests of the foam at 20 ppi (Design News, 25 November
1964: 0.045 in of water at 350 ft/min through 1/2 in) and with metal foam of 5 to 40 ppi in Bhattacharya,
Calmidi and Mahajan (2002, from memory); at 100 ppi the air test of 1964 (1.0 in of water). Right within a
factor of 2.
"""

FOAM_RANGE = Validity(
    name="permeability of reticulated foam",
    quantity="pores per inch",
    low=10.0,
    high=60.0,
    source="planning prior between air tests of polyurethane foam (1964) and metal foam (2002)",
)
ERGUN_RANGE = Validity(
    name="Ergun packed bed",
    quantity="voids",
    kind="share",
    low=0.3,
    high=0.7,
    source="Ergun, Chem. Eng. Prog. 48 (1952) 89-94; range from memory",
)
RING_RANGE = Validity(
    name="Ergun packed bed, for rings",
    quantity="voids",
    kind="share",
    low=0.4,
    high=0.95,
    source="tower packings, 0.62 to 0.95 (Strigle, from memory); to 0.4 as for the grains of the same law",
)
PACKED_REYNOLDS = Validity(
    name="Ergun packed bed",
    quantity="Reynolds number of the grains",
    low=0.0,
    high=2500.0,
    source="Ergun, Chem. Eng. Prog. 48 (1952) 89-94: 1 to 2500, from memory; below, the law of slow water",
)
DAVIES_RANGE = Validity(
    name="Davies fibre mat",
    quantity="solid share",
    kind="share",
    low=0.006,
    high=0.3,
    source="Davies, Proc. Inst. Mech. Eng. B1 (1952) 185-213; range from memory",
)
KOZENY_RANGE = Validity(
    name="Kozeny and Carman clogging",
    quantity="voids of the clean bed",
    kind="share",
    low=0.3,
    high=0.6,
    source="granular beds; towards 1 the term (1 - voids)^2 of the clean bed vanishes and the law explodes",
)
VALIDITIES = (FOAM_RANGE, ERGUN_RANGE, RING_RANGE, PACKED_REYNOLDS, DAVIES_RANGE, KOZENY_RANGE)


def ergun_coefficients(diameter_m: Floats, voidage: Floats) -> tuple[Floats, Floats]:
    """Return K (m2) and beta (1/m) of a bed of grains.

    `diameter_m` > 0 (m) is that of a sphere of the same surface per volume as the grains, `voidage` e in (0,
    1) the share of voids.

        K = d^2 e^3 / (150 (1-e)^2),    beta = 1.75 (1-e) / (d e^3)

    Source: Ergun, Chem. Eng. Prog. 48 (1952) 89-94. Other correlations differ by 15 to 25 %. `ERGUN_RANGE`.

    >>> k, beta = ergun_coefficients(0.005, 0.40)
    >>> round(k * 1e8, 4), round(beta, 2)
    (2.963, 3281.25)
    """
    solid = 1.0 - voidage
    cube = voidage * voidage * voidage
    root = diameter_m / solid
    return root * root * cube / 150.0, 1.75 * solid / (diameter_m * cube)


def equivalent_diameter_m(surface_m2m3: Floats, voidage: Floats) -> Floats:
    """Return the diameter in m of spheres with the surface per bed volume of another packing: 6 (1-e) / a.

    `surface_m2m3` a > 0 in m2 per m3 of bed, `voidage` e in (0, 1).

    >>> round(1e3 * equivalent_diameter_m(546.0, 0.65), 3)
    3.846
    """
    return 6.0 * (1.0 - voidage) / surface_m2m3


def ring_coefficients(surface_m2m3: Floats, voidage: Floats) -> tuple[Floats, Floats]:
    """Return K (m2) and beta (1/m) of rings, tubes or saddles: Ergun with `equivalent_diameter_m`.

    `surface_m2m3` > 0 is the outer geometric surface in m2 per m3 of bed, `voidage` in (0, 1) the share of
    voids. Within about 50 %, on the high side for hollow rings, whose inner surface the water partly
    bypasses. `RING_RANGE`.

    >>> k, beta = ring_coefficients(370.0, 0.64)
    >>> round(k * 1e7, 3), round(beta)
    (4.596, 412)
    """
    return ergun_coefficients(equivalent_diameter_m(surface_m2m3, voidage), voidage)


def packed_reynolds(permeability_m2: Floats, voidage: Floats, speed_ms: Floats, kinematic_m2s: Floats) -> Floats:
    """Return the Reynolds number v d / (nu (1-e)) of the grains of a bed, never negative, as in `ergun_coefficients`.

    `speed_ms` v is the flow over the whole bed, in m/s, `kinematic_m2s` nu in m2/s. The diameter d of the grains, or of
    spheres with the surface of rings, is read off `permeability_m2` and `voidage` e in (0, 1). Ergun's viscous and inertial
    losses are equal where it is 150 / 1.75.

    >>> k, _ = ergun_coefficients(0.005, 0.40)
    >>> round(float(packed_reynolds(k, 0.40, 0.01, 0.91e-6)), 1)
    91.6
    """
    cube = voidage * voidage * voidage
    number: Floats = np.abs(speed_ms) * np.sqrt(150.0 * permeability_m2 / cube) / kinematic_m2s
    return number


def inertial_1m(permeability_m2: Floats, inertia: Floats) -> Floats:
    """Return beta in 1/m from `permeability_m2` K > 0 (m2) and `inertia` c_F (no unit): c_F / sqrt(K).

    >>> round(float(inertial_1m(1.2e-7, 0.097)), 2)
    280.01
    """
    beta: Floats = inertia / np.sqrt(permeability_m2)
    return beta


_FOAM_LOG_PPI = np.log(list(FOAM_PERMEABILITY))
_FOAM_LOG_K = np.log(list(FOAM_PERMEABILITY.values()))


def foam_coefficients(pores_ppi: Floats, inertia: Floats = FOAM_INERTIA) -> tuple[Floats, Floats]:
    """Return K (m2) and beta (1/m) of clean reticulated foam of `pores_ppi` > 0 pores per inch.

    log K is read in a straight line over log ppi between the priors of `FOAM_PERMEABILITY`, constant outside
    10 to 100; beta = c_F / sqrt(K) with c_F = `inertia`. K is right within a factor of 2. `FOAM_RANGE`.

    >>> k, beta = foam_coefficients(30.0)
    >>> round(float(k) * 1e8, 2), round(float(beta))
    (8.5, 309)
    """
    permeability: Floats = np.exp(np.interp(np.log(pores_ppi), _FOAM_LOG_PPI, _FOAM_LOG_K))
    return permeability, inertial_1m(permeability, inertia)


def fibre_permeability_m2(fibre_diameter_m: Floats, solidity: Floats) -> Floats:
    """Return K in m2 of a fibre mat (floss, felt).

    `fibre_diameter_m` d > 0 in m, `solidity` s in (0, 1) the solid share of the volume: K = d^2 / (64 s^1.5
    (1 + 56 s^3)). Source: Davies, Proc. Inst. Mech. Eng. B1 (1952) 185-213. `DAVIES_RANGE`.

    >>> round(1e9 * fibre_permeability_m2(50e-6, 0.05), 4)
    3.4696
    """
    cube = solidity * solidity * solidity
    return fibre_diameter_m * fibre_diameter_m / (64.0 * solidity**1.5 * (1.0 + 56.0 * cube))


def fibre_coefficients(fibre_diameter_m: Floats, solidity: Floats, inertia: Floats = FIBRE_INERTIA) -> tuple[Floats, Floats]:
    """Return K (m2) and beta (1/m) of a clean fibre mat: `fibre_permeability_m2` and c_F / sqrt(K).

    `fibre_diameter_m` > 0 in m, `solidity` in (0, 1), `inertia` c_F.

    >>> k, beta = fibre_coefficients(50e-6, 0.05)
    >>> round(k * 1e9, 4), round(float(beta))
    (3.4696, 1256)
    """
    permeability = fibre_permeability_m2(fibre_diameter_m, solidity)
    return permeability, inertial_1m(permeability, inertia)


def layer_coefficients(
    permeability_m2: Floats,
    inertial_1m: Floats,
    thickness_m: Floats,
    area_m2: Floats,
    density_kgm3: Floats,
    viscosity_pas: Floats,
) -> tuple[Floats, Floats]:
    """Return a (s/m2) and b (s2/m5) of h = a Q + b Q |Q| of one layer.

    `permeability_m2` K > 0 in m2, `inertial_1m` beta >= 0 in 1/m, `thickness_m` L >= 0 in m, `area_m2` A > 0
    in m2, `density_kgm3` rho and `viscosity_pas` mu of the water.

        a = mu L / (K A rho g),    b = beta L / (A^2 g)

    Darcy and Forchheimer, dp/L = mu V/K + rho beta V^2, in metres of the same water.

    >>> a, b = layer_coefficients(1.2e-7, 280.0149, 0.05, 0.04, 997.30, 0.910682e-3)
    >>> round(a, 4), round(b, 1)
    (0.9699, 892.3)
    """
    linear = viscosity_pas * thickness_m / (permeability_m2 * area_m2 * density_kgm3 * GRAVITY_MS2)
    return linear, inertial_1m * thickness_m / (area_m2 * area_m2 * GRAVITY_MS2)


def _cubic(filled: Floats) -> Floats:
    left = 1.0 - filled
    return left * left * left


def _doubling(filled: Floats) -> Floats:
    factor: Floats = np.exp2(-np.asarray(filled))[()]
    return factor


PROPORTIONAL_GAIN = 124.0
"""Rise of the loss, as a multiple of the clean one, of pores that are quite full, in the law "proportional".

Prior of the authors: four fifths full, as full as "cubic" lets a medium become, then cost 100 times the clean loss.
"""


def _proportional(filled: Floats) -> Floats:
    return 1.0 / (1.0 + PROPORTIONAL_GAIN * filled)


CLOGGING_LAWS: Mapping[str, Callable[[Floats], Floats]] = MappingProxyType(
    {"cubic": _cubic, "doubling": _doubling, "proportional": _proportional}
)
"""K over clean K as a function of the filled share of the pores, by name of the law."""


def clogging_factor(law: str, filled: Floats) -> Floats:
    """Return the permeability of a clogged medium over that of the clean one, 1 when clean and falling.

    `filled` s (0 to below 1) is the share of the pore volume that is full of dirt. `law` is one of

    - "cubic": (1 - s)^3, the power law of deep-bed filtration (Ives and others; from memory);
    - "doubling": 2^-s, so that the loss has doubled when the rated capacity is used up; then s is the share
      of that capacity. Modelica Buildings library, air filters, after Li et al. (2022);
    - "proportional": 1 / (1 + 124 s), so that the loss grows in proportion to what is held. O'Melia and Ali
      (1978), from memory; the slope is a prior (`PROPORTIONAL_GAIN`).

    They differ widely, so a result must name its law. Raises ValueError for another law; "kozeny" is refused
    here because it needs the voids of the clean bed and fails for foam and floss (see `kozeny_factor`).

    >>> round(clogging_factor("cubic", 0.8), 3), round(float(clogging_factor("doubling", 1.0)), 3)
    (0.008, 0.5)
    """
    if law not in CLOGGING_LAWS:
        names = ", ".join(CLOGGING_LAWS)
        if law == "kozeny":
            raise ValueError(f"the kozeny law is for granular beds alone; laws for any medium are {names}")
        raise ValueError(f"no clogging law {law!r}; laws are {names}")
    return CLOGGING_LAWS[law](filled)


def filled_for_factor(law: str, factor: Floats) -> Floats:
    """Return the filled share of the pores at which a law of `clogging_factor` leaves `factor` (0 to 1, not 0): its inverse.

    Raises ValueError for another law.

    >>> round(float(filled_for_factor("cubic", 0.008)), 6), round(float(filled_for_factor("doubling", 0.5)), 6)
    (0.8, 1.0)
    """
    clogging_factor(law, 0.0)  # refuses an unknown law in the same words
    shares = {
        "cubic": 1.0 - np.cbrt(factor),
        "doubling": -np.log2(factor),
        "proportional": (1.0 / np.asarray(factor) - 1.0) / PROPORTIONAL_GAIN,
    }
    filled: Floats = np.maximum(shares[law], 0.0)[()]
    return filled


def bed_clogging_factor(law: str, filled: Floats, voidage: Floats) -> Floats:
    """Return the permeability of a clogged medium over that of the clean one, for every law of `clogging_factor` and "kozeny".

    `filled` (0 to below 1) is the filled share of the pores, `voidage` in (0, 1) the voids of the clean bed.
    "kozeny" holds for granular beds alone, so outside `KOZENY_RANGE` "cubic" stands in for it: foam and floss
    keep sane values. Raises ValueError for another law.

    >>> round(float(bed_clogging_factor("kozeny", 0.125, 0.40)), 4), round(float(bed_clogging_factor("kozeny", 0.05, 0.97)), 4)
    (0.5708, 0.8574)
    """
    if law != "kozeny":
        return clogging_factor(law, filled)
    granular = (np.asarray(voidage) >= KOZENY_RANGE.low) & (np.asarray(voidage) <= KOZENY_RANGE.high)
    factor: Floats = np.where(granular, kozeny_factor(filled, voidage), clogging_factor("cubic", filled))[()]
    return factor


def kozeny_factor(filled: Floats, voidage: Floats) -> Floats:
    """Return the permeability of a clogged granular bed over that of the clean one, by Kozeny and Carman.

    `filled` s (0 to below 1) is the share of the pore volume full of dirt, `voidage` e0 in (0, 1) the voids
    of the clean bed; with e = e0 (1 - s): (e/e0)^3 ((1 - e0)/(1 - e))^2. For beds in `KOZENY_RANGE` only:
    near e0 = 1 it calls a foam nearly shut when a twentieth of it is filled.

    >>> round(kozeny_factor(0.125, 0.40), 4)
    0.5708
    """
    left = 1.0 - filled
    solid = (1.0 - voidage) / (1.0 - voidage * left)
    return left * left * left * solid * solid


def clogged_coefficients(permeability_m2: Floats, inertial_1m: Floats, factor: Floats) -> tuple[Floats, Floats]:
    """Return K (m2) and beta (1/m) after dirt has left the share `factor` (0 to 1, not 0) of the permeability.

    c_F is taken to stay, so beta = c_F / sqrt(K) grows with the root: K `factor` and beta / sqrt(`factor`). K
    = `permeability_m2` in m2 and beta = `inertial_1m` in 1/m are those of the clean medium.

    >>> k, beta = clogged_coefficients(1e-7, 300.0, 0.25)
    >>> round(k * 1e8, 3), round(float(beta), 3)
    (2.5, 600.0)
    """
    beta: Floats = inertial_1m / np.sqrt(factor)
    return permeability_m2 * factor, beta


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfacePrior:
    """The range of surface per bed volume in m2/m3 of one medium, and where it comes from."""

    low_m2m3: float
    high_m2m3: float
    source: str


_ROUGH = "from memory, low confidence; makers' own figures differ by a factor of 3.7"
_HANDBOOK = "aquaculture handbook range, from memory"

SURFACES: Mapping[str, SurfacePrior] = MappingProxyType(
    {
        "foam 10 ppi": SurfacePrior(low_m2m3=500.0, high_m2m3=800.0, source=_ROUGH),
        "foam 20 ppi": SurfacePrior(low_m2m3=900.0, high_m2m3=1300.0, source=_ROUGH),
        "foam 30 ppi": SurfacePrior(low_m2m3=1300.0, high_m2m3=1700.0, source=_ROUGH),
        "foam 45 ppi": SurfacePrior(low_m2m3=2000.0, high_m2m3=2700.0, source=_ROUGH),
        "trickling media": SurfacePrior(low_m2m3=100.0, high_m2m3=250.0, source=_HANDBOOK),
        "moving bed": SurfacePrior(low_m2m3=300.0, high_m2m3=900.0, source=_HANDBOOK + "; 750 in public sizing code"),
        "floating beads": SurfacePrior(low_m2m3=1150.0, high_m2m3=1475.0, source=_HANDBOOK),
        "fluidised fine sand": SurfacePrior(low_m2m3=4000.0, high_m2m3=45000.0, source=_HANDBOOK),
    }
)
"""Surface that biofilm can use. Figures for sintered media count pores too small for it: do not compare them."""


def grain_surface_m2m3(diameter_m: Floats, voidage: Floats) -> Floats:
    """Return the surface of a bed of spheres in m2/m3: 6 (1-e) / d; `diameter_m` d in m, `voidage` e in (0, 1).

    >>> round(grain_surface_m2m3(0.005, 0.4), 6)
    720.0
    """
    return 6.0 * (1.0 - voidage) / diameter_m


def ammonia_g_day(feed_kg_day: Floats, protein_share: Floats) -> Floats:
    """Return the total ammonia nitrogen in g/day that feeding makes: 1000 F PC 0.092.

    `feed_kg_day` F >= 0 in kg/day, `protein_share` PC from 0 to 1. Source: Timmons and Ebeling, Recirculating
    Aquaculture.

    >>> round(ammonia_g_day(0.005, 0.45), 3)
    0.207
    """
    return 1000.0 * 0.092 * feed_kg_day * protein_share


def biological_area_m2(feed_kg_day: Floats, protein_share: Floats, rate_g_m2_day: Floats) -> Floats:
    """Return the surface in m2 that bacteria need to take up the ammonia of the feeding.

    `feed_kg_day` >= 0 in kg/day, `protein_share` from 0 to 1, `rate_g_m2_day` > 0 in g of ammonia nitrogen
    per m2 and day: `ammonia_g_day` over the rate. Source: Timmons and Ebeling, Recirculating Aquaculture. The
    rate, its range and what warmth does to it: `dirt_figures`, `feeding`, put together in `dirt/biology.py`.

    >>> round(biological_area_m2(0.005, 0.45, 0.3), 2)
    0.69
    """
    return ammonia_g_day(feed_kg_day, protein_share) / rate_g_m2_day
