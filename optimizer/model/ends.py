"""Ends of parts: which standard, size and gender, how wide the open bore is, and what may mate with what."""

from dataclasses import dataclass, field
from enum import StrEnum

from optimizer.model.said import Said, millimetres

HOSE_STRETCH_M = 0.5e-3
"""A soft hose goes on a tail whose nominal size differs by at most this much (common practice, no published source)."""

SIZE_ROUNDING_M = 0.05e-3
"""Nominal thread and pipe sizes that differ by less than this are the same size."""

LOOSE_M = 0.075e-3
"""A hose that is wider than its tail by more than this is told to sit loosely: 3/4 in on 19 mm (0.05 mm) is the same to the
hand, 16 mm on 5/8 in (0.13 mm) turns (common practice, no published source)."""


class Standard(StrEnum):
    """The families of ends that the trade knows; ``union`` is a maker's own shape, told apart by its key."""

    HOSE = "hose"
    G = "G"
    R = "R"
    RC = "Rc"
    RP = "Rp"
    NPT = "NPT"
    GHT = "GHT"
    SLIP_MM = "slip mm"
    SLIP_IN = "slip in"
    UNION = "union"
    OPEN = "open"


class Gender(StrEnum):
    """Male goes inside, female outside. A hose is female, the tail it is pushed on is male."""

    MALE = "male"
    FEMALE = "female"


class Closure(StrEnum):
    """What makes two mated ends tight."""

    CLAMP = "clamp"
    WASHER = "washer"
    TAPE = "tape"
    CEMENT = "cement"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One connection of a part.

    ``size_m`` is the nominal size: the hose inside diameter for tails and hoses, the thread's nominal size, or
    the outside diameter of the pipe for glued ends. ``bore_m`` is the open inside diameter. ``outside_m`` is
    the outside diameter of a hose (what a clamp must go round), 0 for everything else.

    >>> End(standard=Standard.HOSE, size_m=0.016, gender=Gender.MALE, bore_m=0.012).label
    '16 mm tail, bore 12 mm'
    """

    standard: Standard
    size_m: float
    gender: Gender
    bore_m: float
    outside_m: float = 0.0
    key: str = ""

    def __hash__(self) -> int:
        """Of most fields, the quick way: members of an enumeration are slow to hash."""
        return hash((str.__hash__(self.standard), self.size_m, self.bore_m, self.outside_m, self.gender is Gender.MALE))

    @property
    def face(self) -> tuple[str, float, str, str]:
        """All that decides what it mates with, and nothing else."""
        return (self.standard.value, round(self.size_m, 6), self.gender.value, self.key)

    @property
    def label(self) -> str:
        """The end in a keeper's words."""
        return Said(self.name, ", bore ", millimetres(self.bore_m))

    @property
    def name(self) -> str:
        """The same without its bore, which has no say in what it mates with."""
        if self.standard is Standard.HOSE:
            return Said(millimetres(self.size_m), " hose" if self.gender is Gender.FEMALE else " tail")
        if self.standard in (Standard.SLIP_MM, Standard.SLIP_IN):
            what = " socket" if self.gender is Gender.FEMALE else " pipe end"
            family = "metric" if self.standard is Standard.SLIP_MM else "inch"
            return Said(f"{family} glued ", millimetres(self.size_m), what)
        if self.standard is Standard.UNION:
            return f"maker's union {self.key} {self.gender.value}"
        if self.standard is Standard.OPEN:
            return "open end"
        return f"{self.standard.value} {inch_name(self.size_m)} {self.gender.value}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mating:
    """Two ends that go together, and what closes them (``size_m``: the hose outside, or the thread size); ``loose`` says that a
    hose is wider than its tail (empty: it is not)."""

    closure: Closure
    standard: Standard
    size_m: float
    loose: str = field(default="", compare=False)

    def __hash__(self) -> int:
        """Of the number alone, as for ends."""
        return hash(self.size_m)


def inch_name(metres: float) -> str:
    """Name a nominal inch size the way threads are named.

    >>> inch_name(0.0127), inch_name(0.01905), inch_name(0.0381)
    ('1/2', '3/4', '1 1/2')
    """
    eighths = round(metres / 0.0254 * 8)
    whole, rest = divmod(eighths, 8)
    if rest == 0:
        return str(whole)
    up, down = rest, 8
    while up % 2 == 0:
        up, down = up // 2, down // 2
    return f"{whole} {up}/{down}" if whole else f"{up}/{down}"


_THREADS: dict[tuple[Standard, Standard], Closure] = {
    (Standard.G, Standard.G): Closure.WASHER,
    (Standard.R, Standard.RC): Closure.TAPE,
    (Standard.R, Standard.RP): Closure.TAPE,
    (Standard.NPT, Standard.NPT): Closure.TAPE,
    (Standard.GHT, Standard.GHT): Closure.WASHER,
    (Standard.SLIP_MM, Standard.SLIP_MM): Closure.CEMENT,
    (Standard.SLIP_IN, Standard.SLIP_IN): Closure.CEMENT,
}
"""Male and female standards that mate (ISO 228-1, ISO 7-1, ASME B1.20.1); every pair not listed never does."""


def sealed_by(closure: str, standard: str) -> frozenset[str]:
    """The female standards of the joints that a washer, tape or cement named after a standard closes (empty: none).

    A joint may be named after either side: tape for R closes R in Rc and R in Rp, tape for Rc the former only.

    >>> sorted(sealed_by("tape", "R")), sorted(sealed_by("tape", "Rc")), sorted(sealed_by("tape", "G"))
    (['Rc', 'Rp'], ['Rc'], [])
    """
    return frozenset(
        female.value for (male, female), by in _THREADS.items() if by.value == closure and standard in (male.value, female.value)
    )


