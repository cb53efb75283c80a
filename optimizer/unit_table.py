"""The kinds of quantity and the unit words a keeper may write for them: data, listed once.

Help text, error messages and the unit registry are made from these records. Conversion factors follow NIST
SP 811 (2008), appendix B: inch, foot, pound, gallons, conventional water column, psi.

pint decides what one unit is in the base unit of its kind: a test has it convert every unit and every division of two units, and
compares. It is not asked at run time, since to load it lasts as long as to read a whole catalog.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from optimizer.quantity_text import word_key

__all__ = [
    "ANGLE",
    "AREA",
    "COUNT",
    "DIMENSIONS",
    "FEED",
    "FLOW",
    "FREQUENCY",
    "HEAD",
    "LENGTH",
    "MASS",
    "NOISE",
    "PORES",
    "POWER",
    "PRESSURE",
    "SALINITY",
    "SHARE",
    "SPEED",
    "TEMPERATURE",
    "TIME",
    "UNITS",
    "VOLUME",
    "WORDS",
    "Dimension",
    "Unit",
    "to_base",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A kind of quantity: what it is called, what is used inside, what to write, and how it is shown.

    `phrase` fits into "is ... not ..."; `base` is the registry's unit for the SI value inside, `si` its name
    for people; `words` are the spellings offered in help; `lowest` and `highest` are nature's bounds (SI);
    `shown` gives (upper bound in SI, unit word) in rising order for output, `digits` its significant digits;
    `bare` lets a number stand alone.
    """

    name: str
    phrase: str
    si: str
    base: str
    example: str
    words: tuple[str, ...]
    shown: tuple[tuple[float, str], ...]
    lowest: float = -math.inf
    highest: float = math.inf
    bare: bool = False
    digits: int = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One unit: its `definition` for pint, the `kind` (name of a dimension), the words for it, and exactly the `factor` that
    makes the base unit of it, with the offset behind where zero is not zero."""

    name: str
    kind: str
    definition: str
    factor: str
    words: tuple[str, ...]


EVER = math.inf
LENGTH_WORDS = ("mm", "cm", "m", "in", "ft")
PRESSURE_WORDS = ("Pa", "kPa", "mbar", "bar", "psi", "m H2O", "ft H2O", "in H2O")

# fmt: off
LENGTH = Dimension(
    name="length", phrase="a length", si="m", base="metre", example="16 mm", words=LENGTH_WORDS,
    shown=((1.0, "mm"), (EVER, "m")),
)
VOLUME = Dimension(
    name="volume", phrase="a volume", si="m3", base="cubic_metre", example="120 l",
    words=("l", "ml", "m3", "cm3", "gal", "imp gal"), shown=((1e-4, "ml"), (EVER, "l")), lowest=0.0,
)
FLOW = Dimension(
    name="flow", phrase="a flow", si="m3/s", base="cubic_metre/second", example="1200 l/h",
    words=("l/h", "lph", "l/min", "lpm", "m3/h", "gph", "gpm", "imp gph"), shown=((EVER, "l/h"),), lowest=0.0,
)
HEAD = Dimension(
    name="head", phrase="a head", si="m", base="metre", example="2.2 m",
    words=(*LENGTH_WORDS, *PRESSURE_WORDS), shown=((EVER, "m"),),
)
PRESSURE = Dimension(
    name="pressure", phrase="a pressure", si="Pa", base="pascal", example="25 kPa", words=PRESSURE_WORDS,
    shown=((1e3, "Pa"), (EVER, "kPa")),
)
TEMPERATURE = Dimension(
    name="temperature", phrase="a temperature", si="degC", base="degree_celsius", example="26 degC",
    words=("degC", "degF", "K"), shown=((EVER, "degC"),), lowest=-273.15,
)
TIME = Dimension(
    name="time", phrase="a time", si="s", base="second", example="30 s",
    words=("s", "min", "h", "days", "weeks"),
    shown=((120.0, "s"), (7200.0, "min"), (172800.0, "h"), (EVER, "days")), lowest=0.0,
)
MASS = Dimension(
    name="mass", phrase="a mass", si="kg", base="kilogram", example="500 g", words=("g", "kg"),
    shown=((1.0, "g"), (EVER, "kg")), lowest=0.0,
)
POWER = Dimension(
    name="power", phrase="a power", si="W", base="watt", example="20 W", words=("W",), shown=((EVER, "W"),),
    lowest=0.0,
)
AREA = Dimension(
    name="area", phrase="an area", si="m2", base="square_metre", example="700 mm2",
    words=("mm2", "cm2", "m2"), shown=((1e-3, "mm2"), (1.0, "cm2"), (EVER, "m2")), lowest=0.0,
)
SPEED = Dimension(
    name="speed", phrase="a speed", si="m/s", base="metre/second", example="0.3 m/s",
    words=("m/s", "cm/s", "ft/s"), shown=((0.1, "cm/s"), (EVER, "m/s")), lowest=0.0,
)
NOISE = Dimension(
    name="noise", phrase="a noise level", si="dB(A)", base="decibel_a", example="34 dB(A)",
    words=("dB(A)", "dB"), shown=((EVER, "dB(A)"),),
)
SHARE = Dimension(
    name="share", phrase="a share", si="fraction of 1", base="fraction", example="60 %",
    words=("%", "fraction"), shown=((EVER, "%"),), lowest=0.0, highest=1.0,
)
SALINITY = Dimension(
    name="salinity", phrase="a salinity", si="g/kg", base="gram_per_kilogram", example="35 g/kg",
    words=("g/kg", "ppt", "psu"), shown=((EVER, "g/kg"),), lowest=0.0,
)
FREQUENCY = Dimension(
    name="frequency", phrase="a frequency", si="Hz", base="hertz", example="50 Hz", words=("Hz",),
    shown=((EVER, "Hz"),), lowest=0.0,
)
COUNT = Dimension(
    name="count", phrase="a count", si="1", base="piece", example="12", words=("pieces",),
    shown=((EVER, ""),), lowest=0.0, bare=True, digits=12,
)
ANGLE = Dimension(
    name="angle", phrase="an angle", si="deg", base="degree", example="90 deg", words=("deg", "rad"),
    shown=((EVER, "deg"),),
)
FEED = Dimension(
    name="feed", phrase="a feeding rate", si="kg/day", base="kilogram/day", example="5 g/day",
    words=("g/day", "g/d", "kg/day", "g/week"), shown=((EVER, "g/day"),), lowest=0.0,
)
PORES = Dimension(
    name="pores", phrase="a pore count", si="ppi", base="pore_per_inch", example="30 ppi", words=("ppi",),
    shown=((EVER, "ppi"),), lowest=0.0,
)

DIMENSIONS: tuple[Dimension, ...] = (
    LENGTH, VOLUME, FLOW, HEAD, PRESSURE, TEMPERATURE, TIME, MASS, POWER, AREA, SPEED, NOISE, SHARE, SALINITY,
    FREQUENCY, COUNT, ANGLE, FEED, PORES,
)
# fmt: on


def _unit(name: str, kind: Dimension, definition: str, factor: str, *words: str) -> Unit:
    return Unit(name=name, kind=kind.name, definition=definition, factor=factor, words=words)


def _with_metre(prefix: str, short: str) -> tuple[str, ...]:
    return (short, *(prefix + tail for tail in ("metre", "metres", "meter", "meters")))


def _powered(short: str, power: int) -> tuple[str, ...]:
    """Return the ways to write a squared or cubed metre of some size.

    The superscript is turned into a digit before a word is looked up.
    """
    word = {2: "sq", 3: "cubic"}[power]
    return (f"{short}{power}", f"{short}^{power}", f"{word} {short}")


def _water(*lengths: str) -> tuple[str, ...]:
    tails = ("H2O", "WC", "w.c", "WG", "water", "of water")
    return tuple(f"{length} {tail}" for length in lengths for tail in tails)


def _degrees(letter: str, *names: str) -> tuple[str, ...]:
    signs = ("°", "deg", "degree", "degrees")
    return (letter, *names, *(f"{sign} {tail}" for sign in signs for tail in (letter, *names)))


def _marked(words: tuple[str, ...], marks: tuple[str, ...]) -> tuple[str, ...]:
    """Return words with a country's mark: "US gal", "gal US", "gal (US)"."""
    forms = ("{mark} {word}", "{word} {mark}", "{word} ({mark})")
    return tuple(form.format(mark=mark, word=word) for word in words for mark in marks for form in forms)


