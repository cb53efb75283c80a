"""One place of a loop or of a branch: the part it holds, how dirty it is, how the water runs there, trays and adjustments."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from optimizer.errors import BadValue
from optimizer.files.cell_text import checked_id
from optimizer.files.draft import Draft
from optimizer.files.field import Field
from optimizer.files.part_checks import check_hole
from optimizer.files.part_kinds import PART_KINDS, PLACE
from optimizer.files.rig_parts import look_up, named_or_own, note_assumed, own_fields, own_part
from optimizer.files.toml_fields import ADJUST, OPEN_PLACE, TRAY, kind_of_word
from optimizer.files.toml_keys import Report, read_keys
from optimizer.loop.kinds import parts_of
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Canister, Fitting, Guard, Hose, Kind, Medium, Outlet, Part
from optimizer.model.rig import Adjust, Position, Tray
from optimizer.model.said import Note, length
from optimizer.model.state import State

__all__ = ["MOST_TRAYS", "Spot", "all_spots", "mouth_height", "read_absent", "read_held", "read_word", "sound_table"]

MOST_TRAYS = 12

SINK = Adjust(name="sink below the water line", height_m=-0.02)
"""What costs nothing and is always possible: 2 cm deep, so that ripples do not bare the mouth (common practice)."""

LEAST_CAKE_M = 5e-5
"""A thinner one rounds to nothing."""

_CHANGES = ("hole", "holes", "discharge", "pitch")
Trays = tuple[Tray, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A place as far as it could be read: its name in the rig, where it is written, its kind (empty: not known)."""

    name: str
    where: str
    kind: str = ""
    branches: tuple[tuple[Spot, ...], ...] = ()


def all_spots(spots: Iterable[Spot]) -> Iterator[Spot]:
    """Yield each place and, behind it, those in its branches.

    >>> inner = Spot(name="left.tap", where="loop.pair.left.tap")
    >>> [spot.name for spot in all_spots([Spot(name="pair", where="loop.pair", branches=((inner,), ()))])]
    ['pair', 'left.tap']
    """
    for spot in spots:
        yield spot
        for branch in spot.branches:
            yield from all_spots(branch)


def sound_table(name: str, table: object, where: str, what: str, report: Report) -> bool:
    """True when a `what` ("place", "branch") has a usable name and is a table; otherwise the reason goes to `report`.

    >>> sound_table("hose", 3, "loop.hose", "place", Report())
    False
    """
    example = "return_hose" if what == "place" else "left"
    try:
        checked_id(name)
    except BadValue as error:
        report.problem(where, error.what, f'Name the {what} with one word, for example "{example}".')
        return False
    if not isinstance(table, dict):
        report.problem(where, "this is not a table.", f'Write [{where}] and below it kind = "hose".')
        return False
    return True


def read_word(table: dict[str, object], field: Field, where: str, report: Report) -> str:
    """Return the word behind the key `field` ("kind") of a place, empty once the reason went to `report`.

    >>> from optimizer.files.toml_fields import KIND
    >>> read_word({"kind": "valve"}, KIND, "loop.tap", Report())
    'valve'
    """
    first = read_keys(table, (field,), where, report, known=tuple(table))
    return first.text_or(field.name, "")


def read_held(
    name: str, word: str, table: dict[str, object], where: str, catalog: Catalog, report: Report
) -> tuple[Position | None, Trays]:
    """Return the place `name` of kind `word` with its part, None when anything about it is wrong, and its trays.

    A place for a fitting may say that nothing is installed.

    >>> read_held("tap", "valve", {"installed": False}, "loop.tap", Catalog(parts={}, products=()), Report())[0].role
    'valve'
    """
    kind = kind_of_word(word)
    if kind == Kind.FITTING and table.get("installed") is False:
        return _open_fitting(name, word, table, where, report), ()
    own = own_fields(kind, table, demand="part" not in table or kind == Kind.CANISTER)
    draft = read_keys(table, (*PLACE[kind], *own), where, report, known=("kind",))
    trays = _trays(draft, where, catalog, report) if kind == Kind.CANISTER else ()
    part = named_or_own(word, f"installed:{name}", table, own, draft, catalog)
    note_assumed(part, where, report)
    for body in parts_of([part], Canister):
        trays = _with_usual_cakes(trays, body, table["trays"], where, report)
    if draft.flag("turned"):
        part = _turned(part, table, draft)
    return _position(name, word, part, draft, report), trays


