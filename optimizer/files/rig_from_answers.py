"""From the facts of an interview to the tables of a rig file, by stated rules for what nobody asks a keeper."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

from optimizer.dirt.after import Arrival, film_after_m, fouled_after, state_after, trays_after
from optimizer.dirt.daily import daily_of
from optimizer.dirt.laws import USUAL
from optimizer.files.field import Field
from optimizer.files.interview import Said
from optimizer.files.interview_questions import ANIMALS, PRACTICE, HoleRow, Screen, pump_noise
from optimizer.files.part_kinds import PART_KINDS, PLACE
from optimizer.files.rig_writer import Cell, Line, Section, Value
from optimizer.files.toml_fields import FEEDING, FILL, KIND, LIMITS, RIG_NAME, SITE, TANK, WISH, kind_of_word
from optimizer.model.parts import Device, Guard, Medium, Pump
from optimizer.model.rig import Rig
from optimizer.model.standard_ends import hose_outside_m
from optimizer.model.state import State
from optimizer.model.usual_figures import (
    BALL_M,
    BAR_HOLE_M,
    BAR_HOLES,
    BAR_PITCH_M,
    DEVICE_K,
    FIBRE_M,
    FLOSS_SOLID,
    GRAIN_VOID,
    GUARDS,
    NOZZLE_SHARE,
    RING_SURFACE_M2M3,
    RING_VOID,
    SPONGE_PPI,
    SPONGE_WALL_M,
    TAIL_SHARE,
    foam_surface_m2m3,
)
from optimizer.physics.guards import PASSIVE_APPROACH_MS
from optimizer.physics.media import grain_surface_m2m3
from optimizer.unit_table import AREA, LENGTH, SHARE, SPEED
from optimizer.units import show

__all__ = ["Grime", "grime_after", "sections_of"]

Facts = Mapping[str, Said]

SMALL = ("fry", "shrimp")

# figures and shares of what is usual: common practice, no published source
ANIMAL_OPENING = "1 mm"  # widest gap where fry and shrimp live
WEAK_TURNOVER = "5 per hour"  # most that weak swimmers are given
TAP_SHARE = 0.70  # passage of a coupling with a tap over the inside of its hose
HEAD_ROOM_M = 0.3  # from the foot of a canister up to the inlet of the pump in its head
TRAY_HEIGHT_M = 0.05  # height of the medium in a tray: 4 to 8 cm
FINEST_BIOLOGICAL_PPI = 30.0  # finer foam clogs and is thrown out too often to house bacteria
TURNOVER_1H = 3.0  # delivered turnover of the guess of dirt: two to four per hour is usual

FILM_SHARE = 0.1
"""Most of a bore that a film is taken to fill on each side: its law knows no narrow bores."""

STACK_SHARE = 0.7
"""Share of the solids that a usual stack keeps in one pass; it counts for the wall of a sponge only (prior of the authors)."""

_TAILS = f"bores of hose tails, three quarters of their hose; measure them, few figures count more ({PRACTICE})"
_TAPS = f"passages of taps, seven tenths of the hose ({PRACTICE})"
_GUARD = f"usual for such a guard ({PRACTICE})"
_GROWN = "dirt by the model, for the time since the last cleaning, 3 per hour and usual feeding"
_SHARED = "shared out evenly between the devices"
_DEVICE = f"loss of an inline device on its tails ({PRACTICE})"
_UNIONS = (
    "A union fits only what is made for it, and OWN stands for the shapes of your canister. Where the catalog sells couplings or "
    "pump heads for it, write the catalog's key in place of OWN (couplings.csv, pumps.csv): only then are they offered."
)
_NARROW = "Tails and taps are the narrow spots: the number on a hose is not the one that counts, the hole in its tail is."


def _mm(metres: float) -> str:
    return f"{metres * 1e3:.4g} mm"


_RINGS = f"{RING_SURFACE_M2M3:g} m2/m3"

MEDIA: Mapping[str, Mapping[str, Cell]] = {
    "empty": {"empty": True},
    "rings": {"form": "rings", "surface": _RINGS, "void": show(RING_VOID, SHARE), "area": _RINGS, "biological": True},
    "balls": {
        "form": "granules",
        "grain": _mm(BALL_M),
        "void": show(GRAIN_VOID, SHARE),
        "area": f"{float(grain_surface_m2m3(BALL_M, GRAIN_VOID)):.0f} m2/m3",
        "biological": True,
    },
    "carbon": {"form": "granules", "grain": "3 mm", "void": show(GRAIN_VOID, SHARE)},
    "floss": {"form": "fibre", "fibre": f"{FIBRE_M * 1e6:.3g} um", "solid": show(FLOSS_SOLID, SHARE), "mechanical": True},
}
"""Media by their names, with surfaces that count no pores inside the grains."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grime:
    """How dirty the loop is by now: films in m, the share of its speed that the pump lost, of the guard's openings that are shut,
    of each tray's pores that are full, and the cakes on a sponge guard and on each tray in m."""

    film_m: float = 0.0
    fouled: float = 0.0
    blocked: float = 0.0
    filled: tuple[float, ...] = ()
    guard_cake_m: float = 0.0
    cakes_m: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Union:
    """A maker's union between two parts: its word in a rig file up to the gender, the gender on the first part in the order of
    the water, and its bore."""

    word: str
    first: str
    bore: str

    @property
    def second(self) -> str:
        """The gender on the second part."""
        return "male" if self.first == "female" else "female"


