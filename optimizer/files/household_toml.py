"""A household file: several tanks, each a rig file named or written in, the rooms they stand in, and one budget."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from optimizer.answers.logged import with_log
from optimizer.errors import InputError, quoted
from optimizer.files.decimals import tree_has_commas
from optimizer.files.draft import Draft
from optimizer.files.rig_toml import read_rig, rig_from_tables
from optimizer.files.toml_fields import HOUSE_TANK, HOUSEHOLD, ROOM
from optimizer.files.toml_keys import Report, listed, read_file, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.household import Household, HouseTank, Room
from optimizer.model.rig import Rig
from optimizer.model.said import Said

__all__ = ["read_household"]

MOST_TANKS = (20, "", "Ask for some of them at a time.")

BESIDE = "Rig files are looked for beside the household file."
RIG_CURE = 'Write rig = "tank_a.toml", or [tank.rig.tank], [tank.rig.loop.intake] and so on below it.'


def read_household(path: str | Path, catalog: Catalog) -> Household:
    """Return the household in a TOML file; rig files named in it are looked for beside it.

    Raises `InputError` with all problems found in it and in all its rigs, each with its place and what to write instead.

    >>> from optimizer.errors import InputError
    >>> try:
    ...     read_household("no_such_house.toml", Catalog(parts={}, products=()))
    ... except InputError as error:
    ...     print(error)
    no_such_house.toml: 1 problem, nothing was solved.
      file: there is no such file. Check the name and the folder.
    """
    return read_file(path, lambda tree, file, report: _household(tree, file, catalog, report))


def _household(tree: dict[str, object], path: Path, catalog: Catalog, report: Report) -> Household | None:
    report.commas = tree_has_commas(tree)
    top = read_keys(tree, HOUSEHOLD, "", report, known=("room", "tank"))
    rooms = _rooms(tree, report)
    known = {room.name for room in rooms}
    tanks = [
        tank
        for n, table in enumerate(_tables(tree, "tank", report), 1)
        if (tank := _tank(table, n, path, catalog, known, report))
    ]
    if "tank" not in tree:
        report.problem("tank", "there is no tank.", f"Write [[tank]] and below it: {RIG_CURE}")
    for what, names in (("tank", [tank.name for tank in tanks]), ("room", [room.name for room in rooms])):
        for name, count in Counter(names).items():
            if count > 1:
                report.problem(what, f"{count} are called {quoted(name)}.", "Give each a name of its own.")
    if len(report.problems):
        return None
    return Household(
        name=top.text_or("name", path.stem),
        tanks=_with_all_tools(tanks),
        rooms=tuple(rooms),
        budget=top.money("budget") if top.has("budget") else None,
        power_w=top.number_or("power", math.inf),
        notes=tuple(report.notes),
    )


def _with_all_tools(tanks: Sequence[HouseTank]) -> tuple[HouseTank, ...]:
    """The tanks, each with the tools that are owned for any of them: they lie in one drawer."""
    tools = tuple(dict.fromkeys(job for tank in tanks for job in tank.rig.tools))
    return tuple(replace(tank, rig=replace(tank.rig, tools=tools)) for tank in tanks)


def _tables(tree: dict[str, object], name: str, report: Report) -> list[dict[str, object]]:
    return listed(tree.get(name, []), name, f"Write [[{name}]] and its keys below it, once for each.", MOST_TANKS, report)


def _rooms(tree: dict[str, object], report: Report) -> list[Room]:
    drafts = [read_keys(table, ROOM, f"room[{n}]", report) for n, table in enumerate(_tables(tree, "room", report), 1)]
    return [Room(name=d.text("name"), noise_dba=d.number_or("noise", math.inf)) for d in drafts if not d.failed and d.has("name")]


def _tank(
    table: dict[str, object], number: int, path: Path, catalog: Catalog, rooms: set[str], report: Report
) -> HouseTank | None:
    where = f"tank[{number}]"
    draft = read_keys(table, HOUSE_TANK, where, report, known=("rig",))
    if draft.has("room") and draft.text("room") not in rooms:
        draft.fault(
            "room", f"no room is called {quoted(draft.text('room'))}.", "Add [[room]] with that name, or write a known one."
        )
    if draft.written("flow") and draft.written("turnover"):
        draft.fault("flow", "stands beside turnover.", "Keep one of the two.")
    rig = _tank_rig(table, where, path, catalog, report)
    rig = rig if rig is None or not draft.has("log") else _logged(rig, draft, path)
    if rig is None:
        return None
    target = _target(draft, rig)
    if not target > 0.0:
        report.problem(
            where, "it is not said what is enough for this tank.", 'Write flow = "600 l/h" or turnover = "4 per hour".'
        )
    elif target > rig.limits.flow_max_m3s * (1 + 1e-9):
        what = f"{target * 3.6e6:.4g} l/h are wanted, but its limits allow {rig.limits.flow_max_m3s * 3.6e6:.4g} l/h."
        report.problem(where, what, "Lower the flow here or raise the limit there.")
    elif not draft.failed:
        rig = replace(rig, listen_m=draft.number_or("listening_distance", rig.listen_m)).limited_as_now
        name = draft.text_or("name", rig.name)
        for note in rig.notes:
            report.note(Said(f"{name}: ", note))
        return HouseTank(name=name, rig=rig, target_m3s=target, room=draft.text_or("room", ""))
    return None


def _logged(rig: Rig, draft: Draft, path: Path) -> Rig | None:
    """The rig with the fills of its log; None once a problem with the log is taken in."""
    try:
        return with_log(rig, path.parent / draft.text("log"))
    except InputError as error:
        for problem in error.problems:
            draft.fault("log", f"{quoted(draft.text('log'))}: {problem.what}", problem.cure)
    except ValueError as error:  # a name with a zero byte
        draft.fault("log", f"{quoted(draft.text('log'))} cannot be read: {error}.", "Name the file of a log.")
    return None


def _target(draft: Draft, rig: Rig) -> float:
    """The flow that is enough: said here, or the wish of the rig, or the least flow that its limits ask for."""
    if draft.has("turnover"):
        return draft.number("turnover") * rig.tank.net_m3 / 3600.0
    return draft.number_or("flow", rig.target_m3s or rig.limits.flow_min_m3s)


def _tank_rig(table: dict[str, object], where: str, path: Path, catalog: Catalog, report: Report) -> Rig | None:
    raw = table.get("rig")
    if isinstance(raw, dict):
        inner = Report(commas=report.commas)
        rig = rig_from_tables(raw, where, catalog, inner, path.name)
        for problem in inner.problems:
            report.problem(f"{where}.rig.{problem.where}", problem.what, problem.cure)
        return rig
    if not isinstance(raw, str) or not raw.strip():
        report.problem(f"{where}.rig", "there is no rig.", RIG_CURE)
        return None
    try:
        return read_rig(path.parent / raw, catalog)
    except InputError as error:
        for problem in error.problems:
            if problem.where == "file":  # it cannot be read at all: what is to be put right is its name here
                report.problem(f"{where}.rig", f"{quoted(raw)}: {problem.what}", f"{problem.cure} {BESIDE}")
                continue
            report.problems.add(problem.in_file(error.source))
    except ValueError as error:  # a name with a zero byte
        report.problem(f"{where}.rig", f"{quoted(raw)} cannot be read: {error}.", RIG_CURE)
    return None