def read_absent(name: str, word: str, table: dict[str, object], where: str, report: Report) -> Position | None:
    """Return the place `name` of kind `word` in a branch that is not there, None when anything about it is wrong.

    Such a place has a kind and the way of the water, but no part, state or adjustment.

    >>> read_absent("left.run", "hose", {"length": "1.2 m"}, "loop.pair.left.run", Report()).installed is None
    True
    """
    kind = kind_of_word(word)
    fields = OPEN_PLACE[kind]
    keys = [field.name for field in fields]
    held = {field.name for field in (*PLACE[kind], *PART_KINDS[kind].fields)}.difference(keys).intersection(table)
    draft = read_keys(table, fields, where, report, known=("kind", *held))
    listed = " and ".join(filter(None, (", ".join(["kind", *keys[:-1]]), *keys[-1:])))
    for key in sorted(held):
        draft.fault(key, "tells of a part, but this branch is not there.", f"Keep only {listed} here.")
    height = _height(draft, report) if kind == Kind.OUTLET else 0.0
    unknown = set(table).difference(keys, held, ("kind",))
    return None if draft.failed or unknown else _built(name, word, None, draft, State(), height)


def _open_fitting(name: str, word: str, table: dict[str, object], where: str, report: Report) -> Position | None:
    """Return a place where a fitting may be added; nothing about a part can stand there."""
    fields = [field for field in PLACE[Kind.FITTING] if field.name == "installed"]
    draft = read_keys(table, fields, where, report, known=("kind",))
    unknown = set(table) - {"kind", "installed"}
    return None if draft.failed or unknown else Position(name=name, kind=Kind.FITTING, installed=None, role=word)


def _turned(part: Part | None, table: dict[str, object], draft: Draft) -> Part | None:
    """Return a fitting of the catalog the other way round; it stays the same product."""
    if "part" not in table:
        draft.fault("turned", "turns a part that is described here.", "Swap its inlet and its outlet instead.")
    return replace(part, inlet=part.outlet, outlet=part.inlet) if isinstance(part, Fitting) else part


def _trays(draft: Draft, where: str, catalog: Catalog, report: Report) -> Trays:
    """Return the trays that could be read; what is wrong with the others, or with their number, goes to `report`."""
    tables = draft.values["trays"]
    if not isinstance(tables, list):
        return ()
    if 1 <= len(tables) <= MOST_TRAYS:
        read = [_tray(table, f"{where}.trays[{n}]", catalog, report) for n, table in enumerate(tables, start=1)]
        trays = tuple(tray for tray in read if tray is not None)
    else:
        what = f"a canister has 1 to {MOST_TRAYS} trays, not {len(tables)}."
        report.problem(f"{where}.trays", what, 'Write for example trays = [ {medium = "FOAM-20"}, {empty = true} ].')
        trays = ()
    if not trays or len(trays) != len(tables):
        draft.bad.add("trays")
    draft.values = {**draft.values, "trays": float(len(trays))}
    return trays


def _tray(table: dict[str, object], where: str, catalog: Catalog, report: Report) -> Tray | None:
    by_id, empty = "medium" in table, table.get("empty") is True
    own = own_fields(Kind.MEDIUM, table, demand=not by_id and not empty)
    names = {field.name for field in own}
    described = sorted(names.intersection(table))
    if not described and not by_id and not empty:
        # an empty table must not be answered with every key a medium could have
        read_keys(table, TRAY, where, report, known=names)
        report.problem(where, "does not say what the tray holds.", 'Write {medium = "FOAM-20"} or {empty = true}.')
        return None
    if empty + by_id + bool(described) > 1:
        report.problem(where, "says in more than one way what the tray holds.", "Keep medium, empty or the medium's own keys.")
        return None
    draft = read_keys(table, (*TRAY, *own), where, report)
    if draft.flag("empty"):
        return None if draft.failed else Tray(medium=None)
    if "medium" in table:
        medium = look_up(draft, "medium", catalog, Kind.MEDIUM)
    else:
        medium = own_part(Kind.MEDIUM, Kind.MEDIUM, f"installed:{where.removeprefix('loop.')}", draft)
    if draft.failed or not isinstance(medium, Medium):
        return None
    note_assumed(medium, where, report)
    return Tray(medium=medium, state=State(filled=draft.number("filled"), cake_m=draft.number_or("cake", 0.0)))


