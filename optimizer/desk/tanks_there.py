"""Which tanks a folder holds: their files by folder, what each is called, whose they are, and the log beside each."""

from __future__ import annotations

import os.path
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import PurePosixPath

from optimizer.desk.folder import Folder, Kind, kind_of
from optimizer.desk.logs import SUFFIX, beside
from optimizer.files.named_files import rigs_named
from optimizer.files.toml_tables import tables_of

__all__ = ["Group", "Tank", "groups", "log_beside"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """A rig file: its name, what the tank is called, and its log (empty: there is none)."""

    name: str
    called: str
    log: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The tanks of one folder (empty: the folder of the desk itself), and the households and shops whose files name them."""

    folder: str
    tanks: tuple[Tank, ...]
    households: tuple[str, ...]
    shops: tuple[str, ...]


def groups(folder: Folder) -> tuple[Group, ...]:
    """All tanks by their folders: the keeper's own first, then those that households alone are made of, then those of shops."""
    kinds: dict[str, Kind] = {}
    by_folder: dict[str, list[Tank]] = {}
    logs = folder.files(SUFFIX)
    for name, content in _contents(folder):
        kinds[name] = _kind(content)
        if kinds[name] == "rig":
            tank = Tank(name=name, called=_called(content) or PurePosixPath(name).stem, log=log_beside(folder, name, logs))
            by_folder.setdefault(_parent(name), []).append(tank)
    households, shops = (_naming(folder, kinds, kind) for kind in ("household", "shop"))
    found = [
        Group(folder=place, tanks=tuple(tanks), households=_of(tanks, households), shops=_of(tanks, shops))
        for place, tanks in by_folder.items()
    ]
    shared = set().union(*households.values())
    return tuple(sorted(found, key=lambda each: (bool(each.shops), _are_all(each, shared), each.folder.count("/"), each.folder)))


def log_beside(folder: Folder, rig: str, there: Sequence[str] | None = None) -> str:
    """The log of a rig's own name, among those that are ``there``; empty for none."""
    name, is_there = beside(folder, rig, there)
    return name if is_there else ""


def _contents(folder: Folder) -> Iterator[tuple[str, str]]:
    for name in folder.files():
        try:
            yield name, folder.read(name).content
        except OSError:
            continue


def _parent(name: str) -> str:
    return name.rpartition("/")[0]


def _naming(folder: Folder, kinds: Mapping[str, Kind], wanted: str) -> dict[str, set[str]]:
    """The files of a kind, with the rigs that each names."""
    found = {}
    for name in (name for name, kind in kinds.items() if kind == wanted):
        rigs = rigs_named(folder.path(name))
        found[name] = {os.path.relpath(os.path.normpath(rig), folder.root) for rig in rigs}
    return found


def _of(tanks: list[Tank], naming: Mapping[str, set[str]]) -> tuple[str, ...]:
    names = {tank.name for tank in tanks}
    return tuple(name for name, rigs in naming.items() if rigs & names)


def _are_all(group: Group, names: set[str]) -> bool:
    return all(tank.name in names for tank in group.tanks)


@lru_cache(maxsize=1024)
def _kind(content: str) -> Kind:
    return kind_of(content)


@lru_cache(maxsize=1024)
def _called(content: str) -> str:
    """What a tank is called in its file; empty for nothing that can be read."""
    name = (tables_of(content) or {}).get("name")
    return name.strip() if isinstance(name, str) else ""
