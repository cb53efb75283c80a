"""Prices and counts of a catalog that were changed in a form: what is new, whether the reader takes it, and how it is written."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from optimizer.desk.folder import Folder
from optimizer.errors import BadValue, InputError, Where
from optimizer.files.named_files import catalog_files
from optimizer.files.shelf_rows import CELLS, ShelfRow, changed, shelf_rows
from optimizer.files.source_text import file_text

__all__ = ["Conflict", "differing", "saved"]

LARGEST_BYTES = 64 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """A cell that somebody else changed since the form was made: what stands there ``now``, and what was ``typed``."""

    id: str
    what: str
    now: str
    typed: str


def differing(rows: tuple[ShelfRow, ...], form: Mapping[str, object]) -> tuple[dict[str, dict[str, str]], list[Conflict]]:
    """The cells by id and column that a form changes, and those that were changed meanwhile as well."""
    new: dict[str, dict[str, str]] = {}
    conflicts = []
    for row in rows:
        for what in CELLS:
            typed, was = form.get(f"{what}:{row.id}"), form.get(f"was-{what}:{row.id}")
            if not isinstance(typed, str) or not isinstance(was, str) or typed.strip() == was:
                continue
            now = row.cell(what)
            if now not in (was, typed.strip()):
                conflicts.append(Conflict(id=row.id, what=what, now=now, typed=typed))
            elif now != typed.strip():
                new.setdefault(row.id, {})[row.column(what)] = typed.strip()
    return new, conflicts


def saved(folder: Folder, catalog: str, new: Mapping[str, Mapping[str, str]]) -> int:
    """Write new cells, once the reader takes the catalog with them, and say how many. Raises InputError, Changed, OSError."""
    place = folder.path(catalog)
    files = {row.id: row.file for row in shelf_rows(place)}
    texts, versions = {}, {}
    for file in sorted({files[each] for each in new}):
        name = f"{catalog}/{file}"
        try:
            file_text(folder.path(name), LARGEST_BYTES)  # what is no UTF-8 is refused, and never written over
        except BadValue as error:
            raise InputError(catalog, [error.at(Where(file, "file"))]) from None
        held = folder.read(name)
        versions[name] = held.version
        texts[name] = changed(held.content, {each: cells for each, cells in new.items() if files[each] == file})
    _check(place, {Path(name).name: text for name, text in texts.items()})
    for name, text in texts.items():
        folder.save(name, text, versions[name])
    return sum(map(len, new.values()))


def _check(place: Path, texts: Mapping[str, str]) -> None:
    """Read the catalog as it would be. Raises InputError with all that is wrong with it."""
    from optimizer import api

    with tempfile.TemporaryDirectory() as name:
        draft = Path(name, place.name)
        draft.mkdir()
        for each in catalog_files(place):
            if each.name in texts:
                (draft / each.name).write_bytes(texts[each.name].encode())
            else:
                shutil.copyfile(each, draft / each.name)
        try:
            api.read_catalog(draft)
        except InputError as error:
            raise InputError(place.name, error.problems) from None