def _with_usual_cakes(trays: Trays, body: Canister, tables: object, where: str, report: Report) -> Trays:
    """Return trays of which a share is filled with the cake that usually comes with that, where none is written."""
    written = tables if isinstance(tables, list) and len(tables) == len(trays) else []
    each = enumerate(zip(trays, written, strict=False))
    without = [n for n, (tray, table) in each if tray.state.filled and "cake" not in table]
    if not without:
        return trays
    from optimizer.dirt.laws import USUAL
    from optimizer.dirt.layers import tray_layer, usual_cake_m  # a clean filter needs no dirt

    made = list(trays)
    for n in without:
        state, usual = trays[n].state, usual_cake_m(tray_layer(trays[n], body, USUAL), USUAL)
        made[n] = replace(trays[n], state=_caked(state, usual, f"{where}.trays[{n + 1}].cake", state.filled, report))
    return tuple(made)


def _guard_state(guard: Guard, draft: Draft, report: Report) -> State:
    """Return the state of a guard; a sponge whose pores are filled has the cake that usually comes with that."""
    state = draft.made(State)
    if guard.form != "sponge" or not state.blocked or draft.written("cake"):
        return state
    from optimizer.dirt.laws import USUAL
    from optimizer.dirt.layers import guard_layer, usual_cake_m  # a clean filter needs no dirt

    usual = usual_cake_m(guard_layer(guard, state, USUAL), USUAL)
    return _caked(state, usual, draft.place("cake"), state.blocked, report)


def _caked(state: State, usual_m: float, about: str, filled: float, report: Report) -> State:
    if usual_m < LEAST_CAKE_M:
        return state
    told = ("not given, taken as ", length(usual_m, f"{usual_m * 1e3:.1f} mm"))
    report.note(Note(about, *told, f": what comes with pores that are {filled * 100.0:.0f} % full (prior of the authors)"))
    return replace(state, cake_m=usual_m)


def _check_cake(part: Part | None, draft: Draft) -> None:
    if draft.number_or("cake", 0.0) > 0.0 and isinstance(part, Guard) and part.form != "sponge":
        draft.fault("cake", "a cake lies on a sponge; openings are blocked.", 'Write the share that is shut: blocked = "40 %".')


def _position(name: str, word: str, part: Part | None, draft: Draft, report: Report) -> Position | None:
    """Return the place around its part, or None when anything about it is wrong."""
    if draft.flag("stays") and draft.flag("may_go"):
        draft.fault("may_go", "a place that stays cannot be left out.", "Keep one of the two.")
    _check_film(part, draft)
    _check_cake(part, draft)
    kind = kind_of_word(word)
    height, adjusts = _outlet_place(part, draft, report) if kind == Kind.OUTLET else (0.0, ())
    _check_air_break(height, draft)
    if kind == Kind.PUMP and not draft.written("depth"):
        report.note(Note(draft.place("depth"), "not given, the pump is taken to stand at the water line"))
    if part is None or draft.failed:
        return None
    state = _guard_state(part, draft, report) if isinstance(part, Guard) else draft.made(State)
    return _built(name, word, part, draft, state, height, adjusts)


def _built(
    name: str, word: str, part: Part | None, draft: Draft, state: State, height_m: float, adjusts: tuple[Adjust, ...] = ()
) -> Position:
    kind = kind_of_word(word)
    return draft.made(
        Position,
        name=name,
        kind=kind,
        installed=part,
        role=word if kind == Kind.FITTING else "",
        state=state,
        height_m=height_m,
        depth_known=kind != Kind.PUMP or draft.written("depth"),
        height_known=kind != Kind.OUTLET or draft.written("above_water") or draft.written("below_water"),
        breaks_m=_breaks_m(kind, draft),
        adjusts=adjusts,
    )


def _breaks_m(kind: str, draft: Draft) -> float | None:
    """Return how far below the water line a siphon through the place breaks, None when nothing is written."""
    key = {Kind.GUARD: "depth", Kind.OUTLET: "air_break"}.get(kind, "")
    return draft.number(key) if key and draft.has(key) else None