def mating(one: End, other: End) -> Mating | None:
    """How two ends go together, or None when they do not.

    G mates with G on a washer, R with Rc or Rp on tape, NPT only with NPT (60 degree threads never meet 55
    degree ones), metric glued pipe only with metric, inch only with inch. Sources: ISO 228-1, ISO 7-1,
    ASME B1.20.1; hose on tail within ``HOSE_STRETCH_M``: common practice, no published source.

    >>> g = dict(size_m=0.0127, bore_m=0.012)
    >>> male = End(standard=Standard.NPT, gender=Gender.MALE, **g)
    >>> mating(male, End(standard=Standard.G, gender=Gender.FEMALE, **g)) is None
    True
    >>> mating(male, End(standard=Standard.NPT, gender=Gender.FEMALE, **g)).closure.value
    'tape'
    """
    if one.gender is other.gender:
        return None
    male, female = (one, other) if one.gender is Gender.MALE else (other, one)
    if male.standard is Standard.HOSE and female.standard is Standard.HOSE:
        if abs(male.size_m - female.size_m) > HOSE_STRETCH_M + 1e-9:
            return None
        loose = _loose(female, male) if female.size_m - male.size_m > LOOSE_M else ""
        return Mating(closure=Closure.CLAMP, standard=Standard.HOSE, size_m=female.outside_m, loose=loose)
    if male.standard is Standard.UNION and female.standard is Standard.UNION:
        same = male.key == female.key
        return Mating(closure=Closure.NONE, standard=Standard.UNION, size_m=male.size_m) if same else None
    closure = _THREADS.get((male.standard, female.standard))
    if closure is None or abs(male.size_m - female.size_m) > SIZE_ROUNDING_M:
        return None
    return Mating(closure=closure, standard=female.standard, size_m=female.size_m)


def counterparts(end: End) -> tuple[End, ...]:
    """What an end is made to meet: ends of the same size and key without a bore. Of a tail none: how thick its hose is, the tail
    does not say.

    >>> rc = counterparts(End(standard=Standard.RC, size_m=0.0127, gender=Gender.FEMALE, bore_m=0.012))
    >>> [each.name for each in rc]
    ['R 1/2 male']
    """
    male = end.gender is Gender.MALE
    if end.standard is Standard.HOSE and male:
        return ()
    meets = [pair[male] for pair in _THREADS if pair[not male] is end.standard] or [end.standard]
    other = Gender.FEMALE if male else Gender.MALE
    return tuple(End(standard=each, size_m=end.size_m, gender=other, bore_m=0.0, key=end.key) for each in meets)


def inch_words(size_m: float) -> str:
    """How many mm a size in inches has, where it is one in eighths of an inch and none in whole mm; else empty.

    >>> inch_words(0.015875), inch_words(0.0127), inch_words(0.016)
    ('5/8 in is 15.9 mm', '1/2 in is 12.7 mm', '')
    """
    eighths = round(size_m / 0.0254 * 8)
    is_inch = eighths > 0 and abs(eighths * 0.0254 / 8 - size_m) < SIZE_ROUNDING_M
    whole_mm = abs(size_m * 1e3 - round(size_m * 1e3)) < 1e-6
    return f"{inch_name(size_m)} in is {size_m * 1e3:.1f} mm" if is_inch and not whole_mm else ""


def _in_inches(*ends: End) -> tuple[str, ...]:
    """Behind a sentence about hose and tail: what their sizes are in inches, where one is of inches and the other of mm."""
    told = [words for each in ends if (words := inch_words(each.size_m))]
    return (f" ({told[0]})",) if len(told) == 1 else ()


def _loose(hose: End, tail: End) -> Said:
    return Said(hose.name, " sits loosely on a ", tail.name, *_in_inches(hose, tail))


def refusal(one: End, other: End) -> str:
    """Why two ends do not mate directly, in one sentence (empty when they do).

    >>> hose = dict(standard=Standard.HOSE, bore_m=0.012)
    >>> refusal(End(size_m=0.012, gender=Gender.FEMALE, **hose), End(size_m=0.0127, gender=Gender.MALE, **hose))
    '12 mm hose does not go on a 12.7 mm tail (1/2 in is 12.7 mm)'
    """
    if mating(one, other) is not None:
        return ""
    return rule_against(one, other) or Said(one.label, " does not fit ", other.label)


def rule_against(one: End, other: End, bores: bool = True) -> str:
    """The rule of the trade that keeps two ends apart, told with their ``bores`` (empty: they are merely different)."""
    families = {one.standard, other.standard}
    if Standard.NPT in families and families & {Standard.G, Standard.R, Standard.RC, Standard.RP}:
        return "NPT never mates with G, R, Rc or Rp: 60 against 55 degree threads start to screw, then leak or crack"
    if families == {Standard.SLIP_MM, Standard.SLIP_IN}:
        return "metric glued pipe does not fit inch glued pipe"
    if families == {Standard.G, Standard.RC}:
        return "a parallel G male does not seal in a taper Rc female"
    if Standard.GHT in families and len(families) > 1:
        return "garden-hose thread does not fit another thread or tail"
    if families == {Standard.HOSE} and one.gender is not other.gender:
        hose, tail = (one, other) if one.gender is Gender.FEMALE else (other, one)
        return Said(hose.name, " does not go on a ", tail.name, *_in_inches(hose, tail))
    if one.gender is other.gender and one.standard is other.standard:
        ends = (one.label, " and ", other.label) if bores else (one.name, " and ", other.name)
        return Said(f"both ends are {one.gender.value}: ", *ends)
    return ""
