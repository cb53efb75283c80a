"""Gauge pressure along the water's way: from the open surface through every stretch of the loop to the outlet."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.physics.water import GRAVITY_MS2


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A part, or a piece of a joint, as the water passes it.

    ``loss_m`` is the head it takes (a pump's is negative; a rise above the water line is a level, not a loss). Bores at
    both ends in m, 0 where the water stands still outside. ``length_m`` > 0 only for hose. ``level_m`` is the height of both
    ends above the water line (negative: below), None where nobody measured it.
    """

    place: str
    loss_m: float
    inlet_bore_m: float = 0.0
    outlet_bore_m: float = 0.0
    length_m: float = 0.0
    level_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One end of a stretch: level above the water line in m, mean speed in m/s, gauge pressure as head of the water in m."""

    place: str
    end: str
    level_m: float
    speed_ms: float
    head_m: float


def levels_m(stretches: Sequence[Stretch]) -> list[tuple[float, float]]:
    """Height of both ends of each stretch above the water line, in m.

    Between known levels a hose rises or falls evenly along its length. Where there is no hose, what stands between shares
    the step in equal parts. The way starts at the water line; behind the last known level it stays there.

    >>> hose = Stretch(place="hose", loss_m=0.0, length_m=1.5)
    >>> levels_m([hose, Stretch(place="pump", loss_m=0.0, level_m=-0.9)])
    [(0.0, -0.9), (-0.9, -0.9)]
    """
    found: list[tuple[float, float]] = []
    here = 0.0
    while len(found) < len(stretches):
        start = len(found)
        known = [n for n in range(start, len(stretches)) if stretches[n].level_m is not None]
        end = known[0] if known else len(stretches)
        goal = stretches[end].level_m if known else None
        weights = _weights(stretches[start:end])
        rise = (here if goal is None else goal) - here
        for weight in weights:
            found.append((here, here + rise * weight))
            here += rise * weight
        if goal is not None:
            found.append((goal, goal))
            here = goal
    return found


def _weights(between: Sequence[Stretch]) -> list[float]:
    """Shares of the step between two known levels."""
    total = sum(stretch.length_m for stretch in between)
    return [stretch.length_m / total if total else 1.0 / len(between) for stretch in between]


def stations(stretches: Sequence[Stretch], flow_m3s: float) -> list[Station]:
    """Gauge pressure at inlet and outlet of each stretch, in the order of the water.

    The energy equation for steady flow between the open water surface (gauge 0, speed 0, level 0) and a cross-section:

        p / (rho g) = sum of pump heads - sum of losses so far - z - v^2 / (2 g)

    with z the level of the section and v the mean speed at its bore: static gauge pressure is the depth below the water
    less losses less the velocity head at that bore. Source: steady-flow energy equation, in any text on fluid mechanics (for
    example White, Fluid Mechanics, chapter 3).

    >>> pipe = Stretch(place="pipe", loss_m=0.2, inlet_bore_m=0.016, outlet_bore_m=0.016, length_m=1.0)
    >>> end = stations([pipe, Stretch(place="pump", loss_m=0.0, inlet_bore_m=0.016, level_m=-1.0)], 2e-4)[2]
    >>> end.place, end.end, end.level_m, round(end.speed_ms, 4), round(end.head_m, 4)
    ('pump', 'inlet', -1.0, 0.9947, 0.7496)
    """
    found = []
    energy = 0.0
    for stretch, (inlet, outlet) in zip(stretches, levels_m(stretches), strict=True):
        found.append(_station(stretch.place, "inlet", inlet, energy, stretch.inlet_bore_m, flow_m3s))
        energy -= stretch.loss_m
        found.append(_station(stretch.place, "outlet", outlet, energy, stretch.outlet_bore_m, flow_m3s))
    return found


def _station(place: str, end: str, level_m: float, energy_m: float, bore_m: float, flow_m3s: float) -> Station:
    speed = flow_m3s / (math.pi * bore_m**2 / 4.0) if bore_m else 0.0
    head = energy_m - level_m - speed * speed / (2.0 * GRAVITY_MS2)
    return Station(place=place, end=end, level_m=level_m, speed_ms=speed, head_m=head)
