"""What the values of one part must be together, kind by kind, and what of the part is worked out from more than one of them.

Each function takes in by the draft what is wrong and returns attributes of the part; when anything is wrong they do not count.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from optimizer.files.draft import Draft, Made
from optimizer.model.ends import Closure, sealed_by
from optimizer.model.parts import PumpCurve
from optimizer.physics.arrays import Floats
from optimizer.physics.fittings import quadratic_coefficient, quadratic_from_kv, quadratic_from_point
from optimizer.physics.hose import ROUGHNESS
from optimizer.physics.media import ergun_coefficients, fibre_coefficients, foam_coefficients, ring_coefficients
from optimizer.physics.outlets import SHARP_HOLE

__all__ = ["check_hole", "clamp", "device", "fitting", "guard", "hose", "medium", "outlet", "pump", "seal", "tee"]

DEFAULT_CURVE_SHAPE = 2.0

_LOSSES = ("kv", "k", "loss", "point_flow", "point_head")
_BEDS: Mapping[str, tuple[Callable[..., tuple[Floats, Floats]], tuple[str, ...]]] = {
    "foam": (foam_coefficients, ("pores",)),
    "granules": (ergun_coefficients, ("grain", "void")),
    "rings": (ring_coefficients, ("surface", "void")),
    "fibre": (fibre_coefficients, ("fibre", "solid")),
}
"""How the clean bed of a medium resists the water, by its form and from what."""


def guard(draft: Draft) -> Made:
    """A sponge has pores and a wall."""
    if draft.text_or("form", "") == "sponge":
        draft.need("pores", ", but a sponge needs it")
        draft.need("thickness", ", but a sponge needs it")
    return {}


def hose(draft: Draft) -> Made:
    """Inside and outside may be said together; the material sets how rough the wall is."""
    if draft.has("size"):
        inside, outside = draft.pair("size")
    elif draft.has("inside") and draft.has("outside"):
        inside, outside = draft.number("inside"), draft.number("outside")
    else:
        return {}
    if outside <= inside:
        what = f"the outside ({outside * 1e3:.4g} mm) is not wider than the inside ({inside * 1e3:.4g} mm)."
        draft.fault("outside", what, "Measure both diameters and write the larger one as the outside.")
    material = draft.text_or("material", "")
    return {"inside_m": inside, "outside_m": outside, "roughness_m": ROUGHNESS[material].roughness_m if material else 0.0}


def fitting(draft: Draft) -> Made:
    """Nothing inside is wider than the smaller bore."""
    if len(draft.ends) < 2 or "passage" in draft.bad:
        return {}
    smaller = min(end.bore_m for end in draft.ends.values())
    return {"passage_m": _passage(draft, "passage", smaller, smaller, "the smaller bore")}


def tee(draft: Draft) -> Made:
    """As of a fitting, and the way into the side is no wider than the straight one."""
    if len(draft.ends) < 3 or draft.failed:
        return {}
    smaller, side = min(draft.ends["inlet"].bore_m, draft.ends["outlet"].bore_m), draft.ends["side"].bore_m
    passage = _passage(draft, "passage", smaller, smaller, "the smaller bore of the straight run")
    side_passage = _passage(draft, "side_passage", min(side, passage), side, "the bore of the side")
    if side_passage > passage * (1.0 + 1e-9) and not draft.failed:
        what = f"the passage of the side ({side_passage * 1e3:.4g} mm) is wider than that of the run ({passage * 1e3:.4g} mm)."
        draft.fault("side_passage", what, "Swap the ends so that the wider ones are inlet and outlet, or leave it out.")
    return {"passage_m": passage, "side_passage_m": min(side_passage, passage)}


def _passage(draft: Draft, name: str, otherwise: float, widest: float, bore: str) -> float:
    """Return the narrowest bore in m behind a field, which nothing wider than `widest` can be."""
    passage = draft.number_or(name, otherwise)
    if passage > widest * (1.0 + 1e-9):
        what = f"the passage ({passage * 1e3:.4g} mm) is wider than {bore} ({widest * 1e3:.4g} mm)."
        draft.fault(name, what, "Write the narrowest bore inside, or leave it out.")
    return passage


def outlet(draft: Draft) -> Made:
    """A bar has a bore and a pitch, nothing else has many holes; an open end lets out all that comes."""
    form = draft.text_or("form", "")
    if form == "bar":
        draft.need("bar_bore", ", but a bar needs it")
        draft.need("pitch", ", but a bar needs it")
        check_hole(draft, draft.number_or("bar_bore", math.inf))
    elif form and draft.has("holes") and draft.whole("holes") != 1:
        draft.fault("holes", "only a bar has more than one hole.", 'Write form "bar", or 1 hole.')
    holes = int(draft.number_or("holes", 1.0))
    return {"holes": holes, "discharge": draft.number_or("discharge", 1.0 if form == "open" else SHARP_HOLE)}


def check_hole(draft: Draft, bar_bore_m: float) -> None:
    """Take in a hole that is wider than the bar it is drilled into."""
    if draft.has("hole") and draft.number("hole") > bar_bore_m * (1.0 + 1e-9):
        what = f"a hole of {draft.number('hole') * 1e3:.4g} mm is wider than the bar ({bar_bore_m * 1e3:.4g} mm)."
        draft.fault("hole", what, "Measure a hole and the inside of the bar.")


def pump(draft: Draft) -> Made:
    """A curve comes from measured points, or from the two figures of the label and a shape."""
    curve = _curve(draft)
    hz = draft.number_or("label_hz", 0.0)
    if hz not in (0.0, 50.0, 60.0):
        draft.fault("label_hz", f"{hz:g} Hz is not a mains frequency.", "Write 50 or 60, or leave it out.")
    return {"curve": curve}


def _curve(draft: Draft) -> PumpCurve | None:
    labels = [name for name in ("max_head", "max_flow", "curve_shape") if draft.written(name)]
    if draft.written("curve"):
        if labels:
            draft.fault("curve", "measured points stand beside figures of the label.", "Keep one of the two.")
        if "curve" in draft.bad:
            return None
        flows, heads = zip(*draft.several("curve"), strict=True)
        return PumpCurve(flows_m3s=flows, heads_m=heads)
    if not labels:
        what = "the pump has neither a label (greatest head and flow) nor measured points."
        draft.fault("max_head", what, "Write greatest head and flow of its label, or the points of its curve.")
        return None
    reason = ", but the label of a pump needs both greatest head and flow"
    if not all([draft.need("max_head", reason), draft.need("max_flow", reason)]) or "curve_shape" in draft.bad:
        return None
    shape = draft.number_or("curve_shape", DEFAULT_CURVE_SHAPE)
    return PumpCurve(flows_m3s=(0.0, draft.number("max_flow")), heads_m=(draft.number("max_head"), 0.0), shape=shape)


def medium(draft: Draft) -> Made:
    """How the bed resists the water comes from its form and its grain."""
    form = draft.text_or("form", "")
    coefficients, needs = _BEDS.get(form, (foam_coefficients, ()))
    for name in needs:
        draft.need(name, f", but {form} needs it")
    area = draft.number_or("area", 0.0)
    if draft.flag("biological") and "area" not in draft.bad and area == 0.0:
        draft.fault("area", "a biological medium needs a surface for bacteria.", draft.cure("area"))
    if draft.failed:
        return {}
    permeability, inertial = coefficients(*(draft.number(name) for name in needs))
    void = {"void": 1.0 - draft.number("solid")} if "solid" in needs else {}
    return {"permeability_m2": float(permeability), "inertial_1m": float(inertial), "area_m2m3": area, **void}


def device(draft: Draft) -> Made:
    """The loss is said in one of three forms, the flow window in one of two."""
    window = _window(draft)
    quadratic = _device_loss(draft, draft.ends["inlet"].bore_m if len(draft.ends) == 2 else 1.0)
    return {"quadratic": quadratic, "flow_min_m3s": window[0], "flow_max_m3s": window[1]}


def _device_loss(draft: Draft, bore_m: float) -> float | None:
    given = [name for name in _LOSSES if draft.written(name)]
    if given in (["point_flow"], ["point_head"]):
        draft.need("point_head" if given == ["point_flow"] else "point_flow", ", but a measured point needs both")
        return None
    if len(given) != 1 and given != ["point_flow", "point_head"]:
        what = "says its loss in more than one way." if given else "says nothing about the loss of the device."
        draft.fault(given[0] if given else "k", what, "Give one of: kv, k, or one measured point.")
        return None
    if draft.bad.intersection(given):
        return None
    if given == ["kv"]:
        return float(quadratic_from_kv(draft.number("kv") * 3600.0))
    if given == ["k"]:
        if "inlet_bore" in draft.assumed and "k" not in draft.assumed:
            draft.assumed.append("k")  # the loss hangs on the bore that it belongs to
        return float(quadratic_coefficient(draft.number("k"), bore_m))
    flow, head = draft.pair("loss") if given == ["loss"] else (draft.number("point_flow"), draft.number("point_head"))
    if flow <= 0.0:
        draft.fault("loss", "the flow of a measured loss must be above zero.", draft.cure("loss"))
        return None
    return float(quadratic_from_point(flow, head))


def _window(draft: Draft) -> tuple[float, float]:
    low, high = draft.number_or("flow_min", 0.0), draft.number_or("flow_max", math.inf)
    if draft.bad.intersection(("window", "flow_min", "flow_max")):
        return low, high
    if draft.has("window"):
        if low > 0.0 or draft.has("flow_max"):
            draft.fault("window", "stands beside flow_min or flow_max.", "Keep one of the two.")
        return draft.pair("window")
    if low >= high:
        what = f"the least flow ({low * 3.6e6:.4g} l/h) is not below the greatest ({high * 3.6e6:.4g} l/h)."
        draft.fault("flow_min", what, "Swap them, or leave one out.")
    return low, high


def clamp(draft: Draft) -> Made:
    """A clamp closes on a range from small to large."""
    low, high = draft.number_or("low", 0.0), draft.number_or("high", math.inf)
    if high < low:
        draft.fault("high", f"{high * 1e3:.4g} mm is below the {low * 1e3:.4g} mm it starts at.", "Swap the two.")
    return {}


def seal(draft: Draft) -> Made:
    """What closes the joint must be what such a thread or pipe is closed with."""
    closure, standard = draft.text_or("closure", ""), draft.text_or("standard", "")
    if closure and standard and not sealed_by(closure, standard):
        others = " or ".join(other.value for other in Closure if sealed_by(other.value, standard))
        what = f"{closure} closes no joint of {standard}, {others} does."
        draft.fault("standard", what, "Correct closure or standard; leave the standard empty where it closes any.")
    return {}
