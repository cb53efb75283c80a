"""Adapters that stand in the joints of a rig, from the list [[joint]], and whether the ends of the loop go together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from optimizer.errors import near_sentence, quoted
from optimizer.files.rig_parts import named_or_own, note_assumed, own_fields
from optimizer.files.toml_fields import ADAPTER, JOINT
from optimizer.files.toml_keys import Report, listed, read_keys
from optimizer.loop.neighbours import Neighbours, neighbours
from optimizer.model.catalog import Catalog
from optimizer.model.ends import End, mating, refusal
from optimizer.model.options import OrientedAdapter
from optimizer.model.parts import Fitting, Kind
from optimizer.model.rig import HeldJoint, Position
from optimizer.model.said import Note

__all__ = ["ReadJoint", "joined", "read_joints"]

MOST_JOINTS = (100, " joints", "Write those that hold an adapter, each once.")
MOST_ADAPTERS = 6
CURE = 'Write [[joint]] and below it between = ["hose", "coupling"] and adapters = ["ADPT-16-G34"].'
ROLE = "adapter"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadJoint:
    """A joint as it is written at ``where``: each adapter with the ways round that it may stand."""

    where: str
    between: tuple[str, str]
    adapters: tuple[tuple[OrientedAdapter, ...], ...]


def read_joints(raw: object, catalog: Catalog, report: Report) -> tuple[ReadJoint, ...]:
    """Return the joints in the list [[joint]] that could be read; what is wrong with the others goes to `report`.

    >>> report = Report()
    >>> read_joints([{"between": ["hose"], "adapters": []}], Catalog(parts={}, products=()), report)
    ()
    >>> [problem.where for problem in report.problems]
    ['joint[1].between', 'joint[1].adapters']
    """
    tables = enumerate(listed(raw, "joint", CURE, MOST_JOINTS, report), start=1)
    read = (_joint(table, f"joint[{n}]", catalog, report) for n, table in tables)
    return tuple(joint for joint in read if joint is not None)


def _joint(table: dict[str, object], where: str, catalog: Catalog, report: Report) -> ReadJoint | None:
    draft = read_keys(table, JOINT, where, report)
    pieces = draft.values["adapters"]
    tables = pieces if isinstance(pieces, list) else []
    if len(tables) > MOST_ADAPTERS:
        draft.fault("adapters", f"there are more than {MOST_ADAPTERS} adapters.", "A joint of so many is a place of its own.")
        return None
    between = draft.several("between")
    name = " to ".join(map(str, between)) or where
    read = [_adapter(each, name, f"{where}.adapters[{n}]", n, catalog, report) for n, each in enumerate(tables, start=1)]
    adapters = tuple(ways for ways in read if ways)
    if draft.failed or len(adapters) != len(tables):
        return None
    return ReadJoint(where=where, between=(str(between[0]), str(between[1])), adapters=adapters)


def _adapter(
    table: dict[str, object], joint: str, where: str, number: int, catalog: Catalog, report: Report
) -> tuple[OrientedAdapter, ...]:
    """Return the ways round that an adapter may stand, none once the reason went to `report`."""
    own = own_fields(Kind.FITTING, table, demand="part" not in table)
    draft = read_keys(table, (*ADAPTER, *own), where, report)
    part = named_or_own(ROLE, f"installed:joint {joint}, {number}", table, own, draft, catalog)
    if not isinstance(part, Fitting) or draft.failed:
        return ()
    note_assumed(part, where, report)
    ways = (draft.flag("turned"),) if draft.has("turned") else (False, True)
    return tuple(OrientedAdapter(part, flipped) for flipped in ways)


def joined(positions: Sequence[Position], joints: Sequence[ReadJoint], report: Report) -> tuple[HeldJoint, ...]:
    """Return the joints with their adapters the way round that fits, the first that does. Adapters that do not lead from end to
    end, and joints between places that are no neighbours, go to `report` as problems, ends without adapters that do not go
    together as a note."""
    pairs = {(pair.before, pair.after): pair for pair in neighbours(positions)}
    held: dict[tuple[str, str], HeldJoint] = {}
    for joint in joints:
        pair = pairs.get(joint.between)
        if pair is None:
            _tell_apart(joint, pairs, report)
        elif joint.between in held:
            report.problem(joint.where, "this joint is written already.", "Write all its adapters in one table.")
        else:
            found = next((way for way in product(*joint.adapters) if not _misfit(pair, way)), None)
            held[joint.between] = HeldJoint(before=pair.before, after=pair.after, adapters=found or ())
            if found is None:
                _tell_misfit(joint.where, pair, [ways[0] for ways in joint.adapters], report)
    for between, pair in pairs.items():
        if between not in held and _misfit(pair, ()):
            _note_misfit(pair, report)
    return tuple(held.values())


def _steps(pair: Neighbours, adapters: Sequence[OrientedAdapter]) -> Iterator[tuple[End, End]]:
    """Every two ends that meet, in the order of the water."""
    before = pair.leaves
    for turned in adapters:
        yield before, turned.entry
        before = turned.exit
    yield before, pair.enters


def _misfit(pair: Neighbours, adapters: Sequence[OrientedAdapter]) -> bool:
    return any(mating(one, other) is None for one, other in _steps(pair, adapters))


def _tell_misfit(where: str, pair: Neighbours, adapters: Sequence[OrientedAdapter], report: Report) -> None:
    why = next(refusal(one, other) for one, other in _steps(pair, adapters) if mating(one, other) is None)
    what = f"these adapters do not lead from {pair.before} to {pair.after}: {why}."
    report.problem(where, what, "Write them in the order of the water, each with the ends that it has.")


def _note_misfit(pair: Neighbours, report: Report) -> None:
    """Say that two ends which do not go together are taken as joined: the water flows there, but by a piece nobody wrote down."""
    told = (f"does not fit {pair.before} (", refusal(pair.leaves, pair.enters), "), taken as joined without a piece between; ")
    cure = f'if there is one, write it under [[joint]] between = ["{pair.before}", "{pair.after}"]'
    report.note(Note(f"loop.{pair.after}", *told, cure))


def _tell_apart(joint: ReadJoint, pairs: dict[tuple[str, str], Neighbours], report: Report) -> None:
    first, then = joint.between
    follow = [after for before, after in pairs if before == first]
    if follow:
        what, cure = f"the water goes from {quoted(first)} to {quoted(follow[0])}, not to {quoted(then)}.", "Name neighbours."
    else:
        what = f"no joint leads from {quoted(first)} to {quoted(then)}."
        names = list(dict.fromkeys(name for pair in pairs for name in pair))
        near = near_sentence(first, names) if report.problems.few and first not in names else ""
        cure = near or "Name two neighbours, in the order of the water."
    report.problem(f"{joint.where}.between", what, cure)