def _check_air_break(height_m: float, draft: Draft) -> None:
    """Take in a hole that is no higher than the mouth: the mouth would let in air before it."""
    if draft.has("air_break") and draft.number("air_break") > max(-height_m, 0.0):
        mouth = f"{-height_m * 100:.3g} cm below" if height_m < 0.0 else "not below"
        what = f"the hole is lower than the mouth of the outlet, which is {mouth} the water line."
        draft.fault("air_break", what, "Measure both below the water line, or leave the hole out.")


def _check_film(part: Part | None, draft: Draft) -> None:
    bore = part.inside_m if isinstance(part, Hose) else part.passage_m if isinstance(part, Fitting) else math.inf
    if 2.0 * draft.number_or("film", 0.0) >= bore:
        draft.fault("film", f"the film fills the bore of {bore * 1e3:.4g} mm.", 'Write its thickness, for example "0.5 mm".')


def mouth_height(draft: Draft) -> float | None:
    """Return the height of the mouth in m above the water line (negative: below), None when nothing is written.

    >>> from optimizer.errors import Problems
    >>> mouth_height(Draft(values={"below_water": 0.02}, fields={}, place=str, problems=Problems()))
    -0.02
    """
    if draft.written("above_water") and draft.written("below_water"):
        draft.fault("above_water", "stands beside below_water.", "Keep one of the two.")
    if draft.has("above_water"):
        return draft.number("above_water")
    return -draft.number("below_water") if draft.has("below_water") else None


def _height(draft: Draft, report: Report) -> float:
    """Return the height of the mouth of an outlet in m; at the water line, and said so, when nothing is written."""
    height = mouth_height(draft)
    if height is None:
        report.note(Note(draft.place("above_water"), "not given, the outlet is taken to be at the water line"))
    return height or 0.0


def _outlet_place(part: Part | None, draft: Draft, report: Report) -> tuple[float, tuple[Adjust, ...]]:
    """Return the height of the mouth and what may be done to the outlet; above the water line it may be sunk."""
    height = _height(draft, report)
    tables = draft.values["adjust"]
    if not isinstance(tables, list):
        return height, (SINK,) if height > 0.0 and not draft.flag("stays") else ()
    installed = part if isinstance(part, Outlet) else None
    read = [_adjust(table, f"{draft.place('adjust')}[{n}]", n, installed, report) for n, table in enumerate(tables, start=1)]
    adjusts = tuple(adjust for adjust in read if adjust is not None)
    if len(adjusts) != len(tables):
        draft.bad.add("adjust")
    return height, adjusts


def _adjust(table: dict[str, object], where: str, number: int, installed: Outlet | None, report: Report) -> Adjust | None:
    # what is not written stays as it is: the defaults of a new outlet do not count here
    fields = [replace(field, default=None, required=False) if field.name in _CHANGES else field for field in ADJUST]
    draft = read_keys(table, fields, where, report)
    height = mouth_height(draft)
    drilled = [name for name in _CHANGES if draft.written(name)]
    if not drilled and not draft.written("above_water") and not draft.written("below_water"):
        report.problem(where, "does not say what changes.", 'Write for example below_water = "2 cm" or hole = "4.5 mm".')
        return None
    if installed is not None and installed.form != "bar" and draft.number_or("holes", 1.0) != 1.0:
        draft.fault("holes", "only a bar has more than one hole.", "Leave holes out.")
    if installed is not None and installed.form == "bar":
        check_hole(draft, installed.bar_bore_m)
    if draft.failed or installed is None:
        return None
    outlet = _drilled(installed, draft, number) if drilled else None
    return Adjust(name=draft.text("name"), price=draft.money("price"), outlet=outlet, height_m=height)


def _drilled(installed: Outlet, draft: Draft, number: int) -> Outlet:
    return replace(
        installed,
        id=f"{installed.id}:adjust {number}",
        name=f"{installed.name}, {draft.text('name')}",
        hole_m=draft.number_or("hole", installed.hole_m),
        holes=int(draft.number_or("holes", installed.holes)),
        discharge=draft.number_or("discharge", installed.discharge),
        pitch_m=draft.number_or("pitch", installed.pitch_m),
        assumed=tuple(name for name in installed.assumed if not draft.written(name)),
    )
