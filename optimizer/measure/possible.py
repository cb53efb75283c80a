"""Fills that cannot be: more water than the pump moves with nothing in its way.

    Qmax = label flow x speed x tolerance x (1 + s / H0)^(1/n)

with no loss at all, clean and unworn; ``s`` is the depth of a mouth held below the tank's water line, whose siphon helps the pump
(0 otherwise), H0 and n are the curve's. The tolerance is the one that the draws give the pump's flow. A canister takes about half
of the label's flow (common practice, no published source), so what is above all of it is a slip of the watch, of the volume or of
the label; a fit would bend every factor to it.
"""

from statistics import fmean

from optimizer.bands.priors import PRIORS
from optimizer.loop.terms import pump_speed
from optimizer.measure.fills import measured
from optimizer.model.fill import TimedFill, litres
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said, flowing
from optimizer.model.state import State
from optimizer.model.unknowns import LABEL_FLOW, PUMP_FLOW
from optimizer.physics.pumps import free_flow_m3s

USUAL_SHAPE = 2.0
"""Exponent taken for a curve through points beyond its last one: a parabola, as of a label curve (common practice)."""


def greatest_flow_m3s(rig: Rig, height_m: float = 0.0) -> float:
    """The most that the installed pump can move, its mouth at a height above the tank's water line (negative: below)."""
    pump = rig.pump
    speed = pump_speed(pump, State(), rig.mains_hz)
    curve = pump.curve
    free = curve.max_flow_m3s if curve.shape else free_flow_m3s(curve.flows_m3s, curve.heads_m)
    tolerance = PRIORS[LABEL_FLOW if curve.shape else PUMP_FLOW].spread
    head = curve.max_head_m * speed**2
    fed = 1.0 + max(-height_m, 0.0) / head if head > 0.0 else 1.0
    return float(float(free) * speed * tolerance * fed ** (1.0 / (curve.shape or USUAL_SHAPE)))


def impossible(rig: Rig, fill: TimedFill) -> str:
    """Why a fill cannot be, in words; empty for one that can."""
    flow, most = measured(fill).flow_m3s, greatest_flow_m3s(rig, fill.height_m)
    if flow <= most:
        return ""
    return Said(
        *(fill.label, ": ", litres(fill.volume_m3), f" in {fmean(fill.seconds):.4g} s are "),
        *(Quantity(flow, "flow", f"{flow * 3.6e6:.4g} l/h"), ", more than the ", flowing(most)),
        " that the pump moves with nothing in its way, tolerance included",
    )


MOST_OVER_LABEL = 2.0
"""No pump draws more than so many times the watts of its label: something else is on the meter (common practice, no published
source)."""


def odd_watts(rig: Rig, power_w: float) -> str:
    """Why a reading of the watts cannot be the pump's alone, in words; empty for one that can."""
    label = rig.pump.power_w * max(pump_speed(rig.pump, State(), rig.mains_hz), 1.0) ** 3
    if power_w <= MOST_OVER_LABEL * label:
        return ""
    return f"{power_w:.4g} W are more than twice what the pump's label says ({label:.4g} W)"
