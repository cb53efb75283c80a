"""What one of each unit is in the base unit of its kind, in exact fractions: data, made by pint from the table of units.

pint decides: a test has it convert every unit and every division of two units, and compares. It is not asked at run time,
since to load it lasts as long as to read a whole catalog.
"""

from __future__ import annotations

from fractions import Fraction

__all__ = ["to_base"]

# numerator and denominator of the factor, then of the offset: number * factor + offset, in the base unit
_FACTORS: dict[str, tuple[int, int, int, int]] = {
    "metre": (1, 1, 0, 1),
    "centimetre": (1, 100, 0, 1),
    "millimetre": (1, 1000, 0, 1),
    "micrometre": (1, 1000000, 0, 1),
    "inch": (127, 5000, 0, 1),
    "foot": (381, 1250, 0, 1),
    "second": (1, 1, 0, 1),
    "minute": (60, 1, 0, 1),
    "hour": (3600, 1, 0, 1),
    "day": (86400, 1, 0, 1),
    "week": (604800, 1, 0, 1),
    "kilogram": (1, 1, 0, 1),
    "gram": (1, 1000, 0, 1),
    "milligram": (1, 1000000, 0, 1),
    "pound": (45359237, 100000000, 0, 1),
    "ounce": (45359237, 1600000000, 0, 1),
    "square_metre": (1, 1, 0, 1),
    "square_centimetre": (1, 10000, 0, 1),
    "square_millimetre": (1, 1000000, 0, 1),
    "square_inch": (16129, 25000000, 0, 1),
    "cubic_metre": (1, 1, 0, 1),
    "litre": (1, 1000, 0, 1),
    "millilitre": (1, 1000000, 0, 1),
    "us_gallon": (473176473, 125000000000, 0, 1),
    "imp_gallon": (454609, 100000000, 0, 1),
    "litre_per_hour": (1, 3600000, 0, 1),
    "litre_per_minute": (1, 60000, 0, 1),
    "us_gallon_per_hour": (157725491, 150000000000000, 0, 1),
    "us_gallon_per_minute": (157725491, 2500000000000, 0, 1),
    "imp_gallon_per_hour": (454609, 360000000000, 0, 1),
    "imp_gallon_per_minute": (454609, 6000000000, 0, 1),
    "pascal": (1, 1, 0, 1),
    "hectopascal": (100, 1, 0, 1),
    "kilopascal": (1000, 1, 0, 1),
    "millibar": (100, 1, 0, 1),
    "bar": (100000, 1, 0, 1),
    "psi": (8896443230521, 1290320000, 0, 1),
    "metre_of_water": (196133, 20, 0, 1),
    "centimetre_of_water": (196133, 2000, 0, 1),
    "millimetre_of_water": (196133, 20000, 0, 1),
    "foot_of_water": (74726673, 25000, 0, 1),
    "inch_of_water": (24908891, 100000, 0, 1),
    "kelvin": (1, 1, -5463, 20),
    "degree_celsius": (1, 1, 0, 1),
    "degree_fahrenheit": (5, 9, -160, 9),
    "watt": (1, 1, 0, 1),
    "feet_per_second": (381, 1250, 0, 1),
    "decibel_a": (1, 1, 0, 1),
    "fraction": (1, 1, 0, 1),
    "percent": (1, 100, 0, 1),
    "gram_per_kilogram": (1, 1, 0, 1),
    "practical_salinity": (439563, 437500, 0, 1),
    "hertz": (1, 1, 0, 1),
    "piece": (1, 1, 0, 1),
    "degree": (1, 1, 0, 1),
    "radian": (716197243913529, 12500000000000, 0, 1),
    "pore_per_inch": (1, 1, 0, 1),
}


def to_base(name: str) -> tuple[Fraction, Fraction] | None:
    """Factor and offset with which a number in a unit, or in one unit per another, becomes one in the base units; None where
    one of them is not in the table.

    >>> to_base("litre/hour"), to_base("furlong")
    ((Fraction(1, 3600000), Fraction(0, 1)), None)
    """
    above, _, below = name.partition("/")
    if below:
        top, bottom = to_base(above), to_base(below)
        return None if top is None or bottom is None else (top[0] / bottom[0], Fraction(0))
    found = _FACTORS.get(name)
    return None if found is None else (Fraction(*found[:2]), Fraction(*found[2:]))
