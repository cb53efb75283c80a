"""Limits and the wished flow of a rig: turnover becomes flow, feeding becomes surface for bacteria."""

from __future__ import annotations

import math

from optimizer.files.draft import Draft
from optimizer.files.toml_keys import Report
from optimizer.model.limits import Limits
from optimizer.model.load import Load
from optimizer.model.rig import Tank
from optimizer.model.said import Note, Quantity
from optimizer.physics.media import biological_area_m2
from optimizer.units import AREA, show

__all__ = ["feeding_area", "feeding_load", "read_limits", "read_target"]

ANY_TANK = Tank(net_m3=1.0, nominal_m3=1.0)
"""Stands for a tank that could not be read, so that its limits are checked all the same."""


def basis_m3(limits: Draft, tank: Tank) -> float:
    """Return the volume in m3 that turnover counts in.

    >>> from optimizer.errors import Problems
    >>> limits = Draft(values={"turnover_basis": "nominal"}, fields={}, place=str, problems=Problems())
    >>> basis_m3(limits, Tank(net_m3=0.4, nominal_m3=0.45))
    0.45
    """
    return tank.nominal_m3 if limits.text_or("turnover_basis", "net") == "nominal" else tank.net_m3


def feeding_area(feeding: Draft, report: Report) -> float:
    """Return the surface in m2 that bacteria need for the feeding, 0 when nothing is written, with a note.

    >>> from optimizer.errors import Problems
    >>> food = Draft(values={"feed": 0.005, "protein": 0.45}, fields={}, place=str, problems=Problems())
    >>> round(feeding_area(food, Report()), 3)
    0.69
    """
    if not feeding.has("feed") or not feeding.has("protein"):
        return 0.0
    area = float(biological_area_m2(feeding.number("feed"), feeding.number("protein")))
    needed = Quantity(area, "area", show(area, AREA, "m2"))
    report.note(Note("feeding", "bacteria need ", needed, " for this food (planning prior)"))
    return area


def feeding_load(feeding: Draft) -> Load:
    """Return what the table [feeding] says is put into the tank; what is not written stays unsaid.

    >>> from optimizer.errors import Problems
    >>> food = Draft(values={"feed": 0.005, "protein": 0.45}, fields={}, place=str, problems=Problems())
    >>> feeding_load(food)
    Load(feed_kg_day=0.005, protein_share=0.45, debris_kg_day=None)
    """
    given = {name: feeding.number(name) if feeding.has(name) else None for name in ("feed", "protein", "debris")}
    return Load(feed_kg_day=given["feed"], protein_share=given["protein"], debris_kg_day=given["debris"])


def read_limits(draft: Draft, tank: Tank, feeding_m2: float) -> Limits | None:
    """Return the limits, or None once what is wrong is taken in by `draft`.

    The stricter of a flow and a turnover counts; a surface for bacteria that is written counts before the feeding.

    >>> from optimizer.files.rig_fields import LIMITS
    >>> from optimizer.files.toml_keys import read_keys
    >>> draft = read_keys({"turnover_min": "9 per hour"}, LIMITS, "limits", Report())
    >>> read_limits(draft, Tank(net_m3=0.4, nominal_m3=0.45), 0.0).flow_min_m3s
    0.001
    """
    per_second = basis_m3(draft, tank) / 3600.0
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
    return Limits(
        budget=draft.money("budget") if draft.has("budget") else None,
        noise_dba=draft.number_or("noise", math.inf),
        power_w=draft.number_or("power", math.inf),
        flow_min_m3s=lows[low],
        flow_max_m3s=highs[high],
        opening_m=draft.number_or("guard_opening", math.inf),
        guard_speed_ms=draft.number_or("guard_speed", math.inf),
        bio_area_m2=draft.number_or("bio_area", feeding_m2),
        mechanical_stage=draft.flag("mechanical_stage"),
        mature_media=draft.flag("mature_media"),
        inlet_head_m=draft.number("inlet_pressure"),
    )


def _flow(flow_m3s: float) -> str:
    return f"{flow_m3s * 3.6e6:.4g} l/h"


def read_target(wish: Draft, limits: Draft, tank: Tank) -> float:
    """Return the wished flow in m3/s, 0 for as much as possible.

    >>> from optimizer.files.rig_fields import LIMITS, WISH
    >>> from optimizer.files.toml_keys import read_keys
    >>> report = Report()
    >>> limits, wish = read_keys({}, LIMITS, "limits", report), read_keys({"turnover": "9/h"}, WISH, "wish", report)
    >>> read_target(wish, limits, Tank(net_m3=0.4, nominal_m3=0.45))
    0.001
    """
    if wish.written("flow") and wish.written("turnover"):
        wish.fault("flow", "stands beside turnover.", "Keep one of the two.")
    if wish.has("turnover"):
        return wish.number("turnover") * basis_m3(limits, tank) / 3600.0
    return wish.number_or("flow", 0.0)
