"""The places of a loop in the order of the water, each with the part it holds."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from optimizer.errors import BadValue, quoted
from optimizer.files.cell_text import checked_id
from optimizer.files.draft import Draft
from optimizer.files.rig_adjusts import SINK, mouth_height, read_adjusts
from optimizer.files.rig_fields import KIND, PLACE, kind_of_word
from optimizer.files.rig_parts import look_up, own_fields, own_part
from optimizer.files.rig_trays import read_trays
from optimizer.files.toml_keys import Report, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Fitting, Hose, Kind, Outlet, Part
from optimizer.model.rig import Adjust, Position, Tray
from optimizer.model.state import State

__all__ = ["Loop", "read_loop"]

MOST_PLACES = 100
ORDER = "A loop runs from a guard through canister and pump to an outlet."


@dataclass(slots=True)
class Loop:
    """Positions and trays read so far, and the kind of each place (empty when it could not be read)."""

    positions: list[Position] = field(default_factory=list)
    trays: tuple[Tray, ...] = ()
    kinds: dict[str, str] = field(default_factory=dict)


def read_loop(raw: object, catalog: Catalog, report: Report) -> Loop:
    """Return the loop in the table [loop]; what is wrong goes to `report`, and the places it concerns are left out.

    >>> report = Report()
    >>> read_loop({}, Catalog(parts={}, products=()), report).positions
    []
    >>> [problem.what for problem in report.problems]
    ['the loop is empty.']
    """
    loop = Loop()
    if not isinstance(raw, dict) or not raw or len(raw) > MOST_PLACES:
        what = "the loop is empty." if raw == {} else f"this is not a table of 1 to {MOST_PLACES} places."
        report.problem("loop", what, f"{ORDER} Begin with [loop.intake].")
        return loop
    for name, table in raw.items():
        where = f"loop.{name}"
        loop.kinds[name] = ""
        try:
            checked_id(name)
        except BadValue as error:
            report.problem(where, error.what, 'Name the place with one word, for example "return_hose".')
            continue
        if not isinstance(table, dict):
            report.problem(where, "this is not a table.", f'Write [{where}] and below it kind = "hose".')
            continue
        _read_place(name, table, catalog, report, loop)
    _check_order(loop.kinds, report)
    return loop


def _read_place(name: str, table: dict[str, object], catalog: Catalog, report: Report, loop: Loop) -> None:
    where = f"loop.{name}"
    first = read_keys(table, (KIND,), where, report, known=tuple(table))
    if not first.has("kind"):
        return
    word = first.text("kind")
    kind = kind_of_word(word)
    loop.kinds[name] = kind
    if kind == Kind.FITTING and table.get("installed") is False:
        position = _open_place(name, word, table, report)
    else:
        position = _held_place(name, word, table, catalog, report, loop)
    if position is not None:
        loop.positions.append(position)


def _open_place(name: str, word: str, table: dict[str, object], report: Report) -> Position | None:
    """Return a place where a fitting may be added; nothing about a part can stand there."""
    draft = read_keys(
        table,
        [f for f in PLACE[Kind.FITTING] if f.name == "installed"],
        f"loop.{name}",
        report,
        known=("kind",),
    )
    unknown = set(table) - {"kind", "installed"}
    return None if draft.failed or unknown else Position(name=name, kind=Kind.FITTING, installed=None, role=word)


def _held_place(name: str, word: str, table: dict[str, object], catalog: Catalog, report: Report, loop: Loop) -> Position | None:
    where, kind = f"loop.{name}", kind_of_word(word)
    by_id = "part" in table and kind != Kind.CANISTER
    own = own_fields(kind, table, demand=not by_id)
    draft = read_keys(table, (*PLACE[kind], *own), where, report, known=("kind",))
    if by_id:
        for key in sorted({"name", *(field.name for field in own)}.intersection(table)):
            draft.fault(key, "describes a part that is named already.", "Keep part, or the part's own keys.")
    trays = _trays(draft, where, catalog, report) if kind == Kind.CANISTER else ()
    part = look_up(draft, "part", catalog, word) if by_id else own_part(word, kind, f"installed:{name}", draft)
    position = _position(name, word, part, draft, report)
    if kind == Kind.CANISTER and position is not None and not loop.trays:
        loop.trays = trays
    return position


def _trays(draft: Draft, where: str, catalog: Catalog, report: Report) -> tuple[Tray, ...]:
    tables = draft.values["trays"]
    if not isinstance(tables, list):
        return ()
    trays = read_trays(tables, f"{where}.trays", catalog, report)
    if not trays or len(trays) != len(tables):
        draft.bad.add("trays")
    draft.values = {**draft.values, "trays": float(len(trays))}
    return trays


def _position(name: str, word: str, part: Part | None, draft: Draft, report: Report) -> Position | None:
    """Return the place around its part, or None when anything about it is wrong."""
    if draft.flag("stays") and draft.flag("may_go"):
        draft.fault("may_go", "a place that stays cannot be left out.", "Keep one of the two.")
    _check_film(part, draft)
    kind = kind_of_word(word)
    height, adjusts = _outlet_place(part, draft, report) if kind == Kind.OUTLET else (0.0, ())
    if kind == Kind.PUMP and not draft.written("depth"):
        report.note(f"{draft.place('depth')}: not given, the pump is taken to stand at the water line")
    if part is None or draft.failed:
        return None
    return Position(
        name=name,
        kind=kind,
        installed=part,
        role=word if kind == Kind.FITTING else "",
        state=_state(draft),
        length_m=draft.number_or("length", 0.0),
        bends=int(draft.number_or("bends", 0.0)),
        bend_radius_m=draft.number_or("bend_radius", 0.1),
        coil_m=draft.number_or("coil", math.inf),
        height_m=height,
        depth_m=draft.number_or("depth", 0.0),
        stays=draft.flag("stays"),
        may_go=draft.flag("may_go"),
        adjusts=adjusts,
    )


def _state(draft: Draft) -> State:
    return State(
        blocked=draft.number_or("blocked", 0.0),
        film_m=draft.number_or("film", 0.0),
        fouled=draft.number_or("fouled", 0.0),
        worn=draft.number_or("worn", 0.0),
    )


def _check_film(part: Part | None, draft: Draft) -> None:
    bore = part.inside_m if isinstance(part, Hose) else part.passage_m if isinstance(part, Fitting) else math.inf
    if 2.0 * draft.number_or("film", 0.0) >= bore:
        draft.fault(
            "film",
            f"the film fills the bore of {bore * 1e3:.4g} mm.",
            'Write its thickness, for example "0.5 mm".',
        )


def _outlet_place(part: Part | None, draft: Draft, report: Report) -> tuple[float, tuple[Adjust, ...]]:
    """Return the height of the mouth and what may be done to the outlet; above the water line it may be sunk."""
    height = mouth_height(draft)
    tables = draft.values["adjust"]
    where = draft.place("adjust")
    adjusts: tuple[Adjust, ...] = ()
    if isinstance(tables, list):
        adjusts = read_adjusts(tables, where, part if isinstance(part, Outlet) else None, report)
        if len(adjusts) != len(tables):
            draft.bad.add("adjust")
    elif height is not None and height > 0.0 and not draft.flag("stays"):
        adjusts = (SINK,)
    if height is None:
        report.note(f"{draft.place('above_water')}: not given, the outlet is taken to be at the water line")
    return height or 0.0, adjusts


def _check_order(kinds: dict[str, str], report: Report) -> None:
    """Take in a loop that does not start and end right or lacks or repeats what it must hold once."""
    if not all(kinds.values()):
        return  # a place of unknown kind may be the very one that seems to be missing
    names = list(kinds)
    for place, kind, verb in ((0, Kind.GUARD, "start"), (-1, Kind.OUTLET, "end")):
        if kinds[names[place]] != kind and kind in kinds.values():
            what = f"the loop {verb}s with a {kinds[names[place]]}, not with a {kind}."
            report.problem(f"loop.{names[place]}", what, f"{ORDER} Put the tables in the order of the water.")
    for kind in (Kind.GUARD, Kind.CANISTER, Kind.PUMP, Kind.OUTLET):
        found = [name for name in names if kinds[name] == kind]
        if not found:
            report.problem("loop", f"the loop has no {kind}.", f'Add a place with kind = "{kind}".')
        elif len(found) > 1:
            what = f"the loop has {len(found)} places with kind {quoted(kind)}: {', '.join(found)}."
            report.problem("loop", what, "Keep one of them.")
