"""A catalog folder: one CSV file for each kind of part, kits, and about.toml."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from optimizer.errors import BadValue, Problems, Where, near_sentence, quoted
from optimizer.files.catalog_rows import read_rows
from optimizer.files.csv_table import read_table
from optimizer.files.draft import Draft
from optimizer.files.kit_text import Content
from optimizer.files.part_kinds import FILES, KITS, build_part, by_column
from optimizer.files.products import kit_product, part_product
from optimizer.files.together import finish_moves
from optimizer.files.toml_file import read_toml
from optimizer.model.catalog import Catalog, Product
from optimizer.model.parts import Part
from optimizer.uncollected import uncollected

__all__ = ["read_catalog", "row_places"]

ABOUT = "about.toml"

_ABOUT = {"name": (200, "Corner shop"), "currency": (8, "EUR")}
"""Longest text and an example of each key of about.toml."""


@dataclass(slots=True)
class _Reading:
    """What is known so far of a catalog that is being read."""

    problems: Problems = field(default_factory=Problems)
    parts: dict[str, Part] = field(default_factory=dict)
    kinds: dict[str, str] = field(default_factory=dict)
    places: dict[str, Callable[[str], str]] = field(default_factory=dict)
    products: list[Product] = field(default_factory=list)
    priceless: list[Draft] = field(default_factory=list)


@uncollected()
def read_catalog(folder: str | Path) -> Catalog:
    """Return the catalog in a folder, with parts and products in the order of the files.

    Every file but pumps.csv may be missing. Raises `InputError` with all problems found, each with file, line and
    column; of one file the first 50 are listed.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "clamps.csv").write_text("id,name,price,low_mm,high_mm\\nC,clamp,1.50,20,24\\n")
    ...     _ = Path(folder, "pumps.csv").write_text(",".join(by_column("pumps.csv")) + "\\n")
    ...     read_catalog(folder).products[0].price
    150
    """
    folder = Path(folder)
    reading = _Reading()
    _check_folder(folder, reading.problems)
    reading.problems.raise_if_any(str(folder))
    for file in FILES:
        if (folder / file).exists():
            _read_parts(folder / file, reading)
    kits = _read_kits(folder / KITS, reading) if (folder / KITS).exists() else set()
    for draft in reading.priceless:
        if draft.text("id") not in kits:
            price = "price" if "price_per_m" not in draft.fields else "price_per_m"
            draft.fault(price, "has no price and no kit contains it.", "Write a price. A part you own belongs in the rig file.")
    about = _about(folder, reading.problems)
    reading.problems.raise_if_any(str(folder))
    return Catalog(parts=reading.parts, products=tuple(reading.products), **about)


def row_places(folder: Path) -> dict[str, tuple[str, int]]:
    """Return the file and the line of the row of every id in a catalog folder that could be read."""
    tables = (read_table(folder / file, Problems()) for file in (*FILES, KITS) if (folder / file).exists())
    return {
        row: (table.file, line)
        for table in tables
        if table is not None
        for row, line in zip(table.columns["id"], table.lines, strict=True)
    }


def _check_folder(folder: Path, problems: Problems) -> None:
    """Take in that there is no folder, no catalog in it, or a CSV file that nobody would read."""
    try:
        finish_moves(folder)
    except (OSError, ValueError):
        problems.tell("folder", "a change of it was cut short and cannot be finished.", "Read it once where you may write to it.")
        return
    try:
        names = sorted(path.name for path in folder.iterdir()) if folder.is_dir() else None
    except (OSError, ValueError):
        names = None
    if names is None:
        problems.tell("folder", "there is no such catalog folder.", "Give the folder that holds pumps.csv.")
        return
    known = {*FILES, KITS}
    if not known.intersection(names):
        what = "no catalog file is in this folder."
        problems.tell("folder", what, f"A catalog has: {', '.join(sorted(known))}.")
        return
    if "pumps.csv" not in names:
        problems.tell("folder", "pumps.csv is missing.", "Add it; it may hold only its header.")
    for name in names:
        if name.casefold().endswith(".csv") and name not in known:
            cure = near_sentence(name.casefold(), known) or f"A catalog has: {', '.join(sorted(known))}."
            problems.tell("folder", f"{quoted(name)} is not a catalog file.", cure)


def _read_parts(path: Path, reading: _Reading) -> None:
    entry, role, _ = FILES[path.name]
    kind = entry.kind
    for draft in read_rows(path, by_column(path.name), reading.problems):
        _claim_id(draft, kind, reading)
        part = build_part(kind, draft, draft.text_or("id", ""), draft.text_or("name", ""), role or draft.text_or("role", ""))
        product = part_product(kind, draft)
        if part is None or draft.failed:
            continue
        reading.parts[part.id] = part
        if product is None:
            reading.priceless.append(draft)
        else:
            reading.products.append(product)


def _claim_id(draft: Draft, kind: str, reading: _Reading) -> None:
    """Take note of the id of a row; the same id must not stand anywhere else."""
    if not draft.has("id"):
        return
    name = draft.text("id")
    if name in reading.places:
        what = f"{quoted(name)} stands already in {reading.places[name]('id').rpartition(',')[0]}."
        draft.fault("id", what, "Give each part an id of its own.")
        return
    reading.places[name] = draft.place
    if kind:
        reading.kinds[name] = kind


def _read_kits(path: Path, reading: _Reading) -> set[str]:
    """Take in the kits and return the ids of all parts that any of them names."""
    named: set[str] = set()
    for draft in read_rows(path, by_column(KITS), reading.problems):
        _claim_id(draft, "", reading)
        contents = draft.values.get("contents")
        if isinstance(contents, tuple):
            named.update(content.part_id for content in contents if isinstance(content, Content))
        product = kit_product(draft, reading.kinds)
        if product is not None:
            reading.products.append(product)
    return named


def _about(folder: Path, problems: Problems) -> dict[str, str]:
    """Return name and currency of the catalog from about.toml; without it the folder gives the name."""
    about = {"name": folder.resolve().name or "catalog", "currency": ""}
    if not (folder / ABOUT).exists():
        return about
    try:
        table = read_toml(folder / ABOUT)
    except BadValue as error:
        problems.add(error.at(Where(ABOUT, "file")))
        return about
    for key, value in table.items():
        where = Where(ABOUT, key)
        if key not in about:
            cure = near_sentence(key, about) or "Only name and currency stand there."
            problems.tell(where, "this key is not known.", cure)
            continue
        longest, example = _ABOUT[key]
        if not isinstance(value, str) or not value.strip() or not value.isprintable():
            problems.tell(where, "this is not text.", f'Write for example {key} = "{example}".')
        elif len(value) > longest:
            problems.tell(where, f"is longer than {longest} characters.", f'Write for example "{example}".')
        else:
            about[key] = value.strip()
    return about
