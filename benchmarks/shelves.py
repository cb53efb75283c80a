"""A catalog of the benchmark worlds as the files that a shop would keep: one CSV for each kind, and kits."""

import csv
from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby
from pathlib import Path

from optimizer.files.field import Field
from optimizer.files.part_kinds import FILE_OF_KIND, KITS, by_column
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import End, Gender, inch_name
from optimizer.model.parts import Fitting, Hose, Part, Pump, Seal, kind_of
from optimizer.physics.hose import ROUGHNESS
from optimizer.unit_table import Dimension
from optimizer.units import from_si

DIGITS = 12
"""Of every figure: few cells of a column are alike, which is the hardest there is to read."""


def for_files(catalog: Catalog) -> Catalog:
    """The catalog without the stubs of hose, whose outside no file of adapters tells."""
    parts = {part.id: part for part in catalog.parts.values() if not (isinstance(part, Fitting) and part.inlet.outside_m)}
    products = tuple(product for product in catalog.products if all(line.part_id in parts for line in product.lines))
    return replace(catalog, parts=parts, products=products)


def write_catalog(catalog: Catalog, folder: Path) -> Path:
    """Write the catalog into a folder, products of one piece with their parts and all others as kits, and return the folder."""
    folder.mkdir(exist_ok=True)
    sold = {product.id.removesuffix("x1"): product for product in catalog.products if product.id.endswith("x1")}
    parts = sorted(catalog.parts.values(), key=_file)
    for file, those in groupby(parts, key=_file):
        columns = by_column(file)
        rows = ([_cell(field, part, sold[part.id]) for field in columns.values()] for part in those)
        _write(folder / file, list(columns), rows)
    bundles = (product for product in catalog.products if not product.id.endswith("x1"))
    header = ["id", "name", "price", "contents"]
    _write(folder / KITS, header, ([p.id, p.id, _money(p.price), "; ".join(map(_content, p.lines))] for p in bundles))
    return folder


def _file(part: Part) -> str:
    return FILE_OF_KIND[part.role if isinstance(part, Fitting) else kind_of(part)]


def _write(path: Path, header: list[str], rows: Iterator[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        writer.writerows(rows)


def _cell(field: Field, part: Part, product: Product) -> str:
    """What a shop would write: nothing where the reader has to work it out or take its default."""
    by_metre = isinstance(part, Hose)
    worked_out = {
        "price": "" if by_metre else _money(product.price),
        "price_per_m": _money(product.price) if by_metre else "",
        "step": f"{product.step_m * 100:g}",
        "open": f"{100.0 * getattr(part, 'open_fraction', 0.0):.{DIGITS}g}",
        "max_head": f"{part.curve.max_head_m:.{DIGITS}g}" if isinstance(part, Pump) else "",
        "max_flow": f"{part.curve.max_flow_m3s * 3.6e6:.{DIGITS}g}" if isinstance(part, Pump) else "",
        "curve_shape": f"{part.curve.shape:.{DIGITS}g}" if isinstance(part, Pump) else "",
        "material": next((name for name, wall in ROUGHNESS.items() if by_metre and wall.roughness_m == part.roughness_m), ""),
        "curve": "",
    }
    if field.name in worked_out:
        return worked_out[field.name]
    if field.name.endswith("_bore") and field.name != "bar_bore":
        return f"{getattr(part, field.name.removesuffix('_bore')).bore_m * 1e3:.{DIGITS}g}"
    slots = (name for name in type(part).__dataclass_fields__ if name == field.name or name.startswith(f"{field.name}_"))
    value = getattr(part, next(slots, ""), None)
    return _text(field, part, value)


def _text(field: Field, part: Part, value: object) -> str:
    if value is None or value == 0.0 or (isinstance(part, Seal) and not value):
        return ""
    if isinstance(value, End):
        return _end(value)
    if isinstance(value, str | bool):
        return value if isinstance(value, str) else "yes"
    if isinstance(field.holds, Dimension) and field.csv_unit:
        return f"{from_si(float(str(value)), field.csv_unit, field.holds):.{DIGITS}g}"
    return f"{value:.{DIGITS}g}"  # type: ignore[str-format]


def _end(end: End) -> str:
    if end.standard == "hose":
        return f"{'tail' if end.gender is Gender.MALE else 'hose'} {end.size_m * 1e3:g} mm"
    return f"{end.standard} {inch_name(end.size_m)} in {end.gender}"


def _content(line: Line) -> str:
    return f"{line.part_id} {line.amount_m:g} m" if line.amount_m else f"{line.part_id} x{line.count}"


def _money(price: int) -> str:
    return f"{price // 100}.{price % 100:02}"
