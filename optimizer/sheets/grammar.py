"""What a text says of a part: its kind by its words, and every number with what it stands for. The grammar is closed: what no
pattern takes is left over, and the row says so.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from optimizer.quantity_text import clean
from optimizer.sheets.words import KINDS, SHORT

__all__ = ["NO_PLACE", "Said", "Thread", "kind_of", "millimetres_of", "read_text", "worded"]

NO_PLACE = KINDS[0][0]
"""What stands in no loop."""

_MARK = r"""(?: ?(?:"|in\b|inch\b|inches\b))"""
_FRACTION = r"(?<![\d./])(?:[1-4][ -])?(?:[1357]/[248](?![\d./])" + _MARK + r"?|(?:\d|1[135])/(?:16|32)" + _MARK + ")"
INCHES = rf"(?:{_FRACTION}|(?<![\d./])\d{{1,2}}(?:\.\d+)?{_MARK})"
THREAD_SIZE = rf"(?:{_FRACTION}|(?<![\d./])[1-4](?![\d/.x-])(?! ?mm){_MARK}?)"
NUMBER = r"(?<![\d./])\d+(?:\.\d+)?(?![\d/])"
LENGTH = rf"""(?:{INCHES}|{NUMBER} ?(?:mm|cm|m|ft|feet|')(?![a-z0-9/²³]))"""
SIZE = rf"(?:{INCHES}|{NUMBER}(?: ?(?:mm|cm)(?![a-z]))?)"
_GENDER = r"(?: ?(male|female|m|f)(?![a-z/]))"
_END = r"(?![a-z])"

_BEFORE = re.compile(rf"(?<![a-z0-9])(bspt|bsp|npt|ght|rc|rp|g|r) ?({THREAD_SIZE})(?![\d/.]){_GENDER}?")
_BEHIND = re.compile(rf"({THREAD_SIZE}) ?(bspt|bsp|npt|ght){_END}{_GENDER}?")
_BARE = re.compile(rf"(?<![a-z0-9])thread ({THREAD_SIZE}){_GENDER}?|({THREAD_SIZE}) (?:thread|(male|female)){_END}")
_FAMILY_ONLY = re.compile(rf"(?<![a-z])(bspt|bsp|npt|ght){_END}{_GENDER}?")
_SLIP = re.compile(rf"({INCHES}|{NUMBER} ?mm) ?slip(?: ?(male))?")
_SLIP_ONLY = re.compile(r"(?<![a-z])slip(?![a-z])")
_FITS = re.compile(r"(?<![a-z])fits ([^;]*)")
_FOR = re.compile(rf"(?<![a-z])(?:for|on) (?:a )?({SIZE}|\d+ ?/ ?\d+)(?: ?mm)?(?: hose| pipe| inlet| stem)?")
_PAIR = re.compile(rf"(?<![\d./])(?!{_FRACTION})" r"(\d+(?:\.\d+)?) ?(?:mm)? ?(/|x) ?(\d+(?:\.\d+)?)(?![\d/])(?: ?mm\b)?")
_INCH_PAIR = re.compile(rf"({INCHES}) inside ?x? ?({INCHES}) outside")
_INSIDE, _OUTSIDE = (
    re.compile(rf"(?<![a-z]){side} ({LENGTH}|{NUMBER})|({LENGTH}) {side}{_END}") for side in ("inside", "outside")
)
_BORE = re.compile(rf"(?:passage|bore) ({LENGTH}|{NUMBER})")
_RANGE = re.compile(rf"({SIZE}) ?(?:-|to) ?({SIZE})")
_THOUSAND = re.compile(r"(?<![\d.])([1-9]\d{0,2}) (\d{3})(?= ?(?:l/|gph))")
_FLOW = re.compile(rf"{NUMBER} ?(?:l/hr?|l/min|m3/h|gph|gpm)")
_POWER = re.compile(rf"({NUMBER}) ?(watts?|w|kw){_END}")
_NOISE = re.compile(rf"({NUMBER}) ?db(?:\(a\))?{_END}")
_VOLTS = re.compile(rf"{NUMBER} ?v(?:olts?)?{_END}|#\d+")
_PORES = re.compile(rf"({NUMBER}) ?ppi|ppi ({NUMBER})")
_HEAD = re.compile(
    rf"(?:head|hmax|h) ({NUMBER} ?(?:m|cm|ft|bar|mbar)){_END}|({NUMBER} ?(?:m|cm|ft|bar|')) ?(?:head|shutoff){_END}"
)
_METRES = re.compile(rf"({NUMBER} ?(?:m|ft|')){_END}")
_BARS = re.compile(rf"head ({NUMBER} ?bar)|({NUMBER} ?bar){_END}")
_PRESSURE = re.compile(r"(?<=\d) ?m?bar(?![a-z])")
_HOLES = re.compile(rf"(\d+) holes(?: of)? ?({NUMBER})?(?: ?mm)?|(\d+) ?x ?({NUMBER}) ?mm")
_GAP = re.compile(
    rf"(slots|mesh|holes)(?: of)? ({NUMBER}) ?mm|({NUMBER}) ?mm (slots|mesh|holes)|(mesh)[a-z ;,]*?({NUMBER}) ?mm{_END}"
)
_AREA = re.compile(rf"({NUMBER}) ?(mm2|cm2)")
_BOX = re.compile(rf"""({NUMBER})({_MARK})? ?x ?({NUMBER})({_MARK})? ?x ?({NUMBER}) ?(mm|cm|"|in{_END})?""")
_VOLUME = re.compile(rf"({NUMBER}) ?(l|ltr|litres?|liters?|ml){_END}")
_SURFACE = re.compile(rf"({NUMBER}) ?m2/l")
_WEIGHT = re.compile(rf"({NUMBER}) ?(kg|g|lbs?|oz){_END}")
_PER = re.compile(r"(?:sold )?(?:per|by|by the|/) ?(?:the )?(metre|meter|mtr|m|foot|ft)(?![a-z0-9])|(?:, |; |^)(metre)(?![a-z])")
_COIL = re.compile(rf"(?:coil|roll|reel|rl|pack|length)s?(?: of)? ({NUMBER} ?(?:m|cm|ft|'))(?![a-z0-9²])"
                   rf"|({NUMBER} ?(?:m|cm|ft|'))(?: (?:coil|roll|reel|rl))?(?![a-z0-9²])")  # fmt: skip
_STEP = re.compile(rf"cuffs every ({NUMBER} ?cm)")
_PACK = re.compile(r"(?:bag|box|pack|pk|set) ?(?:of )?(\d+)(?![\d.])|(?<![\d.])(\d+) ?(?:pack|pcs|pieces|pc|pk)(?![a-z\d])"
                   r"|(?<![\dx. ])x ?(\d+)$| x(\d+)$")  # fmt: skip
_TWO_SIZES = re.compile(rf"(?<![\d/])(?!{_FRACTION})(\d+)(?: ?mm)? ?[/>] ?(?=\d)")
_IN_INCHES = re.compile(f"({INCHES})")
_ANGLE = re.compile(r"(?<![\d.])(45|90) ?(?:deg\b\.?|degrees)?(?![\d./x-])(?! ?mm)")


@dataclass(frozen=True, slots=True)
class Thread:
    """A thread as written: its family ("": none is said), its size in inches as text, and gender ("": none is said)."""

    family: str
    inches: str
    gender: str


@dataclass(slots=True, kw_only=True)
class Said:
    """What one text says; sizes are texts with their unit, a bare one is in mm. ``left`` is what no pattern took,
    ``code`` what the shop calls it."""

    kind: str
    left: str
    code: str = ""
    threads: list[Thread] = field(default_factory=list)
    slips: list[tuple[str, str]] = field(default_factory=list)
    tails: list[str] = field(default_factory=list)
    found: dict[str, str] = field(default_factory=dict)
    swept: bool = False

    def take(self, pattern: re.Pattern[str]) -> tuple[str, ...] | None:
        """The groups of the first match that say anything, which is taken out of what is left."""
        found = pattern.search(self.left)
        if found is None:
            return None
        self.left = f"{self.left[: found.start()]} ; {self.left[found.end() :]}"
        return tuple(each.strip() for each in found.groups() if each is not None) or (found[0].strip(),)

    def note(self, name: str, pattern: re.Pattern[str], join: str = " ") -> bool:
        """Take the first match as what is said of this name."""
        groups = self.take(pattern)
        if groups is not None:
            self.found[name] = join.join(groups)
        return groups is not None


def worded(text: str, words: Mapping[str, str]) -> str:
    """The text in small letters, trade spellings alike, with the ``words`` of the shop and the short ones of the trade replaced.

    >>> worded('1½" MPT, Ø 16', {})
    '1 1/2" npt male, 16'
    """
    plain = clean(text.replace("Ø", " ").replace("ø", " ").replace("²", "2").replace("³", "3")).casefold().replace("°", " deg ")
    longest = sorted(words.items(), key=lambda each: -len(each[0]))
    for table in ({key.casefold(): value.casefold() for key, value in longest}, SHORT):
        for word, meaning in table.items():
            if word in plain:
                plain = re.sub(rf"(?<![a-z]){re.escape(word)}(?![a-z])", meaning, plain)
    return _THOUSAND.sub(r"\1\2", re.sub(" +", " ", plain)).strip()


@cache
def _kinds() -> tuple[tuple[str, re.Pattern[str]], ...]:
    made = ((kind, "|".join(sorted(map(re.escape, words.split("|")), key=len, reverse=True))) for kind, words in KINDS)
    return tuple((kind, re.compile(rf"(?<![a-z])(?:{words})(?:s|es)?(?![a-z])")) for kind, words in made)


def kind_of(text: str) -> str:
    """What kind of part a text is about, "" where none of its words says so.

    >>> kind_of("hose clamp 16-27 mm"), kind_of("hose 16/22"), kind_of("xyz 3")
    ('clamp', 'hose', '')
    """
    pressure_less = _PRESSURE.sub(" ", text)
    found = [kind for kind, words in _kinds() if words.search(pressure_less)]
    # whatever ports it has besides, what is said to pump so many litres an hour is a pump
    pumps = "pump" in found and found[0] != NO_PLACE and _FLOW.search(text)
    return "pump" if pumps else found[0] if found else ""


def millimetres_of(size: str) -> float:
    """A size as `Said` has it, in mm.

    >>> millimetres_of("16"), millimetres_of('5/8"'), millimetres_of("1 1/4 in"), millimetres_of("1.9 cm")
    (16.0, 15.875, 31.75, 19.0)
    """
    text = size.replace("-", " ")
    unit = next((unit for unit in ("mm", "cm", "ft", "feet", "'", "m", '"', "in") if unit in text), "")
    inches = "/" in text or unit in ('"', "in")
    per = 25.4 if inches else {"cm": 10.0, "m": 1000.0, "ft": 304.8, "feet": 304.8, "'": 304.8}.get(unit, 1.0)
    total = 0.0
    for number in re.findall(r"\d+(?:\.\d+)?(?:/\d+)?", text):
        top, _, bottom = number.partition("/")
        total += float(top) / float(bottom or 1)
    return round(total * per, 6)


def read_text(text: str, kind: str, code: str = "") -> Said:
    """Take apart a text (as `worded` gives it) about a part of this kind, which the shop has under a code."""
    said = Said(kind=kind, left=text, code=code)
    said.take(_VOLTS)
    for name, pattern in (("power", _POWER), ("noise", _NOISE), ("pores", _PORES), ("flow", _FLOW), ("surface", _SURFACE)):
        said.note(name, pattern)
    if kind in ("clamp", "washer", "cement"):
        said.note("pack", _PACK)
    _READERS.get(kind, _fitting)(said)
    return said


def _threads(said: Said) -> None:
    """Threads first: their sizes look like those of hoses."""
    for family, size, *gender in iter(lambda: said.take(_BEFORE) or (), ()):
        said.threads.append(Thread(family, size, _full(gender)))
    for size, family, *gender in iter(lambda: said.take(_BEHIND) or (), ()):
        said.threads.append(Thread(family, size, _full(gender)))
    for size, *gender in iter(lambda: said.take(_SLIP) or (), ()):
        said.slips.append((size, _full(gender)))
    for size, *gender in iter(lambda: said.take(_BARE) or (), ()):
        said.threads.append(Thread("", size, _full(gender)))
    only = None if said.threads else said.take(_FAMILY_ONLY)
    if only is not None:
        # a family beside a size that stands elsewhere: that of the glued end, else the one in inches
        size = said.slips[0][0] if said.slips else (said.take(_IN_INCHES) or ("",))[0]
        if size:
            said.threads.append(Thread(only[0], size, _full(only[1:])))
    if said.slips and said.take(_SLIP_ONLY):
        said.slips.append(said.slips[0])
    beside = re.search(r"(?<![a-z])(male|female)(?![a-z])", said.left)
    if beside is not None:
        said.threads = [Thread(each.family, each.inches, each.gender or beside[1]) for each in said.threads]


def _full(gender: list[str] | tuple[str, ...]) -> str:
    return {"m": "male", "f": "female"}.get(gender[0], gender[0]) if gender else ""


_ANY_SIZE = re.compile(f"({SIZE})")


def _tails(said: Said, most: int = 2) -> None:
    """Hose sizes that are left, those that the part ``fits`` only where it says none itself."""
    fits = said.take(_FITS) or said.take(_FOR)
    said.left = _TWO_SIZES.sub(r"\1 x ", said.left)
    for _ in range(most):
        found = said.take(_ANY_SIZE)
        if found is not None:
            said.tails.append(found[0])
    if not said.tails and fits is not None:
        first = re.search(rf"(?!{_FRACTION})(\d+) ?/ ?\d+|({SIZE})", fits[0])
        said.tails += [next(filter(None, first.groups()))] if first else []


def _fitting(said: Said) -> None:
    said.note("bore", _BORE)
    said.note("inside", _INSIDE)
    _threads(said)
    said.swept = "sweep" in said.left or "swept" in said.left
    said.note("angle", _ANGLE)
    _tails(said, 3 if said.kind in ("tee", "wye") else 2)
    inches = [each for each in said.tails if re.fullmatch(INCHES, each)]
    if len(inches) == 1 and len(said.tails) == 2 and not said.threads:
        # millimetres are hose, inches beside them the thread
        said.tails.remove(inches[0])
        said.threads.append(Thread("", inches[0], ""))


def _attached(said: Said) -> None:
    """What stands on one hose or in its run: it is named after the hose, or after the inside of it."""
    said.note("bore", _BORE)
    _threads(said)
    fits = _PAIR.search(said.left) if said.kind in ("coupling", "heater", "ultraviolet", "open outlet") else None
    said.tails += [fits[1]] if fits and said.take(_PAIR) else []
    if not said.tails:
        _tails(said, 1)


def _hose(said: Said) -> None:
    said.note("step", _STEP)
    if not said.note("inch pair", _INCH_PAIR, " x "):
        pair = said.take(_PAIR)
        if pair is not None:
            said.found["pair"] = f"{pair[0]} x {pair[2]}"
    said.note("inside", _INSIDE)
    said.note("outside", _OUTSIDE)
    said.note("per", _PER)
    said.note("coil", _COIL)
    if "pair" not in said.found and "inch pair" not in said.found and "inside" not in said.found:
        _tails(said, 1)


def _clamp(said: Said) -> None:
    said.note("range", _RANGE, " to ")
    said.note("inside", _INSIDE)
    said.note("outside", _OUTSIDE)
    if "range" not in said.found and "outside" not in said.found:
        _tails(said, 1)


def _pump(said: Said) -> None:
    said.note("head", _HEAD) or said.note("head", _BARS) or said.note("head", _METRES)
    _threads(said)
    said.left = re.sub(r"[a-z]+-\d+", " ; ", said.left)  # a model's name
    _tails(said, 1)


def _bar(said: Said) -> None:
    holes = said.take(_HOLES)
    if holes is not None:
        said.found["holes"] = holes[0]
        said.found |= {"hole": holes[1]} if len(holes) > 1 else {}
    said.take(re.compile(rf"(?:length )?{NUMBER} ?cm|{NUMBER} ?mm(?= ;)(?<!1[0-9] mm)|length {NUMBER} ?mm"))
    said.note("inside", _INSIDE)
    if re.search(r"\d{3,} ?mm", said.left):
        said.take(re.compile(r"\d{3,} ?mm"))
    _threads(said)
    _tails(said, 1)


def _guard(said: Said) -> None:
    gap = said.take(_GAP)
    if gap is not None:
        number = next(each for each in gap if each[0].isdigit())
        said.found |= {"opening": number, "form": next(each for each in gap if each != number)}
    said.note("area", _AREA)
    said.note("box", _BOX)
    _attached(said)


def _medium(said: Said) -> None:
    box = said.take(_BOX)
    if box is not None:
        said.found["box"] = " ".join(box)
    said.note("volume", _VOLUME)
    said.note("weight", _WEIGHT)
    said.take(_PAIR)
    said.take(_RANGE)


def _washer(said: Said) -> None:
    _threads(said)
    _tails(said, 1)


def _nothing(_: Said) -> None:
    """Its kind is all that is to be known."""


_READERS = {
    "hose": _hose,
    "clamp": _clamp,
    "pump": _pump,
    "bar": _bar,
    "washer": _washer,
    **dict.fromkeys(("tape", "cement"), _nothing),
    **dict.fromkeys(("guard", "sponge guard", "foot valve"), _guard),
    **dict.fromkeys(("foam", "rings", "granules", "floss"), _medium),
    **dict.fromkeys(("coupling", "nozzle", "open outlet", "heater", "ultraviolet"), _attached),
}
