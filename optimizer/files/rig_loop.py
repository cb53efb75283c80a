"""The places of a loop in the order of the water, each with the part it holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from optimizer.errors import quoted
from optimizer.files.rig_branches import read_branches
from optimizer.files.rig_fields import KIND, kind_of_word
from optimizer.files.rig_heights import check_heights
from optimizer.files.rig_places import Spot, all_spots, read_held, read_word, sound_table
from optimizer.files.toml_keys import Report
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Kind
from optimizer.model.rig import Position, Tray

__all__ = ["Loop", "read_loop"]

MOST_PLACES = 100
ORDER = "A loop runs from a guard through canister and pump to an outlet."


@dataclass(slots=True)
class Loop:
    """Positions and trays read so far, and what stands at each place as far as it could be read."""

    positions: list[Position] = field(default_factory=list)
    trays: tuple[Tray, ...] = ()
    spots: list[Spot] = field(default_factory=list)


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
    for place, (name, table) in enumerate(raw.items()):
        spot = Spot(name=name, where=f"loop.{name}")
        if sound_table(name, table, spot.where, "place", report):
            ends = (place == 0, place == len(raw) - 1)
            spot = _read_place(spot, table, ends, catalog, report, loop)
        loop.spots.append(spot)
    _check_names(loop.spots, report)
    _check_order(loop.spots, report)
    check_heights(loop.positions, report)
    return loop


def _read_place(
    spot: Spot, table: dict[str, object], ends: tuple[bool, bool], catalog: Catalog, report: Report, loop: Loop
) -> Spot:
    """Take the place into the loop and return what stands there; `ends` tell whether it is the first and the last."""
    name, where = spot.name, spot.where
    word = read_word(table, KIND, where, report)
    if not word:
        return spot
    if word == Kind.BRANCHES:
        position, spot = read_branches(name, table, ends, catalog, report)
    else:
        position, trays = read_held(name, word, table, where, catalog, report)
        spot = Spot(name=name, where=where, kind=kind_of_word(word))
        loop.trays = loop.trays or (trays if position is not None else ())
    if position is not None:
        loop.positions.append(position)
    return spot


def _check_names(spots: Iterable[Spot], report: Report) -> None:
    """Take in places of one name; a place in a branch is called by the name of the branch and its own."""
    places: dict[str, str] = {}
    for spot in all_spots(spots):
        first = places.setdefault(spot.name, spot.where)
        if first != spot.where:
            what = f"{quoted(spot.name)} is what {first} is called already."
            report.problem(spot.where, what, "Give every branch of the rig a name of its own.")


def _check_order(spots: list[Spot], report: Report) -> None:
    """Take in a loop that does not start and end right or lacks or repeats what it must hold once."""
    known = list(all_spots(spots))
    if not all(spot.kind for spot in known):
        return  # a place of unknown kind may be the very one that seems to be missing
    for place, kind, verb in ((0, Kind.GUARD, "start"), (-1, Kind.OUTLET, "end")):
        if any(spot.kind == kind for spot in known):
            _check_end(spots[place], place, kind, verb, report)
    due = {Kind.GUARD: len(spots[0].branches), Kind.OUTLET: len(spots[-1].branches)}
    for kind in (Kind.GUARD, Kind.CANISTER, Kind.PUMP, Kind.OUTLET):
        found = [spot.name for spot in known if spot.kind == kind]
        most = due.get(kind) or 1
        if not found:
            report.problem("loop", f"the loop has no {kind}.", f'Add a place with kind = "{kind}".')
        elif len(found) > most:
            what = f"the loop has {len(found)} places with kind {quoted(kind)}: {', '.join(found)}."
            report.problem("loop", what, "Keep one of them." if most == 1 else "Keep one in each branch.")


def _check_end(spot: Spot, place: int, kind: str, verb: str, report: Report) -> None:
    """Take in a first (0) or last (-1) place of the loop that neither is of this kind nor has it in both branches."""
    wrong = [branch[place] for branch in spot.branches if branch[place].kind != kind]
    if spot.kind != kind and len(wrong) == len(spot.branches):
        found = "branches" if spot.branches else f"a {spot.kind}"
        what = f"the loop {verb}s with {found}, not with a {kind}."
        report.problem(spot.where, what, f"{ORDER} Put the tables in the order of the water.")
        return
    for inner in wrong:
        what = f"the loop {verb}s here, but this branch {verb}s with a {inner.kind}."
        report.problem(inner.where, what, f'Let each branch {verb} with a place of kind = "{kind}".')
