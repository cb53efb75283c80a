"""What `fullbore new` asks a keeper, in its order, and how answers are read that no single key of a rig file holds."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

from optimizer.errors import BadValue, near_sentence, quoted
from optimizer.files.cell_text import checked_text
from optimizer.files.field import Field
from optimizer.files.interview import Question, Said, Slot
from optimizer.files.key_value import read_value
from optimizer.files.natural_answers import between, hose_size, money, wish
from optimizer.files.rates import parse_turnover
from optimizer.files.rig_places import MOST_TRAYS
from optimizer.files.toml_fields import LIMITS, SITE, TANK
from optimizer.model.catalog import Catalog
from optimizer.model.ends import HOSE_STRETCH_M, Gender, Standard
from optimizer.model.parts import DEVICE_PURPOSES, Device, Medium, Part, Pump
from optimizer.model.standard_ends import HOSES_MM
from optimizer.model.usual_figures import PUMP_CLASSES
from optimizer.unit_table import FLOW, HEAD, LENGTH, PORES, POWER, TIME, VOLUME, Dimension
from optimizer.units import parse, parse_bore_pair, show

__all__ = ["ANIMALS", "PRACTICE", "HoleRow", "Screen", "pump_noise", "question_groups", "questions"]

PRACTICE = "common practice"
"""Behind all that is usual in the trade: common practice, no published source."""

MOST_DEVICES, MOST_FIXED, MOST_BARE_BENDS = 4, 8, 8
_LITRES, _DECIBELS = between((10.0, 3000.0, "l")), between((20.0, 70.0, "dB(A)"))
FIXED: Mapping[str, tuple[str, ...]] = {
    "intake": ("intake",),
    "suction hose": ("suction_hose",),
    "return hose": ("return_hose",),
    "hoses": ("suction_hose", "return_hose"),
    "couplings": ("in_coupling", "out_coupling"),
    "canister": ("canister",),
    "pump": ("pump",),
    "outlet": ("outlet",),
}
"""What may be said to stay, and the places of the rig that it means."""

_ALSO_FIXED = {"guard": "intake", "strainer": "intake", "taps": "couplings", "media": "canister", "spray bar": "outlet"}
LABEL_TURNOVER_1H = 5.0
"""Label flow of a canister over the volume of the tank it is sold for: common practice, no published source."""

CLASSES = tuple(
    (below, f"{head:g} m", f"{watts:g} W", f"{hose:g}/{HOSES_MM[hose]:g} mm", f"{noise:g} dB(A)")
    for below, head, watts, hose, noise in PUMP_CLASSES
)
"""Those of `PUMP_CLASSES` in the words of a rig file."""

NARROWEST_HOSE_M, WIDEST_HOSE_M = 0.004, 0.060
LONGEST_DAYS = 3660.0
SEA_GKG = 35.0

ANIMALS = ("weak swimmers", "fry", "shrimp")
FIGURED_PURPOSES = tuple(word for word in DEVICE_PURPOSES if word not in ("pre-filter", "flow meter"))
"""Devices that can be put in by their purpose alone."""

_YES_NO = {"yes": True, "y": True, "no": False, "n": False, "none": False}
_WATERS = {"fresh": 0.0, "sweet": 0.0, "sea": SEA_GKG, "salt": SEA_GKG, "marine": SEA_GKG}
"""Salinity in g/kg."""

_CLEAN = ("new", "clean", "today", "just cleaned", "just now")
_SCREENS = {"slot": "slots", "hole": "holes", "foam": "sponge"}
_ALSO_ANIMALS = {"weak swimmer": "weak swimmers", "small fry": "fry", "shrimps": "shrimp"}
_PURPOSES = {
    **{word: word for word in FIGURED_PURPOSES},
    "uv": "ultraviolet",
    "reactor": "gas reactor",
    "co2 reactor": "gas reactor",
}
_CALLED = {
    "foam 20 ppi": ("foam", "sponge"),
    "foam 10 ppi": ("coarse foam",),
    "foam 30 ppi": ("fine foam",),
    "rings": ("rings", "ceramic rings"),
    "balls": ("balls", "sintered balls"),
    "floss": ("floss", "wool", "filter wool"),
    "carbon": ("carbon",),
    "empty": ("empty", "nothing"),
}
_MEDIA = {word: medium for medium, words in _CALLED.items() for word in words}
_BENDS = re.compile(r"(?P<count>[0-9]{1,3}) ?(?:bends?|turns?|quarter turns?|elbows?|corners?)", re.ASCII | re.IGNORECASE)
_FOAM = re.compile(r"(?:filter )?foam (?P<pores>[0-9].*)", re.IGNORECASE)
_BAR = re.compile(
    r"(?:spray ?)?bar(?: (?:with )?(?P<holes>[0-9]{1,4})(?: ?[xX\u00d7] ?| holes? (?:of )?)(?P<hole>.+))?", re.IGNORECASE
)
_HEIGHT = re.compile(r"(?P<size>.+?) (?P<side>above|over|below|under)(?: (?:the )?water(?: line)?)?", re.IGNORECASE)
_LONG = re.compile(r"(?P<count>[0-9]{1,3}(?:\.[0-9]{1,2})?) ?(?P<unit>month|year)s?", re.ASCII)
_DAYS = {"month": 365.25 / 12.0, "year": 365.25}
_LEVEL = ("level", "at the water line", "at the line", "at water line")

Facts = Mapping[str, Said]


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


def questions(catalog: Catalog, stem: str) -> tuple[Question, ...]:
    """Return the questions; ids of pumps, media and devices are looked up in ``catalog``, ``stem`` is the name of the file.

    >>> asked = questions(Catalog(parts={}, products=()), "hall")
    >>> asked[0].offered({}), asked[1].offered({})
    ('hall', '180 l, and 85 % of it')
    """
    return tuple(each for _, asked in question_groups(catalog, stem) for each in asked)


def question_groups(catalog: Catalog, stem: str) -> tuple[tuple[str, tuple[Question, ...]], ...]:
    """Return the same questions by what they are about.

    >>> [about for about, _ in question_groups(Catalog(parts={}, products=()), "hall")]
    ['The tank', 'The filter', 'Hoses, intake and outlet', 'What it is to do', 'A fill, and what stays']
    """
    return (
        ("The tank", _tank_questions(stem)),
        ("The filter", _filter_questions(catalog)),
        ("Hoses, intake and outlet", _tube_questions(catalog)),
        ("What it is to do", _state_questions(catalog.currency if catalog.parts else "")),
        ("A fill, and what stays", _last_questions()),
    )


def _tank_questions(stem: str) -> tuple[Question, ...]:
    return (
        Question(
            "What is the tank called?",
            "The name stands above every answer; any words do.",
            (Slot("name", "Hall tank", checked_text, stem, "the name of the file"),),
            whole=True,
        ),
        Question(
            "What does it hold by its label, and how much water is really in it?",
            "The water is what is left when sand, rocks and the rim are taken off; turnover is counted on it.",
            (
                Slot("volume", "240 l", _key(TANK, "volume"), "180 l", f"a usual tank ({PRACTICE})", _LITRES),
                Slot("net_volume", "205 l", _key(TANK, "net_volume"), natural=_LITRES),
            ),
            left="and 85 % of it",
            check=_check_net,
        ),
        Question(
            "Fresh or sea water, and how warm?",
            "Cold water and salt water are thicker and rub more in the hoses.",
            (
                Slot("water", "fresh", _water, "fresh", "most tanks"),
                Slot("temperature", "25 degC", _key(TANK, "temperature"),
                     natural=between((10.0, 35.0, "degC"), (60.0, 95.0, "degF"))),
            ),
            left="25 degC",
        ),
    )  # fmt: skip


def _filter_questions(catalog: Catalog) -> tuple[Question, ...]:
    of_flow = f"usual for a pump of this flow ({PRACTICE})"
    filling = "coarse foam, rings, floss"
    return (
        Question(
            "What does the pump's label say: greatest flow, greatest head, watts, mains?",
            "All are on the type plate or in the leaflet. The id of a pump head of the catalog does as well, alone.",
            (
                Slot("pump", "1000 l/h", partial(_pump, catalog), _label_flow,
                     f"five times the tank in an hour, as labels have it ({PRACTICE})", between((150.0, 10000.0, "l/h"))),
                Slot("pump_head", "1.8 m", _within(HEAD, 0.05, 50.0), _of_class(1), of_flow),
                Slot("pump_power", "15 W", _within(POWER, 0.1, 5000.0), _of_class(2), of_flow),
                Slot("mains", "50 Hz", _mains, natural=between((50.0, 50.0, "Hz"), (60.0, 60.0, "Hz"))),
            ),
            left="50 Hz",
            check=_check_pump,
        ),
        Question(
            "What is in the trays, in the order of the water?",
            "coarse foam, foam 20 ppi, fine foam, rings, balls, floss, carbon, empty, or ids of the catalog.",
            (Slot("trays", filling, _several(partial(_medium, catalog), MOST_TRAYS), filling, f"a usual filling ({PRACTICE})"),),
            whole=True,
        ),
        Question(
            "How much media do all trays take, and how far below the water line does the canister's foot stand?",
            "The litres are in the leaflet; the depth is from the water line in the tank down to the cabinet's floor.",
            (
                Slot("media_volume", "4.5 l", _within(VOLUME, 1e-4, 0.2), _tray_volume, f"1.5 l a tray ({PRACTICE})",
                     between((0.5, 30.0, "l"))),
                Slot("depth", "1.1 m", _within(LENGTH, 0.0, 15.0), "1.1 m",
                     f"a canister in the cabinet below the tank ({PRACTICE})", between((0.3, 3.0, "m"), (40.0, 300.0, "cm"))),
            ),
        ),
    )  # fmt: skip


def _tube_questions(catalog: Catalog) -> tuple[Question, ...]:
    devices = _none(_several(partial(_device, catalog), MOST_DEVICES))
    return (
        _hose_question("suction", "from the tank to the canister", _of_class(3), f"usual for a pump of this flow ({PRACTICE})"),
        _hose_question("return", "from the canister back to the tank", _as_suction, "as the suction hose"),
        Question(
            "Do both hoses end at the canister in couplings with taps?",
            "Taps shut the hoses when the canister is taken away. They are narrow, and the one on the return can throttle.",
            (Slot("taps", "yes", _yes_no, "yes", "most canisters"),),
        ),
        Question(
            "What keeps animals and leaves out at the intake?",
            "slots, holes, mesh or sponge, with the widest gap or, of a sponge, the pores per inch.",
            (Slot("guard", "slots 3 mm", _guard, "slots 3 mm", f"most strainers ({PRACTICE})"),),
        ),
        Question(
            "How does the water come back, and how far above or under the water line?",
            '"open", "nozzle 10 mm" or "bar 16 x 3 mm" (holes x diameter); only a rise above the water line costs head.',
            (
                Slot("outlet", "bar 16 x 3 mm", _outlet, "bar 16 x 3 mm", f"a usual spray bar ({PRACTICE})"),
                Slot("height", "2 cm under", _height),
            ),
            left="at the water line",
            check=_check_holes,
        ),
        Question(
            "What hangs in the return hose: heater, ultraviolet, gas reactor, another device?",
            "With commas between them, in the order of the water; or none. Ids of the catalog do as well.",
            (Slot("devices", "heater", devices, "none", "most loops"),),
            whole=True,
            check=_check_devices,
        ),
    )


def _hose_question(side: str, way: str, size: Callable[[Facts], str], why: str) -> Question:
    return Question(
        f"The hose {way}: its size, its length, how many quarter turns?",
        "The size is printed on it: inside and outside, or the inside alone. Count each quarter turn over rims and corners.",
        (
            Slot(f"{side}_size", "16/22 mm", _hose, size, why, hose_size),
            Slot(f"{side}_length", "1.5 m", _within(LENGTH, 0.05, 200.0), "1.5 m", f"what a set comes with ({PRACTICE})",
                 between((0.3, 8.0, "m"), (61.0, 800.0, "cm"))),
            Slot(f"{side}_bends", "2 bends", _bends, "2 bends", f"over the rim ({PRACTICE})", _turns),
        ),
    )  # fmt: skip


def _turns(text: str) -> str:
    return f"{text} bends" if text.isdecimal() and int(text) <= MOST_BARE_BENDS else ""


def _state_questions(currency: str) -> tuple[Question, ...]:
    animals = _none(_several(_animals, 3))
    return (
        Question(
            "How long ago was everything cleaned?",
            'From this the dirt of today is guessed. "new" for a loop that was just cleaned.',
            (Slot("days", "6 weeks", _days, "6 weeks", f"a usual interval ({PRACTICE})"),),
        ),
        Question(
            "Are there weak swimmers, fry or shrimp?",
            "They limit how wide the gaps of the guard may be and how fast the water may run; with commas, or none.",
            (Slot("animals", "fry, shrimp", animals, "none", "no weak swimmers, fry or shrimp; say so if there are any"),),
            whole=True,
        ),
        Question(
            "How loud may it be where you sit?",
            "A fridge hums at about 35 dB(A), a quiet bedroom has 25 to 30; or none. It is counted 1 m from the pump.",
            (
                Slot(
                    "noise",
                    "38 dB(A)",
                    _none(_key(LIMITS, "noise")),
                    "none",
                    "no limit asked for",
                    between((20.0, 70.0, "dB(A)")),
                ),
            ),
        ),
        Question(
            "How much may be spent at most?",
            "A number in the currency of the catalog; or none, then --budget says it each time.",
            (Slot("budget", "100", _none(_key(LIMITS, "budget")), "none", "no limit asked for", money(currency)),),
        ),
        Question(
            "How much water do you wish to come back?",
            "As turnover of the water in the tank, or as a flow; or none, then the most that can be had.",
            (Slot("wish", "4 per hour", _none(_wish), "none", "as much as can be had", wish),),
        ),
    )


def _last_questions() -> tuple[Question, ...]:
    fixed = _none(_several(_fixed, MOST_FIXED))
    return (
        Question(
            "Did you time a bucket under the outlet? What does it hold, and how many seconds did it take?",
            "The mouth held at the water line, the loop as it is today: then answers go by your loop. Nothing if you did not.",
            (
                Slot("fill_volume", "10 l", _none(_within(VOLUME, 1e-4, 0.2)), natural=between((1.0, 60.0, "l"))),
                Slot("fill_seconds", "61 s", _within(TIME, 1.0, 7200.0), natural=between((3.0, 600.0, "s"))),
            ),
            left="none was timed",
            check=_check_fill,
        ),
        Question(
            "What cannot be changed?",
            f"With commas between them: {', '.join(FIXED)}; or none. A canister that stays keeps its media.",
            (Slot("stays", "pump, suction hose", fixed, "none", "everything may be changed"),),
            whole=True,
        ),
    )


# -- how answers are read -----------------------------------------------------------------------------------------


def _key(table: tuple[Field, ...], name: str) -> Callable[[str], object]:
    """Read as the key of a rig file does."""
    found = next(field for field in table if field.name == name)
    return lambda text: read_value(found, text)


def _within(dimension: Dimension, low: float, high: float) -> Callable[[str], object]:
    return lambda text: parse(text, dimension, minimum=low, maximum=high)


def _mains(text: str) -> object:
    hz = _key(SITE, "mains")(text)
    if hz in (50.0, 60.0):
        return hz
    raise BadValue(f"{quoted(text)} is not a mains frequency.", 'Write "50 Hz" or "60 Hz".')


def _none(reads: Callable[[str], object]) -> Callable[[str], object]:
    """Return a reader that takes "none" for None, and all else as ``reads`` does."""
    return lambda text: None if text.casefold() in ("none", "no", "no limit") else reads(text)


def _several(reads: Callable[[str], object], most: int) -> Callable[[str], tuple[object, ...]]:
    """Return a reader of 1 to ``most`` words with commas between them."""

    def read(text: str) -> tuple[object, ...]:
        words = [word.strip() for word in re.split("[,;]", text)]
        if len(words) > most:
            raise BadValue(f"{len(words)} are more than the {most} that there may be.", "Leave some out.")
        return tuple(reads(word) for word in words)

    return read


def _yes_no(text: str) -> bool:
    """Return what "yes" or "no" says."""
    if text.casefold() not in _YES_NO:
        raise BadValue(f"{quoted(text)} is neither yes nor no.", "Write yes or no.")
    return _YES_NO[text.casefold()]


def _water(text: str) -> float:
    """Return the salinity in g/kg of "fresh" or "sea" water."""
    word = text.casefold().removesuffix(" water").removesuffix("water")
    if word not in _WATERS:
        raise BadValue(f"{quoted(text)} is neither fresh nor sea water.", 'Write "fresh" or "sea"; brackish water in the file.')
    return _WATERS[word]


def _hose(text: str) -> tuple[float, float]:
    """Return inside and outside of a hose in m, the outside 0 where only the inside is said."""
    if re.search(r"[0-9] ?(?:/|x|X|\u00d7) ?[0-9].*(?:mm|cm)", text) or re.search("[0-9\"n'] ?[xX\u00d7] ?[0-9]", text):
        inside, outside = parse_bore_pair(text)
    else:
        inside, outside = parse(text, LENGTH), 0.0
    if not NARROWEST_HOSE_M <= inside <= WIDEST_HOSE_M or outside > 2.0 * WIDEST_HOSE_M:
        raise BadValue(f"{quoted(text)} is no hose of 4 to 60 mm inside.", 'Write for example "16/22 mm" or "5/8 in".')
    return inside, outside


def _bends(text: str) -> int:
    """Return the number of quarter turns in "2 bends", at most 100."""
    found = _BENDS.fullmatch(text)
    if found is None or int(found["count"]) > 100:
        raise BadValue(f"{quoted(text)} is no number of bends.", 'Write for example "2 bends".')
    return int(found["count"])


def _days(text: str) -> float:
    """Return how many days ago something was cleaned; a new or clean loop has 0."""
    if text.casefold() in _CLEAN:
        return 0.0
    said = text.casefold().removesuffix(" ago")
    long = _LONG.fullmatch(said)
    if long is not None:
        days = float(long["count"]) * _DAYS[long["unit"]]
    else:
        days = 1.0 if said == "yesterday" else parse(said, TIME) / 86400.0
    if days > LONGEST_DAYS:
        raise BadValue(f"{quoted(text)} is more than ten years.", 'Write for example "6 weeks".')
    return days


def _guard(text: str) -> Screen:
    """Return the guard in "slots 3 mm", "mesh" or "sponge 20 ppi"."""
    form, _, size = text.partition(" ")
    form = _SCREENS.get(form.casefold(), form.casefold())
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


def _medium(catalog: Catalog, text: str) -> Medium | str:
    """Return the reader of what is in one tray: a medium of the catalog by its id, or one of the words that are known here."""
    part = _by_id(catalog, text)
    if isinstance(part, Medium):
        return part
    foam = _FOAM.fullmatch(text)
    if foam is not None:
        return f"foam {_pores(foam['pores']):g} ppi"
    known = _MEDIA.get(text.casefold())
    if known is None:
        cure = "Write coarse foam, foam 20 ppi, fine foam, rings, balls, floss, carbon or empty."
        raise _not_known(catalog, text, Medium, _MEDIA, cure)
    return known


def _outlet(text: str) -> HoleRow:
    """Return the outlet in "open", "nozzle 10 mm" or "bar 16 x 3 mm"."""
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


def _height(text: str) -> float:
    """Return the height in m of a mouth above the water line, negative below."""
    if text.casefold() in _LEVEL:
        return 0.0
    found = _HEIGHT.fullmatch(text)
    if found is None:
        cure = 'Write for example "5 cm above", "2 cm under" or "level".'
        raise BadValue(f"{quoted(text)} does not say how far above or under the water line.", cure)
    size = parse(found["size"], LENGTH, minimum=0.0, maximum=5.0)
    return size if found["side"].casefold() in ("above", "over") else -size


def _device(catalog: Catalog, text: str) -> Device | str:
    """Return the reader of one inline device: one of the catalog by its id, or a purpose."""
    part = _by_id(catalog, text)
    if isinstance(part, Device):
        if any(end.standard is not Standard.HOSE or end.gender is not Gender.MALE for end in (part.inlet, part.outlet)):
            raise BadValue(
                f"{quoted(text)} has no hose tails at both ends.", "Write its purpose, and put its ends right in the file."
            )
        return part
    word = _PURPOSES.get(text.casefold())
    if word is None:
        cure = f"Write one of: {', '.join(FIGURED_PURPOSES)}; or none."
        raise _not_known(catalog, text, Device, _PURPOSES, cure)
    return word


def _pump(catalog: Catalog, text: str) -> Pump | float:
    """Return the reader of a pump: one of the catalog by its id, or the flow in m3/s on its label."""
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


def _animals(text: str) -> str:
    """Return one of `ANIMALS`."""
    word = _ALSO_ANIMALS.get(text.casefold(), text.casefold())
    if word in ANIMALS:
        return word
    raise BadValue(f"{quoted(text)} is not asked for here.", f"Write one or more of: {', '.join(ANIMALS)}; or none.")


def _fixed(text: str) -> tuple[str, ...]:
    """Return the places that one of `FIXED` means."""
    word = _ALSO_FIXED.get(text.casefold(), text.casefold()).removeprefix("the ")
    if word in FIXED:
        return FIXED[word]
    raise BadValue(f"{quoted(text)} is nothing that is asked for here.", f"Write one or more of: {', '.join(FIXED)}; or none.")


def _wish(text: str) -> tuple[str, float]:
    """Return "flow" with m3/s or "turnover" with times per hour, whichever is said."""
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


def _not_known(catalog: Catalog, text: str, sort: type[Part], words: Iterable[str], cure: str) -> BadValue:
    """What to raise for a text that is none of the ``words``, nor the id of a part of one sort."""
    near = near_sentence(text, [*words, *(part.id for part in catalog.parts.values() if isinstance(part, sort))])
    return BadValue(f"{quoted(text)} is no {sort.__name__.lower()} that is known here.", f"{near} {cure}".strip())


# -- what is taken when nobody knows -------------------------------------------------------------------------------


def _label_flow(known: Facts) -> str:
    litres = known["volume"].number * 1e3 if "volume" in known else 180.0
    return f"{min(max(round(LABEL_TURNOVER_1H * litres / 50.0) * 50, 300), 3500)} l/h"


def _of_class(column: int) -> Callable[[Facts], str]:
    """Return what is usual for a pump of the known flow; nothing for a pump of the catalog, which has its own figures."""

    def usual(known: Facts) -> str:
        pump = known["pump"].value if "pump" in known else parse(_label_flow(known), FLOW)
        if isinstance(pump, Pump):
            if column in (1, 2, 4):
                return ""
            pump = pump.curve.max_flow_m3s
        if not isinstance(pump, float):
            raise TypeError("a pump is one of the catalog or the flow of its label")
        return str(next(row for row in CLASSES if pump * 3.6e6 < row[0])[column])

    return usual


def _as_suction(known: Facts) -> str:
    return known["suction_size"].text


def pump_noise(known: Facts) -> str:
    """Return the usual sound level of the known pump."""
    return _of_class(4)(known)


def _tray_volume(known: Facts) -> str:
    trays = known["trays"].value if "trays" in known else (0, 0, 0)
    return show(1.5e-3 * len(trays), VOLUME) if isinstance(trays, tuple) else ""


# -- what depends on more than one answer --------------------------------------------------------------------------


def _check_net(known: Facts) -> None:
    net, nominal = known["net_volume"], known["volume"]
    if net.text and net.number > nominal.number:
        what = f"the water ({net.text}) is more than the tank holds ({nominal.text})."
        raise BadValue(what, "Write the volume of the label first, then the water that is really in it.")


def _check_pump(known: Facts) -> None:
    if isinstance(known["pump"].value, Pump) and (known["pump_head"].text or known["pump_power"].text):
        raise BadValue(
            "a pump of the catalog has its own head and watts.", "Write its id alone, or the figures of the label alone."
        )


def _check_holes(known: Facts) -> None:
    row, hose = known["outlet"].value, known["return_size"].value
    if isinstance(row, HoleRow) and isinstance(hose, tuple) and row.hole_m > hose[0]:
        what = f"holes of {row.hole_m * 1e3:.4g} mm are wider than the hose ({hose[0] * 1e3:.4g} mm inside)."
        raise BadValue(what, 'Write the diameter of one hole, for example "bar 16 x 3 mm".')


def _check_fill(known: Facts) -> None:
    volume, seconds = known["fill_volume"], known["fill_seconds"]
    if (volume.value is None) != (seconds.value is None):
        raise BadValue("a bucket test is a volume and a time.", 'Write both, for example "10 l, 61 s", or none.')


def _check_devices(known: Facts) -> None:
    hose, devices = known["return_size"].value, known["devices"].value
    if not isinstance(hose, tuple) or not isinstance(devices, tuple):
        return
    found = [device for device in devices if isinstance(device, Device)]
    for device in found:
        if any(abs(end.size_m - hose[0]) > HOSE_STRETCH_M for end in (device.inlet, device.outlet)):
            what = f"the tails of {quoted(device.id)} do not fit the return hose of {hose[0] * 1e3:.4g} mm."
            raise BadValue(what, "Write its purpose alone, or put adapters into the file by hand.")
    if any(one is two for one, two in pairwise(sorted(found, key=lambda device: device.id))):
        raise BadValue("one id stands there twice.", "Write each device once.")
