"""From checked values to parts, one function for each kind: what depends on more than one field is checked here."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from types import MappingProxyType

from optimizer.files.device_builder import build_device
from optimizer.files.draft import Draft, Label
from optimizer.files.medium_builder import build_medium
from optimizer.files.pump_builder import build_pump
from optimizer.model.ends import Closure, sealed_by
from optimizer.model.parts import (
    Canister,
    Clamp,
    Fitting,
    Guard,
    Hose,
    Kind,
    Outlet,
    Part,
    Seal,
    TeePiece,
)
from optimizer.physics.hose import ROUGHNESS
from optimizer.physics.outlets import SHARP_HOLE

__all__ = ["build_part", "check_hole"]


def build_part(kind: str, label: Label, draft: Draft) -> Part | None:
    """Return the part of this kind (a name of `Kind`), or None once what is wrong is taken in by the draft.

    Required fields must be there or known to be bad (`draft.bad`).

    >>> from optimizer.errors import Problems
    >>> draft = Draft(values={"low": 0.02, "high": 0.024}, fields={}, place=str, problems=Problems())
    >>> build_part("clamp", Label(id="C", name="clamp"), draft)
    Clamp(id='C', name='clamp', low_m=0.02, high_m=0.024, throttles=False)
    """
    return _BUILDERS[kind](label, draft)


def _guard(label: Label, draft: Draft) -> Part | None:
    outlet = draft.end("outlet")
    if draft.text_or("form", "") == "sponge":
        draft.need("pores", ", but a sponge needs it")
        draft.need("thickness", ", but a sponge needs it")
    if outlet is None or draft.failed:
        return None
    return Guard(
        id=label.id,
        name=label.name,
        form=draft.text("form"),
        face_area_m2=draft.number("face_area"),
        open_fraction=draft.number("open"),
        opening_m=draft.number("opening"),
        outlet=outlet,
        pores_ppi=draft.number_or("pores", 0.0),
        thickness_m=draft.number_or("thickness", 0.0),
    )


def _hose(label: Label, draft: Draft) -> Part | None:
    if draft.has("size"):
        inside, outside = draft.pair("size")
    elif draft.has("inside") and draft.has("outside"):
        inside, outside = draft.number("inside"), draft.number("outside")
    else:
        return None
    if outside <= inside:
        what = f"the outside ({outside * 1e3:.4g} mm) is not wider than the inside ({inside * 1e3:.4g} mm)."
        draft.fault("outside", what, "Measure both diameters and write the larger one as the outside.")
    if draft.failed:
        return None
    return Hose(
        id=label.id,
        name=label.name,
        inside_m=inside,
        outside_m=outside,
        roughness_m=ROUGHNESS[draft.text("material")].roughness_m,
        ribbed=draft.flag("ribbed"),
    )


def _fitting(label: Label, draft: Draft) -> Part | None:
    ends = draft.both_ends()
    if ends is None or "passage" in draft.bad:
        return None
    smaller = min(end.bore_m for end in ends)
    passage = _passage(draft, "passage", smaller, smaller, "the smaller bore")
    if draft.failed:
        return None
    return Fitting(
        id=label.id,
        name=label.name,
        role=label.role,
        shape=draft.text("shape"),
        inlet=ends[0],
        outlet=ends[1],
        passage_m=passage,
        throttles=draft.flag("throttles"),
    )


def _outlet(label: Label, draft: Draft) -> Part | None:
    inlet, form = draft.end("inlet"), draft.text_or("form", "")
    if form == "bar":
        draft.need("bar_bore", ", but a bar needs it")
        draft.need("pitch", ", but a bar needs it")
        check_hole(draft, draft.number_or("bar_bore", math.inf))
    elif form and draft.has("holes") and draft.whole("holes") != 1:
        draft.fault("holes", "only a bar has more than one hole.", 'Write form "bar", or 1 hole.')
    if inlet is None or draft.failed:
        return None
    return Outlet(
        id=label.id,
        name=label.name,
        form=form,
        inlet=inlet,
        holes=draft.whole("holes"),
        hole_m=draft.number("hole"),
        discharge=draft.number_or("discharge", 1.0 if form == "open" else SHARP_HOLE),
        bar_bore_m=draft.number_or("bar_bore", 0.0),
        pitch_m=draft.number_or("pitch", 0.0),
    )


def check_hole(draft: Draft, bar_bore_m: float) -> None:
    """Take in a hole that is wider than the bar it is drilled into.

    >>> from optimizer.errors import Problems
    >>> draft = Draft(values={"hole": 0.02}, fields={}, place=str, problems=Problems())
    >>> check_hole(draft, 0.012)
    >>> [problem.what for problem in draft.problems]
    ['a hole of 20 mm is wider than the bar (12 mm).']
    """
    if draft.has("hole") and draft.number("hole") > bar_bore_m * (1.0 + 1e-9):
        what = f"a hole of {draft.number('hole') * 1e3:.4g} mm is wider than the bar ({bar_bore_m * 1e3:.4g} mm)."
        draft.fault("hole", what, "Measure a hole and the inside of the bar.")


def _canister(label: Label, draft: Draft) -> Part | None:
    ends = draft.both_ends()
    if ends is None or draft.failed:
        return None
    return Canister(
        id=label.id,
        name=label.name,
        inlet=ends[0],
        outlet=ends[1],
        trays=draft.whole("trays"),
        tray_area_m2=draft.number("tray_area"),
        tray_height_m=draft.number("tray_height"),
        rating_m=draft.number_or("rating", math.inf),
    )


def _tee(label: Label, draft: Draft) -> Part | None:
    ends, side = draft.both_ends(), draft.end("side")
    if ends is None or side is None or draft.failed:
        return None
    smaller = min(end.bore_m for end in ends)
    passage = _passage(draft, "passage", smaller, smaller, "the smaller bore of the straight run")
    side_passage = _passage(draft, "side_passage", min(side.bore_m, passage), side.bore_m, "the bore of the side")
    if side_passage > passage * (1.0 + 1e-9) and not draft.failed:
        what = f"the passage of the side ({side_passage * 1e3:.4g} mm) is wider than that of the run ({passage * 1e3:.4g} mm)."
        draft.fault("side_passage", what, "Swap the ends so that the wider ones are inlet and outlet, or leave it out.")
    if draft.failed:
        return None
    return TeePiece(
        id=label.id,
        name=label.name,
        inlet=ends[0],
        outlet=ends[1],
        side=side,
        passage_m=passage,
        side_passage_m=min(side_passage, passage),
        angle_deg=draft.number("angle"),
    )


def _passage(draft: Draft, name: str, otherwise: float, widest: float, bore: str) -> float:
    """Return the narrowest bore in m behind a field, which nothing wider than `widest` can be."""
    passage = draft.number_or(name, otherwise)
    if passage > widest * (1.0 + 1e-9):
        what = f"the passage ({passage * 1e3:.4g} mm) is wider than {bore} ({widest * 1e3:.4g} mm)."
        draft.fault(name, what, "Write the narrowest bore inside, or leave it out.")
    return passage


def _clamp(label: Label, draft: Draft) -> Part | None:
    low, high = draft.number_or("low", 0.0), draft.number_or("high", math.inf)
    if high < low:
        draft.fault("high", f"{high * 1e3:.4g} mm is below the {low * 1e3:.4g} mm it starts at.", "Swap the two.")
    if draft.failed:
        return None
    return Clamp(id=label.id, name=label.name, low_m=low, high_m=high, throttles=draft.flag("throttles"))


def _seal(label: Label, draft: Draft) -> Part | None:
    closure, standard = draft.text_or("closure", ""), draft.text_or("standard", "")
    if closure and standard and not sealed_by(closure, standard):
        others = " or ".join(other.value for other in Closure if sealed_by(other.value, standard))
        what = f"{closure} closes no joint of {standard}, {others} does."
        draft.fault("standard", what, "Correct closure or standard; leave the standard empty where it closes any.")
    if draft.failed:
        return None
    return Seal(
        id=label.id,
        name=label.name,
        closure=closure,
        standard=standard,
        size_m=draft.number_or("size", 0.0),
    )


_BUILDERS: Mapping[str, Callable[[Label, Draft], Part | None]] = MappingProxyType(
    {
        Kind.GUARD: _guard,
        Kind.HOSE: _hose,
        Kind.FITTING: _fitting,
        Kind.PUMP: build_pump,
        Kind.MEDIUM: build_medium,
        Kind.OUTLET: _outlet,
        Kind.DEVICE: build_device,
        Kind.CANISTER: _canister,
        Kind.CLAMP: _clamp,
        Kind.SEAL: _seal,
        Kind.TEE: _tee,
    }
)
