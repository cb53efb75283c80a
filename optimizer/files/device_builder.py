"""An inline device from its checked values: its loss in one of three forms, and its flow window."""

from __future__ import annotations

import math

from optimizer.files.draft import Draft, Label
from optimizer.model.parts import Device
from optimizer.physics.fittings import quadratic_coefficient, quadratic_from_kv, quadratic_from_point

__all__ = ["build_device"]

_LOSSES = ("kv", "k", "loss", "point_flow", "point_head")


def build_device(label: Label, draft: Draft) -> Device | None:
    """Return the inline device of a row or table, or None once what is wrong is taken in by `draft`.

    >>> from optimizer.errors import Problems
    >>> from optimizer.files.end_text import parse_end
    >>> end = {"inlet": parse_end("hose 16 mm"), "outlet": parse_end("hose 16 mm")}
    >>> draft = Draft(values={**end, "loss": (0.5, 1.0)}, fields={}, place=str, problems=Problems())
    >>> build_device(Label(id="D", name="heater"), draft).quadratic
    4.0
    """
    ends = draft.both_ends()
    window, quadratic = _window(draft), _device_loss(draft, 1.0 if ends is None else ends[0].bore_m)
    if ends is None or window is None or quadratic is None or draft.failed:
        return None
    return Device(
        id=label.id,
        name=label.name,
        inlet=ends[0],
        outlet=ends[1],
        quadratic=quadratic,
        flow_min_m3s=window[0],
        flow_max_m3s=window[1],
        purpose=draft.text_or("purpose", ""),
    )


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
        return float(quadratic_coefficient(draft.number("k"), bore_m))
    flow, head = draft.pair("loss") if given == ["loss"] else (draft.number("point_flow"), draft.number("point_head"))
    if flow <= 0.0:
        draft.fault("loss", "the flow of a measured loss must be above zero.", draft.cure("loss"))
        return None
    return float(quadratic_from_point(flow, head))


def _window(draft: Draft) -> tuple[float, float] | None:
    if draft.bad.intersection(("window", "flow_min", "flow_max")):
        return None
    if draft.has("window"):
        if draft.has("flow_max") or draft.number_or("flow_min", 0.0) > 0.0:
            draft.fault("window", "stands beside flow_min or flow_max.", "Keep one of the two.")
            return None
        return draft.pair("window")
    low, high = draft.number_or("flow_min", 0.0), draft.number_or("flow_max", math.inf)
    if low >= high:
        what = f"the least flow ({low * 3.6e6:.4g} l/h) is not below the greatest ({high * 3.6e6:.4g} l/h)."
        draft.fault("flow_min", what, "Swap them, or leave one out.")
        return None
    return low, high
