"""A rig file: one tank, its loop, limits and spares, as TOML that a keeper can read."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from optimizer.dirt.biology import least_m2, need_m2, sure_m2
from optimizer.dirt.daily import daily_of
from optimizer.errors import quoted
from optimizer.files.decimals import tree_has_commas
from optimizer.files.draft import Draft
from optimizer.files.field import Field
from optimizer.files.rig_fills import read_fills
from optimizer.files.rig_joints import joined, read_joints
from optimizer.files.rig_loop import read_loop
from optimizer.files.rig_parts import read_spares, read_tools
from optimizer.files.toml_fields import AS_NOW, FEEDING, LIMITS, OWNED, RIG_NAME, SITE, SYMPTOMS, TANK, WISH
from optimizer.files.toml_keys import Report, read_file, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.load import Load
from optimizer.model.parts import Kind
from optimizer.model.rig import Rig, Tank
from optimizer.model.said import Note, Quantity
from optimizer.unit_table import AREA
from optimizer.units import show

__all__ = ["read_rig", "rig_from_tables"]

NET_SHARE = 0.85
"""Water over nominal volume when it is not known: common practice, no published source."""

FILLED_SLACK = 1.15
"""Labels count the outside, and round up: common practice, no published source."""

DEFAULT_MAINS_HZ = 50.0
TABLES = ("tank", "site", "feeding", "limits", "wish", "loop", "joint", "spares", "owned", "fill", "symptoms")

NOW_KEYS = {"noise": "noise_dba", "power": "power_w"}
"""Keys of limits that may be as now, and the limits."""

USUAL_KEYS = {"mechanical_stage": "mechanical_stage", "mature_media": "mature_media", "inlet_head_m": "inlet_pressure"}
"""Limits that stand by themselves, and the keys by which they are asked for; the others have none."""

ANY_TANK = Tank(net_m3=1.0, nominal_m3=1.0)
"""Stands for a tank that could not be read, so that its limits are checked all the same."""


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
    return read_file(path, lambda tree, file, report: rig_from_tables(tree, file.stem, catalog, report, file.name))


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
    feeding = _table(tree, "feeding", FEEDING, report if "feeding" in tree else Report())
    asked = _table(tree, "limits", LIMITS, report)
    limits = _limits(asked, tank or ANY_TANK, site)
    wish = _table(tree, "wish", WISH, report)
    target = _target(wish, asked, tank or ANY_TANK)
    mains = _mains(site, report)
    energy_price = _energy_price(site, catalog)
    if "loop" not in tree:
        report.problem("loop", "the table is missing.", 'Write [loop.intake] and below it kind = "guard".')
    loop = read_loop(tree["loop"], catalog, report) if "loop" in tree else None
    joints = read_joints(tree.get("joint", []), catalog, report)
    spares = read_spares(tree.get("spares", []), catalog, report)
    tools = read_tools(_table(tree, "owned", OWNED, report), catalog)
    fills = read_fills(tree.get("fill", []), report)
    symptoms = _table(tree, "symptoms", SYMPTOMS, report)
    if len(report.problems) or tank is None or limits is None or loop is None:
        return None
    held = joined(loop.positions, joints, report)
    if len(report.problems):
        return None
    rig = Rig(
        name=top.text_or("name", stem),
        tank=tank,
        positions=tuple(loop.positions),
        trays=loop.trays,
        joints=held,
        limits=limits,
        unasked=tuple(name for name in Limits().binding if not _says(tree, "limits", USUAL_KEYS.get(name, ""))),
        as_now=tuple(limit for key, limit in NOW_KEYS.items() if _as_now(asked, key)),
        spares=spares,
        tools=tools,
        target_m3s=target,
        told_apart=wish.number_or("told_apart", 0.0),
        mains_hz=mains,
        listen_m=site.number("listening_distance"),
        cabinet_db=site.number("cabinet"),
        energy_price=energy_price,
        rim_m=site.number("rim") if site.has("rim") else None,
        load=feeding.made(Load),
        notes=tuple(report.notes),
        fills=fills,
        signs=tuple(dict.fromkeys(map(str, symptoms.several("signs")))),
        source=source,
    ).limited_as_now
    if not (_says(tree, "limits", "inlet_pressure") or rig.positions[rig.index(Kind.PUMP)].depth_known):
        rig = _without_inlet_limit(rig)
    return _with_surface(rig, asked.written("bio_area"))


def _without_inlet_limit(rig: Rig) -> Rig:
    """Return the rig without the limit on the pressure at the pump's inlet, which nobody asked for: how deep the pump stands is
    not known, and a figure that is missing must not make a limit fail."""
    told = "not asked for, and not looked at, since the depth of the pump is not given"
    note = Note("limits.inlet_pressure", told)
    return replace(rig, limits=rig.limits.without("inlet_head_m"), notes=(*rig.notes, note))


def _with_surface(rig: Rig, written: bool) -> Rig:
    """Return the rig with the least surface for bacteria: what is ``written`` counts before what the feeding asks for, see
    `dirt/biology.py`; where neither is known nothing may be taken away."""
    if not (rig.load.feed_kg_day and rig.load.protein_share):
        return rig if written else _keeping_media(rig)
    need = need_m2(daily_of(rig), rig.tank.temperature_c)
    least = least_m2(need, rig.bio_area_m2)
    if written and rig.limits.bio_area_m2 >= least:
        return rig
    note = _surface_note(rig, need, least, written)
    limits = rig.limits if written else replace(rig.limits, bio_area_m2=least)
    return replace(rig, limits=limits, notes=(*rig.notes, note))


def _surface_note(rig: Rig, need_m2: float, least_m2: float, written: bool) -> Note:
    """Return what the feeding asks for, and what comes of it."""
    enough_m2 = sure_m2(need_m2)
    need, least, enough = (Quantity(area, "area", show(area, AREA, "m2")) for area in (need_m2, least_m2, enough_m2))
    about = ("bacteria need ", need, f" for this food at {rig.tank.temperature_c:.0f} degC (planning prior, half to double that)")
    if written:
        return Note("limits.bio_area", *about, "; what is written counts, but below ", enough, " it may be too little")
    if least_m2 >= enough_m2:
        return Note("feeding", *about, "; ", least, " do in nine of ten cases, and as much always stays")
    if least_m2 > need_m2:
        return Note("feeding", *about, "; whether the ", least, " there is now do is not sure, so none may go")
    return Note("feeding", *about, ", more than there is now")


def _keeping_media(rig: Rig) -> Rig:
    """Return the rig with the surface for bacteria that it has as the least it may have, when nobody said what it needs."""
    area = rig.bio_area_m2
    if not area:
        return rig
    least = Quantity(area, "area", f"{area:.2f} m2")
    note = Note("feeding", "not given, so the surface for bacteria must not fall below the ", least, " there is now")
    unasked = (*rig.unasked, "bio_area_m2")
    return replace(rig, limits=replace(rig.limits, bio_area_m2=area), unasked=unasked, notes=(*rig.notes, note))


def _as_now(limits: Draft, key: str) -> bool:
    """True where what the installed pump has is asked for."""
    return limits.values.get(key) == AS_NOW


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
    return read_keys({}, fields, name, Report())


def _tank(draft: Draft, report: Report) -> Tank | None:
    nominal = draft.number_or("volume", 0.0)
    net = draft.number_or("net_volume", NET_SHARE * nominal)
    if draft.has("volume") and net > nominal:
        what = f"the net volume ({net * 1e3:.4g} l) is above the nominal volume ({nominal * 1e3:.4g} l)."
        draft.fault("net_volume", what, "Write the water that is really in the tank.")
    footprint = _footprint_m2(draft, nominal)
    if not draft.written("net_volume"):
        told = ("not given, taken as 85 % of the nominal volume, ", Quantity(net, "volume", f"{net * 1e3:.4g} l"))
        report.note(Note("tank.net_volume", *told, " (common practice)"))
    if not draft.written("temperature"):
        report.note(Note("tank.temperature", "not given, taken as 25 degC"))
    return None if draft.failed else draft.made(Tank, net_m3=net, nominal_m3=nominal, footprint_m2=footprint)


def _footprint_m2(draft: Draft, nominal_m3: float) -> float | None:
    """Return the area of the bottom in m2: length times width, or volume over height; None when neither is there."""
    if draft.failed:
        return None
    sides = [name for name in ("length", "width") if draft.has(name)]
    if len(sides) == 1 and not draft.has("height"):
        draft.need("width" if sides == ["length"] else "length", ", but one side alone tells no area")
    if len(sides) == 2:
        area = draft.number("length") * draft.number("width")
        most = area * draft.number_or("height", math.inf) * FILLED_SLACK
        if nominal_m3 > most:
            what = f"{nominal_m3 * 1e3:.4g} l are more than length, width and height hold ({most / FILLED_SLACK * 1e3:.4g} l)."
            draft.fault("volume", what, "Measure the tank inside, or correct its volume.")
        return area
    return nominal_m3 / draft.number("height") if draft.has("height") else None


def _mains(site: Draft, report: Report) -> float:
    hz = site.number_or("mains", DEFAULT_MAINS_HZ)
    if hz not in (50.0, 60.0):
        site.fault("mains", f"{hz:g} Hz is not a mains frequency.", 'Write "50 Hz" or "60 Hz".')
    if not site.written("mains"):
        report.note(Note("site.mains", "not given, taken as 50 Hz"))
    return hz


def _energy_price(site: Draft, catalog: Catalog) -> float | None:
    """Return what a kWh costs in minor units of the catalog's currency, None when nothing is written."""
    if not site.has("energy_price"):
        return None
    price, currency = site.several("energy_price")
    if catalog.currency and currency.casefold() != catalog.currency.casefold():
        what = f"the price is in {quoted(currency)}, but the catalog's prices are in {catalog.currency}."
        site.fault("energy_price", what, f'Write it in {catalog.currency}, for example "0.32 {catalog.currency}/kWh".')
    return float(price)


