"""A rig file: one tank, its loop, limits and spares, as TOML that a keeper can read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from optimizer.errors import BadValue, Problems
from optimizer.files.decimals import tree_has_commas
from optimizer.files.draft import Draft
from optimizer.files.field import Field
from optimizer.files.rig_fields import FEEDING, LIMITS, RIG_NAME, SITE, TANK, WISH
from optimizer.files.rig_fills import read_fills
from optimizer.files.rig_limits import ANY_TANK, feeding_area, feeding_load, read_limits, read_target
from optimizer.files.rig_loop import read_loop
from optimizer.files.rig_spares import read_spares
from optimizer.files.toml_file import read_toml
from optimizer.files.toml_keys import Report, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Kind
from optimizer.model.rig import Rig, Tank
from optimizer.model.said import Note, Quantity

__all__ = ["read_rig", "rig_from_tables"]

NET_SHARE = 0.85
"""Water over nominal volume when it is not known: common practice, no published source."""

DEFAULT_TEMPERATURE_C = 25.0
DEFAULT_MAINS_HZ = 50.0
TABLES = ("tank", "site", "feeding", "limits", "wish", "loop", "spares", "fill")


def read_rig(path: str | Path, catalog: Catalog) -> Rig:
    """Return the rig in a TOML file; parts it names by id are looked up in `catalog`.

    What was assumed because it is not written stands in `Rig.notes`. Raises `InputError` with all problems found,
    each with the place and what to write instead.

    >>> from optimizer.errors import InputError
    >>> try:
    ...     read_rig("no_such_tank.toml", Catalog(parts={}, products=()))
    ... except InputError as error:
    ...     print(error)
    no_such_tank.toml: 1 problem, nothing was solved.
      file: there is no such file. Check the name and the folder.
    """
    path = Path(path)
    report = Report()
    try:
        tree = read_toml(path)
    except BadValue as error:
        report.problems.add(error.at("file"))
        tree = {}
    report.problems.raise_if_any(path.name or str(path))
    rig = rig_from_tables(tree, path.stem, catalog, report, path.name)
    report.problems.raise_if_any(path.name)
    if rig is None:
        raise RuntimeError("a rig without problems was not built")
    return rig


def rig_from_tables(tree: dict[str, object], stem: str, catalog: Catalog, report: Report, source: str = "") -> Rig | None:
    """Return the rig in the tables of a file, None once what is wrong went to `report`.

    `stem` names one that has no name, `source` is the file.

    >>> report = Report()
    >>> rig_from_tables({}, "tank", Catalog(parts={}, products=()), report), len(report.problems)
    (None, 2)
    """
    report.commas = report.commas or tree_has_commas(tree)
    top = read_keys(tree, (RIG_NAME,), "", report, known=TABLES)
    tank = _tank(_table(tree, "tank", TANK, report), report) if "tank" in tree else None
    if "tank" not in tree:
        report.problem("tank", "the table is missing.", 'Write [tank] and below it volume = "120 l".')
    site = _table(tree, "site", SITE, report)
    feeding = _feeding(tree, report)
    feeding_m2 = feeding_area(feeding, report)
    asked = _table(tree, "limits", LIMITS, report)
    limits = read_limits(asked, tank or ANY_TANK, feeding_m2)
    target = read_target(_table(tree, "wish", WISH, report), asked, tank or ANY_TANK)
    mains = _mains(site, report)
    if "loop" not in tree:
        report.problem("loop", "the table is missing.", 'Write [loop.intake] and below it kind = "guard".')
    loop = read_loop(tree["loop"], catalog, report) if "loop" in tree else None
    spares = read_spares(tree.get("spares", []), catalog, report)
    fills = read_fills(tree.get("fill", []), report)
    if len(report.problems) or tank is None or limits is None or loop is None:
        return None
    rig = Rig(
        name=top.text_or("name", stem),
        tank=tank,
        positions=tuple(loop.positions),
        trays=loop.trays,
        limits=limits,
        spares=spares,
        target_m3s=target,
        mains_hz=mains,
        listen_m=site.number("listening_distance"),
        cabinet_db=site.number("cabinet"),
        load=feeding_load(feeding),
        notes=tuple(report.notes),
        fills=fills,
        source=source,
    )
    if not (_says(tree, "limits", "inlet_pressure") or rig.positions[rig.index(Kind.PUMP)].depth_known):
        rig = _without_inlet_limit(rig)
    known = asked.written("bio_area") or feeding_m2 > 0.0
    return rig if known else _keeping_media(rig)


def _without_inlet_limit(rig: Rig) -> Rig:
    """Return the rig without the limit on the pressure at the pump's inlet, which nobody asked for: how deep the pump stands is
    not known, and a figure that is missing must not make a limit fail."""
    told = "not asked for, and not looked at, since the depth of the pump is not given"
    note = Note("limits.inlet_pressure", told)
    return replace(rig, limits=rig.limits.without("inlet_head_m"), notes=(*rig.notes, note))


def _keeping_media(rig: Rig) -> Rig:
    """Return the rig with the surface for bacteria that it has as the least it may have, when nobody said what it needs."""
    area = rig.bio_area_m2
    if not area:
        return rig
    least = Quantity(area, "area", f"{area:.2f} m2")
    note = Note("feeding", "not given, so the surface for bacteria must not fall below the ", least, " there is now")
    return replace(rig, limits=replace(rig.limits, bio_area_m2=area), notes=(*rig.notes, note))


def _says(tree: dict[str, object], name: str, key: str) -> bool:
    """True when a key stands in a table, whose default would fill the draft as well."""
    table = tree.get(name)
    return isinstance(table, dict) and key in table


def _table(tree: dict[str, object], name: str, fields: tuple[Field, ...], report: Report) -> Draft:
    """Return the draft of a table; one that is not there is empty."""
    raw = tree.get(name, {})
    if isinstance(raw, dict):
        return read_keys(raw, fields, name, report)
    report.problem(name, "this is not a table.", f"Write [{name}] and its keys below it.")
    return read_keys({}, fields, name, Report(problems=Problems()))


def _tank(draft: Draft, report: Report) -> Tank | None:
    nominal = draft.number_or("volume", 0.0)
    net = draft.number_or("net_volume", NET_SHARE * nominal)
    if draft.has("volume") and net > nominal:
        what = f"the net volume ({net * 1e3:.4g} l) is above the nominal volume ({nominal * 1e3:.4g} l)."
        draft.fault("net_volume", what, "Write the water that is really in the tank.")
    if not draft.written("net_volume"):
        told = ("not given, taken as 85 % of the nominal volume, ", Quantity(net, "volume", f"{net * 1e3:.4g} l"))
        report.note(Note("tank.net_volume", *told, " (common practice)"))
    if not draft.written("temperature"):
        report.note(Note("tank.temperature", "not given, taken as 25 degC"))
    if draft.failed:
        return None
    return Tank(
        net_m3=net,
        nominal_m3=nominal,
        temperature_c=draft.number_or("temperature", DEFAULT_TEMPERATURE_C),
        salinity_gkg=draft.number("salinity"),
    )


def _feeding(tree: dict[str, object], report: Report) -> Draft:
    return _table(tree, "feeding", FEEDING, report if "feeding" in tree else Report())


def _mains(site: Draft, report: Report) -> float:
    hz = site.number_or("mains", DEFAULT_MAINS_HZ)
    if hz not in (50.0, 60.0):
        site.fault("mains", f"{hz:g} Hz is not a mains frequency.", 'Write "50 Hz" or "60 Hz".')
    if not site.written("mains"):
        report.note(Note("site.mains", "not given, taken as 50 Hz"))
    return hz
