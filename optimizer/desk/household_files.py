"""Household files of the folder: which files one hangs on, and a new one of ticked tanks."""

from __future__ import annotations

import posixpath
import re
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimizer.desk.folder import Folder, Forbidden
from optimizer.files.named_files import texts_under
from optimizer.files.rig_writer import toml_text
from optimizer.files.toml_tables import tables_of

__all__ = ["Listed", "NewHousehold", "NewTank", "check", "household_text", "listed", "named_in", "rigs_of", "slug"]

FILES = ("rig", "log")
"""Keys of tables that name a file beside the one they stand in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A household or a shop as it is listed: its file, its name, and the names of what it has (tanks, bands)."""

    file: str
    name: str
    has: tuple[str, ...]


def listed(folder: Folder, file: str, key: str) -> Listed:
    """A file with the tables of a ``key`` in it, by their names; without names where it cannot be read."""
    tree = _tree(folder, file)
    tables = tree.get(key)
    has = tuple(str(each.get("name") or each.get("rig", "")) for each in tables or () if isinstance(each, dict))
    name = tree.get("name")
    return Listed(file=file, name=name if isinstance(name, str) else posixpath.basename(file).removesuffix(".toml"), has=has)


def _tree(folder: Folder, name: str) -> dict[str, Any]:
    try:
        return tables_of(folder.read(name).content) or {}
    except OSError:
        return {}


def named_in(folder: Folder, name: str) -> tuple[str, ...]:
    """A household or shop file with all files of the folder that it names."""
    beside = posixpath.dirname(name)
    found = [posixpath.normpath(posixpath.join(beside, each)) for each in texts_under(_tree(folder, name), *FILES)]
    return (name, *dict.fromkeys(each for each in found if _is_in(folder, each)))


def _is_in(folder: Folder, name: str) -> bool:
    try:
        folder.path(name)
    except (Forbidden, OSError, ValueError):
        return False
    return True


def rigs_of(folder: Folder, name: str) -> tuple[str, ...]:
    """The rig file of each filter of each tank of a household, in their order; empty for one that is written in."""
    tanks = _tree(folder, name).get("tank")
    tables = [each for each in tanks or () if isinstance(each, dict)]
    filters = [each for table in tables for each in (table.get("filter") or [table]) if isinstance(each, dict)]
    named = [each["rig"] if isinstance(each.get("rig"), str) else "" for each in filters]
    beside = posixpath.dirname(name)
    found = [posixpath.normpath(posixpath.join(beside, each)) if each else "" for each in named]
    return tuple(each if each and _is_in(folder, each) else "" for each in found)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewTank:
    """One ticked rig and what is wished of it, as it was typed."""

    rig: str
    name: str = ""
    room: str = ""
    flow: str = ""
    turnover: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewHousehold:
    """What was typed: ``rooms`` with the noise each may make."""

    name: str
    budget: str
    rooms: tuple[tuple[str, str], ...]
    tanks: tuple[NewTank, ...]


def slug(name: str) -> str:
    """The name of the file of a household.

    >>> slug("Fish room, 2nd floor")
    'fish_room_2nd_floor'
    """
    return "_".join(re.findall(r"[a-z0-9]+", name.casefold()))[:60] or "household"


def household_text(found: NewHousehold, beside: str) -> str:
    """The household file; rigs are named as seen from the folder ``beside``, by their whole way if that is empty."""
    lines = [f"{key} = {toml_text(text)}" for key, text in (("name", found.name), ("budget", found.budget)) if text]
    for name, noise in found.rooms:
        lines += _table("room", [("name", name), ("noise", noise)])
    for tank in found.tanks:
        rig = posixpath.relpath(tank.rig, beside) if beside else tank.rig
        keys = [("name", tank.name), ("rig", rig), ("room", tank.room), ("flow", tank.flow), ("turnover", tank.turnover)]
        lines += _table("tank", keys)
    return "\n".join(lines) + "\n"


def _table(name: str, keys: Iterable[tuple[str, str]]) -> list[str]:
    return ["", f"[[{name}]]", *(f"{key} = {toml_text(text)}" for key, text in keys if text)]


def check(folder: Folder, found: NewHousehold, file: str, catalog: str) -> None:
    """Read the household as its file would be. Raises InputError with all that is wrong with it."""
    from dataclasses import replace

    from optimizer import api

    whole = replace(found, tanks=tuple(replace(tank, rig=str(folder.path(tank.rig))) for tank in found.tanks))
    with tempfile.TemporaryDirectory() as place:
        draft = Path(place, Path(file).name)
        draft.write_text(household_text(whole, ""), encoding="utf-8")
        api.read_household(draft, api.read_catalog(folder.path(catalog)))
