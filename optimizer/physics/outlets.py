"""Outlets: spray bars, nozzles and the rise of an outlet above the water line.

A coefficient b of h = b Q |Q| counts all energy from the stated place to the still water outside, the
velocity head in the pipe included. All arguments are floats or arrays that broadcast, unless a function says
otherwise.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from optimizer.physics.arrays import Floats
from optimizer.physics.fittings import quadratic_coefficient
from optimizer.physics.validity import Validity
from optimizer.physics.water import GRAVITY_MS2

SHARP_HOLE = 0.62
"""Discharge coefficient of a sharp hole in a thin wall, 0.60 to 0.65 in sources; bevelled 0.80 to 0.85."""

BAR_REGAIN = 0.7
"""Share of the velocity head that a bar turns back into pressure as the water slows; from memory, 0.5 to 0.9."""

BAR_FRICTION = 0.03
"""Darcy friction factor of a bar, planning value.

Smooth pipe at Reynolds numbers of 5 000 to 20 000 has 0.026 to 0.037. Friction is a few per cent of what a
usual bar costs, so this is as good as the rest.
"""

BAR_AREA_RATIO = Validity(
    name="spray bar march",
    quantity="area of all holes over area of the bore",
    low=0.0,
    high=2.5,
    source="from memory; beyond it the first holes of the march run dry and small differences decide",
)
VALIDITIES = (BAR_AREA_RATIO,)


def lift_m(height_above_water_m: Floats) -> Floats:
    """Return the lift an outlet asks for, in m: its `height_above_water_m` (m) if positive, else 0.

    Under water the way up and the way down cancel, so depth costs nothing.

    >>> float(lift_m(0.12)), float(lift_m(-0.30))
    (0.12, 0.0)
    """
    lift: Floats = np.maximum(height_above_water_m, 0.0)
    return lift


def _hole_area_m2(diameter_m: Floats) -> Floats:
    return pi / 4.0 * diameter_m * diameter_m


def nozzle_quadratic(diameter_m: Floats, discharge_coefficient: Floats = SHARP_HOLE) -> Floats:
    """Return b in s2/m5 of one hole or nozzle that ends in the tank: 1 / (2 g (Cd A)^2).

    `diameter_m` > 0 is its mouth in m; `discharge_coefficient` in (0, 1] relates the flow to the total head
    before it.

    >>> round(nozzle_quadratic(0.012, 0.62) * (800e-3 / 3600) ** 2, 3)
    0.512
    """
    return bar_quadratic(1, diameter_m, discharge_coefficient)


def bar_quadratic(holes: Floats, hole_diameter_m: Floats, discharge_coefficient: Floats = SHARP_HOLE) -> Floats:
    """Return b in s2/m5 of equal holes fed at one pressure: 1 / (2 g (Cd N A)^2), the ideal spray bar.

    `holes` N >= 1, `hole_diameter_m` > 0 in m, `discharge_coefficient` in (0, 1].

    >>> round(bar_quadratic(12, 0.003) * (800e-3 / 3600) ** 2, 5)
    0.91036
    """
    open_m2 = discharge_coefficient * holes * _hole_area_m2(hole_diameter_m)
    return 1.0 / (2.0 * GRAVITY_MS2 * open_m2 * open_m2)


@dataclass(frozen=True, slots=True, kw_only=True)
class SprayBar:
    """What a spray bar does with any flow, for its losses are exactly proportional to the flow squared.

    `quadratic_s2m5` is b of h = b Q |Q| from the bar's inlet to the still water, the velocity head in the
    bore included. `gauge_quadratic_s2m5` leaves that out: what a pressure gauge at the inlet would show,
    which may be negative in theory for a short wide-open bar. `flow_shares` are the holes' parts of the flow,
    nearest the inlet first; `jet_speeds_1m2` times the flow in m3/s are the speeds in the holes in m/s.
    """

    quadratic_s2m5: float
    gauge_quadratic_s2m5: float
    flow_shares: tuple[float, ...]
    jet_speeds_1m2: tuple[float, ...]

    @property
    def evenness(self) -> float:
        """The least flow of a hole over the greatest, 1 for an even bar."""
        return min(self.flow_shares) / max(self.flow_shares)

    @property
    def first_share(self) -> float:
        """The share of the flow that leaves by the hole nearest the inlet."""
        return self.flow_shares[0]

    @property
    def last_share(self) -> float:
        """The share of the flow that leaves by the hole at the closed end."""
        return self.flow_shares[-1]


def spray_bar(
    holes: int,
    hole_diameter_m: float,
    bore_m: float,
    pitch_m: float,
    discharge_coefficient: float = SHARP_HOLE,
    regain: float = BAR_REGAIN,
    friction: float | Sequence[float] = BAR_FRICTION,
) -> SprayBar:
    """Return the loss and the evenness of a bar of equal holes, the first one pitch from the inlet.

    `holes` N >= 1 of `hole_diameter_m` (m) at `pitch_m` (m) along a bore of `bore_m` (m), closed at the far
    end. `regain` from 0 to 1 is the share of the velocity head regained as pressure past each hole;
    `friction` is Darcy's f, one number or one for each of the N lengths of bar, from the inlet on. Plain
    numbers, no arrays. Raises ValueError for no holes, or as many `friction` values as do not match.

    A hole gives q = Cd A sqrt(2 g h) with h the gauge head in the bore just past it. Towards the inlet the
    flow grows from hole to hole, h loses the regain and gains the friction of the next length:

        h' = h - regain (Q'^2 - Q^2) / (2 g S^2) + f (pitch/D) Q'^2 / (2 g S^2),    Q' = Q + q

    with S the area of the bore. The march starts with h = 1 at the closed end and is scaled afterwards,
    because every term is of second degree in Q: no iteration. A hole that the march leaves without pressure
    gives nothing. Source: manifold theory, as in Bailey, Fluid flow in perforated pipes, J. Mech. Eng. Sci.
    17 (1975).

    >>> bar = spray_bar(12, 0.004, 0.016, 0.03)
    >>> round(bar.quadratic_s2m5 * (800e-3 / 3600) ** 2, 3), round(bar.evenness, 3)
    (0.332, 0.958)
    """
    lengths = [float(friction)] * holes if isinstance(friction, int | float) else list(friction)
    if holes < 1 or len(lengths) != holes:
        raise ValueError(f"{len(lengths)} friction factors for {holes} holes; a bar needs one each, at least one")
    velocity_head = float(quadratic_coefficient(1.0, bore_m))
    hole_m2 = float(_hole_area_m2(hole_diameter_m))
    through_hole = discharge_coefficient * hole_m2 * (2.0 * GRAVITY_MS2) ** 0.5
    head, flow, hole_flows = 1.0, 0.0, [0.0] * holes
    for hole in reversed(range(holes)):
        hole_flows[hole] = through_hole * max(head, 0.0) ** 0.5
        before = flow + hole_flows[hole]
        regained = regain * (before * before - flow * flow)
        head += velocity_head * (lengths[hole] * pitch_m / bore_m * before * before - regained)
        flow = before
    shares = tuple(each / flow for each in hole_flows)
    gauge = head / (flow * flow)
    return SprayBar(
        quadratic_s2m5=gauge + velocity_head,
        gauge_quadratic_s2m5=gauge,
        flow_shares=shares,
        jet_speeds_1m2=tuple(share / hole_m2 for share in shares),
    )