def sections_of(facts: Facts, grime: Grime) -> tuple[Section, ...]:
    """Return the tables of the rig with these facts and this dirt, in the order of a rig file."""
    return tuple(_sections(facts, grime))


def _sections(facts: Facts, grime: Grime) -> Iterator[Section]:
    yield Section(name="", lines=(_said_line("name", facts["name"], (RIG_NAME,)),))
    yield Section(name="tank", lines=tuple(_tank(facts)))
    site = (_said_line("mains", facts["mains"], SITE), _open_line("listening_distance", SITE), _open_line("cabinet", SITE))
    yield Section(name="site", lines=site)
    about = "What is fed sets the least surface for bacteria. Take the # away here and write what you feed."
    yield Section(name="feeding", lines=(_open_line("feed", FEEDING), _open_line("protein", FEEDING)), about=about, open=True)
    yield Section(name="limits", lines=tuple(_limits(facts)), about="What must hold. A line behind # asks for nothing.")
    yield _wish(facts)
    yield from (_fixed(section, facts["stays"]) for section in _loop(facts, grime))
    yield from _fill(facts)


def _fixed(section: Section, stays: Said) -> Section:
    """A place, with the mark that it must not be changed where that was said; a hose cut by devices is meant as a whole."""
    named = stays.value if isinstance(stays.value, tuple) else ()
    places = [f"loop.{place}" for each in named for place in each]
    if not any(section.name == place or section.name.startswith(f"{place}_") for place in places):
        return section
    word = str(section.lines[0].value)
    return replace(section, lines=(*section.lines, _line(word, "stays", True)))


def _fill(facts: Facts) -> Iterator[Section]:
    """The bucket test; where none was made, how one is written down."""
    volume, seconds = facts["fill_volume"], facts["fill_seconds"]
    timed = volume.value is not None
    said = (("volume", volume.text), ("seconds", seconds.text))
    about = "A bucket timed under the outlet: with it, answers go by the loop as it is."
    if timed:
        lines = tuple(Line(key=key, value=text, means=_meaning(FILL, key)) for key, text in said)
        lines = tuple(replace(line, assumed=each.assumed) for line, each in zip(lines, (volume, seconds), strict=True))
    else:
        lines = tuple(_open_line(key, FILL) for key, _ in said)
    yield Section(name="[fill]", lines=lines, about=about, open=not timed)


def _tank(facts: Facts) -> Iterator[Line]:
    for key in ("volume", "net_volume", "temperature"):
        yield _said_line(key, facts[key], TANK)
    water = facts["water"]
    yield Line(key="salinity", value=f"{water.number:g} g/kg", means=_meaning(TANK, "salinity"), assumed=water.assumed)


