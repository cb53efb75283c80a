"""The tables of a rig file one by one: which there are, in the order of the water, and the keys that each may have."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from optimizer.files import toml_fields as keys
from optimizer.files.field import Field
from optimizer.files.part_kinds import PLACE
from optimizer.files.rig_parts import own_fields
from optimizer.model.parts import Kind

__all__ = ["PLAIN_TABLES", "Table", "fields_at", "tables_of_loop"]

PLAIN_TABLES: Mapping[str, tuple[Field, ...]] = {
    "tank": keys.TANK,
    "site": keys.SITE,
    "feeding": keys.FEEDING,
    "limits": keys.LIMITS,
    "wish": keys.WISH,
    "owned": keys.OWNED,
    "symptoms": keys.SYMPTOMS,
}
"""Tables that stand once in a file, beside the loop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One place of the loop as its file has it: where it stands (with dots), its ``name`` as answers call it, its ``kind``, and
    the tables of its branches by their names. Not ``installed``: nothing is there, but may be added."""

    where: str
    name: str
    kind: str
    installed: bool = True
    branches: tuple[tuple[str, tuple[Table, ...]], ...] = ()


def tables_of_loop(tree: Mapping[str, Any]) -> tuple[Table, ...]:
    """The places of the loop of a rig file in the order of the water; what is no table is left out.

    >>> found = tables_of_loop({"loop": {"pair": {"kind": "branches", "left": {"tap": {"kind": "valve"}}}}})
    >>> found[0].branches[0][1][0]
    Table(where='loop.pair.left.tap', name='left.tap', kind='valve', installed=True, branches=())
    """
    loop = tree.get("loop")
    return tuple(_places(loop, "loop", "", True)) if isinstance(loop, dict) else ()


def _places(tables: Mapping[str, Any], where: str, before: str, installed: bool) -> Iterator[Table]:
    for name, table in tables.items():
        if not isinstance(table, dict):
            continue
        here, kind = f"{where}.{name}", str(table.get("kind", ""))
        branches = []
        for branch, inside in _inside(table) if kind == Kind.BRANCHES else ():
            there = installed and inside.get("installed") is not False
            branches.append((branch, tuple(_places(inside, f"{here}.{branch}", f"{branch}.", there))))
        there = installed and table.get("installed") is not False
        yield Table(where=here, name=f"{before}{name}", kind=kind, installed=there, branches=tuple(branches))


def _inside(table: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    tees = {field.name for field in keys.BRANCHES}
    return ((key, each) for key, each in table.items() if key not in tees and isinstance(each, dict))


def table_at(tree: Mapping[str, Any], where: str) -> dict[str, Any] | None:
    """The table at a place such as "loop.pump"; None where there is none."""
    found: Any = tree
    for step in where.split("."):
        found = found.get(step) if isinstance(found, dict) else None
    return found if isinstance(found, dict) else None


def fields_at(tree: Mapping[str, Any], where: str) -> tuple[Field, ...]:
    """The keys that the table at a place may have; none for a place that no rig file has.

    Of a place of the loop they are those of its kind: where it names a part of the catalog, without those of the part itself.

    >>> [field.name for field in fields_at({"loop": {"tap": {"kind": "valve", "installed": False}}}, "loop.tap")]
    ['kind', 'installed']
    """
    if where in PLAIN_TABLES:
        return PLAIN_TABLES[where]
    spot = next((each for each in _all(tables_of_loop(tree)) if each.where == where), None)
    table = table_at(tree, where)
    if spot is None or table is None:
        return ()
    kind_field = keys.KIND if where.count(".") == 1 else keys.BRANCH_KIND
    kind = keys.kind_of_word(spot.kind)
    if kind == Kind.BRANCHES:
        return (kind_field, *keys.BRANCHES)
    if kind not in PLACE:
        return (kind_field,)
    if kind == Kind.FITTING and table.get("installed") is False:
        return (kind_field, *(field for field in PLACE[Kind.FITTING] if field.name == "installed"))
    if not spot.installed:
        return (kind_field, *keys.OPEN_PLACE[kind])
    described = kind == Kind.CANISTER or "part" not in table
    own = own_fields(kind, table, demand=described) if described else ()
    found = {field.name: field for field in (kind_field, *PLACE[kind], *own) if field.in_rig}
    if not described:
        found.pop("name", None)
    return tuple(found.values())


def _all(tables: tuple[Table, ...]) -> Iterator[Table]:
    for table in tables:
        yield table
        for _, inside in table.branches:
            yield from _all(inside)