_GALLON = ("gal", "gals", "gallon", "gallons")
_US = ("US", "U.S")
_IMPERIAL = ("imp", "imperial", "UK")

# fmt: off
UNITS: tuple[Unit, ...] = (
    _unit("metre", LENGTH, "[length]", "1", *_with_metre("", "m")),
    _unit("centimetre", LENGTH, "0.01 * metre", "1/100", *_with_metre("centi", "cm")),
    _unit("millimetre", LENGTH, "0.001 * metre", "1/1000", *_with_metre("milli", "mm")),
    _unit("micrometre", LENGTH, "1e-6 * metre", "1/1000000", *_with_metre("micro", "um"), "micron", "microns"),
    _unit("inch", LENGTH, "0.0254 * metre", "127/5000", "in", '"', "inch", "inches"),
    _unit("foot", LENGTH, "0.3048 * metre", "381/1250", "ft", "'", "foot", "feet"),
    _unit("second", TIME, "[time]", "1", "s", "sec", "secs", "second", "seconds"),
    _unit("minute", TIME, "60 * second", "60", "min", "mins", "minute", "minutes"),
    _unit("hour", TIME, "3600 * second", "3600", "h", "hr", "hrs", "hour", "hours"),
    _unit("day", TIME, "86400 * second", "86400", "days", "day", "d"),
    _unit("week", TIME, "604800 * second", "604800", "weeks", "week", "wk", "wks"),
    _unit("kilogram", MASS, "[mass]", "1", "kg", "kilo", "kilos", "kilogram", "kilograms"),
    _unit("gram", MASS, "0.001 * kilogram", "1/1000", "g", "gram", "grams", "gramme", "grammes"),
    _unit("milligram", MASS, "1e-6 * kilogram", "1/1000000", "mg", "milligram", "milligrams"),
    _unit("pound", MASS, "0.45359237 * kilogram", "45359237/100000000", "lb", "lbs", "pound", "pounds"),
    _unit("ounce", MASS, "0.028349523125 * kilogram", "45359237/1600000000", "oz", "ounce", "ounces"),
    _unit("square_metre", AREA, "metre ** 2", "1", *_powered("m", 2)),
    _unit("square_centimetre", AREA, "1e-4 * metre ** 2", "1/10000", *_powered("cm", 2)),
    _unit("square_millimetre", AREA, "1e-6 * metre ** 2", "1/1000000", *_powered("mm", 2)),
    _unit("square_inch", AREA, "0.00064516 * metre ** 2", "16129/25000000", *_powered("in", 2)),
    _unit("cubic_metre", VOLUME, "metre ** 3", "1", *_powered("m", 3), "cbm"),
    _unit(
        "litre", VOLUME, "0.001 * cubic_metre", "1/1000",
        "l", "ltr", "ltrs", "litre", "litres", "liter", "liters", "dm3",
    ),
    _unit(
        "millilitre", VOLUME, "1e-6 * cubic_metre", "1/1000000",
        "ml", "millilitre", "millilitres", "milliliter", "milliliters", "cc", *_powered("cm", 3),
    ),
    _unit("us_gallon", VOLUME, "3.785411784e-3 * cubic_metre", "473176473/125000000000", *_GALLON, *_marked(_GALLON, _US)),
    _unit("imp_gallon", VOLUME, "4.54609e-3 * cubic_metre", "454609/100000000", *_marked(_GALLON, _IMPERIAL)),
    _unit("litre_per_hour", FLOW, "litre / hour", "1/3600000", "lph"),
    _unit("litre_per_minute", FLOW, "litre / minute", "1/60000", "lpm"),
    _unit("us_gallon_per_hour", FLOW, "us_gallon / hour", "157725491/150000000000000", "gph", *_marked(("gph",), _US)),
    _unit("us_gallon_per_minute", FLOW, "us_gallon / minute", "157725491/2500000000000", "gpm", *_marked(("gpm",), _US)),
    _unit("imp_gallon_per_hour", FLOW, "imp_gallon / hour", "454609/360000000000", *_marked(("gph",), _IMPERIAL)),
    _unit("imp_gallon_per_minute", FLOW, "imp_gallon / minute", "454609/6000000000", *_marked(("gpm",), _IMPERIAL)),
    _unit("pascal", PRESSURE, "kilogram / metre / second ** 2", "1", "Pa", "pascal", "pascals"),
    _unit("hectopascal", PRESSURE, "100 * pascal", "100", "hPa"),
    _unit("kilopascal", PRESSURE, "1000 * pascal", "1000", "kPa", "kilopascal", "kilopascals"),
    _unit("millibar", PRESSURE, "100 * pascal", "100", "mbar", "millibar", "millibars"),
    _unit("bar", PRESSURE, "100000 * pascal", "100000", "bar", "bars"),
    _unit("psi", PRESSURE, "0.45359237 * 9.80665 / 0.00064516 * pascal", "8896443230521/1290320000", "psi", "psig"),
    _unit("metre_of_water", PRESSURE, "9806.65 * pascal", "196133/20", *_water(*_with_metre("", "m")), "mwc"),
    _unit("centimetre_of_water", PRESSURE, "98.0665 * pascal", "196133/2000", *_water("cm")),
    _unit("millimetre_of_water", PRESSURE, "9.80665 * pascal", "196133/20000", *_water("mm")),
    _unit("foot_of_water", PRESSURE, "0.3048 * metre_of_water", "74726673/25000", *_water("ft", "foot", "feet", "'")),
    _unit("inch_of_water", PRESSURE, "0.0254 * metre_of_water", "24908891/100000", *_water("in", "inch", "inches", '"')),
    _unit("kelvin", TEMPERATURE, "[temperature]; offset: 0", "1 -5463/20", "K", "kelvin", "kelvins"),
    _unit("degree_celsius", TEMPERATURE, "kelvin; offset: 273.15", "1", *_degrees("C", "celsius")),
    _unit(
        "degree_fahrenheit", TEMPERATURE, "5 / 9 * kelvin; offset: 233.15 + 200 / 9", "5/9 -160/9",
        *_degrees("F", "fahrenheit"),
    ),
    _unit("watt", POWER, "kilogram * metre ** 2 / second ** 3", "1", "W", "watt", "watts"),
    _unit("feet_per_second", SPEED, "foot / second", "381/1250", "fps"),
    _unit("decibel_a", NOISE, "[noise]", "1", "dB(A)", "dB", "dBA", "decibel", "decibels"),
    _unit("fraction", SHARE, "[share]", "1", "fraction"),
    _unit("percent", SHARE, "0.01 * fraction", "1/100", "%", "percent", "per cent", "pct"),
    _unit("gram_per_kilogram", SALINITY, "[salinity]", "1", "g/kg", "ppt", "‰"),
    # Reference salinity 35.16504 g/kg at practical salinity 35: Millero et al. (2008), kept by TEOS-10.
    _unit("practical_salinity", SALINITY, "35.16504 / 35 * gram_per_kilogram", "439563/437500", "psu", "PSS"),
    _unit("hertz", FREQUENCY, "[frequency]", "1", "Hz", "hertz", "cps"),
    _unit("piece", COUNT, "[count]", "1", "", "piece", "pieces", "pcs", "pc"),
    _unit("degree", ANGLE, "[angle]", "1", "deg", "°", "degree", "degrees"),
    _unit("radian", ANGLE, f"{180 / math.pi!r} * degree", "716197243913529/12500000000000", "rad", "radian", "radians"),
    _unit("pore_per_inch", PORES, "[pores]", "1", "ppi", "pores per inch", "pore per inch"),
)
# fmt: on


WORDS: dict[str, Unit] = {word_key(word): unit for unit in UNITS for word in unit.words}
"""The unit for each word, by its look-up form."""

BY_NAME: dict[str, Unit] = {unit.name: unit for unit in UNITS}


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
    unit = BY_NAME.get(name)
    if unit is None:
        return None
    factor, _, offset = unit.factor.partition(" ")
    return Fraction(factor), Fraction(offset or 0)
