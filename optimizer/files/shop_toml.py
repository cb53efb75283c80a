"""A shop file: what is in stock, shelf prices, and a population of tanks in bands, made from rig files as templates.

Every canister class names a rig file. A band makes a tank of every combination of its canisters, volumes, hoses and kinds:
the rig file with another volume (net volume and feeding grow with it), with another hose and tails of that size (bores in the
same ratio to the hose as before), and with the limits of the kind.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import product as combinations
from pathlib import Path

from optimizer.errors import BadValue, near_sentence, quoted
from optimizer.files.decimals import check_two_ways, tree_has_commas
from optimizer.files.draft import Draft
from optimizer.files.ranges import TANK_VOLUME
from optimizer.files.rig_toml import rig_from_tables
from optimizer.files.toml_fields import BAND, KIND_LIMITS, SHOP, SHOP_CANISTER, STOCK
from optimizer.files.toml_file import read_toml
from optimizer.files.toml_keys import Report, is_tables, read_file, read_keys
from optimizer.loop.resized import hose_of, rehosed
from optimizer.model.catalog import Catalog, Product
from optimizer.model.rig import Rig
from optimizer.model.said import Note, Said
from optimizer.model.shop import Customer, Store
from optimizer.money import parse_money
from optimizer.unit_table import FEED, VOLUME
from optimizer.units import parse, parse_bore_pair

__all__ = ["read_shop"]

TABLES = ("shelf_prices", "budgets", "stock", "canisters", "kinds", "band")
LISTS = ("canisters", "volumes", "hoses", "kinds")
MOST_TANKS = 5000
MOST_BUDGETS = 1000
STEPS = 4
"""Budgets that are looked at below the highest shelf price when none are written: so many even steps."""

OWN_SHELF = (
    "a kit comes off the shop's own shelf, so postage and least orders of its suppliers are in no price here, and each product "
    "has the price of its own row (offers.csv is left aside)"
)
"""Said where a catalog names suppliers: what a customer pays at the counter holds no postage."""

AS_IT_IS = ""
"""Stands in a list of a band that is not written: the template stays as it is there."""


_Cell = tuple[str, ...]
"""Canister, volume, hose and kind of a tank."""


@dataclass(slots=True, kw_only=True)
class _File:
    """One shop file while it is read."""

    path: Path
    catalog: Catalog
    report: Report
    templates: dict[str, dict[str, object]] = field(default_factory=dict)
    sources: dict[str, str] = field(default_factory=dict)
    kinds: dict[str, dict[str, object]] = field(default_factory=dict)
    made: dict[_Cell, Rig | None] = field(default_factory=dict)
    measured: list[str] = field(default_factory=list)


def read_shop(path: str | Path, catalog: Catalog) -> Store:
    """Return the shop in a TOML file; products and parts are looked up in `catalog`.

    Raises `InputError` with all problems found, those of the rig files it names among them.

    >>> from optimizer.errors import InputError
    >>> try:
    ...     read_shop("no_such_shop.toml", Catalog(parts={}, products=()))
    ... except InputError as error:
    ...     print(error)
    no_such_shop.toml: 1 problem, nothing was solved.
      file: there is no such file. Check the name and the folder.
    """
    shelf = catalog.on_the_shelf

    def read(tree: dict[str, object], file: Path, report: Report) -> Store | None:
        if catalog.suppliers:
            report.notes.append(OWN_SHELF)
        return _store(tree, _File(path=file, catalog=shelf, report=report))

    return read_file(path, read)


def _store(tree: dict[str, object], file: _File) -> Store | None:
    file.report.commas = tree_has_commas(tree)
    top = read_keys(tree, SHOP, "", file.report, known=TABLES)
    prices = tuple(_amounts(tree, "shelf_prices", file.report, needed=True))
    budgets = _budgets(tuple(_amounts(tree, "budgets", file.report)), prices, tree)
    stocked = _stocked(tree, file)
    _read_templates(tree, file)
    _read_kinds(tree, file)
    customers = tuple(_customers(tree, file))
    if len(file.report.problems) or not customers or stocked is None:
        return None
    return top.made(
        Store,
        name=top.text_or("name", file.path.stem),
        catalog=file.catalog,
        stocked=stocked,
        shelf_prices=prices,
        budgets=budgets,
        customers=customers,
        most_kits=top.whole("kits"),
        notes=tuple(file.report.notes),
        measured=tuple(file.measured),
    )


# -- money and stock -----------------------------------------------------------------------------------------------


def _amounts(tree: dict[str, object], key: str, report: Report, needed: bool = False) -> Iterator[int]:
    """The amounts of money in a list, ascending, each once."""
    raw = tree.get(key, [])
    cure = f'Write for example {key} = ["40", "60"].'
    if not isinstance(raw, list) or len(raw) > MOST_BUDGETS or (needed and not raw):
        what = "is missing or empty." if needed and not raw else f"this is not a list of at most {MOST_BUDGETS} amounts."
        report.problem(key, what, cure)
        return
    found = set()
    for number, each in enumerate(raw, start=1):
        try:
            if report.commas:
                check_two_ways(each)
            amount = parse_money(each)
            if amount == 0:
                raise BadValue("the amount is nothing.", cure)
            found.add(amount)
        except BadValue as error:
            report.problems.add(error.at(f"{key}[{number}]"))
    yield from sorted(found)


def _budgets(written: tuple[int, ...], prices: tuple[int, ...], tree: dict[str, object]) -> tuple[int, ...]:
    """The grid: the shelf prices, and what is written, or else even steps to the highest shelf price."""
    if not prices:
        return written
    steps = written if "budgets" in tree else tuple(max(prices) * step // STEPS for step in range(1, STEPS + 1))
    return tuple(sorted({*prices, *(step for step in steps if 0 < step <= max(prices))}))


def _stocked(tree: dict[str, object], file: _File) -> Catalog | None:
    """What is in the shop; without [[stock]] all that the catalog has."""
    catalog, report = file.catalog, file.report
    raw = tree.get("stock")
    if raw is None:
        report.note(Note("stock", "not given, the whole catalog counts as in stock"))
        return catalog
    if not is_tables(raw) or not raw:
        report.problem("stock", "this is not a list of tables.", 'Write [[stock]] and below it product = "HOSE-19-27".')
        return None
    known = {product.id: product for product in catalog.products}
    found: dict[str, Product] = {}
    for number, table in enumerate(raw, start=1):
        where = f"stock[{number}]"
        draft = read_keys(table, STOCK, where, report)
        if not draft.has("product"):
            continue
        product_id = draft.text("product")
        if product_id not in known:
            cure = near_sentence(product_id, sorted(known)) or f"Write the id of a product of {catalog.name}."
            report.problem(f"{where}.product", f"no product {quoted(product_id)} in the catalog.", cure)
        elif product_id in found:
            report.problem(f"{where}.product", f"{quoted(product_id)} is listed already.", "Keep one of the two.")
        else:
            count = draft.whole("count") if draft.has("count") else known[product_id].stock
            found[product_id] = replace(known[product_id], stock=count)
    ids = {line.part_id for product in found.values() for line in product.lines}
    parts = {part_id: part for part_id, part in catalog.parts.items() if part_id in ids}
    return Catalog(parts=parts, products=tuple(found.values()), name=catalog.name, currency=catalog.currency)


# -- templates and kinds -------------------------------------------------------------------------------------------


def _read_templates(tree: dict[str, object], file: _File) -> None:
    cure = 'Write [canisters.medium] and below it rig = "tanks/medium.toml".'
    for name, table in _tables(tree, "canisters", cure, file.report, needed=True):
        draft = read_keys(table, SHOP_CANISTER, f"canisters.{name}", file.report)
        if not draft.has("rig"):
            continue
        path = file.path.parent / draft.text("rig")
        file.sources[name] = draft.text("rig")
        try:
            template = read_toml(path)
            if template.get("fill"):
                file.measured.append(name)
            file.templates[name] = {**template, "spares": [], "fill": []}
        except BadValue as error:
            file.report.problems.add(error.at(f"canisters.{name}.rig"))


def _read_kinds(tree: dict[str, object], file: _File) -> None:
    cure = 'Write [kinds.community] and below it turnover_max = "7 per hour".'
    for name, table in _tables(tree, "kinds", cure, file.report):
        draft = read_keys(table, KIND_LIMITS, f"kinds.{name}", file.report)
        if not draft.failed:
            file.kinds[name] = table


def _tables(
    tree: dict[str, object], key: str, cure: str, report: Report, needed: bool = False
) -> Iterator[tuple[str, dict[str, object]]]:
    """The tables of a table, by name."""
    raw = tree.get(key, {})
    if not isinstance(raw, dict) or (needed and not raw):
        report.problem(key, "the table is missing." if needed and key not in tree else "this is no table of tables.", cure)
        return
    for name, table in raw.items():
        if isinstance(table, dict):
            yield name, table
        else:
            report.problem(f"{key}.{name}", "this is not a table.", cure)


# -- the population ------------------------------------------------------------------------------------------------


def _customers(tree: dict[str, object], file: _File) -> Iterator[Customer]:
    raw, report = tree.get("band"), file.report
    cure = 'Write [[band]] and below it name, weight = 30 and canisters = ["medium"].'
    if not is_tables(raw) or not raw:
        report.problem("band", "there is no list of bands.", cure)
        return
    names: set[str] = set()
    count = 0
    for number, table in enumerate(raw, start=1):
        where = f"band[{number}]"
        draft = read_keys(table, BAND, where, report, known=LISTS)
        lists = _lists(table, where, file)
        if draft.failed or lists is None:
            continue
        cells = list(combinations(*lists))
        count += len(cells)
        if count > MOST_TANKS:
            report.problem(where, f"the bands make more than {MOST_TANKS} tanks.", "Shorten their lists.")
            return
        for cell in cells:
            yield from _customer(cell, draft, draft.number("weight") / len(cells), where, names, file)


def _lists(table: dict[str, object], where: str, file: _File) -> tuple[list[str], ...] | None:
    """Canisters, volumes, hoses and kinds of a band as text, or None once something is wrong with them."""
    found, sound = [], True
    known: Mapping[str, Mapping[str, object] | None] = {"canisters": file.templates, "kinds": file.kinds}
    for key in LISTS:
        raw = table.get(key, [AS_IT_IS] if key != "canisters" else None)
        if not isinstance(raw, list) or not raw or not all(isinstance(each, str) for each in raw):
            file.report.problem(f"{where}.{key}", "this is not a list of texts.", f"Write for example {EXAMPLES[key]}.")
            sound = False
            continue
        for each in raw:
            sound = (key in ("canisters", "kinds") or _one_way(each, f"{where}.{key}", file.report)) and sound
            words = known.get(key)
            if words is not None and each not in words and (key == "canisters" or each != AS_IT_IS):
                cure = near_sentence(each, sorted(words)) or f"Describe it in [{key}.{each or 'NAME'}]."
                # one that is there but cannot be read has its own problem already
                if not _described(file, f"{key}.{each}"):
                    file.report.problem(f"{where}.{key}", f"{quoted(each)} is not described in this file.", cure)
                sound = False
        found.append(list(dict.fromkeys(raw)))
    return tuple(found) if sound else None


def _one_way(text: str, where: str, report: Report) -> bool:
    """True for a text whose numbers can be read in one way only; otherwise the reason goes to `report`."""
    try:
        if report.commas:
            check_two_ways(text)
    except BadValue as error:
        report.problems.add(error.at(where))
        return False
    return True


EXAMPLES = {
    "canisters": 'canisters = ["medium"]',
    "volumes": 'volumes = ["350 l", "450 l"]',
    "hoses": 'hoses = ["16/22 mm"]',
    "kinds": 'kinds = ["community"]',
}


def _described(file: _File, place: str) -> bool:
    return any(problem.where == place or problem.where.startswith(f"{place}.") for problem in file.report.problems)


def _customer(cell: _Cell, draft: Draft, weight: float, where: str, names: set[str], file: _File) -> Iterator[Customer]:
    if cell not in file.made:  # each is made once, so that its problems are told once
        file.made[cell] = _made(cell, where, file)
    canister, _, hose, kind = cell
    rig = file.made[cell]
    if rig is None:
        return
    known = (canister, f"{rig.tank.nominal_m3 * 1e3:.4g} l", hose or _hose_words(rig), kind)
    name = ", ".join(word for word in known if word)
    if name in names:
        file.report.problem(where, f"the tank {quoted(name)} is in a band already.", "Keep each combination in one band.")
        return
    names.add(name)
    yield Customer(
        name=name,
        band=draft.text("name"),
        hose=known[2],
        canister=canister,
        kind=kind,
        weight=weight,
        rig=replace(rig, name=name),
    )


def _hose_words(rig: Rig) -> str:
    hose = hose_of(rig)
    return "" if hose is None else f"{hose.inside_m * 1e3:.4g}/{hose.outside_m * 1e3:.4g} mm"


def _made(cell: _Cell, where: str, file: _File) -> Rig | None:
    """One tank: a template with its volume, hose and limits."""
    canister, volume, hose, kind = cell
    tree = dict(file.templates[canister])
    try:
        if volume:
            tree |= _with_volume(tree, volume)
    except BadValue as error:
        file.report.problems.add(error.at(f"{where}.volumes"))
        return None
    own = tree.get("limits", {})
    limits = {**(own if isinstance(own, dict) else {}), **file.kinds.get(kind, {})}
    tree["limits"] = {name: value for name, value in limits.items() if name != "budget"}
    report = Report()
    rig = rig_from_tables(tree, canister, file.catalog, report, file.sources[canister])
    for problem in report.problems:
        file.report.problems.add(problem.in_file(file.sources[canister]))
    for note in report.notes:
        # figures that differ from tank to tank are told once for all
        if isinstance(note, Note) and (note.about in ("tank.net_volume", "feeding") or note.table == "feeding"):
            file.report.note(Note(note.about, "worked out for each tank from its volume (common practice)"))
        else:
            file.report.note(Said(f"{canister}: ", note))
    if rig is None or not hose:
        return rig
    try:
        return rehosed(rig, *parse_bore_pair(hose))
    except BadValue as error:
        file.report.problems.add(error.at(f"{where}.hoses"))
    except ValueError as error:
        file.report.problem(f"{where}.hoses", f"{error}.", "Write the hose of such tanks, or leave hoses out.")
    return None


def _with_volume(tree: dict[str, object], volume: str) -> dict[str, object]:
    """The tables that change with the volume. Raises BadValue for a volume that cannot be read."""
    nominal = parse(volume, VOLUME, minimum=TANK_VOLUME[0], maximum=TANK_VOLUME[1])
    tank = tree.get("tank")
    if not isinstance(tank, dict):
        return {}
    changed: dict[str, object] = {"tank": {**tank, "volume": volume}}
    try:
        ratio = nominal / parse(tank["volume"], VOLUME)
    except (KeyError, BadValue, ZeroDivisionError):
        return changed  # the template says itself what is wrong with it
    if "net_volume" in tank:
        net = parse(tank["net_volume"], VOLUME) * ratio
        changed["tank"] = {**tank, "volume": volume, "net_volume": f"{net * 1e3:.6f} l"}
    feeding = tree.get("feeding")
    if isinstance(feeding, dict) and "feed" in feeding:
        changed["feeding"] = {**feeding, "feed": f"{parse(feeding['feed'], FEED) * ratio * 1e3:.6f} g/day"}
    return changed
