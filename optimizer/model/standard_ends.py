"""Standard ends by kind and size alone: threads, glued pipe and hose by published standards, and the bores that usual parts have.

A standard says what an end mates with. The open bore behind it is the maker's choice within what the standard leaves: those
figures are common practice, no published source, with what is narrow and what is wide for such an end.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from optimizer.model.ends import SIZE_ROUNDING_M, Gender, Standard, inch_words

__all__ = [
    "HOSES_MM",
    "INCH_PIPES",
    "PIPES_MM",
    "Thread",
    "UsualBore",
    "hose_outside_m",
    "inch_pipe_m",
    "pipe_bore_m",
    "thread",
    "usual_bore",
    "which_thread",
]

INCH_M = 0.0254
PRACTICE = "common practice, no published source"

ISO_228, ISO_7, NPT = "ISO 228-1", "ISO 7-1", "ASME B1.20.1"
PARALLEL, TAPER = "parallel", "taper 1 in 16"

PIPE_THREADS: Mapping[int, tuple[float, float]] = MappingProxyType(
    {
        1: (28.0, 9.728),
        2: (19.0, 13.157),
        3: (19.0, 16.662),
        4: (14.0, 20.955),
        5: (14.0, 22.911),
        6: (14.0, 26.441),
        7: (14.0, 30.201),
        8: (11.0, 33.249),
        9: (11.0, 37.897),
        10: (11.0, 41.910),
        12: (11.0, 47.803),
        14: (11.0, 53.746),
        16: (11.0, 59.614),
        18: (11.0, 65.710),
        20: (11.0, 75.184),
        22: (11.0, 81.534),
        24: (11.0, 87.884),
        28: (11.0, 100.330),
        32: (11.0, 113.030),
    }
)
"""By eighths of an inch: threads per inch and major diameter in mm, ISO 228-1:2000 table 1, from memory. ISO 7-1 has the same at
the gauge plane (up to 3/8 as a handbook reprints them), but no 5/8, 7/8, 1 1/8, 1 3/4, 2 1/4, 2 3/4."""

_NOT_TAPER = (5, 7, 9, 14, 18, 22)

NPT_THREADS: Mapping[int, tuple[float, float]] = MappingProxyType(
    {
        1: (27.0, 0.405),
        2: (18.0, 0.540),
        3: (18.0, 0.675),
        4: (14.0, 0.840),
        6: (14.0, 1.050),
        8: (11.5, 1.315),
        10: (11.5, 1.660),
        12: (11.5, 1.900),
        16: (11.5, 2.375),
        20: (8.0, 2.875),
        24: (8.0, 3.500),
        28: (8.0, 4.000),
        32: (8.0, 4.500),
    }
)
"""By eighths of an inch: threads per inch (from memory) and outside of the pipe in inches, ASME B1.20.1; the outsides are also
those of ASTM D1785 table 1."""

GARDEN_HOSE = (11.5, 1.0625)
"""Threads per inch and major diameter in inches of the 3/4-11.5 NH thread, ASME B1.20.7: the one size that garden hose has."""

PIPES_MM: Mapping[float, float] = MappingProxyType(
    {
        12.0: 1.5,
        16.0: 1.5,
        20.0: 1.5,
        25.0: 1.9,
        32.0: 2.4,
        40.0: 3.0,
        50.0: 3.7,
        63.0: 4.7,
        75.0: 5.6,
        90.0: 6.7,
        110.0: 6.6,
    }
)
"""Outside (ISO 161-1) and wall in mm of PVC-U pressure pipe, EN ISO 1452-2, PN 16, from memory. Sockets take these outsides."""

INCH_PIPES: Mapping[int, tuple[float, float]] = MappingProxyType(
    {
        2: (0.540, 0.088),
        3: (0.675, 0.091),
        4: (0.840, 0.109),
        6: (1.050, 0.113),
        8: (1.315, 0.133),
        10: (1.660, 0.140),
        12: (1.900, 0.145),
        16: (2.375, 0.154),
        20: (2.875, 0.203),
        24: (3.500, 0.216),
        32: (4.500, 0.237),
    }
)
"""By eighths of an inch: outside and least wall in inches of PVC pipe of schedule 40, ASTM D1785 tables 1 and 2; sockets for it
are those of ASTM D2466."""

HOSES_MM: Mapping[float, float] = MappingProxyType({9.0: 12.0, 12.0: 16.0, 16.0: 22.0, 19.0: 27.0, 25.0: 34.0})
"""Inside and outside of the usual soft hoses in mm (common practice, no published source)."""

HOSE_WALL = 1.38
"""Outside of a hose over its inside, where its size is no usual one (common practice, no published source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread:
    """A thread by its standard: ``major_m`` is its largest diameter in m (of a taper one at the gauge plane, of NPT the outside
    of the pipe), ``minor_m`` the diameter at its root."""

    source: str
    form: str
    per_inch: float
    major_m: float
    minor_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualBore:
    """The open bore in m that an end usually has, what four in five such ends lie between, the rule in words, and its source."""

    bore_m: float
    low_m: float
    high_m: float
    rule: str
    source: str


def _eighths(size_m: float) -> int:
    """The size in eighths of an inch; 0 for one that is none."""
    eighths = round(size_m / INCH_M * 8)
    return eighths if abs(eighths * INCH_M / 8 - size_m) < SIZE_ROUNDING_M else 0


def thread(standard: Standard, size_m: float) -> Thread | None:
    """The thread of a standard by its nominal size in m; None for a size that the standard does not have.

    The depth of a thread is 0.640327 of its pitch (55 degrees, ISO 228-1 and ISO 7-1), 0.8 of it (60 degrees, ASME B1.20.1),
    and 0.6495 of it for garden hose (60 degrees, ASME B1.20.7, from memory).

    >>> half = thread(Standard.G, 0.0127)
    >>> half.per_inch, round(half.major_m * 1e3, 3), round(half.minor_m * 1e3, 2)
    (14.0, 20.955, 18.63)
    """
    eighths = _eighths(size_m)
    if standard in (Standard.G, Standard.R, Standard.RC, Standard.RP):
        straight = standard in (Standard.G, Standard.RP)
        if eighths not in PIPE_THREADS or (standard is not Standard.G and eighths in _NOT_TAPER):
            return None
        per_inch, major_mm = PIPE_THREADS[eighths]
        source = ISO_228 if standard is Standard.G else ISO_7
        return _made(source, PARALLEL if straight else TAPER, per_inch, major_mm * 1e-3, 0.640327)
    if standard is Standard.NPT and eighths in NPT_THREADS:
        per_inch, outside_in = NPT_THREADS[eighths]
        return _made(NPT, TAPER, per_inch, outside_in * INCH_M, 0.8)
    if standard is Standard.GHT and eighths == 6:
        return _made("ASME B1.20.7", PARALLEL, GARDEN_HOSE[0], GARDEN_HOSE[1] * INCH_M, 0.6495)
    return None


def _made(source: str, form: str, per_inch: float, major_m: float, depth: float) -> Thread:
    minor_m = major_m - 2.0 * depth * INCH_M / per_inch
    return Thread(source=source, form=form, per_inch=per_inch, major_m=major_m, minor_m=minor_m)


def inch_pipe_m(size_m: float) -> float:
    """Outside in m, to a tenth of a millimetre, of the inch pipe whose nominal size this is; 0 for a size that no pipe has.

    >>> inch_pipe_m(0.01905), inch_pipe_m(0.0267)
    (0.0267, 0.0)
    """
    found = INCH_PIPES.get(_eighths(size_m))
    return round(found[0] * INCH_M, 4) if found else 0.0


def pipe_bore_m(standard: Standard, outside_m: float) -> float:
    """Inside of a glued pipe by its outside, both in m: of a size that the standard does not have as that of the next one.

    >>> round(pipe_bore_m(Standard.SLIP_MM, 0.025) * 1e3, 2), round(pipe_bore_m(Standard.SLIP_IN, 0.0267) * 1e3, 2)
    (21.2, 20.96)
    """
    if standard is Standard.SLIP_IN:
        walls = [(outside * INCH_M, wall * INCH_M) for outside, wall in INCH_PIPES.values()]
    else:
        walls = [(outside * 1e-3, wall * 1e-3) for outside, wall in PIPES_MM.items()]
    like, wall = min(walls, key=lambda pipe: abs(pipe[0] - outside_m))
    share = wall / like if abs(like - outside_m) > SIZE_ROUNDING_M else wall / outside_m
    return outside_m * (1.0 - 2.0 * share)


def hose_outside_m(inside_m: float) -> float:
    """Usual outside of a soft hose by its inside, both in m: hose of inches has walls of 1/8 in.

    >>> hose_outside_m(0.016), round(hose_outside_m(0.020), 4), round(hose_outside_m(0.01905), 4)
    (0.022, 0.0276, 0.0254)
    """
    if inch_words(inside_m):
        return inside_m + 0.25 * INCH_M
    return HOSES_MM.get(round(inside_m * 1e3, 2), inside_m * 1e3 * HOSE_WALL) * 1e-3


TAIL = (0.75, 0.70, 0.85)
"""Bore of a plastic hose tail over the hose it is for: usual, narrow and wide."""

MALE, FEMALE = (0.75, 0.65, 0.88), (0.83, 0.70, 0.95)
"""Bore over the diameter at the root of a thread: inside a male one stands a wall, behind a female one the passage begins."""

GLUED = (1.0, 0.92, 1.05)
"""Bore of a glued end over the inside of its pipe: thicker pipe and moulded shoulders, thinner pipe."""


def usual_bore(standard: Standard, gender: Gender, size_m: float) -> UsualBore | None:
    """The bore that an end of this standard, gender and nominal size in m usually has; None where nothing usual is known.

    >>> tail = usual_bore(Standard.HOSE, Gender.MALE, 0.016)
    >>> [round(each * 1e3, 2) for each in (tail.low_m, tail.bore_m, tail.high_m)], tail.rule
    ([11.2, 12.0, 13.6], '0.75 of the hose that the tail is for')
    """
    if standard is Standard.HOSE:
        if gender is Gender.FEMALE:
            return UsualBore(bore_m=size_m, low_m=size_m, high_m=size_m, rule="as wide as its size", source="the size itself")
        return _shares(size_m, TAIL, "0.75 of the hose that the tail is for", PRACTICE)
    if standard in (Standard.SLIP_MM, Standard.SLIP_IN):
        named = "EN ISO 1452-2, PN 16 (from memory)" if standard is Standard.SLIP_MM else "ASTM D1785, schedule 40"
        return _shares(pipe_bore_m(standard, size_m), GLUED, "the inside of the pipe that is glued", f"{named}; {PRACTICE}")
    cut = thread(standard, size_m)
    if cut is None:
        return None
    shares, which = (MALE, "inside the") if gender is Gender.MALE else (FEMALE, "behind the")
    rule = f"{shares[0]:.2f} of the root of the thread ({which} {gender.value} one)"
    return _shares(cut.minor_m, shares, rule, f"{cut.source}; {PRACTICE}")


def _shares(of_m: float, shares: tuple[float, float, float], rule: str, source: str) -> UsualBore:
    usual, narrow, wide = (share * of_m for share in shares)
    return UsualBore(bore_m=round(usual, 5), low_m=narrow, high_m=wide, rule=rule, source=source)


def which_thread(size_m: float) -> str:
    """How to tell the families of a thread of this nominal size in m apart, in a few sentences.

    >>> which_thread(0.0127).split(". ")[1]
    'G, R and NPT of this size all have 14 threads per inch, so counting them tells nothing'
    """
    straight, american = thread(Standard.G, size_m), thread(Standard.NPT, size_m)
    told = "G (BSPP) is parallel and seals on a washer; R (BSPT) and NPT are taper and seal with tape; GHT is for garden hose. "
    if straight is not None and american is not None:
        if straight.per_inch == american.per_inch:
            told += f"G, R and NPT of this size all have {straight.per_inch:g} threads per inch, so counting them tells nothing. "
        else:
            told += f"G and R of this size have {straight.per_inch:g} threads per inch, NPT {american.per_inch:g}. "
        told += (
            f"A parallel male one is {straight.major_m * 1e3:.1f} mm across all along, a taper one gets thinner to its end; "
            "G and R have flanks of 55 degrees and round crests, NPT 60 degrees and flat ones. "
        )
    return f"{told}What is made for Europe is mostly G, for North America NPT (common practice); else ask the seller."
