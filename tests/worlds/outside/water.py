"""Water by formulas of its own: density and viscosity, fresh and salt."""

from dataclasses import dataclass

GRAVITY = 9.80665
"""Standard gravity in m/s2."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Density in kg/m3 and viscosity in Pa s."""

    density: float
    viscosity: float

    @property
    def kinematic(self) -> float:
        """In m2/s."""
        return self.viscosity / self.density


def water(celsius: float, salt: float = 0.0) -> Water:
    """Fresh water by Kell's equation of 1975 for the density and the Vogel equation for the viscosity, both from memory
    (within 0.1 and 1.5 % of IAPWS R6-95 and R12-08 at 15 to 30 degrees, which a test watches); salt by the slopes of TEOS-10
    and Sharqawy 2010.

    >>> round(water(24.0).density, 1), round(water(24.0).viscosity * 1e3, 2)
    (997.3, 0.91)
    """
    above = 16.945176 * celsius - 7.9870401e-3 * celsius**2 - 46.170461e-6 * celsius**3
    density = (999.83952 + above + 105.56302e-9 * celsius**4) / (1.0 + 16.87985e-3 * celsius)
    viscosity = 2.414e-5 * 10.0 ** (247.8 / (celsius + 133.15))
    return Water(density=density * (1.0 + 0.75 * salt), viscosity=viscosity * (1.0 + 2.2 * salt))
