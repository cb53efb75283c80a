"""One table of a rig file as a form: what stands behind its keys, as it is said, and what was typed put back into the file.

Only the lines of keys that were changed are touched; whether the whole can be read, the reader of rig files says.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from markupsafe import Markup, escape

from optimizer.desk.folder import Folder
from optimizer.errors import BadValue, InputError, Problem
from optimizer.files.columns import meaning_of
from optimizer.files.field import Field, Value
from optimizer.files.rig_tables import fields_at, table_at
from optimizer.files.rig_writer import toml_text
from optimizer.files.toml_lines import entries, line_of, value_of, with_values
from optimizer.files.toml_tables import tables_of
from optimizer.model.catalog import Catalog
from optimizer.unit_table import COUNT

__all__ = [
    "Key", "Placed", "as_typed", "beside", "changed_text", "exact", "keys_of", "numbered", "problems_of", "tree_of", "values_of",
]  # fmt: skip

LONGEST = 100_000
"""Files of more characters are changed as a whole only."""

AS_TOML = (Value.LIST, Value.TABLE, Value.PIECES, Value.NAMES, Value.PLACES)
PLAIN_NUMBER = re.compile(r"[0-9]+(\.[0-9]+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key of a table as a field of a form. ``kind``: a text as it is said, a choice, yes or no, or as TOML writes it. ``was``
    is what stands in the file, ``value`` what the field holds; ``wrong`` lists what is wrong with that."""

    name: str
    label: str
    help: str
    example: str
    kind: Literal["text", "choice", "mark", "toml"]
    choices: tuple[str, ...]
    needed: bool
    was: str
    value: str
    is_number: bool = False
    wrong: tuple[str, ...] = ()

    @property
    def first(self) -> bool:
        """Whether it stands in front of those that are seldom needed."""
        return self.needed or bool(self.value or self.was or self.wrong)

    @property
    def shown(self) -> Markup:
        """What the field holds, to the letter."""
        return exact(self.value)

    @property
    def rows(self) -> int:
        """Lines that a large field has."""
        return min(max(self.value.count("\n") + 1, 3), 14)


def exact(text: str) -> Markup:
    """A text made inert for a field that it is changed in: no character of it is shown as another."""
    return escape(text.replace("\r\n", "\n"))


def tree_of(text: str) -> dict[str, Any] | None:
    """The tables of a file; None where it is no TOML, or too large to be changed key by key."""
    return tables_of(text) if len(text) <= LONGEST else None


def keys_of(text: str, tree: Mapping[str, Any], where: str) -> tuple[Key, ...]:
    """The keys that the table at a place may have, those of the file with what stands behind them."""
    table = table_at(tree, where) or {}
    path = tuple(where.split("."))
    raws = {entry.path[-1]: entry.raw(text) for entry in entries(text) if entry.path[:-1] == path}
    fields = fields_at(tree, where)
    known = {field.name for field in fields}
    odd = tuple(Field(key, Value.TABLE, "this key is not known here", "") for key in table if key not in known and key in raws)
    return tuple(_key(field, table.get(field.name), raws.get(field.name, "")) for field in (*fields, *odd))


def _key(field: Field, found: object, raw: str) -> Key:
    kind: Literal["text", "choice", "mark", "toml"] = "text"
    broken = isinstance(found, str) and not found.isprintable()
    if isinstance(found, list | dict) or broken or (found is None and field.holds in AS_TOML):
        kind = "toml"
    elif field.holds is Value.YES_NO and not isinstance(found, str):
        kind = "mark"
    elif field.holds is Value.CHOICE and (found is None or found in field.choices):
        kind = "choice"
    was = found if isinstance(found, str) and kind != "toml" else raw
    label = field.name.replace("_", " ")
    return Key(
        name=field.name,
        label=label[:1].upper() + label[1:],
        help=field.meaning if kind == "choice" else meaning_of(field),
        example=field.key_example if kind != "choice" else "",
        kind=kind,
        choices=field.choices if kind == "choice" else ("true", "false") if kind == "mark" else (),
        needed=field.required,
        was=was,
        value=was,
        is_number=field.holds in (COUNT, Value.NUMBER) or isinstance(found, int | float),
    )


