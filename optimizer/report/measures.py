"""Numbers as a keeper reads them: the units of each system, sensible digits, a space between thousands."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from optimizer.model.said import Quantity, Said
from optimizer.money import show_money
from optimizer.report.layout import GLUE, glued
from optimizer.unit_table import FLOW, HEAD, LENGTH, SPEED, Dimension
from optimizer.units import from_si

__all__ = [
    "SYSTEMS",
    "Measures",
    "count",
    "day_text",
    "days_text",
    "gain",
    "money",
    "number",
    "percent",
    "probability_text",
    "system",
    "turnover",
    "watts",
]

LARGEST = 1e12
"""No number of a tank is larger; one that is says only that it is not known."""
UNKNOWN = "-"
LARGEST_COUNT = 10**6
SIZES = ("", "", "million", "billion", "trillion", "quadrillion", "quintillion")
"""Of powers of a thousand, by the short scale, as in the trade's English everywhere today."""

IN_US = MappingProxyType(
    {
        "flow": ("gph", 3.785411784e-3 / 3600.0),
        "speed": ("in/s", 0.0254),
        "length": ("in", 0.0254),
        "height": ("ft", 0.3048),
        "area": ("ft2", 0.3048**2),
        "volume": ("gal", 3.785411784e-3),
    }
)
"""US units of quantities in texts, with what one of them is in SI: exact by definition, NIST Handbook 44, appendix C."""

NEVER, SURE = 0.01, 0.99
"""Probabilities from draws cannot be told from 0 or 1 at their ends."""

_THOUSANDS = re.compile(r"(?<=[0-9])(?=(?:[0-9]{3})+(?![0-9]))")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """The unit words in which flows, heads, bores, speeds and surfaces are shown, and the decimals of a bore."""

    flow: str
    head: str
    bore: str
    speed: str
    area: str
    bore_decimals: int

    def flow_of(self, flow_m3s: float) -> float:
        """Return a flow as a number in the unit shown, for an axis."""
        return from_si(flow_m3s, self.flow, FLOW)

    def head_of(self, head_m: float) -> float:
        """Return a head as a number in the unit shown, for an axis."""
        return from_si(head_m, self.head, HEAD)

    def speed_of(self, speed_ms: float) -> float:
        """Return a speed as a number in the unit shown, for an axis."""
        return from_si(speed_ms, self.speed, SPEED)

    def bare_flow(self, flow_m3s: float) -> str:
        """Return a flow in whole units, without the unit.

        >>> SYSTEMS["metric"].bare_flow(2.0e-4), SYSTEMS["us"].bare_flow(2.0e-4)
        ('720', '190')
        """
        return _shown(flow_m3s, self.flow, FLOW, 0)

    def flow_text(self, flow_m3s: float) -> str:
        """Return a flow with its unit."""
        return _with_unit(self.bare_flow(flow_m3s), self.flow)

    def bare_head(self, head_m: float) -> str:
        """Return a head to the nearest hundredth, without the unit.

        >>> SYSTEMS["metric"].bare_head(0.125), SYSTEMS["us"].bare_head(0.3048)
        ('0.12', '1.00')
        """
        return _shown(head_m, self.head, HEAD, 2)

    def head_text(self, head_m: float) -> str:
        """Return a head with its unit."""
        return _with_unit(self.bare_head(head_m), self.head)

    def bare_bore(self, bore_m: float) -> str:
        """Return a bore or the diameter of a hole, without the unit."""
        return _shown(bore_m, self.bore, LENGTH, self.bore_decimals)

    def bore_text(self, bore_m: float) -> str:
        """Return a bore with its unit."""
        return _with_unit(self.bare_bore(bore_m), self.bore)

    def length_text(self, length_m: float) -> str:
        """Return the length of a cut hose with its unit.

        >>> SYSTEMS["metric"].length_text(1.6).replace(GLUE, " "), SYSTEMS["us"].length_text(0.254).replace(GLUE, " ")
        ('160 cm', '10.0 in')
        """
        if self.bore == "in":
            return _with_unit(_shown(length_m, "in", LENGTH, 1), "in")
        return _with_unit(_shown(length_m, "cm", LENGTH, 0), "cm")

    def bare_area(self, area_m2: float) -> str:
        """Return a surface to the nearest hundredth, without the unit."""
        return number(area_m2 / IN_US["area"][1] if self.area == "ft2" else area_m2, 2)

    def speed_text(self, speed_ms: float) -> str:
        """Return the speed of the water with its unit."""
        return _with_unit(_shown(speed_ms, self.speed, SPEED, 1), self.speed)

    def bare_speed(self, speed_ms: float) -> str:
        """Return the speed of a jet to the nearest hundredth, without the unit.

        >>> SYSTEMS["metric"].bare_speed(1.234), SYSTEMS["us"].bare_speed(0.3048)
        ('1.23', '1.00')
        """
        return _shown(speed_ms, self.speed, SPEED, 2)

    def words(self, text: str) -> str:
        """Return a text of the answer with its quantities in these units.

        >>> text = Said("at most ", Quantity(0.001, "flow", "3600 l/h"))
        >>> SYSTEMS["metric"].words(text), SYSTEMS["us"].words(text)
        ('at most 3600 l/h', 'at most 951 gph')
        """
        if self.flow == "l/h" or not isinstance(text, Said):
            return text
        return "".join(piece if isinstance(piece, str) else _in_us(piece) for piece in text.pieces)


