"""Answers of `fullbore new` that no single key of a rig file holds: a hose, a guard, an outlet, trays, devices, animals."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from optimizer.errors import BadValue, near_sentence, quoted
from optimizer.files.rates import parse_turnover
from optimizer.model.catalog import Catalog
from optimizer.model.ends import Gender, Standard
from optimizer.model.parts import DEVICE_PURPOSES, Device, Medium, Pump
from optimizer.units import FLOW, LENGTH, PORES, TIME, parse, parse_bore_pair

__all__ = [
    "ANIMALS",
    "FIGURED_PURPOSES",
    "HoleRow",
    "Screen",
    "read_animals",
    "read_bends",
    "read_days",
    "read_device",
    "read_guard",
    "read_height",
    "read_hose",
    "read_medium",
    "read_none",
    "read_outlet",
    "read_pump",
    "read_several",
    "read_water",
    "read_wish",
    "read_yes_no",
]

NARROWEST_HOSE_M, WIDEST_HOSE_M = 0.004, 0.060
LONGEST_DAYS = 3660.0
SEA_GKG = 35.0

ANIMALS = ("weak swimmers", "fry", "shrimp")
FIGURED_PURPOSES = tuple(word for word in DEVICE_PURPOSES if word not in ("pre-filter", "flow meter"))
"""Devices that can be put in by their purpose alone."""

_PURPOSES = {
    **{word: word for word in FIGURED_PURPOSES},
    "uv": "ultraviolet",
    "reactor": "gas reactor",
    "co2 reactor": "gas reactor",
}
_MEDIA: Mapping[str, str] = MappingProxyType(
    {
        "foam": "foam 20 ppi",
        "sponge": "foam 20 ppi",
        "coarse foam": "foam 10 ppi",
        "fine foam": "foam 30 ppi",
        "rings": "rings",
        "ceramic rings": "rings",
        "balls": "balls",
        "sintered balls": "balls",
        "floss": "floss",
        "wool": "floss",
        "filter wool": "floss",
        "carbon": "carbon",
        "empty": "empty",
        "nothing": "empty",
    }
)
_BENDS = re.compile(r"(?P<count>[0-9]{1,3}) ?(?:bends?|turns?|quarter turns?|elbows?)", re.ASCII | re.IGNORECASE)
_FOAM = re.compile(r"(?:filter )?foam (?P<pores>[0-9].*)", re.IGNORECASE)
_BAR = re.compile(
    r"(?:spray ?)?bar(?: (?:with )?(?P<holes>[0-9]{1,4})(?: ?[xX\u00d7] ?| holes? (?:of )?)(?P<hole>.+))?", re.IGNORECASE
)
_HEIGHT = re.compile(r"(?P<size>.+?) (?P<side>above|over|below|under)(?: (?:the )?water(?: line)?)?", re.IGNORECASE)
_LEVEL = ("level", "at the water line", "at the line", "at water line")


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """A guard as far as it is said: its form, its widest gap in m or its pores per inch (0: not said)."""

    form: str
    opening_m: float = 0.0
    pores_ppi: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRow:
    """An outlet as far as it is said: its form, number and diameter in m of its holes (0: not said)."""

    form: str
    holes: int = 1
    hole_m: float = 0.0


def read_none(reads: Callable[[str], object]) -> Callable[[str], object]:
    """Return a reader that takes "none" for None, and all else as ``reads`` does.

    >>> read_none(float)("none") is None, read_none(float)("2")
    (True, 2.0)
    """
    return lambda text: None if text.casefold() in ("none", "no", "no limit") else reads(text)


def read_several(reads: Callable[[str], object], most: int) -> Callable[[str], tuple[object, ...]]:
    """Return a reader of 1 to ``most`` words with commas between them.

    >>> read_several(str.upper, 3)("a, b")
    ('A', 'B')
    """

    def read(text: str) -> tuple[object, ...]:
        words = [word.strip() for word in re.split("[,;]", text)]
        if len(words) > most:
            raise BadValue(f"{len(words)} are more than the {most} that there may be.", "Leave some out.")
        return tuple(reads(word) for word in words)

    return read


def read_yes_no(text: str) -> bool:
    """Return what "yes" or "no" says. Raises `BadValue`.

    >>> read_yes_no("Yes")
    True
    """
    found = {"yes": True, "y": True, "no": False, "n": False, "none": False}.get(text.casefold())
    if found is None:
        raise BadValue(f"{quoted(text)} is neither yes nor no.", "Write yes or no.")
    return found


def read_water(text: str) -> float:
    """Return the salinity in g/kg of "fresh" or "sea" water. Raises `BadValue`.

    >>> read_water("sea")
    35.0
    """
    word = text.casefold().removesuffix(" water").removesuffix("water")
    found = {"fresh": 0.0, "sweet": 0.0, "sea": SEA_GKG, "salt": SEA_GKG, "marine": SEA_GKG}.get(word)
    if found is None:
        raise BadValue(f"{quoted(text)} is neither fresh nor sea water.", 'Write "fresh" or "sea"; brackish water in the file.')
    return found


def read_hose(text: str) -> tuple[float, float]:
    """Return inside and outside of a hose in m, the outside 0 where only the inside is said. Raises `BadValue`.

    >>> read_hose("16/22 mm"), read_hose("5/8 in")
    ((0.016, 0.022), (0.015875, 0.0))
    """
    if re.search(r"[0-9] ?(?:/|x|X|\u00d7) ?[0-9].*(?:mm|cm)", text) or re.search("[0-9\"n'] ?[xX\u00d7] ?[0-9]", text):
        inside, outside = parse_bore_pair(text)
    else:
        inside, outside = parse(text, LENGTH), 0.0
    if not NARROWEST_HOSE_M <= inside <= WIDEST_HOSE_M or outside > 2.0 * WIDEST_HOSE_M:
        raise BadValue(f"{quoted(text)} is no hose of 4 to 60 mm inside.", 'Write for example "16/22 mm" or "5/8 in".')
    return inside, outside


def read_bends(text: str) -> int:
    """Return the number of quarter turns in "2 bends", at most 100. Raises `BadValue`.

    >>> read_bends("2 bends")
    2
    """
    found = _BENDS.fullmatch(text)
    if found is None or int(found["count"]) > 100:
        raise BadValue(f"{quoted(text)} is no number of bends.", 'Write for example "2 bends".')
    return int(found["count"])


def read_days(text: str) -> float:
    """Return how many days ago something was cleaned; a new or clean loop has 0. Raises `BadValue`.

    >>> read_days("6 weeks"), read_days("new")
    (42.0, 0.0)
    """
    if text.casefold() in ("new", "clean", "today", "just cleaned", "just now"):
        return 0.0
    days = parse(text.casefold().removesuffix(" ago"), TIME) / 86400.0
    if days > LONGEST_DAYS:
        raise BadValue(f"{quoted(text)} is more than ten years.", 'Write for example "6 weeks".')
    return days


def read_guard(text: str) -> Screen:
    """Return the guard in "slots 3 mm", "mesh" or "sponge 20 ppi". Raises `BadValue`.

    >>> read_guard("sponge 20 ppi")
    Screen(form='sponge', opening_m=0.0, pores_ppi=20.0)
    """
    form, _, size = text.partition(" ")
    form = {"slot": "slots", "hole": "holes", "foam": "sponge"}.get(form.casefold(), form.casefold())
    if form not in ("slots", "holes", "mesh", "sponge"):
        cure = 'Write slots, holes, mesh or sponge, with its size when known: "slots 3 mm", "sponge 20 ppi".'
        raise BadValue(f"{quoted(text)} is no guard that is known here.", cure)
    if not size:
        return Screen(form=form)
    if form == "sponge":
        return Screen(form=form, pores_ppi=_pores(size))
    return Screen(form=form, opening_m=parse(size, LENGTH, minimum=0.1e-3, maximum=0.05))


def _pores(text: str) -> float:
    """Pores per inch; of foam a number alone can be nothing else."""
    return parse(f"{text} ppi" if text.isdecimal() else text, PORES, minimum=5.0, maximum=100.0)


def read_medium(catalog: Catalog) -> Callable[[str], Medium | str]:
    """Return the reader of what is in one tray: a medium of the catalog by its id, or one of the words that are known here.

    >>> read_medium(Catalog(parts={}, products=()))("Coarse foam")
    'foam 10 ppi'
    """

    def read(text: str) -> Medium | str:
        part = _by_id(catalog, text)
        if isinstance(part, Medium):
            return part
        foam = _FOAM.fullmatch(text)
        if foam is not None:
            return f"foam {_pores(foam['pores']):g} ppi"
        known = _MEDIA.get(text.casefold())
        if known is None:
            near = near_sentence(text, [*_MEDIA, *(p.id for p in catalog.parts.values() if isinstance(p, Medium))])
            cure = f"{near} Write coarse foam, foam 20 ppi, fine foam, rings, balls, floss, carbon or empty."
            raise BadValue(f"{quoted(text)} is no medium that is known here.", cure.strip())
        return known

    return read


def read_outlet(text: str) -> HoleRow:
    """Return the outlet in "open", "nozzle 10 mm" or "bar 16 x 3 mm". Raises `BadValue`.

    >>> read_outlet("bar 16 x 3 mm")
    HoleRow(form='bar', holes=16, hole_m=0.003)
    """
    words = text.casefold()
    if words in ("open", "open pipe", "open end", "pipe"):
        return HoleRow(form="open")
    bar = _BAR.fullmatch(text)
    if bar is not None and bar["holes"] is None:
        return HoleRow(form="bar", holes=0)
    if bar is not None and 1 <= int(bar["holes"]) <= 1000:
        return HoleRow(form="bar", holes=int(bar["holes"]), hole_m=_hole(bar["hole"]))
    if words == "nozzle":
        return HoleRow(form="nozzle")
    if words.startswith("nozzle "):
        return HoleRow(form="nozzle", hole_m=_hole(text[len("nozzle ") :]))
    cure = 'Write "open", "nozzle 10 mm" or "bar 16 x 3 mm": number and diameter of its holes.'
    raise BadValue(f"{quoted(text)} is no outlet that is known here.", cure)


def _hole(text: str) -> float:
    return parse(text, LENGTH, minimum=0.3e-3, maximum=0.06)


def read_height(text: str) -> float:
    """Return the height in m of a mouth above the water line, negative below. Raises `BadValue`.

    >>> read_height("5 cm above"), read_height("2 cm under")
    (0.05, -0.02)
    """
    if text.casefold() in _LEVEL:
        return 0.0
    found = _HEIGHT.fullmatch(text)
    if found is None:
        cure = 'Write for example "5 cm above", "2 cm under" or "level".'
        raise BadValue(f"{quoted(text)} does not say how far above or under the water line.", cure)
    size = parse(found["size"], LENGTH, minimum=0.0, maximum=5.0)
    return size if found["side"].casefold() in ("above", "over") else -size


def read_device(catalog: Catalog) -> Callable[[str], Device | str]:
    """Return the reader of one inline device: one of the catalog by its id, or a purpose.

    >>> read_device(Catalog(parts={}, products=()))("UV")
    'ultraviolet'
    """

    def read(text: str) -> Device | str:
        part = _by_id(catalog, text)
        if isinstance(part, Device):
            if any(end.standard is not Standard.HOSE or end.gender is not Gender.MALE for end in (part.inlet, part.outlet)):
                raise BadValue(
                    f"{quoted(text)} has no hose tails at both ends.", "Write its purpose, and put its ends right in the file."
                )
            return part
        word = _PURPOSES.get(text.casefold())
        if word is None:
            near = near_sentence(text, [*_PURPOSES, *(p.id for p in catalog.parts.values() if isinstance(p, Device))])
            cure = f"{near} Write one of: {', '.join(FIGURED_PURPOSES)}; or none."
            raise BadValue(f"{quoted(text)} is no device that is known here.", cure.strip())
        return word

    return read


def read_pump(catalog: Catalog) -> Callable[[str], Pump | float]:
    """Return the reader of a pump: one of the catalog by its id, or the flow in m3/s on its label.

    >>> round(read_pump(Catalog(parts={}, products=()))("1000 l/h") * 3.6e6)
    1000
    """

    def read(text: str) -> Pump | float:
        part = _by_id(catalog, text)
        if isinstance(part, Pump):
            if not part.inlet.key or not part.outlet.key:
                what = f"{quoted(text)} does not sit on a canister: it has ends of its own."
                raise BadValue(what, "Write the flow and the greatest head of its label, and put its ends right in the file.")
            return part
        flow = parse(text, FLOW, maximum=50.0 / 3600.0)
        if flow > 0.0:
            return flow
        raise BadValue("the flow must be above zero.", 'Write for example "1000 l/h".')

    return read


def read_animals(text: str) -> str:
    """Return one of `ANIMALS`. Raises `BadValue`.

    >>> read_animals("Fry")
    'fry'
    """
    word = {"weak swimmer": "weak swimmers", "small fry": "fry", "shrimps": "shrimp"}.get(text.casefold(), text.casefold())
    if word in ANIMALS:
        return word
    raise BadValue(f"{quoted(text)} is not asked for here.", f"Write one or more of: {', '.join(ANIMALS)}; or none.")


def read_wish(text: str) -> tuple[str, float]:
    """Return "flow" with m3/s or "turnover" with times per hour, whichever is said. Raises `BadValue`.

    >>> read_wish("4 per hour")
    ('turnover', 4.0)
    """
    try:
        per_hour = parse_turnover(text)
    except BadValue:
        flow = parse(text, FLOW, maximum=50.0 / 3600.0)
        return "flow", _above_zero(flow)
    if per_hour > 1000.0:
        raise BadValue(f"{quoted(text)} is more than 1000 per hour.", 'Write for example "4 per hour".')
    return "turnover", _above_zero(per_hour)


def _above_zero(value: float) -> float:
    if value > 0.0 and math.isfinite(value):
        return value
    raise BadValue("the wish must be above zero.", 'Write for example "4 per hour" or "800 l/h", or none.')


def _by_id(catalog: Catalog, text: str) -> object:
    """The part whose id is ``text``, upper and lower case alike where that is exact, else None."""
    found = catalog.parts.get(text)
    return found if found is not None else catalog.parts.get(text.upper())
