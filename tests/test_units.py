"""Every spelling of the trade gives its exact value; everything else is refused with a cure.

Conversion factors are computed here on their own from NIST SP 811 (2008), appendix B: 1 in = 25.4 mm exactly,
1 ft = 12 in, US gallon 3.785411784 l exactly, imperial gallon 4.54609 l exactly, 1 lbf/in2 = 6894.757 Pa,
conventional water 9806.65 Pa per m, T/C = (T/F - 32) / 1.8.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from typing import TypeVar

import gsw  # type: ignore[import-untyped]
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from optimizer import unit_table, units
from optimizer.errors import BadValue
from optimizer.quantity_text import word_key
from optimizer.unit_table import (
    ANGLE,
    AREA,
    COUNT,
    DIMENSIONS,
    FEED,
    FLOW,
    FREQUENCY,
    HEAD,
    LENGTH,
    MASS,
    NOISE,
    PORES,
    POWER,
    PRESSURE,
    SALINITY,
    SHARE,
    SPEED,
    TEMPERATURE,
    TIME,
    UNITS,
    VOLUME,
    WORDS,
    Dimension,
)
from optimizer.units import UnitError, from_si, gallon_note, head_note, help_lines, parse, parse_bore_pair, show

INCH = 0.0254
FOOT = 0.3048
LITRE = 0.001
US_GALLON = 3.785411784e-3
IMP_GALLON = 4.54609e-3
HOUR = 3600.0
DAY = 86400.0
WATER = 9806.65
PSI = 6894.757

SPELLINGS: list[tuple[str, Dimension, float]] = [
    # inches as a keeper writes them
    ("5/8 in", LENGTH, 0.625 * INCH),
    ("1 1/2 in", LENGTH, 1.5 * INCH),
    ('1-1/2"', LENGTH, 1.5 * INCH),
    ("1-1/2 in", LENGTH, 1.5 * INCH),
    ("1–1/2 in", LENGTH, 1.5 * INCH),
    ('5/8"', LENGTH, 0.625 * INCH),
    ("5/8”", LENGTH, 0.625 * INCH),
    ("5/8″", LENGTH, 0.625 * INCH),
    ("3/4''", LENGTH, 0.75 * INCH),
    ("3/4’’", LENGTH, 0.75 * INCH),
    ("½ in", LENGTH, 0.5 * INCH),
    ('1½"', LENGTH, 1.5 * INCH),
    ("1 ½ in", LENGTH, 1.5 * INCH),
    ("⅝ inch", LENGTH, 0.625 * INCH),
    ("1⁄2 in", LENGTH, 0.5 * INCH),
    ("1 1⁄2 in", LENGTH, 1.5 * INCH),
    ("12 1/2 in", LENGTH, 12.5 * INCH),
    ("3/2 in", LENGTH, 1.5 * INCH),
    ("2.5 inches", LENGTH, 2.5 * INCH),
    ("2 In.", LENGTH, 2 * INCH),
    ("6 ft", LENGTH, 6 * FOOT),
    ("6'", LENGTH, 6 * FOOT),
    ("6 feet", LENGTH, 6 * FOOT),
    ("5 ft 6 in", LENGTH, 66 * INCH),
    ("5' 6\"", LENGTH, 66 * INCH),
    ("5'6\"", LENGTH, 66 * INCH),
    ("5'-6\"", LENGTH, 66 * INCH),
    ("5′ 6″", LENGTH, 66 * INCH),
    ("5 ft 6 1/2 in", LENGTH, 66.5 * INCH),
    ("5' 6½\"", LENGTH, 66.5 * INCH),
    ("-5 ft 6 in", LENGTH, -66 * INCH),
    # metric lengths
    ("2.2 m", LENGTH, 2.2),
    ("12 mm", LENGTH, 0.012),
    ("12mm", LENGTH, 0.012),
    ("12 MM", LENGTH, 0.012),
    ("1.5 mm", LENGTH, 0.0015),
    ("1,5 mm", LENGTH, 0.0015),
    (".5 m", LENGTH, 0.5),
    ("40 cm", LENGTH, 0.4),
    ("-3 cm", LENGTH, -0.03),
    ("−3 cm", LENGTH, -0.03),
    ("+3 cm", LENGTH, 0.03),
    ("2 metres", LENGTH, 2.0),
    ("2 meters", LENGTH, 2.0),
    ("100 µm", LENGTH, 1e-4),
    ("100 μm", LENGTH, 1e-4),
    # volumes
    ("240 l", VOLUME, 0.24),
    ("240 L", VOLUME, 0.24),
    ("240l", VOLUME, 0.24),
    ("  240   l ", VOLUME, 0.24),
    ("240\u00a0l", VOLUME, 0.24),
    ("240 litres", VOLUME, 0.24),
    ("240 liters", VOLUME, 0.24),
    ("240 litre", VOLUME, 0.24),
    ("240 ltr", VOLUME, 0.24),
    ("240 ℓ", VOLUME, 0.24),
    ("0,5 l", VOLUME, 0.5 * LITRE),
    ("0,125 l", VOLUME, 0.125 * LITRE),
    ("1/2 l", VOLUME, 0.5 * LITRE),
    ("2.4e2 l", VOLUME, 0.24),
    ("750 ml", VOLUME, 0.75 * LITRE),
    ("750 cm3", VOLUME, 0.75 * LITRE),
    ("750 cm³", VOLUME, 0.75 * LITRE),
    ("750 cc", VOLUME, 0.75 * LITRE),
    ("0.4 m3", VOLUME, 0.4),
    ("0.4 m³", VOLUME, 0.4),
    ("0.4 m^3", VOLUME, 0.4),
    ("75 gal", VOLUME, 75 * US_GALLON),
    ("75 gallons", VOLUME, 75 * US_GALLON),
    ("75 US gal", VOLUME, 75 * US_GALLON),
    ("75 U.S. gallons", VOLUME, 75 * US_GALLON),
    ("75 gal (US)", VOLUME, 75 * US_GALLON),
    ("20 imp gal", VOLUME, 20 * IMP_GALLON),
    ("20 imp. gal.", VOLUME, 20 * IMP_GALLON),
    ("20 UK gallons", VOLUME, 20 * IMP_GALLON),
    ("20 imperial gallons", VOLUME, 20 * IMP_GALLON),
    ("20 gallons (UK)", VOLUME, 20 * IMP_GALLON),
    # flows
    ("1200 lph", FLOW, 1.2 / HOUR),
    ("1200 l/h", FLOW, 1.2 / HOUR),
    ("1200 L/hr", FLOW, 1.2 / HOUR),
    ("1200 l / h", FLOW, 1.2 / HOUR),
    ("1 200 l/h", FLOW, 1.2 / HOUR),
    ("1\u202f200 l/h", FLOW, 1.2 / HOUR),
    ("1,200.0 l/h", FLOW, 1.2 / HOUR),
    ("1,200,000 l/h", FLOW, 1200 / HOUR),
    ("1200 litres per hour", FLOW, 1.2 / HOUR),
    ("20 l/min", FLOW, 0.02 / 60),
    ("20 lpm", FLOW, 0.02 / 60),
    ("0.3 l/s", FLOW, 3e-4),
    ("1.2 m3/h", FLOW, 1.2 / HOUR),
    ("1.2 m³/h", FLOW, 1.2 / HOUR),
    ("300 gph", FLOW, 300 * US_GALLON / HOUR),
    ("300 GPH", FLOW, 300 * US_GALLON / HOUR),
    ("300 US gph", FLOW, 300 * US_GALLON / HOUR),
    ("300 gal/h", FLOW, 300 * US_GALLON / HOUR),
    ("300 gallons per hour", FLOW, 300 * US_GALLON / HOUR),
    ("5 gpm", FLOW, 5 * US_GALLON / 60),
    ("300 imp gph", FLOW, 300 * IMP_GALLON / HOUR),
    ("300 imp gal/h", FLOW, 300 * IMP_GALLON / HOUR),
    ("300 gph (UK)", FLOW, 300 * IMP_GALLON / HOUR),
    ("5 imp gpm", FLOW, 5 * IMP_GALLON / 60),
    # heads and pressures
    ("2.2 m", HEAD, 2.2),
    ("220 cm", HEAD, 2.2),
    ("6 ft", HEAD, 6 * FOOT),
    ("6 ft 6 in", HEAD, 78 * INCH),
    ("2.2 m H2O", HEAD, 2.2),
    ("2.2 mH2O", HEAD, 2.2),
    ("2.2 m H₂O", HEAD, 2.2),
    ("2.2 mWC", HEAD, 2.2),
    ("2.2 m of water", HEAD, 2.2),
    ("7 ft H2O", HEAD, 7 * FOOT),
    ("80 in H2O", HEAD, 80 * INCH),
    ("200 mbar", HEAD, 20000 / WATER),
    ("20 kPa", HEAD, 20000 / WATER),
    ("3 psi", HEAD, 3 * PSI / WATER),
    ("20 kPa", PRESSURE, 20000.0),
    ("0.2 bar", PRESSURE, 20000.0),
    ("200 mbar", PRESSURE, 20000.0),
    ("200 hPa", PRESSURE, 20000.0),
    ("-500 Pa", PRESSURE, -500.0),
    ("3 psi", PRESSURE, 3 * PSI),
    ("2 m H2O", PRESSURE, 2 * WATER),
    ("1 ft H2O", PRESSURE, 2989.067),
    ("1 in H2O", PRESSURE, 249.0889),
    # temperatures
    ("78 degF", TEMPERATURE, (78 - 32) / 1.8),
    ("78 °F", TEMPERATURE, (78 - 32) / 1.8),
    ("78°F", TEMPERATURE, (78 - 32) / 1.8),
    ("78 F", TEMPERATURE, (78 - 32) / 1.8),
    ("78 ℉", TEMPERATURE, (78 - 32) / 1.8),
    ("78 deg F", TEMPERATURE, (78 - 32) / 1.8),
    ("78 degrees Fahrenheit", TEMPERATURE, (78 - 32) / 1.8),
    ("-4 degF", TEMPERATURE, -20.0),
    ("26 degC", TEMPERATURE, 26.0),
    ("26 °C", TEMPERATURE, 26.0),
    ("26 ºC", TEMPERATURE, 26.0),
    ("26 C", TEMPERATURE, 26.0),
    ("26 ℃", TEMPERATURE, 26.0),
    ("25,5 degC", TEMPERATURE, 25.5),
    ("300 K", TEMPERATURE, 26.85),
    # the rest
    ("30 s", TIME, 30.0),
    ("20 min", TIME, 1200.0),
    ("1 min 12 s", TIME, 72.0),
    ("2 h", TIME, 7200.0),
    ("1 h 30 min", TIME, 5400.0),
    ("14 d", TIME, 14 * DAY),
    ("14 days", TIME, 14 * DAY),
    ("1 day", TIME, DAY),
    ("6 weeks", TIME, 42 * DAY),
    ("500 g", MASS, 0.5),
    ("1.2 kg", MASS, 1.2),
    ("2 lb", MASS, 0.90718474),
    ("20 W", POWER, 20.0),
    ("20 watts", POWER, 20.0),
    ("700 mm2", AREA, 7e-4),
    ("700 mm²", AREA, 7e-4),
    ("700 sq mm", AREA, 7e-4),
    ("7 cm2", AREA, 7e-4),
    ("0.5 m²", AREA, 0.5),
    ("1 in2", AREA, 6.4516e-4),
    ("0.3 m/s", SPEED, 0.3),
    ("30 cm/s", SPEED, 0.3),
    ("2 ft/s", SPEED, 2 * FOOT),
    ("34 dB(A)", NOISE, 34.0),
    ("34 dB (A)", NOISE, 34.0),
    ("34 dBA", NOISE, 34.0),
    ("34 dB", NOISE, 34.0),
    ("60 %", SHARE, 0.6),
    ("60%", SHARE, 0.6),
    ("60 percent", SHARE, 0.6),
    ("60 per cent", SHARE, 0.6),
    ("0.6 fraction", SHARE, 0.6),
    ("100 %", SHARE, 1.0),
    ("35 g/kg", SALINITY, 35.0),
    ("35 ppt", SALINITY, 35.0),
    ("35 ‰", SALINITY, 35.0),
    ("50 Hz", FREQUENCY, 50.0),
    ("12", COUNT, 12.0),
    ("12 pieces", COUNT, 12.0),
    ("1 200", COUNT, 1200.0),
    ("90 deg", ANGLE, 90.0),
    ("90°", ANGLE, 90.0),
    ("1.5707963267948966 rad", ANGLE, 90.0),
    ("5 g/day", FEED, 0.005),
    ("10 g/d", FEED, 0.01),
    ("10 g per day", FEED, 0.01),
    ("35 g/week", FEED, 0.005),
    ("30 ppi", PORES, 30.0),
    ("30 pores per inch", PORES, 30.0),
]


@pytest.mark.parametrize(("text", "dimension", "si"), SPELLINGS, ids=lambda v: getattr(v, "name", None))
def test_each_spelling_gives_its_value(text: str, dimension: Dimension, si: float) -> None:
    # psi and the water columns stand in SP 811 with seven digits; all other factors are exact
    rel = 1e-7 if "psi" in text or "H2O" in text else 1e-14
    assert parse(text, dimension) == pytest.approx(si, rel=rel, abs=1e-15)


def test_the_value_is_the_float_nearest_to_the_exact_one() -> None:
    assert parse("1 1/2 in", LENGTH) == 0.0381
    assert parse("720 l/h", FLOW) == 2e-4
    assert parse("16.1 mm", LENGTH) == 0.0161


@pytest.mark.parametrize("practical", [0.0, 5.0, 35.0, 40.0])
def test_practical_salinity_becomes_reference_salinity(practical: float) -> None:
    # TEOS-10, gsw.SR_from_SP
    assert parse(f"{practical} psu", SALINITY) == pytest.approx(gsw.SR_from_SP(practical), rel=1e-12)


L = 'Write for example "120 l".'
MM = 'Write for example "16 mm".'

REFUSALS: list[tuple[object, Dimension, str]] = [
    ("120", VOLUME, f'"120" has no unit. {L}'),
    (120, VOLUME, f'"120" has no unit. {L}'),
    (120.5, VOLUME, f'"120.5" has no unit. {L}'),
    ("0.6", SHARE, '"0.6" has no unit. Write for example "60 %".'),
    ("16/22", LENGTH, f'"16/22" has no unit. {MM}'),
    ("5 ft 6", LENGTH, f'"5 ft 6" has no unit. {MM}'),
    ("5 in", VOLUME, f'"5 in" is a length, not a volume. {L}'),
    ("26 degC", LENGTH, f'"26 degC" is a temperature, not a length. {MM}'),
    ("5 m", TIME, '"5 m" is a length, not a time. Write for example "30 s".'),
    ("2 m", PRESSURE, '"2 m" is a length, not a pressure. Write for example "25 kPa".'),
    ("2 l", HEAD, '"2 l" is a volume, not a head. Write for example "2.2 m".'),
    ("700 mm2", LENGTH, f'"700 mm2" is an area, not a length. {MM}'),
    ("2 l/h", VOLUME, f'"2 l/h" is a flow, not a volume. {L}'),
    ("5 g", FEED, '"5 g" is a mass, not a feeding rate. Write for example "5 g/day".'),
    ("12 mm", COUNT, '"12 mm" is a length, not a count. Write for example "12".'),
    (
        "120 litrs",
        VOLUME,
        f'"120 litrs" has an unknown unit "litrs". Near units: "liters", "litres", "ltrs". {L}',
    ),
    (
        "1200 l/hh",
        FLOW,
        '"1200 l/hh" has an unknown unit "l/hh". Near units: "l/h". Write for example "1200 l/h".',
    ),
    ("5 zork", VOLUME, f'"5 zork" has an unknown unit "zork". {L}'),
    ("5 l 6 l", VOLUME, f'"5 l 6 l" has an unknown unit "l 6 l". {L}'),
    ("10² l", VOLUME, f'"10² l" has an unknown unit "² l". {L}'),
    ("5 l\x1b[31m", VOLUME, f'"5 l\\x1b[31m" has an unknown unit "l\\x1b[31m". {L}'),
    ("5 kg*m", MASS, '"5 kg*m" has an unknown unit "kg*m". Near units: "kg". Write for example "500 g".'),
    ("1 d 2 min", TIME, '"1 d 2 min" has two units that do not add up. Write for example "30 s".'),
    ("", VOLUME, f"the value is empty. {L}"),
    (" \t ", VOLUME, f"the value is empty. {L}"),
    ("l", VOLUME, f'"l" has no number. {L}'),
    ("__import__('os')", VOLUME, f"\"__import__('os')\" has no number. {L}"),
    ("٣ l", VOLUME, f'"٣ l" has no number. {L}'),
    ("12 34 l", VOLUME, f'"12 34 l" is not one number with a unit. {L}'),
    ("12. l", VOLUME, f'"12. l" is not one number with a unit. {L}'),
    ("1.200,5 l", VOLUME, f'"1.200,5 l" is not one number with a unit. {L}'),
    ("5-6 l", VOLUME, f'"5-6 l" is not one number with a unit. {L}'),
    ("2*3 l", VOLUME, f'"2*3 l" has an unknown unit "*3 l". {L}'),
    ("~5 l", VOLUME, f'"~5 l" is not one number with a unit. {L}'),
    ("1.5½ in", LENGTH, f'"1.5½ in" is not one number with a unit. {MM}'),
    ("1-3/2 in", LENGTH, f'"1-3/2 in" has a fraction of one or more behind a whole number. {MM}'),
    ("1/0 in", LENGTH, f'"1/0 in" divides by zero. {MM}'),
    ("nan", VOLUME, f'"nan" is not a finite number. {L}'),
    ("-inf l", VOLUME, f'"-inf l" is not a finite number. {L}'),
    (float("nan"), VOLUME, f'"nan" is not a finite number. {L}'),
    (float("inf"), COUNT, '"inf" is not a finite number. Write for example "12".'),
    ("1e999 l", VOLUME, f'"1e999 l" has too large an exponent. {L}'),
    ("1e-999 l", VOLUME, f'"1e-999 l" has too large an exponent. {L}'),
    ("1e12 l", VOLUME, f'"1e12 l" is too large a number. {L}'),
    ("9" * 30 + " l", VOLUME, f'"{"9" * 30} l" is too large a number. {L}'),
    (10**5000, VOLUME, f"the number is too large. {L}"),
    (1e300, COUNT, 'the number is too large. Write for example "12".'),
    ("x" * 65, VOLUME, f'"{"x" * 60}..." is longer than 64 characters. {L}'),
    (
        "1,200 l/h",
        FLOW,
        ('"1,200 l/h" can be read with a thousands comma or with a decimal comma. Write "1200 l/h" or "1.2 l/h".'),
    ),
    (
        "1,200",
        COUNT,
        '"1,200" can be read with a thousands comma or with a decimal comma. Write "1200" or "1.2".',
    ),
    (
        "16/22 mm",
        LENGTH,
        ('"16/22 mm" reads as two diameters of a hose or as a fraction. Write one length with decimals, for example "16 mm".'),
    ),
    ("16/22 in", LENGTH, '"16/22 in" is not a usual fraction. Write it with decimals, for example "16 mm".'),
    ("16/22 l", VOLUME, '"16/22 l" is not a usual fraction. Write it with decimals, for example "120 l".'),
    ("-5 l", VOLUME, '"-5 l" is negative. Write at least "0 l".'),
    ("-300 degC", TEMPERATURE, '"-300 degC" is too small. Write at least "-273 degC".'),
    ("120 %", SHARE, '"120 %" is too large. Write at most "100 %".'),
    ("12.5", COUNT, '"12.5" is not a whole number. Write for example "12".'),
    (12.5, COUNT, '"12.5" is not a whole number. Write for example "12".'),
    (-1, COUNT, '"-1" is negative. Write at least "0".'),
    (True, VOLUME, f"this is not text with a number and a unit. {L}"),
    (None, VOLUME, f"this is not text with a number and a unit. {L}"),
    (["5 l"], VOLUME, f"this is not text with a number and a unit. {L}"),
]


@pytest.mark.parametrize(("value", "dimension", "message"), REFUSALS, ids=range(len(REFUSALS)))
def test_each_refusal_says_what_and_cure(value: object, dimension: Dimension, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(value, dimension)
    assert str(caught.value) == message
    assert f"{caught.value.what} {caught.value.cure}" == message
    assert isinstance(caught.value, BadValue)


@pytest.mark.parametrize(
    ("text", "bounds", "message"),
    [
        ("5 gal", {"minimum": 0.02}, '"5 gal" is too small. Write at least "5.29 gal".'),
        ("50 gal", {"maximum": 0.02}, '"50 gal" is too large. Write at most "5.28 gal".'),
        ("5 l", {"minimum": 0.01}, '"5 l" is too small. Write at least "10 l".'),
        ("-5 l", {"minimum": -0.001}, '"-5 l" is too small. Write at least "-1 l".'),
    ],
)
def test_bounds_are_told_in_the_keepers_unit(text: str, bounds: dict[str, float], message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(text, VOLUME, **bounds)
    assert str(caught.value) == message


def test_bounds_are_inclusive_and_the_cure_of_a_bound_is_accepted() -> None:
    assert parse("10 l", VOLUME, minimum=0.01, maximum=0.01) == 0.01
    assert parse("5.29 gal", VOLUME, minimum=0.02) > 0.02
    assert parse("5.28 gal", VOLUME, maximum=0.02) < 0.02
    assert parse("150 %", SHARE, maximum=2.0) == 1.5


@given(st.floats(1e-6, 100.0), st.sampled_from(["l", "gal", "imp gal", "m3", "ml"]))
def test_the_number_offered_for_a_bound_meets_it(bound: float, unit: str) -> None:
    with pytest.raises(UnitError) as small:
        parse(f"0 {unit}", VOLUME, minimum=bound)
    offered = small.value.cure.removeprefix('Write at least "').removesuffix('".')
    assert parse(offered, VOLUME, minimum=bound) == pytest.approx(bound, rel=0.01)
    with pytest.raises(UnitError) as large:
        parse(f"999999999 {unit}", VOLUME, maximum=bound)
    offered = large.value.cure.removeprefix('Write at most "').removesuffix('".')
    assert parse(offered, VOLUME, maximum=bound) == pytest.approx(bound, rel=0.01)


@pytest.mark.parametrize(
    ("text", "inside", "outside"),
    [
        ("16/22 mm", 0.016, 0.022),
        ("16/22mm", 0.016, 0.022),
        ("16 / 22 mm", 0.016, 0.022),
        ("16 x 22 mm", 0.016, 0.022),
        ("16×22 mm", 0.016, 0.022),
        ("16 mm x 22 mm", 0.016, 0.022),
        ("12,5/16 mm", 0.0125, 0.016),
        ("1.6/2.2 cm", 0.016, 0.022),
        ("5/8 x 7/8 in", 0.625 * INCH, 0.875 * INCH),
        ('5/8" x 7/8"', 0.625 * INCH, 0.875 * INCH),
        ("½ x ¾ in", 0.5 * INCH, 0.75 * INCH),
        ("1 x 1 1/4 in", INCH, 1.25 * INCH),
    ],
)
def test_a_hose_size_gives_inside_and_outside(text: str, inside: float, outside: float) -> None:
    assert parse_bore_pair(text) == pytest.approx((inside, outside), rel=1e-14)


H = 'Write for example "16/22 mm".'


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("16/22", f'"16/22" has no unit. {H}'),
        ("16 x 22", f'"16 x 22" has no unit. {H}'),
        (16, f'"16" has no unit. {H}'),
        (16.5, f'"16.5" has no unit. {H}'),
        ("16 mm", f'"16 mm" gives one diameter; a hose needs inside and outside. {H}'),
        ("5/8 in", f'"5/8 in" gives one diameter; a hose needs inside and outside. {H}'),
        ("16/22 in", f'"16/22 in" gives one diameter; a hose needs inside and outside. {H}'),
        ("22/16 mm", f'"22/16 mm" does not give an inside smaller than its outside. {H}'),
        ("16/16 mm", f'"16/16 mm" does not give an inside smaller than its outside. {H}'),
        ("0/16 mm", f'"0/16 mm" does not give an inside smaller than its outside. {H}'),
        ("16/22 l", f'"16/22 l" is a volume, not a length. {H}'),
        ("16/22 mmm", f'"16/22 mmm" has an unknown unit "mmm". Near units: "mm". {H}'),
        ("16/22/30 mm", f'"16/22/30 mm" is not one number with a unit. {H}'),
        ("16 x a", f'"16 x a" has an unknown unit "a". {H}'),
        ("", f"the value is empty. {H}"),
        (None, f"this is not text with a number and a unit. {H}"),
        (True, f"this is not text with a number and a unit. {H}"),
        (float("nan"), f'"nan" is not a finite number. {H}'),
    ],
)
def test_a_wrong_hose_size_is_refused_with_the_form_to_write(value: object, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_bore_pair(value)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("value", "note"),
    [
        ("75 gal", "gal read as US gallon (3.785 l)"),
        ("300 gph", "gal read as US gallon (3.785 l)"),
        ("5 gpm", "gal read as US gallon (3.785 l)"),
        ("5 gal/min", "gal read as US gallon (3.785 l)"),
        ("20 imp gal", "imp gal read as imperial gallon (4.546 l)"),
        ("20 UK gallons", "imp gal read as imperial gallon (4.546 l)"),
        ("300 imp gph", "imp gal read as imperial gallon (4.546 l)"),
        ("240 l", None),
        ("gal", None),
        ("75 galls", None),
        (75, None),
    ],
)
def test_the_gallon_that_was_taken_is_told(value: object, note: str | None) -> None:
    assert gallon_note(value) == note


def test_a_head_from_a_pressure_is_told_and_one_from_a_length_is_not() -> None:
    told = "pressure read as head of conventional water (9806.65 Pa per m)"
    assert [head_note(text) for text in ("3 psi", "200 mbar", "2 m H2O")] == [told] * 3
    assert [head_note(text) for text in ("2.2 m", "6 ft", "no", 3)] == [None] * 4


@pytest.mark.parametrize(
    ("si", "dimension", "unit", "text"),
    [
        (2.0e-4, FLOW, None, "720 l/h"),
        (2.0e-4, FLOW, "gph", "190 gph"),
        (2.0e-4, FLOW, "imp gph", "158 imp gph"),
        (5.0e-4, FLOW, None, "1800 l/h"),
        (0.016, LENGTH, None, "16 mm"),
        (0.0165, LENGTH, None, "16.5 mm"),
        (1.8, LENGTH, None, "1.8 m"),
        (-0.03, LENGTH, None, "-30 mm"),
        (0.015875, LENGTH, "in", "0.625 in"),
        (1.2234, HEAD, None, "1.22 m"),
        (0.05, HEAD, None, "0.05 m"),
        (1.5, HEAD, "psi", "2.13 psi"),
        (0.24, VOLUME, None, "240 l"),
        (5e-5, VOLUME, None, "50 ml"),
        (-500.0, PRESSURE, None, "-500 Pa"),
        (19613.3, PRESSURE, None, "19.6 kPa"),
        (25.55, TEMPERATURE, None, "25.6 degC"),
        (0.0, TEMPERATURE, "degF", "32 degF"),
        (30.0, TIME, None, "30 s"),
        (1200.0, TIME, None, "20 min"),
        (14 * DAY, TIME, None, "14 days"),
        (7e-4, AREA, None, "700 mm2"),
        (0.6, SHARE, None, "60 %"),
        (33.84, NOISE, None, "33.8 dB(A)"),
        (0.005, FEED, None, "5 g/day"),
        (123456.0, COUNT, None, "123456"),
        (0.0, FLOW, None, "0 l/h"),
        (-0.0, HEAD, None, "0 m"),
        (1e-9, LENGTH, None, "0.000001 mm"),
        (1e-250, LENGTH, None, "0 mm"),
    ],
)
def test_values_are_shown_with_sensible_unit_and_digits(si: float, dimension: Dimension, unit: str | None, text: str) -> None:
    assert show(si, dimension, unit=unit) == text


def test_the_number_of_digits_can_be_asked_for() -> None:
    assert show(1 / 3, LENGTH, digits=5) == "333.33 mm"
    assert show(2.0e-4, FLOW, digits=1) == "700 l/h"


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_not_finite_is_not_shown(value: float) -> None:
    with pytest.raises(ValueError, match="is not a finite number"):
        show(value, FLOW)


@pytest.mark.parametrize("digits", [0, 18])
def test_an_absurd_number_of_digits_is_refused(digits: int) -> None:
    with pytest.raises(ValueError, match="digits must be 1 to 17"):
        show(1.0, FLOW, digits=digits)


def test_an_unsuitable_unit_for_output_is_refused() -> None:
    with pytest.raises(UnitError) as caught:
        show(1.0, VOLUME, unit="mm")
    assert str(caught.value) == '"mm" is not a unit of volume. Use one of: l, ml, m3, cm3, gal, imp gal.'


def test_numbers_are_given_in_a_unit_of_their_kind() -> None:
    assert from_si(0.016, "mm", LENGTH) == 16.0
    assert from_si(PSI / WATER, "psi", HEAD) == pytest.approx(1.0, rel=1e-7)
    with pytest.raises(UnitError, match='"l" is not a unit of length'):
        from_si(1.0, "l", LENGTH)


DIMENSION_AND_WORD = st.sampled_from([(d, word) for d in DIMENSIONS for word in d.words])


@given(DIMENSION_AND_WORD, st.floats(-1e6, 1e6), st.integers(3, 17))
def test_what_is_shown_is_read_back(pair: tuple[Dimension, str], number: float, digits: int) -> None:
    dimension, word = pair
    written = f"{number:.{0 if dimension is COUNT else 25}f} {word}"
    si = parse(written, dimension, minimum=-1e30, maximum=1e30)
    assume(dimension.lowest <= si <= dimension.highest)
    digits = 17 if dimension is COUNT else digits
    text = show(si, dimension, unit=word, digits=digits)
    # half a unit of the last digit shown, in the unit shown; temperatures shift, so compare there
    again = from_si(parse(text, dimension, minimum=-1e30, maximum=1e30), word, dimension)
    shown = from_si(si, word, dimension)
    assert again == pytest.approx(shown, rel=max(0.5 * 10 ** (1 - digits), 1e-12), abs=1e-9)


@given(st.sampled_from(DIMENSIONS), st.floats(1e-6, 250.0))
def test_what_is_shown_in_the_chosen_unit_is_read_back(dimension: Dimension, si: float) -> None:
    value = float(round(si)) if dimension is COUNT else min(si, dimension.highest)
    assert parse(show(value, dimension, digits=12), dimension) == pytest.approx(value, rel=1e-11)


ALPHABET = "0123456789 .,/-+xX\"'eE½⅝²³°%()lhmingapftsdkCFKPWH2Oµ\u00a0\n\x00*_[]"
ANY_TEXT = st.one_of(
    st.text(max_size=80),
    st.text(ALPHABET, max_size=24),
    st.builds("{} {}".format, st.text("0123456789 .,/-½", max_size=8), st.sampled_from(sorted(WORDS))),
)
T = TypeVar("T")


def _outcome(call: Callable[[], T]) -> T | UnitError:
    try:
        return call()
    except UnitError as error:
        return error


ANY_VALUE = st.one_of(ANY_TEXT, st.integers(), st.floats(), st.none(), st.booleans(), st.lists(st.text()))


@given(ANY_VALUE, st.sampled_from(DIMENSIONS))
@example("1e99999999 l", VOLUME)
@example("0/0 in", LENGTH)
def test_any_value_gives_a_float_or_a_unit_error(value: object, dimension: Dimension) -> None:
    outcome = _outcome(lambda: parse(value, dimension))
    if isinstance(outcome, UnitError):
        assert (outcome.what + outcome.cure).isprintable()
        assert outcome.what.endswith(".")
        assert outcome.cure.endswith(".")
    else:
        assert type(outcome) is float
        assert dimension.lowest <= outcome <= dimension.highest


@given(ANY_VALUE)
def test_any_value_gives_a_hose_size_or_a_unit_error(value: object) -> None:
    outcome = _outcome(lambda: parse_bore_pair(value))
    if isinstance(outcome, UnitError):
        assert (outcome.what + outcome.cure).isprintable()
    else:
        assert 0 < outcome[0] < outcome[1]


@given(ANY_VALUE)
def test_notes_never_fail(value: object) -> None:
    assert gallon_note(value) is None or "gal" in str(gallon_note(value))
    assert head_note(value) is None or "water" in str(head_note(value))


@pytest.mark.parametrize("dimension", DIMENSIONS, ids=lambda d: d.name)
def test_the_example_and_every_word_of_the_help_are_accepted(dimension: Dimension) -> None:
    assert parse(dimension.example, dimension) > 0
    for word in (*dimension.words, *(word for _, word in dimension.shown)):
        assert from_si(parse(f"1 {word}", dimension), word, dimension) == pytest.approx(1.0)


def test_no_word_stands_for_two_units() -> None:
    words: dict[str, str] = {}
    for unit in UNITS:
        for word in unit.words:
            assert words.setdefault(word_key(word), unit.name) == unit.name


def test_help_has_one_line_for_each_dimension() -> None:
    lines = help_lines()
    assert len(lines) == len(DIMENSIONS) == 19
    assert lines[2] == ('flow: for example "1200 l/h"; units l/h, lph, l/min, lpm, m3/h, gph, gpm, imp gph; inside m3/s')


def test_importing_builds_no_registry() -> None:
    code = "from optimizer import units; print(units._registry.cache_info().currsize)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "0\n"


def _divisions() -> list[tuple[str, str]]:
    """Every division of two units that is a flow, a speed or a feeding rate, with the unit inside of what it is."""
    base = {dimension.name: dimension.base for dimension in DIMENSIONS}
    return [
        (f"{top.name}/{bottom.name}", base[kind])
        for (above, below), kind in units._RATES.items()
        for top in UNITS
        for bottom in UNITS
        if (top.kind, bottom.kind) == (above, below)
    ]


def test_the_table_of_factors_is_what_pint_makes_of_the_definitions() -> None:
    """Every unit and every division of two units, to the last digit of exact fractions."""
    names = [(unit.name, units._base(unit.name, d)) for d in DIMENSIONS for unit in UNITS if units._suits(unit.kind, d)]
    for name, target in (*names, *_divisions()):
        assert units._scale(name, target) == units._scale_by_pint(name, target), name


def test_a_unit_that_the_table_lacks_is_asked_of_pint(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delitem(unit_table.BY_NAME, "inch")
    units._scale.cache_clear()
    assert parse("2 in", LENGTH) == 0.0508
    units._scale.cache_clear()


def test_a_plain_quantity_does_not_load_pint() -> None:
    code = "import sys; from optimizer.unit_table import FLOW; from optimizer.units import parse; "
    code += "parse('200 gph', FLOW); sys.exit('pint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
