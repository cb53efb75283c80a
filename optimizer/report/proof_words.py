"""What holds a bundle to its flow, and what a proof does not cover, in words."""

from __future__ import annotations

from optimizer.errors import safe
from optimizer.model.results import Proof, Row
from optimizer.report.measures import Measures, count

__all__ = ["held", "not_among"]

CEILINGS = {
    "flow_max_m3s": "the limit on flow",
    "guard_speed_ms": "the speed allowed in front of the guard",
    "jet_speed_ms": "the speed allowed where the water leaves the outlet",
    "inlet_head_m": "the pressure needed at the pump's inlet",
}
"""What a throttle keeps to; any other ceiling is a place whose window it is."""


def held(row: Row, measures: Measures) -> str:
    """Return why a row is throttled, and what it would deliver wide open."""
    by = CEILINGS.get(row.held_by, safe(row.held_by))
    return f"because of {by}; wide open it would run at {measures.flow_text(row.own_m3s)}."


def not_among(proof: Proof) -> str:
    """What a proof does not cover, as sentences to follow it: ways to fill branches, and worse joints and media that might hold
    the flow under a ceiling by their loss alone.

    >>> not_among(Proof(status="proved", combinations=3))
    ''
    """
    said = ""
    if proof.left_out:
        ways = "One way" if proof.left_out == 1 else f"{count(proof.left_out)} ways"
        said = f" {ways} to fill the branches, in which the jet in a tee rules how the flow divides, are not among them."
    if proof.by_loss:
        said += (
            " Joints and media chosen for more loss than need be, to stay under a ceiling without a throttle, are not among them."
        )
    return said
