"""The places of a loop in the order of the water, each with the part it holds or with parallel branches."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from optimizer.errors import quoted
from optimizer.files.draft import Draft
from optimizer.files.part_kinds import PART_KINDS
from optimizer.files.rig_parts import named_or_own, note_assumed, own_fields
from optimizer.files.rig_places import Spot, all_spots, read_absent, read_held, read_word, sound_table
from optimizer.files.toml_fields import BRANCH, BRANCH_KIND, BRANCHES, KIND, MOST_BRANCHES, TEE_PLACE, kind_of_word, step_key
from optimizer.files.toml_keys import Report, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Kind, TeePiece
from optimizer.model.rig import Branch, Position, Tray
from optimizer.model.said import Note, Quantity, Said

__all__ = ["Loop", "read_loop"]

MOST_PLACES, MOST_IN_BRANCH = 100, 20
ORDER = "A loop runs from a guard through canister and pump to an outlet."
BARRED = (Kind.CANISTER, Kind.PUMP)
TEES = ("parting", "meeting")
NUMBERS = ("no", "one", "two", "three", "four")
NTH = ("first", "second", "third", "fourth")

MOST_APART_M = 1.0
"""A pump with no hose between is as near to the canister as that is high: common practice, no published source."""

NEAR_M = 0.05

_Place = tuple[Position | None, Spot]
_Reads = Callable[[Spot, dict[str, object]], _Place]
_Read = tuple[Branch | None, tuple[Spot, ...], bool | None]
"""A branch (None when anything about it is wrong), what stands where in it, and whether it is there (None: not clear)."""


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

    def read(spot: Spot, table: dict[str, object]) -> _Place:
        ends = (not loop.spots, len(loop.spots) == len(raw) - 1)
        return _place_in_loop(spot, table, ends, catalog, report, loop)

    _read_series(raw, "", "loop", read, loop, report)
    _check_names(loop.spots, report)
    _check_order(loop.spots, report)
    _check_heights(loop.positions, report)
    return loop


def _read_series(tables: dict[str, Any], before: str, where: str, read: _Reads, into: Loop, report: Report) -> None:
    """Take the places of a loop or a branch into it, those that are no tables by name alone; `before` stands before each."""
    for name, table in tables.items():
        position, spot = None, Spot(name=f"{before}{name}", where=f"{where}.{name}")
        if sound_table(name, table, spot.where, "place", report):
            position, spot = read(spot, table)
        into.spots.append(spot)
        if position is not None:
            into.positions.append(position)


def _place_in_loop(
    spot: Spot, table: dict[str, object], ends: tuple[bool, bool], catalog: Catalog, report: Report, loop: Loop
) -> _Place:
    """Return the place, None when anything about it is wrong, and what stands there; `ends` tell whether it is first and last."""
    name, where = spot.name, spot.where
    word = read_word(table, KIND, where, report)
    if not word:
        return None, spot
    if word == Kind.BRANCHES:
        return _branches(spot, table, _Reading(catalog, report, *ends))
    position, trays = read_held(name, word, table, where, catalog, report)
    loop.trays = loop.trays or (trays if position is not None else ())
    return position, Spot(name=name, where=where, kind=kind_of_word(word))


@dataclass(frozen=True, slots=True)
class _Reading:
    """How a place with branches is read: whether it is where the loop starts, or ends, and so many lie around it."""

    catalog: Catalog
    report: Report
    at_start: bool
    at_end: bool
    level: int = 0

    def inside(self, step: int, first: bool, last: bool) -> _Reading:
        """The same for a place in one of the branches that part at a ``step``, where that is the first or the last of its
        branch."""
        return replace(self, at_start=self.at_start and first, at_end=self.at_end and last, level=self.level + step)


def _branches(spot: Spot, table: dict[str, object], how: _Reading) -> _Place:
    """Return the place with its branches, None when anything about it is wrong, and what stands where.

    Of three the first is a branch, and beside it stands a place with the other two, and so on: each step has tees of its own.
    """
    name, where, report = spot.name, spot.where, how.report
    tees = [step_key(key, step) for step in range(1, MOST_BRANCHES) for key in TEES]
    tables = {key: value for key, value in table.items() if key not in ("kind", *tees) and isinstance(value, dict)}
    own = {key: value for key, value in table.items() if key not in tables}
    draft = read_keys(own, BRANCHES, where, report, known=("kind",))
    if not 2 <= len(tables) <= MOST_BRANCHES - how.level:
        _tell_count(tables, MOST_BRANCHES - how.level, where, report)
        return None, spot
    steps = [min(n + 1, len(tables) - 1) for n in range(len(tables))]
    each = zip(steps, tables.items(), strict=True)
    read = [_read_branch(branch, inside, f"{where}.{branch}", step, how) for step, (branch, inside) in each]
    spot = replace(spot, kind=Kind.BRANCHES, branches=tuple(spots for _, spots, _ in read))
    there = [installed for _, _, installed in read]
    gone = [branch for branch, installed in zip(tables, there[:-1], strict=False) if installed is False]
    for branch in gone:
        what = f"only the {NTH[len(tables) - 1]} branch may be one that is not there."
        cure = f"Put the {'branch that is' if len(tables) == 2 else 'branches that are'} there first."
        report.problem(f"{where}.{branch}.installed", what, cure)
    found = [] if None in there or gone else [_tees(name, draft, n, there, how) for n in range(1, MOST_BRANCHES)]
    branches = [branch for branch, _, _ in read if branch is not None]
    if len(branches) != len(tables) or gone or draft.failed:
        return None, spot
    return _in_steps(name, branches, found), spot


def _in_steps(name: str, branches: Sequence[Branch], tees: Sequence[tuple[TeePiece | None, TeePiece | None]]) -> Position:
    """The place whose first branch parts from the rest at the first tees; the rest, if several, are a place of their own."""
    first, *rest = branches
    other = rest[0]
    if len(rest) > 1:
        joined = " and ".join(branch.name for branch in rest)
        other = Branch(name=joined, positions=(_in_steps(joined, rest, tees[1:]),))
    parting, meeting = tees[0]
    return Position(name=name, kind=Kind.BRANCHES, installed=None, branches=(first, other), parting=parting, meeting=meeting)


def _tell_count(tables: Collection[str], most: int, where: str, report: Report) -> None:
    """Take in a number of branches that there cannot be."""
    found = "is 1 branch" if len(tables) == 1 else f"are {len(tables)} branches"
    found += f" ({', '.join(tables)})" if tables else ""
    wanted = "2" if most == 2 else f"2 to {most}"
    cure = f"Write two tables, for example [{where}.left] and [{where}.right], and below each its places."
    if len(tables) > most:
        cure = f"Keep {NUMBERS[most]} of them."
    report.problem(where, f"there {found}, not {wanted}.", cure)


def _read_branch(name: str, table: dict[str, object], where: str, step: int, how: _Reading) -> _Read:
    own_keys, report = {field.name for field in BRANCH}, how.report
    tables = {key: value for key, value in table.items() if key not in own_keys and isinstance(value, dict)}
    own = {key: value for key, value in table.items() if key not in tables}
    draft = read_keys(own, BRANCH, where, report)
    unread = (Spot(name=where, where=where),)
    # a key that is not known may be a misspelt `installed`, which decides how all the rest is read
    if not sound_table(name, table, where, "branch", report) or draft.failed or not own_keys.issuperset(own):
        return None, unread, None
    if not 1 <= len(tables) <= MOST_IN_BRANCH:
        what = "the branch has no places." if not tables else f"the branch has more than {MOST_IN_BRANCH} places."
        report.problem(where, what, f'Write [{where}.hose] and below it kind = "hose".')
        return None, unread, draft.flag("installed")
    installed, found = draft.flag("installed"), Loop()

    def read(spot: Spot, inside: dict[str, object]) -> _Place:
        here = how.inside(step, not found.spots, len(found.spots) == len(tables) - 1)
        return _place_in_branch(spot, inside, installed, here)

    _read_series(tables, f"{name}.", where, read, found, report)
    whole = len(found.positions) == len(tables)
    branch = Branch(name=name, positions=tuple(found.positions), installed=installed) if whole else None
    return branch, tuple(found.spots), installed


def _place_in_branch(spot: Spot, table: dict[str, object], installed: bool, how: _Reading) -> _Place:
    name, where, report = spot.name, spot.where, how.report
    if table.get("kind") in BARRED:
        cure = "Put it before the place with the branches or behind it."
        report.problem(f"{where}.kind", f"a branch holds no {table['kind']}.", cure)
        return None, spot
    word = read_word(table, BRANCH_KIND, where, report)
    if not word:
        return None, spot
    if word == Kind.BRANCHES:
        return _branches_within(spot, table, installed, how)
    if installed:
        position, _ = read_held(name, word, table, where, how.catalog, report)
    else:
        position = read_absent(name, word, table, where, report)
    return position, Spot(name=name, where=where, kind=kind_of_word(word))


def _branches_within(spot: Spot, table: dict[str, object], installed: bool, how: _Reading) -> _Place:
    """Return a place with branches that stands in a branch."""
    if not installed:
        what = "this branch is not there, so it holds no branches."
        cure = "Write what it would be as one row of places; the second way may come once the first is there."
        how.report.problem(f"{spot.where}.kind", what, cure)
    elif how.level > MOST_BRANCHES - 2:
        what = f"the water parts more than {NUMBERS[MOST_BRANCHES - 1]} times on its way here."
        how.report.problem(f"{spot.where}.kind", what, "Leave the branches out that carry least.")
    else:
        return _branches(spot, table, how)
    return None, spot


def _tees(
    name: str, draft: Draft, step: int, there: Sequence[bool | None], how: _Reading
) -> tuple[TeePiece | None, TeePiece | None]:
    """Return the tees at which the branches of a step part and meet, None where none is due; `there` says which are there."""
    found: list[TeePiece | None] = []
    for word, verb, at_tank in zip(TEES, ("part", "meet"), (how.at_start, how.at_end), strict=True):
        key = step_key(word, step)
        if step < len(there) and there[step] and not at_tank:
            found.append(_tee(name, key, verb, draft, how.catalog, how.report))
            continue
        if draft.has(key):
            few = f"there are {NUMBERS[len(there)]} branches, and so no {NTH[step - 1]} tee at which any {verb}."
            tank = f"the branches do not {verb}: they {'start' if verb == 'part' else 'end'} in the tank."
            gone = "one of the branches is not there, so they need no tee."
            draft.fault(key, few if step >= len(there) else tank if at_tank else gone, "Leave the tee out.")
        found.append(None)
    return found[0], found[1]


def _tee(name: str, key: str, verb: str, draft: Draft, catalog: Catalog, report: Report) -> TeePiece | None:
    table = draft.values.get(key)
    example = f"Write for example {draft.fields[key].example}."
    if not isinstance(table, dict):
        if key not in draft.bad:
            draft.fault(key, f"is missing, but two branches that are there {verb} at a tee.", example)
        return None
    described = {field.name for field in PART_KINDS[Kind.TEE].fields}.intersection(table)
    if "part" not in table and not described:
        read_keys(table, TEE_PLACE, draft.place(key), report)
        draft.fault(key, "does not say which tee.", example)
        return None
    own = own_fields(Kind.TEE, table, demand="part" not in table)
    inner = read_keys(table, (*TEE_PLACE, *own), draft.place(key), report)
    part = named_or_own(Kind.TEE, f"installed:{name}:{key}", table, own, inner, catalog)
    if inner.flag("turned") and "part" not in table:
        inner.fault("turned", "turns a tee that is described here.", "Swap its inlet and its outlet instead.")
    if not isinstance(part, TeePiece) or inner.failed:
        draft.bad.add(key)
        return None
    note_assumed(part, draft.place(key), report)
    return replace(part, inlet=part.outlet, outlet=part.inlet) if inner.flag("turned") else part


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
    due = {Kind.GUARD: len(list(_outermost(spots[0], 0))), Kind.OUTLET: len(list(_outermost(spots[-1], -1)))}
    for kind in (Kind.GUARD, Kind.CANISTER, Kind.PUMP, Kind.OUTLET):
        found = [spot.name for spot in known if spot.kind == kind]
        most = due.get(kind, 1)
        if not found:
            report.problem("loop", f"the loop has no {kind}.", f'Add a place with kind = "{kind}".')
        elif len(found) > most:
            what = f"the loop has {len(found)} places with kind {quoted(kind)}: {', '.join(found)}."
            report.problem("loop", what, "Keep one of them." if most == 1 else "Keep one in each branch.")


def _outermost(spot: Spot, place: int) -> Iterator[Spot]:
    """The place, or the first (0) or last (-1) of each of its branches."""
    for branch in spot.branches:
        yield from _outermost(branch[place], place)
    if not spot.branches:
        yield spot


def _check_end(spot: Spot, place: int, kind: str, verb: str, report: Report) -> None:
    """Take in a first (0) or last (-1) place of the loop that neither is of this kind nor has it in every branch."""
    outermost = list(_outermost(spot, place))
    wrong = [each for each in outermost if each.kind != kind]
    if len(wrong) == len(outermost):
        found = "branches" if spot.branches else f"a {spot.kind}"
        what = f"the loop {verb}s with {found}, not with a {kind}."
        report.problem(spot.where, what, f"{ORDER} Put the tables in the order of the water.")
        return
    for inner in wrong:
        what = f"the loop {verb}s here, but this branch {verb}s with a {inner.kind}."
        report.problem(inner.where, what, f'Let each branch {verb} with a place of kind = "{kind}".')


def _check_heights(positions: Sequence[Position], report: Report) -> None:
    """Take in a pump that sits on its canister and is said to be far from it; note what is possible, but hardly meant."""
    found = {position.kind: n for n, position in enumerate(positions) if position.kind in (Kind.CANISTER, Kind.PUMP, Kind.OUTLET)}
    if Kind.CANISTER not in found:
        return
    body = positions[found[Kind.CANISTER]]
    if Kind.PUMP in found and body.depth_m > 0.0:
        first, last = sorted((found[Kind.CANISTER], found[Kind.PUMP]))
        if not any(each.kind in (Kind.HOSE, Kind.BRANCHES) for each in positions[first:last]):
            _check_pump(positions[found[Kind.PUMP]], body, report)
    mouth = positions[found[Kind.OUTLET]] if Kind.OUTLET in found else body
    if body.depth_m > 0.0 and -mouth.height_m > body.depth_m:
        told = (_metres(-mouth.height_m), " is deeper than the canister stands (", _metres(body.depth_m), ")")
        report.note(Note(f"loop.{mouth.name}.below_water", *told, "; look whether it is meant"))


def _check_pump(pump: Position, body: Position, report: Report) -> None:
    below = pump.depth_m - body.depth_m
    if pump.depth_m <= 0.0 or (below <= NEAR_M and -below <= MOST_APART_M):
        return
    side = "below" if below > 0.0 else "above"
    depth, apart = _metres(pump.depth_m), _metres(abs(below))
    what = Said(depth, " is ", apart, f" {side} the canister (", _metres(body.depth_m), ")")
    if abs(below) > MOST_APART_M:
        cure = "Write how far each stands below the water line, or the hose between them as a place of its own."
        report.problem(f"loop.{pump.name}.depth", f"{what}, and no hose is between them.", cure)
    else:
        report.note(Note(f"loop.{pump.name}.depth", what, ", though no hose is between them; look whether it is meant"))


def _metres(metres: float) -> Quantity:
    return Quantity(metres, "height", f"{metres:.3g} m")