def _limits(facts: Facts) -> Iterator[Line]:
    for key in ("budget", "noise"):
        said = facts[key]
        yield _unbound(key, said.assumed) if said.value is None else _said_line(key, said, LIMITS)
    animals = facts["animals"].value
    there = animals if isinstance(animals, tuple) else ()
    for key, value, whom, why in (
        ("guard_opening", ANIMAL_OPENING, SMALL, f"for fry and shrimp ({PRACTICE})"),
        ("guard_speed", show(PASSIVE_APPROACH_MS, SPEED, "cm/s", 2), ANIMALS, "for small fish at pump intakes (NMFS criteria)"),
        ("turnover_max", WEAK_TURNOVER, ANIMALS, f"for weak swimmers ({PRACTICE})"),
    ):
        if set(whom).intersection(there):
            yield Line(key=key, value=value, means=_meaning(LIMITS, key), assumed=why)
        else:
            yield _unbound(key, facts["animals"].assumed)
    yield _open_line("turnover_min", LIMITS)


def _unbound(key: str, assumed: str) -> Line:
    """A limit that is none, and why when nobody said so."""
    return replace(_open_line(key, LIMITS), assumed=assumed)


def _wish(facts: Facts) -> Section:
    about = "What is wanted: fullbore cheapest finds the least money for it."
    wish = facts["wish"].value
    if not isinstance(wish, tuple):
        line = replace(_open_line("turnover", WISH), assumed=facts["wish"].assumed)
        return Section(name="wish", lines=(line,), about=about, open=True)
    key = str(wish[0])
    return Section(name="wish", lines=(Line(key=key, value=facts["wish"].text, means=_meaning(WISH, key)),), about=about)


# -- lines ---------------------------------------------------------------------------------------------------------


def _meaning(fields: Collection[Field], key: str) -> str:
    """What a key means, in the words of the reference of keys."""
    return next(field.meaning for field in fields if field.name == key)


def _open_line(key: str, fields: Collection[Field]) -> Line:
    """A key that is left out, written as a comment with the example of the reference."""
    field = next(field for field in fields if field.name == key)
    return Line(key=key, value=field.example, means=field.meaning, open=True)


def _said_line(key: str, said: Said, fields: Collection[Field]) -> Line:
    """A key with what was said or assumed, written as a comment where it is left to the reader of the file."""
    if not said.text:
        return _open_line(key, fields)
    return Line(key=key, value=said.text, means=_meaning(fields, key), assumed=said.assumed)


def _line(word: str, key: str, value: Value, assumed: str = "") -> Line:
    fields = (KIND, *PLACE[kind_of_word(word)], *PART_KINDS[kind_of_word(word)].fields)
    return Line(key=key, value=value, means=_meaning(fields, key), assumed=assumed)


def _place(name: str, word: str, lines: Iterator[Line], about: str = "", assumed: tuple[str, ...] = ()) -> Section:
    return Section(name=f"loop.{name}", lines=(Line(key="kind", value=word), *lines), about=about, assumed=assumed)


def _tail(word: str, side: str, inside_m: float) -> Iterator[Line]:
    yield _line(word, side, f"tail {_mm(inside_m)}")
    yield _line(word, f"{side}_bore", _mm(TAIL_SHARE * inside_m), _TAILS)


# -- the loop ------------------------------------------------------------------------------------------------------


def _loop(facts: Facts, grime: Grime) -> Iterator[Section]:
    """Yield the tables of the loop from the guard to the outlet."""
    suction, back = _inside(facts, "suction"), _inside(facts, "return")
    into, neck, out = _unions(facts, suction, back)
    yield _place("intake", "guard", _guard(facts, suction, grime), "The loop, in the order the water takes.")
    yield _place("suction_hose", "hose", _hose(facts, "suction", grime, (1, 1)))
    yield _place("in_coupling", "coupling", _coupling(facts, suction, into, grime, at_inlet=True), _NARROW)
    about = "" if isinstance(facts["pump"].value, Pump) else _UNIONS
    yield _place("canister", "canister", _canister(facts, grime, into, neck), about)
    yield _place("pump", "pump", _pump(facts, grime, neck, out))
    yield _place("out_coupling", "coupling", _coupling(facts, back, out, grime, at_inlet=False))
    devices = facts["devices"].value
    held = devices if isinstance(devices, tuple) else ()
    bare = ("no device hangs in it, as in most loops",) if facts["devices"].assumed else ()
    name = "return_hose_1" if held else "return_hose"
    yield _place(name, "hose", _hose(facts, "return", grime, (1, len(held) + 1)), assumed=bare)
    for number, device in enumerate(held, start=2):
        purpose = (device.purpose or "device") if isinstance(device, Device) else str(device)
        yield _place(f"{purpose.replace(' ', '_')}_{number - 1}", "device", _device(device, back))
        yield _place(f"return_hose_{number}", "hose", _hose(facts, "return", grime, (number, len(held) + 1)))
    yield _place("outlet", "outlet", _outlet(facts, back))


