"""Standard sizes of twist drills, as data: what a hole can be drilled with."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

INCH_M = 0.0254

NUMBERED_MILS = (
    *(400, 410, 420, 430, 465, 520, 550, 595, 635, 670, 700, 730, 760, 785, 810, 820, 860, 890, 935, 960),
    *(980, 995, 1015, 1040, 1065, 1100, 1110, 1130, 1160, 1200, 1285, 1360, 1405, 1440, 1470, 1495, 1520, 1540, 1570, 1590),
    *(1610, 1660, 1695, 1730, 1770, 1800, 1820, 1850, 1890, 1910, 1935, 1960, 1990, 2010, 2040, 2055, 2090, 2130, 2210, 2280),
)
"""Diameters of number drills from 60 down to 1, in ten-thousandths of an inch (ASME B94.11M, as public copies have it)."""

LETTERED_MILS = (
    *(234, 238, 242, 246, 250, 257, 261, 266, 272, 277, 281, 290, 295),
    *(302, 316, 323, 332, 339, 348, 358, 368, 377, 386, 397, 404, 413),
)
"""Diameters of letter drills from A to Z, in thousandths of an inch (the same table)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """A size one can buy: its name and its diameter."""

    name: str
    diameter_m: float


def _metric(step: int) -> Iterator[Drill]:
    # whole tenths, so that 3.5 mm is the float nearest to it
    for tenths in range(10, 131, step):
        yield Drill(name=f"{tenths / 10:.1f} mm", diameter_m=tenths / 1e4)


def _inch() -> Iterator[Drill]:
    for sixty_fourths in range(4, 33):
        size = Fraction(sixty_fourths, 64)
        yield Drill(name=f"{size} in", diameter_m=float(size) * INCH_M)
    for number, mils in zip(range(60, 0, -1), NUMBERED_MILS, strict=True):
        yield Drill(name=f"no. {number}", diameter_m=mils / 1e4 * INCH_M)
    for letter, mils in zip("ABCDEFGHIJKLMNOPQRSTUVWXYZ", LETTERED_MILS, strict=True):
        yield Drill(name=f"letter {letter}", diameter_m=mils / 1e3 * INCH_M)


def _rising(drills: Iterator[Drill]) -> tuple[Drill, ...]:
    """By diameter; of equal ones (letter E and 1/4 in) the first named stays."""
    different: dict[float, Drill] = {}
    for drill in drills:
        different.setdefault(round(drill.diameter_m, 9), drill)
    return tuple(different[size] for size in sorted(different))


DRILL_SETS = MappingProxyType({"tenths": _rising(_metric(1)), "halves": _rising(_metric(5)), "inch": _rising(_inch())})
"""Sizes by set, smallest first, from 1 to 13 mm or 1/16 (no. 60: 0.040) to 1/2 in.

``tenths``: 0.1 mm steps, the series of BS 328 from 3.0 to 13.9 mm (below 3 mm it has 0.05 mm steps as well), as public
copies have it; that ISO 235 jobber drills are stocked in the same steps is from memory. ``halves``: 0.5 mm steps, the usual
boxed set (common practice, no published source). ``inch``: fractions by 1/64 in, numbers and letters (ASME B94.11M).
"""
