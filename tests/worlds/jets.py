"""What a limit on the jets leaves an outlet, worked out from its holes and not by the program."""

import math

from optimizer.model.limits import Limits
from optimizer.model.options import Option
from optimizer.model.parts import Outlet
from optimizer.physics.outlets import spray_bar

LEAST_OPEN = 0.1
"""A film leaves at least this share of a hole open, as in the model."""


def jet_speed_ms(outlet: Outlet, film_m: float, flow_m3s: float) -> float:
    """The fastest water out of an outlet (continuity): flow over area, in a bar that of the hole that passes most."""
    hole = max(outlet.hole_m - 2.0 * film_m, LEAST_OPEN * outlet.hole_m)
    area = math.pi * hole**2 / 4.0
    if outlet.form != "bar":
        return flow_m3s / area
    bar = spray_bar(outlet.holes, hole, outlet.bar_bore_m, outlet.pitch_m, outlet.discharge)
    return flow_m3s * max(bar.flow_shares) / area


def ceiling_m3s(limits: Limits, option: Option) -> float:
    """The greatest flow that an option allows; of an outlet by its jets alone."""
    if not isinstance(option.part, Outlet):
        return option.flow_max_m3s
    if math.isinf(limits.jet_speed_ms):
        return math.inf
    return limits.jet_speed_ms / jet_speed_ms(option.part, option.state.film_m, 1.0)