def _inside(facts: Facts, side: str) -> float:
    size = facts[f"{side}_size"].value
    if not isinstance(size, tuple):
        raise TypeError("the size of a hose is a pair of diameters")
    return float(size[0])


def _unions(facts: Facts, suction: float, back: float) -> tuple[Union, Union, Union]:
    """The unions of inlet coupling and canister, canister and pump, pump and outlet coupling."""
    pump = facts["pump"].value
    if isinstance(pump, Pump):
        neck, out = pump.inlet, pump.outlet
        from_pump = Union(word=f"union {out.key}", first=out.gender.value, bore=_mm(out.bore_m))
        head = Union(word=f"union {neck.key}", first=neck.gender.value, bore=_mm(neck.bore_m))
        return replace(from_pump, first=from_pump.second), replace(head, first=head.second), from_pump
    return (
        Union(word="union OWN", first="male", bore=_mm(TAIL_SHARE * suction)),
        Union(word="union OWN-HEAD", first="female", bore=_mm(TAIL_SHARE * max(suction, back))),
        Union(word="union OWN", first="female", bore=_mm(TAIL_SHARE * back)),
    )


def _guard(facts: Facts, inside: float, grime: Grime) -> Iterator[Line]:
    said = facts["guard"]
    screen = said.value if isinstance(said.value, Screen) else Screen(form="slots")
    share, gap, faces = GUARDS[screen.form]
    yield _line("guard", "form", screen.form, said.assumed)
    yield _line("guard", "face_area", show(faces * inside**2, AREA, "cm2", 2), _GUARD)
    yield _line("guard", "open", show(share, SHARE), _GUARD)
    if screen.form == "sponge":
        # the gap of a sponge is its pore: 25.4 mm over the pores in an inch
        found = screen.pores_ppi or SPONGE_PPI
        yield _line("guard", "opening", _mm(0.0254 / found), "a pore of the sponge")
        yield _line("guard", "pores", f"{found:g} ppi", "" if screen.pores_ppi else said.assumed or _GUARD)
        yield _line("guard", "thickness", _mm(SPONGE_WALL_M), _GUARD)
    else:
        yield _line("guard", "opening", _mm(screen.opening_m or gap), said.assumed if screen.opening_m else _GUARD)
    yield from _tail("guard", "outlet", inside)
    if grime.blocked:
        yield _line("guard", "blocked", show(grime.blocked, SHARE, digits=2), _GROWN)
    if grime.guard_cake_m and screen.form == "sponge":
        yield _line("guard", "cake", show(grime.guard_cake_m, LENGTH, "mm", 2), _GROWN)


def _hose(facts: Facts, side: str, grime: Grime, run: tuple[int, int]) -> Iterator[Line]:
    """One of the equal runs of a hose, ``run`` its number and how many there are; the first has the bends that are left over."""
    number, runs = run
    size, length, bends = (facts[f"{side}_{key}"] for key in ("size", "length", "bends"))
    inside = _inside(facts, side)
    outside = size.value[1] if isinstance(size.value, tuple) else 0.0
    if outside:
        yield _line("hose", "size", size.text, size.assumed)
    else:
        yield _line("hose", "inside", size.text, size.assumed)
        yield _line(
            "hose", "outside", f"{hose_outside_m(inside) * 1e3:.3g} mm", f"usual for this inside; clamps go by it ({PRACTICE})"
        )
    if runs == 1:
        yield _line("hose", "length", length.text, length.assumed)
    else:
        yield _line("hose", "length", show(length.number / runs, LENGTH), length.assumed or _SHARED)
    each, rest = divmod(int(bends.number), runs)
    yield _line("hose", "bends", each + (rest if number == 1 else 0), bends.assumed)
    yield from _film("hose", inside, grime)


