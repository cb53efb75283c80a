"""Whether what stands in the loop can stand as high or as low as the rig file says."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.files.toml_keys import Report
from optimizer.model.parts import Kind
from optimizer.model.rig import Position
from optimizer.model.said import Note, Quantity, Said

__all__ = ["check_heights"]

MOST_APART_M = 1.0
"""A pump with no hose between is as near to the canister as that is high: common practice, no published source."""

NEAR_M = 0.05


def check_heights(positions: Sequence[Position], report: Report) -> None:
    """Take in a pump that sits on its canister and is said to be far from it; note what is possible, but hardly meant.

    >>> check_heights([], Report())
    """
    found = {position.kind: n for n, position in enumerate(positions) if position.kind in (Kind.CANISTER, Kind.PUMP, Kind.OUTLET)}
    if Kind.CANISTER not in found:
        return
    body = positions[found[Kind.CANISTER]]
    if Kind.PUMP in found and body.depth_m > 0.0:
        first, last = sorted((found[Kind.CANISTER], found[Kind.PUMP]))
        if not any(each.kind in (Kind.HOSE, Kind.BRANCHES) for each in positions[first:last]):
            _check_pump(positions[found[Kind.PUMP]], body, report)
    mouth = positions[found[Kind.OUTLET]] if Kind.OUTLET in found else body
    if body.depth_m > 0.0 and -mouth.height_m > body.depth_m:
        told = (
            _metres(-mouth.height_m),
            " is deeper than the canister stands (",
            _metres(body.depth_m),
            "); look whether it is meant",
        )
        report.note(Note(f"loop.{mouth.name}.below_water", *told))


def _check_pump(pump: Position, body: Position, report: Report) -> None:
    below = pump.depth_m - body.depth_m
    if pump.depth_m <= 0.0 or (below <= NEAR_M and -below <= MOST_APART_M):
        return
    side = "below" if below > 0.0 else "above"
    depth, apart = _metres(pump.depth_m), _metres(abs(below))
    what = Said(depth, " is ", apart, f" {side} the canister (", _metres(body.depth_m), ")")
    if abs(below) > MOST_APART_M:
        cure = "Write how far each stands below the water line, or the hose between them as a place of its own."
        report.problem(f"loop.{pump.name}.depth", f"{what}, and no hose is between them.", cure)
    else:
        report.note(Note(f"loop.{pump.name}.depth", what, ", though no hose is between them; look whether it is meant"))


def _metres(metres: float) -> Quantity:
    return Quantity(metres, "height", f"{metres:.3g} m")
