"""A household file: several tanks, each a rig file named or written in, the rooms they stand in, and one budget."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from optimizer.errors import quoted
from optimizer.files.decimals import tree_has_commas
from optimizer.files.household_tanks import RIG_CURE, TankReader
from optimizer.files.rig_parts import read_spares
from optimizer.files.toml_fields import HOUSEHOLD, ROOM
from optimizer.files.toml_keys import Report, listed, read_file, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.household import Household, HouseTank, Room

__all__ = ["read_household"]

MOST_TANKS = (20, "", "Ask for some of them at a time.")


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
    top = read_keys(tree, HOUSEHOLD, "", report, known=("room", "tank", "spares"))
    spares = read_spares(tree.get("spares", []), catalog, report)
    rooms = _rooms(tree, report)
    known = {room.name for room in rooms}
    read = [
        TankReader(table, f"tank[{n}]", path, catalog, report).tanks(known)
        for n, table in enumerate(_tables(tree, "tank", report), 1)
    ]
    tanks = [tank for filters in read for tank in filters]
    if "tank" not in tree:
        report.problem("tank", "there is no tank.", f"Write [[tank]] and below it: {RIG_CURE}")
    whole = [filters[0].whose for filters in read if filters]
    for what, names in (
        ("tank", [*whole, *(tank.name for tank in tanks if tank.water)]),
        ("room", [room.name for room in rooms]),
    ):
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
        spares=spares,
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