def _film(word: str, bore: float, grime: Grime) -> Iterator[Line]:
    film = min(grime.film_m, FILM_SHARE * bore)
    if film > 1e-6:
        yield _line(word, "film", show(film, LENGTH, "mm", 1), _GROWN)


def _coupling(facts: Facts, inside: float, union: Union, grime: Grime, *, at_inlet: bool) -> Iterator[Line]:
    """A coupling between a hose and the canister; its union is its second end at the inlet, its first at the outlet."""
    taps = facts["taps"]
    if at_inlet:
        yield from _tail("coupling", "inlet", inside)
    side, gender = ("outlet", union.first) if at_inlet else ("inlet", union.second)
    yield _line("coupling", side, f"{union.word} {gender}")
    yield _line("coupling", f"{side}_bore", union.bore, _TAILS)
    if not at_inlet:
        yield from _tail("coupling", "outlet", inside)
    if taps.value:
        passage = min(TAP_SHARE * inside, float(union.bore.split()[0]) * 1e-3)
        yield _line("coupling", "shape", "ball valve", taps.assumed)
        yield _line("coupling", "passage", _mm(passage), _TAPS)
        yield _line("coupling", "throttles", True, taps.assumed)
    yield from _film("coupling", TAP_SHARE * inside, grime)


def _canister(facts: Facts, grime: Grime, into: Union, neck: Union) -> Iterator[Line]:
    own = "" if isinstance(facts["pump"].value, Pump) else _TAILS
    yield _line("canister", "inlet", f"{into.word} {into.second}")
    yield _line("canister", "inlet_bore", into.bore, own)
    yield _line("canister", "outlet", f"{neck.word} {neck.first}")
    yield _line("canister", "outlet_bore", neck.bore, own)
    volume, depth, trays = facts["media_volume"], facts["depth"], facts["trays"]
    held = trays.value if isinstance(trays.value, tuple) else ()
    area = volume.number / len(held) / TRAY_HEIGHT_M
    shared = "the litres of media shared out evenly between the trays"
    yield _line("canister", "tray_area", show(area, AREA, "cm2", 3), volume.assumed or shared)
    yield _line("canister", "tray_height", _mm(TRAY_HEIGHT_M), f"usual for a tray ({PRACTICE})")
    yield _line("canister", "depth", depth.text, depth.assumed)
    tables: list[Mapping[str, Cell]] = []
    for number, medium in enumerate(held):
        table = dict(_tray_table(medium))
        dirty = number < len(grime.filled) and grime.filled[number] and "empty" not in table
        tables.append(table | _dirt_of_tray(grime, number) if dirty else table)
    yield _line("canister", "trays", tables, trays.assumed or "figures of the media, by their names" if _described(held) else "")


def _dirt_of_tray(grime: Grime, number: int) -> dict[str, Cell]:
    return {
        "filled": show(grime.filled[number], SHARE, digits=2),
        "cake": show(grime.cakes_m[number], LENGTH, "mm", 2),
    }


def _described(media: tuple[object, ...]) -> bool:
    return any(isinstance(medium, str) and medium != "empty" for medium in media)


def _pump(facts: Facts, grime: Grime, neck: Union, out: Union) -> Iterator[Line]:
    pump = facts["pump"]
    if isinstance(pump.value, Pump):
        yield _line("pump", "part", pump.value.id)
    else:
        yield _line("pump", "max_flow", pump.text, pump.assumed)
        yield _line("pump", "max_head", facts["pump_head"].text, facts["pump_head"].assumed)
        yield _line("pump", "power", facts["pump_power"].text, facts["pump_power"].assumed)
        yield _line("pump", "noise", pump_noise(facts), f"usual for a pump of this flow ({PRACTICE})")
        yield _line("pump", "label_hz", facts["mains"].text or "50 Hz", "the label is that of your mains")
        yield _line("pump", "inlet", f"{neck.word} {neck.second}")
        yield _line("pump", "inlet_bore", neck.bore, _TAILS)
        yield _line("pump", "outlet", f"{out.word} {out.first}")
        yield _line("pump", "outlet_bore", out.bore, _TAILS)
    depth = max(facts["depth"].number - HEAD_ROOM_M, 0.0)
    yield _line("pump", "depth", f"{depth * 1e2:.4g} cm", f"30 cm above the foot of the canister ({PRACTICE})")
    if grime.fouled:
        yield _line("pump", "fouled", show(grime.fouled, SHARE, digits=2), _GROWN)


