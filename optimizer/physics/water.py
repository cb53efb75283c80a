"""Density and viscosity of fresh and sea water at atmospheric pressure."""

from dataclasses import dataclass

from optimizer.physics.arrays import Floats
from optimizer.physics.validity import Validity

GRAVITY_MS2 = 9.80665
"""Standard acceleration of free fall, m/s2 (3rd General Conference on Weights and Measures, 1901)."""

PRACTICAL_PER_ABSOLUTE = 35.0 / 35.16504
"""Practical salinity per g/kg of absolute salinity of reference seawater (Millero et al. 2008)."""

DENSITY_TEMPERATURE = Validity(
    name="EOS-80 density",
    quantity="temperature",
    kind="temperature",
    low=0.0,
    high=40.0,
    source="UNESCO Technical Papers in Marine Science 44 (1983)",
)
DENSITY_SALINITY = Validity(
    name="EOS-80 density",
    quantity="salinity",
    unit="g/kg",
    low=0.0,
    high=42.0 / PRACTICAL_PER_ABSOLUTE,
    source="UNESCO Technical Papers in Marine Science 44 (1983): practical salinity 0 to 42",
)
VISCOSITY_TEMPERATURE = Validity(
    name="IAPWS SR6-08 viscosity",
    quantity="temperature",
    kind="temperature",
    low=-20.0,
    high=110.0,
    source="IAPWS SR6-08(2011): 253.15 K to 383.15 K at 0.1 MPa",
)
VISCOSITY_SALINITY = Validity(
    name="seawater viscosity ratio",
    quantity="salinity",
    unit="g/kg",
    low=0.0,
    high=150.0,
    source="Sharqawy, Lienhard and Zubair, Desalination and Water Treatment 16 (2010) 354-380",
)
VALIDITIES = (DENSITY_TEMPERATURE, DENSITY_SALINITY, VISCOSITY_TEMPERATURE, VISCOSITY_SALINITY)


def density_kgm3(temperature_c: Floats, salinity_gkg: Floats = 0.0) -> Floats:
    """Return the density of water at one atmosphere in kg/m3.

    `temperature_c` in degC and `salinity_gkg`, the absolute salinity in g/kg (0 for fresh water, 35 for the
    sea), are floats or arrays that broadcast. The one-atmosphere equation of state EOS-80 with S the
    practical salinity:

        rho = rho_w(t) + A(t) S + B(t) S^1.5 + C S^2

    Source: Millero and Poisson, Deep-Sea Research 28A (1981) 625-629, with the pure water term of Bigg
    (1967). Fitted for 0 to 40 degC and practical salinity 0 to 42 (`DENSITY_TEMPERATURE`,
    `DENSITY_SALINITY`).

    >>> round(density_kgm3(20.0), 2)
    998.21
    >>> round(density_kgm3(25.0, 35.0), 2)
    1023.22
    """
    t = temperature_c
    s = salinity_gkg * PRACTICAL_PER_ABSOLUTE
    fresh = 999.842594 + t * (6.793952e-2 + t * (-9.095290e-3 + t * (1.001685e-4 + t * (-1.120083e-6 + t * 6.536332e-9))))
    linear = 0.824493 + t * (-4.0899e-3 + t * (7.6438e-5 + t * (-8.2467e-7 + t * 5.3875e-9)))
    root = -5.72466e-3 + t * (1.0227e-4 - t * 1.6546e-6)
    return fresh + s * (linear + root * s**0.5 + 4.8314e-4 * s)


def viscosity_pas(temperature_c: Floats, salinity_gkg: Floats = 0.0) -> Floats:
    """Return the dynamic viscosity of water at one atmosphere in Pa s.

    `temperature_c` in degC and `salinity_gkg`, the absolute salinity in g/kg, are floats or arrays that
    broadcast. Fresh water, with T the temperature in K over 300 K:

        mu_w = 1e-6 (280.68 T^-1.9 + 511.45 T^-7.7 + 61.131 T^-19.6 + 0.45903 T^-40)

    Source: IAPWS SR6-08(2011), supplementary release on properties of liquid water at 0.1 MPa, -20 to 110
    degC. Salt multiplies it by 1 + A S + B S^2 with S in kg/kg: Sharqawy, Lienhard and Zubair, Desalination
    and Water Treatment 16 (2010) 354-380, eq. 22, 0 to 150 g/kg, stated accuracy 1.5 %.

    >>> round(1e3 * viscosity_pas(20.0), 4)
    1.0016
    >>> round(1e3 * viscosity_pas(25.0, 35.0), 4)
    0.9587
    """
    t = temperature_c
    ratio = (t + 273.15) / 300.0
    fresh = 1e-6 * (280.68 * ratio**-1.9 + 511.45 * ratio**-7.7 + 61.131 * ratio**-19.6 + 0.45903 * ratio**-40.0)
    s = salinity_gkg / 1000.0
    linear = 1.541 + t * (1.998e-2 - t * 9.52e-5)
    square = 7.974 + t * (-7.561e-2 + t * 4.724e-4)
    return fresh * (1.0 + s * (linear + s * square))


def kinematic_viscosity_m2s(temperature_c: Floats, salinity_gkg: Floats = 0.0) -> Floats:
    """Return the kinematic viscosity of water at one atmosphere in m2/s: `viscosity_pas` over `density_kgm3`.

    `temperature_c` in degC and `salinity_gkg`, the absolute salinity in g/kg, are floats or arrays that
    broadcast.

    >>> round(1e6 * kinematic_viscosity_m2s(24.0), 3)
    0.913
    """
    return viscosity_pas(temperature_c, salinity_gkg) / density_kgm3(temperature_c, salinity_gkg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Water of one temperature (degC) and absolute salinity (g/kg, 0 for fresh water).

    >>> sea = Water(temperature_c=25.0, salinity_gkg=35.0)
    >>> round(sea.density_kgm3, 1), round(1e6 * sea.kinematic_m2s, 3)
    (1023.2, 0.937)
    """

    temperature_c: float
    salinity_gkg: float = 0.0

    @property
    def density_kgm3(self) -> float:
        """The density in kg/m3."""
        return float(density_kgm3(self.temperature_c, self.salinity_gkg))

    @property
    def viscosity_pas(self) -> float:
        """The dynamic viscosity in Pa s."""
        return float(viscosity_pas(self.temperature_c, self.salinity_gkg))

    @property
    def kinematic_m2s(self) -> float:
        """The kinematic viscosity in m2/s."""
        return float(kinematic_viscosity_m2s(self.temperature_c, self.salinity_gkg))