SYSTEMS = MappingProxyType(
    {
        "metric": Measures(flow="l/h", head="m", bore="mm", speed="m/s", area="m2", bore_decimals=1),
        "us": Measures(flow="gph", head="ft", bore="in", speed="ft/s", area="ft2", bore_decimals=2),
    }
)
"""The systems of units in which an answer can be shown; gph are US gallons per hour."""


def system(name: str) -> Measures:
    """Return the measures of a system. Raises ValueError for an unknown name.

    >>> system("us").flow
    'gph'
    """
    if name not in SYSTEMS:
        raise ValueError(f"no system of units {name!r}; there are: {', '.join(SYSTEMS)}")
    return SYSTEMS[name]


def number(value: float, decimals: int) -> str:
    """Return a number with so many decimals; one that is not finite or beyond all sense is shown as "-".

    >>> number(2.345, 1), number(float("inf"), 1), number(-0.01, 1)
    ('2.3', '-', '0.0')
    """
    if not math.isfinite(value) or abs(value) > LARGEST:
        return UNKNOWN
    text = f"{value:.{decimals}f}"
    return _spaced(text.removeprefix("-") if float(text) == 0.0 else text)


def turnover(per_hour: float) -> str:
    """Return how often the water turns over in an hour.

    >>> turnover(2.84), turnover(0.456)
    ('2.8', '0.46')
    """
    return number(per_hour, 2 if abs(per_hour) < 1.0 else 1)


def watts(power_w: float) -> str:
    """Return a power, without the unit.

    >>> watts(22.4), watts(4.41)
    ('22', '4.4')
    """
    return number(power_w, 1 if abs(power_w) < 10.0 else 0)


def days_text(days: float) -> str:
    """Return a time in days.

    >>> days_text(1.0).replace(GLUE, " "), days_text(60.0).replace(GLUE, " ")
    ('1 day', '60 days')
    """
    return f"{number(days, 0 if float(days).is_integer() else 1)}{GLUE}{'day' if days == 1.0 else 'days'}"


def day_text(day: float) -> str:
    """Return a day after a cleaning.

    >>> day_text(60.0).replace(GLUE, " ")
    'day 60'
    """
    return f"day{GLUE}{number(day, 0 if float(day).is_integer() else 1)}"


def percent(share: float) -> str:
    """Return a share of 1 in whole percent.

    >>> percent(0.137).replace(GLUE, " ")
    '14 %'
    """
    return _with_unit(number(share * 100.0, 0), "%")


def probability_text(probability: float) -> str:
    """Return a probability that comes from draws.

    >>> probability_text(0.999).replace(GLUE, " "), probability_text(0.42).replace(GLUE, " ")
    ('over 99 %', '42 %')
    """
    if probability < NEVER:
        return f"under {percent(NEVER)}"
    return f"over {percent(SURE)}" if probability > SURE else percent(probability)


def gain(new: float, old: float) -> str:
    """Return by how much `new` is more than `old`, in percent with its sign; "" when `old` is nothing to compare with.

    >>> gain(1104.0, 702.0).replace(GLUE, " "), gain(1.0, 0.0)
    ('+57 %', '')
    """
    ratio = new / old if old > 0.0 else math.nan
    if not math.isfinite(ratio) or abs(ratio) > LARGEST:
        return ""
    text = number(abs(ratio - 1.0) * 100.0, 0)
    sign = "-" if ratio < 1.0 else "+"
    return _with_unit(text if text == "0" else sign + text, "%")


def money(minor: int, currency: str = "") -> str:
    """Return an amount of minor units, with the (already safe) currency behind it when there is one.

    >>> money(1234567, "EUR").replace(GLUE, " ")
    '12 345.67 EUR'
    """
    whole, dot, rest = show_money(minor).partition(".")
    return _with_unit(_spaced(whole) + dot + rest, currency)


def count(number_of: int) -> str:
    """Return how many there are, above a million rounded to two digits and with its size in words.

    >>> [count(each).replace(GLUE, " ") for each in (18144, 3_141_592_653, 860_000_000, 10**40)]
    ['18 144', '3.1 billion', '860 million', '10 to the power of 40']
    """
    if abs(number_of) < LARGEST_COUNT:
        return _spaced(str(number_of))
    rounded = Decimal(f"{Decimal(number_of):.1e}")
    power = rounded.adjusted()
    if power // 3 >= len(SIZES):
        return glued(f"10 to the power of {power}")
    return glued(f"{rounded.scaleb(-(power // 3) * 3).normalize():f} {SIZES[power // 3]}")


def _shown(value_si: float, unit: str, dimension: Dimension, decimals: int) -> str:
    # the check comes before the conversion, which would overflow
    if not math.isfinite(value_si) or abs(value_si) > LARGEST:
        return UNKNOWN
    return number(from_si(value_si, unit, dimension), decimals)


def _in_us(quantity: Quantity) -> str:
    """A quantity in US customary units, to three digits; what has no bound keeps its words."""
    if quantity.kind == "temperature":
        return f"{quantity.si * 1.8 + 32.0:.3g} degF"
    unit, size = IN_US[quantity.kind]
    if not math.isfinite(quantity.si):
        return quantity.metric
    return f"{quantity.si / size:.3g} {unit}" if quantity.si / size < 100.0 else f"{quantity.si / size:.0f} {unit}"


def _with_unit(text: str, unit: str) -> str:
    return f"{text}{GLUE}{unit}" if unit and text != UNKNOWN else text


def _spaced(text: str) -> str:
    """Return the text of a number with unbreakable spaces between the thousands of its whole part."""
    whole, dot, rest = text.partition(".")
    return _THOUSANDS.sub(GLUE, whole) + dot + rest
