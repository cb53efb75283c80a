"""A pump from its checked values: measured points, or the two figures of its label and a shape."""

from __future__ import annotations

from optimizer.files.draft import Draft, Label
from optimizer.files.fields import DEFAULT_CURVE_SHAPE
from optimizer.model.parts import Pump, PumpCurve

__all__ = ["build_pump"]


def build_pump(label: Label, draft: Draft) -> Pump | None:
    """Return the pump of a row or table, or None once what is wrong is taken in by `draft`.

    >>> from optimizer.errors import Problems
    >>> from optimizer.files.end_text import parse_end
    >>> values = {"inlet": parse_end("hose 16 mm"), "outlet": parse_end("hose 16 mm"), "power": 16.0, "noise": 34.0}
    >>> values |= {"max_head": 2.2, "max_flow": 0.0005}
    >>> draft = Draft(values=values, fields={}, place=str, problems=Problems())
    >>> build_pump(Label(id="P", name="pump"), draft).curve.shape
    2.0
    """
    ends, curve = draft.both_ends(), _curve(draft)
    hz = draft.number_or("label_hz", 0.0)
    if hz not in (0.0, 50.0, 60.0):
        draft.fault("label_hz", f"{hz:g} Hz is not a mains frequency.", "Write 50 or 60, or leave it out.")
    if ends is None or curve is None or draft.failed:
        return None
    return Pump(
        id=label.id,
        name=label.name,
        curve=curve,
        power_w=draft.number("power"),
        noise_dba=draft.number("noise"),
        inlet=ends[0],
        outlet=ends[1],
        label_hz=hz,
    )


def _curve(draft: Draft) -> PumpCurve | None:
    labels = [name for name in ("max_head", "max_flow", "curve_shape") if draft.written(name)]
    if draft.written("curve"):
        if labels:
            draft.fault("curve", "measured points stand beside figures of the label.", "Keep one of the two.")
        if "curve" in draft.bad:
            return None
        flows, heads = zip(*draft.points("curve"), strict=True)
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