def as_typed(keys: Iterable[Key], typed: Mapping[str, str]) -> tuple[Key, ...]:
    """The keys with what was typed into their fields."""
    return tuple(replace(key, value=typed.get(key.name, key.value).replace("\r\n", "\n")) for key in keys)


def values_of(keys: Iterable[Key]) -> dict[str, str]:
    """What was changed, as TOML writes it; empty for what is taken out. Raises InputError with all that is no TOML."""
    found, problems = {}, []
    for key in keys:
        if key.value.strip() == key.was.replace("\r\n", "\n").strip():
            continue
        found[key.name] = raw = _raw(key)
        if raw and key.kind == "toml":
            try:
                value_of(raw)
            except BadValue as error:
                problems.append(error.at(key.name))
    if problems:
        raise InputError("", problems)
    return found


def _raw(key: Key) -> str:
    text = key.value.strip()
    if not text or key.kind in ("mark", "toml"):
        return text
    return text if key.is_number and PLAIN_NUMBER.fullmatch(text) else toml_text(text)


def changed_text(text: str, where: str, values: dict[str, str]) -> str:
    """The file with values of one table changed. Raises BadValue where that cannot be done line by line."""
    lines = {key: raw.replace("\n", "\r\n") if "\r\n" in text else raw for key, raw in values.items()}
    return with_values(text, where.split("."), lines)


# -- what the reader says ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One thing to put right: its place in the file, the number of its line (0: none can be told), and the table that can be
    changed by itself (empty: none)."""

    place: str
    what: str
    cure: str
    line: int = 0
    where: str = ""


def problems_of(folder: Folder, name: str, text: str, catalog: str) -> tuple[Problem, ...]:
    """What the reader of rig files has to say of a text in place of the file of that name; it is written nowhere else.

    Raises InputError for a catalog that cannot be read.
    """
    from optimizer.files.rig_toml import read_rig

    known = _catalog(str(folder.path(catalog)), folder.basis([catalog])) if catalog else Catalog(parts={}, products=())
    with tempfile.TemporaryDirectory(prefix="fullbore-") as made:
        path = Path(made, name.rpartition("/")[2])
        path.write_bytes(text.encode("utf-8", "replace"))
        try:
            read_rig(path, known)
        except InputError as error:
            return error.problems
    return ()


@lru_cache(maxsize=4)
def _catalog(path: str, _: str) -> Catalog:
    """A catalog, read once as long as its files stay the same."""
    from optimizer.files.catalog_csv import read_catalog

    return read_catalog(path)


def numbered(problems: Iterable[Problem], text: str) -> tuple[Placed, ...]:
    """The problems of a text, each with its line and the table it belongs to."""
    tree = tree_of(text)
    return tuple(_numbered(each, text, tree) for each in problems)


def _numbered(problem: Problem, text: str, tree: Mapping[str, Any] | None) -> Placed:
    placed = Placed(place=problem.place, what=problem.what, cure=problem.cure)
    if tree is None:
        told = re.search(r"line (\d+)", problem.what)
        return replace(placed, line=int(told[1]) if told else 0)
    steps = [step.partition("[")[0] for step in problem.place.split(".")]
    tables = (".".join(steps[:count]) for count in range(len(steps), 0, -1))
    where = next((each for each in tables if fields_at(tree, each)), "")
    return replace(placed, line=line_of(text, steps), where=where)


def beside(keys: Sequence[Key], problems: Iterable[Problem], where: str) -> tuple[tuple[Key, ...], tuple[Problem, ...]]:
    """The keys with what is wrong with them, and all other problems."""
    wrong: dict[str, list[str]] = {}
    others = []
    names = {key.name for key in keys}
    for each in problems:
        key = re.split(r"[.\[]", each.place.removeprefix(f"{where}."))[0]
        if key in names and (each.place.startswith(f"{where}.") or each.place == key):
            inside = each.place.removeprefix(f"{where}.").removeprefix(key)
            wrong.setdefault(key, []).append(f"{inside.strip('.')}{': ' if inside else ''}{each.what} {each.cure}")
        else:
            others.append(each)
    return tuple(replace(key, wrong=tuple(wrong.get(key.name, ()))) for key in keys), tuple(others)