def _device(device: object, inside: float) -> Iterator[Line]:
    if isinstance(device, Device):
        yield _line("device", "part", device.id)
        return
    yield _line("device", "purpose", str(device))
    yield from _tail("device", "inlet", inside)
    yield from _tail("device", "outlet", inside)
    yield _line("device", "k", f"{DEVICE_K:g}", _DEVICE)
    yield _open_line("window", PART_KINDS["device"].fields)


def _outlet(facts: Facts, inside: float) -> Iterator[Line]:
    said, height = facts["outlet"], facts["height"]
    row = said.value if isinstance(said.value, HoleRow) else HoleRow(form="open")
    yield _line("outlet", "form", row.form, said.assumed)
    yield from _tail("outlet", "inlet", inside)
    bare = f"usual for such an outlet ({PRACTICE})"
    if row.form == "bar":
        yield _line("outlet", "holes", row.holes or BAR_HOLES, said.assumed if row.holes else bare)
        yield _line("outlet", "hole", _mm(row.hole_m or BAR_HOLE_M), said.assumed if row.hole_m else bare)
        yield _line("outlet", "bar_bore", _mm(inside), "the bar is as wide as its hose")
        yield _line("outlet", "pitch", _mm(BAR_PITCH_M), bare)
    else:
        usual = NOZZLE_SHARE if row.form == "nozzle" else TAIL_SHARE
        yield _line("outlet", "hole", _mm(row.hole_m or usual * inside), "" if row.hole_m else bare)
    if not height.text:
        yield _open_line("above_water", PLACE["outlet"])
        return
    key = "above_water" if height.number >= 0.0 else "below_water"
    yield _line("outlet", key, show(abs(height.number), LENGTH, digits=4), height.assumed)


def _tray_table(medium: object) -> Mapping[str, Cell]:
    """Return the keys of a tray with a medium of the catalog, or with one of the words that an interview knows."""
    if isinstance(medium, Medium):
        return {"medium": medium.id}
    word = str(medium)
    if not word.startswith("foam "):
        return MEDIA[word] if word == "empty" else {"name": word, **MEDIA[word]}
    pores = float(word.split()[1])
    table: dict[str, Cell] = {"name": word, "form": "foam", "pores": f"{pores:g} ppi"}
    table["area"] = f"{foam_surface_m2m3(pores):.0f} m2/m3"
    return {**table, "mechanical": True, "biological": pores <= FINEST_BIOLOGICAL_PPI}


# -- dirt ----------------------------------------------------------------------------------------------------------


def grime_after(rig: Rig, days: float) -> Grime:
    """Return the dirt of a series loop that was clean ``days`` ago, at a fixed turnover, by the model of `optimizer.dirt.after`.

    What is fed is taken by the size of the tank, as `optimizer.dirt.daily` does. Raises TypeError without a guard at the start.
    """
    if days <= 0.0:
        return Grime()
    guard = rig.positions[0].installed
    if not isinstance(guard, Guard):
        raise TypeError("the loop of an interview starts with a guard")
    daily = daily_of(rig)
    arrival = Arrival(
        solids_kg_day=daily.solids_kg_day,
        debris_kg_day=daily.debris_kg_day,
        turnover_1h=TURNOVER_1H,
        stack_share=STACK_SHARE,
        opening_m=guard.opening_m,
    )
    dirty = state_after(guard, State(), days, arrival)
    trays = trays_after(rig.canister, rig.trays, days, arrival)
    return Grime(
        film_m=float(film_after_m(0.0, days, USUAL)),
        fouled=float(fouled_after(0.0, days, USUAL)),
        blocked=dirty.blocked,
        filled=tuple(state.filled for state in trays),
        guard_cake_m=dirty.cake_m,
        cakes_m=tuple(state.cake_m for state in trays),
    )
