"""An outlet of the catalog as the keys of a rig file that describe it, for one that is no longer as it was sold."""

from __future__ import annotations

from collections.abc import Callable

from optimizer.model.ends import End, Gender, Standard, inch_name
from optimizer.model.parts import Outlet

__all__ = ["end_text", "outlet_keys"]

Number = Callable[[float, str], str]
"""Writes a quantity in SI units as text in a unit."""


def outlet_keys(outlet: Outlet, number: Number) -> dict[str, object]:
    """Return the keys of an outlet; ``number`` writes lengths.

    >>> bore = End(standard=Standard.HOSE, size_m=0.016, gender=Gender.MALE, bore_m=0.012)
    >>> mouth = Outlet(id="O", name="open end", form="open", inlet=bore, holes=1, hole_m=0.012, discharge=1.0)
    >>> outlet_keys(mouth, lambda si, unit: f"{si * 1e3:g} {unit}")["inlet"]
    'tail 16 mm'
    """
    keys: dict[str, object] = {
        "name": outlet.name,
        "form": outlet.form,
        "inlet": end_text(outlet.inlet, number),
        "inlet_bore": number(outlet.inlet.bore_m, "mm"),
        "holes": outlet.holes,
        "hole": number(outlet.hole_m, "mm"),
        "discharge": outlet.discharge,
    }
    if outlet.form == "bar":
        keys |= {"bar_bore": number(outlet.bar_bore_m, "mm"), "pitch": number(outlet.pitch_m, "mm")}
    return keys


def end_text(end: End, number: Number) -> str:
    """Return an end as `end_text.parse_end` reads it, without its bore."""
    if end.standard is Standard.OPEN:
        return "open"
    if end.standard is Standard.HOSE:
        return f"{'tail' if end.gender is Gender.MALE else 'hose'} {number(end.size_m, 'mm')}"
    if end.standard is Standard.UNION:
        return f"union {end.key} {end.gender.value}"
    if end.standard in (Standard.SLIP_MM, Standard.SLIP_IN):
        return f"{end.standard.value} {number(end.size_m, 'mm')} {end.gender.value}"
    return f"{end.standard.value} {inch_name(end.size_m)} in {end.gender.value}"
