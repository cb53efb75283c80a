"""A place of the loop that holds two parallel branches, with the tees at which they part and meet."""

from __future__ import annotations

from collections.abc import Collection

from optimizer.files.draft import Draft
from optimizer.files.part_kinds import PART_KINDS
from optimizer.files.rig_fields import BRANCH, BRANCH_KIND, BRANCHES, TEE_PLACE, kind_of_word
from optimizer.files.rig_parts import named_or_own, own_fields
from optimizer.files.rig_places import Spot, read_absent, read_held, read_word, sound_table
from optimizer.files.toml_keys import Report, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Kind, TeePiece
from optimizer.model.rig import Branch, Position

__all__ = ["read_branches"]

MOST_PLACES = 20
BARRED = (Kind.CANISTER, Kind.PUMP, Kind.BRANCHES)
TEES = ("parting", "meeting")

_Read = tuple[Branch | None, tuple[Spot, ...], bool | None]
"""A branch (None when anything about it is wrong), what stands where in it, and whether it is there (None: not clear)."""


def read_branches(
    name: str, table: dict[str, object], ends: tuple[bool, bool], catalog: Catalog, report: Report
) -> tuple[Position | None, Spot]:
    """Return the place with its two branches, None when anything about it is wrong, and what stands where.

    `ends` tell whether the place is the first and the last of the loop: there the branches start and end in the tank.

    >>> report = Report()
    >>> read_branches("pair", {"left": {}}, (False, False), Catalog(parts={}, products=()), report)[0] is None
    True
    >>> [problem.what for problem in report.problems]
    ['there is 1 branch (left), not 2.']
    """
    where = f"loop.{name}"
    tables = {key: value for key, value in table.items() if key not in ("kind", *TEES) and isinstance(value, dict)}
    own = {key: value for key, value in table.items() if key not in tables}
    draft = read_keys(own, BRANCHES, where, report, known=("kind",))
    if len(tables) != 2:
        _tell_count(tables, where, report)
        return None, Spot(name=name, where=where)
    read = [_read_branch(branch, each, f"{where}.{branch}", catalog, report) for branch, each in tables.items()]
    spot = Spot(name=name, where=where, kind=Kind.BRANCHES, branches=tuple(spots for _, spots, _ in read))
    there = [installed for _, _, installed in read]
    if there[0] is False:
        what, cure = "only the second branch may be one that is not there.", "Put the branch that is there first."
        report.problem(f"{where}.{next(iter(tables))}.installed", what, cure)
    known = None not in there
    parting, meeting = _tees(name, draft, ends, all(there), catalog, report) if known else (None, None)
    branches = tuple(branch for branch, _, _ in read if branch is not None)
    if len(branches) != 2 or there[0] is False or draft.failed:
        return None, spot
    place = Position(name=name, kind=Kind.BRANCHES, installed=None, branches=branches, parting=parting, meeting=meeting)
    return place, spot


def _tell_count(tables: Collection[str], where: str, report: Report) -> None:
    """Take in a number of branches other than two."""
    found = "is 1 branch" if len(tables) == 1 else f"are {len(tables)} branches"
    found += f" ({', '.join(tables)})" if tables else ""
    cure = f"Write two tables, for example [{where}.left] and [{where}.right], and below each its places."
    report.problem(where, f"there {found}, not 2.", cure)


def _read_branch(name: str, table: dict[str, object], where: str, catalog: Catalog, report: Report) -> _Read:
    own_keys = {field.name for field in BRANCH}
    tables = {key: value for key, value in table.items() if key not in own_keys and isinstance(value, dict)}
    own = {key: value for key, value in table.items() if key not in tables}
    draft = read_keys(own, BRANCH, where, report)
    unread = (Spot(name=where, where=where),)
    # a key that is not known may be a misspelt `installed`, which decides how all the rest is read
    if not sound_table(name, table, where, "branch", report) or draft.failed or not own_keys.issuperset(own):
        return None, unread, None
    if not 1 <= len(tables) <= MOST_PLACES:
        what = "the branch has no places." if not tables else f"the branch has more than {MOST_PLACES} places."
        report.problem(where, what, f'Write [{where}.hose] and below it kind = "hose".')
        return None, unread, draft.flag("installed")
    installed = draft.flag("installed")
    positions, spots = [], []
    for place, each in tables.items():
        position, spot = None, Spot(name=f"{name}.{place}", where=f"{where}.{place}")
        if sound_table(place, each, spot.where, "place", report):
            position, spot = _read_place(spot, each, installed, catalog, report)
        spots.append(spot)
        if position is not None:
            positions.append(position)
    whole = len(positions) == len(tables)
    branch = Branch(name=name, positions=tuple(positions), installed=installed) if whole else None
    return branch, tuple(spots), installed


def _read_place(
    spot: Spot, table: dict[str, object], installed: bool, catalog: Catalog, report: Report
) -> tuple[Position | None, Spot]:
    name, where = spot.name, spot.where
    if table.get("kind") in BARRED:
        cure = "Put it before the place with the branches or behind it."
        report.problem(f"{where}.kind", f"a branch holds no {table['kind']}.", cure)
        return None, spot
    word = read_word(table, BRANCH_KIND, where, report)
    if not word:
        return None, spot
    if installed:
        position, _ = read_held(name, word, table, where, catalog, report)
    else:
        position = read_absent(name, word, table, where, report)
    return position, Spot(name=name, where=where, kind=kind_of_word(word))


def _tees(
    name: str, draft: Draft, ends: tuple[bool, bool], both: bool, catalog: Catalog, report: Report
) -> tuple[TeePiece | None, TeePiece | None]:
    """Return the tees at which the branches part and meet, None where none is due; `both` says that both are there."""
    found: list[TeePiece | None] = []
    for key, verb, at_tank in zip(TEES, ("part", "meet"), ends, strict=True):
        if both and not at_tank:
            tee = _tee(name, key, verb, draft, catalog, report)
            found.append(tee)
            continue
        if draft.has(key):
            tank = f"the branches do not {verb}: they {'start' if verb == 'part' else 'end'} in the tank."
            draft.fault(key, tank if at_tank else "one of the branches is not there, so they need no tee.", "Leave the tee out.")
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
    if not isinstance(part, TeePiece) or inner.failed:
        draft.bad.add(key)
        return None
    return part