def _basis_m3(limits: Draft, tank: Tank) -> float:
    """Return the volume in m3 that turnover counts in."""
    return tank.nominal_m3 if limits.text_or("turnover_basis", "net") == "nominal" else tank.net_m3


def _limits(draft: Draft, tank: Tank, site: Draft) -> Limits | None:
    """Return the limits, those of the `site` on new pumps too, or None once what is wrong is taken in by `draft`.

    The stricter of a flow and a turnover counts.
    """
    per_second = _basis_m3(draft, tank) / 3600.0
    lows = {
        "flow_min": draft.number_or("flow_min", 0.0),
        "turnover_min": draft.number_or("turnover_min", 0.0) * per_second,
    }
    highs = {
        "flow_max": draft.number_or("flow_max", math.inf),
        "turnover_max": draft.number_or("turnover_max", math.inf) * per_second,
    }
    low, high = max(lows, key=lows.__getitem__), min(highs, key=highs.__getitem__)
    if lows[low] > highs[high] and not draft.bad.intersection((low, high)):
        what = f"the least flow ({_flow(lows[low])}) is above the greatest ({high}: {_flow(highs[high])})."
        draft.fault(low, what, "Lower the one or raise the other.")
    if draft.failed:
        return None
    return draft.made(
        Limits,
        flow_min_m3s=lows[low],
        flow_max_m3s=highs[high],
        opening_m=draft.number_or("guard_opening", math.inf),
        bio_area_m2=draft.number_or("bio_area", 0.0),
        inlet_head_m=draft.number("inlet_pressure"),
        **{limit: math.inf for key, limit in NOW_KEYS.items() if _as_now(draft, key)},
        room_m=site.several("cabinet_room") or None,
        plugs=tuple(word for each in site.text_or("plug", "").split(",") if (word := " ".join(each.split()))),
    )


def _flow(flow_m3s: float) -> str:
    return f"{flow_m3s * 3.6e6:.4g} l/h"


def _target(wish: Draft, limits: Draft, tank: Tank) -> float:
    """Return the wished flow in m3/s, 0 for as much as possible."""
    if wish.written("flow") and wish.written("turnover"):
        wish.fault("flow", "stands beside turnover.", "Keep one of the two.")
    if wish.has("turnover"):
        return wish.number("turnover") * _basis_m3(limits, tank) / 3600.0
    return wish.number_or("flow", 0.0)
