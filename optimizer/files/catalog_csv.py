"""A catalog folder: one CSV file for each kind of part, kits, and about.toml."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from optimizer.errors import BadValue, Problems, Where, near_sentence, quoted
from optimizer.files.catalog_rows import read_rows
from optimizer.files.csv_table import read_table
from optimizer.files.draft import Draft
from optimizer.files.kit_text import Content
from optimizer.files.part_kinds import FILES, KITS, OFFERS, OTHER_FILES, SUPPLIERS, build_part, by_column
from optimizer.files.products import kit_product, offered, part_product
from optimizer.files.together import finish_moves
from optimizer.files.toml_file import read_toml
from optimizer.model.catalog import Catalog, Product, Supplier
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
    supplied: list[Draft] = field(default_factory=list)
    suppliers: dict[str, Supplier] = field(default_factory=dict)


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
    _read_suppliers(folder, reading)
    about = _about(folder, reading.problems)
    reading.problems.raise_if_any(str(folder))
    suppliers = tuple(reading.suppliers.values())
    return Catalog(parts=reading.parts, products=tuple(reading.products), suppliers=suppliers, **about)


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
    known = {*FILES, *OTHER_FILES}
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
        if draft.has("supplier"):
            reading.supplied.append(draft)
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
            if draft.has("supplier"):
                reading.supplied.append(draft)
    return named


MOST_CHARGING = 4
"""So many suppliers may ask for postage or a least order: every set of them is a search among other prices."""


def _read_suppliers(folder: Path, reading: _Reading) -> None:
    """Take in the suppliers, who sells what, and the offers of others."""
    known: set[str] = set()
    for draft in _rows(folder / SUPPLIERS, reading):
        name = draft.text_or("id", "")
        if name in known:
            draft.fault("id", f"{quoted(name)} stands there already.", "Give each supplier an id of its own.")
        known.add(name)
        if not draft.failed:
            _take_supplier(draft, reading)
    for draft in reading.supplied:
        _check_supplier(draft, known, reading)
    products = {product.id: product for product in reading.products}
    offers = {(product.id, product.supplier) for product in reading.products}
    for draft in _rows(folder / OFFERS, reading):
        _check_supplier(draft, known, reading)
        product = offered(draft, products)
        if product is not None and (product.id, product.supplier) in offers:
            draft.fault("supplier", f"{quoted(product.supplier)} offers this product already.", "Keep one of the two.")
        elif product is not None:
            offers.add((product.id, product.supplier))
            reading.products.append(product)


def _take_supplier(draft: Draft, reading: _Reading) -> None:
    free_from = draft.money("free_from") if draft.has("free_from") else None
    made = {key: draft.money(key) for key in ("postage", "least_order")}
    supplier = Supplier(id=draft.text("id"), name=draft.text("name"), free_from=free_from, **made)
    reading.suppliers[supplier.id] = supplier
    if sum(each.charges for each in reading.suppliers.values()) > MOST_CHARGING:
        what = f"is more than {MOST_CHARGING} suppliers with postage or a least order."
        draft.fault("id", what, "Keep those that you would order from.")


def _rows(path: Path, reading: _Reading) -> Iterable[Draft]:
    return read_rows(path, by_column(path.name), reading.problems) if path.exists() else ()


def _check_supplier(draft: Draft, known: Collection[str], reading: _Reading) -> None:
    """Take in that a row names a supplier whom nobody knows."""
    name = draft.text_or("supplier", "")
    if name and name not in known and "supplier" not in draft.bad:
        near = near_sentence(name, known) if reading.problems.few else ""
        draft.fault("supplier", f"no supplier {quoted(name)} in {SUPPLIERS}.", near or "Add a row for it there.")


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
