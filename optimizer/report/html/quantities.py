"""Quantities in a page: each stands in a ``data`` element that holds the stored value exactly, beside what is shown."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup, escape

from optimizer.errors import safe
from optimizer.report.figures.picture import Cell, Number
from optimizer.report.layout import GLUE, cut
from optimizer.report.measures import Measures, count, gain, money, number, percent, turnover, watts

__all__ = ["Quantities", "said"]

NBSP = "\u00a0"


def said(text: object) -> Markup:
    """Text from outside made inert: odd characters as escapes, then escaped for HTML; glued spaces stay together.

    >>> said("<b>16 mm")
    Markup('&lt;b&gt;16 mm')
    """
    if isinstance(text, Markup):
        return text
    return escape(NBSP.join(safe(part) for part in str(text).split(GLUE)))


def _data(value: float, text: str) -> Markup:
    return Markup('<data value="{}">{}</data>').format(repr(value), said(text))


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantities:
    """Quantities of one system of units, with the currency of the prices."""

    measures: Measures
    currency: str

    def cell(self, cell: Cell) -> Markup:
        """A cell of a figure's table."""
        return _data(cell.value, cell.text) if isinstance(cell, Number) else said(cell)

    def flow(self, flow_m3s: float) -> Markup:
        """A flow with its unit."""
        return _data(flow_m3s, self.measures.flow_text(flow_m3s))

    def bare_flow(self, flow_m3s: float) -> Markup:
        """A flow without its unit."""
        return _data(flow_m3s, self.measures.bare_flow(flow_m3s))

    def bore(self, bore_m: float) -> Markup:
        """A bore with its unit."""
        return _data(bore_m, self.measures.bore_text(bore_m))

    def head(self, head_m: float) -> Markup:
        """A head with its unit."""
        return _data(head_m, self.measures.head_text(head_m))

    def length(self, length_m: float) -> Markup:
        """A length of hose."""
        return _data(length_m, self.measures.length_text(length_m))

    def volume(self, volume_m3: float) -> Markup:
        """A volume of water."""
        litres = volume_m3 * 1e3
        text = f"{number(litres, 0 if litres >= 10.0 else 1)}{GLUE}l"
        if self.measures.flow == "gph":
            text += f" ({number(litres / 3.785411784, 1)}{GLUE}US{GLUE}gal)"
        return _data(volume_m3, text)

    def price(self, minor: int) -> Markup:
        """A price with the currency."""
        return _data(minor, money(minor, cut(safe(self.currency), 8)))

    def bare_price(self, minor: int) -> Markup:
        """A price without the currency."""
        return _data(minor, money(minor))

    def turnover(self, per_hour: float) -> Markup:
        """A turnover per hour."""
        return _data(per_hour, turnover(per_hour))

    def noise(self, dba: float) -> Markup:
        """Noise without its unit."""
        return _data(dba, number(dba, 1))

    def watts(self, power_w: float) -> Markup:
        """Power without its unit."""
        return _data(power_w, watts(power_w))

    def share(self, share: float) -> Markup:
        """A share in percent."""
        return _data(share, percent(share))

    def weight(self, weight: float) -> Markup:
        """How many tanks one stands for, without needless digits."""
        return _data(weight, number(weight, 0 if abs(weight - round(weight)) < 1e-9 else 1))

    def area(self, area_m2: float) -> Markup:
        """A surface without its unit."""
        return _data(area_m2, self.measures.bare_area(area_m2))

    def days(self, days: float) -> Markup:
        """Days."""
        return _data(days, number(days, 0))

    def seconds(self, seconds: float) -> Markup:
        """Seconds, to what a watch shows."""
        return _data(seconds, f"{number(seconds, 1 if seconds < 20.0 else 0)}{GLUE}s")

    def count(self, number_of: int) -> Markup:
        """How many there are."""
        return said(count(number_of))

    def gain(self, new: float, old: float) -> Markup:
        """By how much one is more than the other, in percent."""
        return said(gain(new, old))
