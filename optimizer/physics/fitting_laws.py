"""The laws that losses of fittings are reckoned by, two or more of them for each, and the choice between them by name.

Handbooks were made for pipes of 15 mm and up; for bores of 8 to 25 mm at Reynolds numbers of 5e3 to 5e4 they differ. Here every
loss that they differ in has its published laws side by side, `FittingLaws` says which is taken, and any other can be asked for by
its name, or the `LOWEST` or `HIGHEST` of them at each fitting: how much the choice matters is then a number. K is as in
`fittings.py`: on the smaller bore, lengths in m, floats or arrays. A law that hangs on the Reynolds number is taken at
`USUAL_REYNOLDS`, since joints are quadratic in the flow: K1/Re of the two-K method is then off by a tenth of a threaded elbow's K
at most between 5e3 and 5e4.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import reduce
from math import inf, radians, sin
from types import MappingProxyType
from typing import Any

import numpy as np

from optimizer.physics.arrays import Floats
from optimizer.physics.fittings import (
    ball_valve_k,
    bend_k,
    contraction_k,
    elbow_k,
    expansion_k,
    gate_valve_k,
    threaded_elbow_k,
    turbulent_factor,
)
from optimizer.physics.validity import Validity

USUAL_REYNOLDS = 1e4
"""About that of 400 l/h in a bore of 12 to 16 mm."""

THREADED_REYNOLDS = Validity(
    name="threaded elbow at one Reynolds number",
    quantity="Reynolds number",
    low=5e3,
    high=inf,
    source="K1/Re of the two-K method (Hooper, 1981) taken at 1e4: within a tenth of K from 5e3 on, and short by more below",
)

USUAL_FRICTION = 0.0309
"""Friction factor of smooth pipe at `USUAL_REYNOLDS` (Colebrook, 1939)."""

LOWEST, HIGHEST = "lowest", "highest"
"""Not a law: the least and the most that any of the named ones says of the fitting at hand."""

SWEPT_RATIO = 1.5
"""Radius over bore of a swept elbow: the long-radius elbow of handbooks."""

INCH_M = 0.0254

Law = Callable[..., Any]


def idelchik_contraction_k(large_m: Floats, small_m: Floats) -> Floats:
    """Return K of a sudden step from bore `large_m` down to `small_m` (m, sharp edge): 0.5 (1 - d^2/D^2)^0.75.

    Source: Idelchik, Handbook of Hydraulic Resistance, 3rd edition, diagram 4-9 (as quoted in the Modelica library
    FluidDissipation), for Re above 1e4.

    >>> round(idelchik_contraction_k(0.016, 0.012), 4)
    0.269
    """
    blocked = 1.0 - (small_m / large_m) ** 2
    return 0.5 * blocked**0.75


def rennels_contraction_k(large_m: Floats, small_m: Floats) -> Floats:
    """Return K of a sudden step from bore `large_m` down to `small_m` (m, sharp edge).

    With b = d/D and the jet's contraction L = 1 + 0.622 (1 - 0.215 b^2 - 0.785 b^5): K = 0.0696 (1 - b^5) L^2 + (L - 1)^2.
    Source: Rennels and Hudson, Pipe Flow (2012), as in the `fluids` library.

    >>> round(rennels_contraction_k(0.016, 0.012), 4)
    0.2944
    """
    ratio = small_m / large_m
    fifth = ratio**5
    jet = 1.0 + 0.622 * (1.0 - 0.215 * ratio**2 - 0.785 * fifth)
    return 0.0696 * (1.0 - fifth) * jet * jet + (jet - 1.0) ** 2


def hooper_contraction_k(large_m: Floats, small_m: Floats) -> Floats:
    """Return K of a sudden step from bore `large_m` down to `small_m` (m): (0.6 + 0.48 f) (1 - d^2/D^2), f at `USUAL_REYNOLDS`.

    Source: Hooper, Chemical Engineering 95 (16) (1988) 89, as in the `fluids` library.

    >>> round(hooper_contraction_k(0.016, 0.012), 4)
    0.269
    """
    return (0.6 + 0.48 * USUAL_FRICTION) * (1.0 - (small_m / large_m) ** 2)


def hooper_expansion_k(small_m: Floats, large_m: Floats) -> Floats:
    """Return K of a sudden step from bore `small_m` up to `large_m` (m): (1 + 0.8 f) (1 - d^2/D^2)^2; source as above.

    >>> round(hooper_expansion_k(0.012, 0.016), 4)
    0.1961
    """
    return (1.0 + 0.8 * USUAL_FRICTION) * expansion_k(small_m, large_m)


def crane_turn_k(bore_m: Floats, radius_ratio: Floats, angle_deg: Floats = 90.0) -> Floats:
    """Return K of a smooth bend without the friction of its own length: `fittings.bend_k` less f_T angle r/d, never below 0.

    >>> round(float(crane_turn_k(0.016, 4.0)), 4)
    0.1964
    """
    ratio = np.clip(radius_ratio, 1.0, 20.0)
    wall = turbulent_factor(bore_m) * np.radians(angle_deg) * ratio
    k: Floats = np.maximum(bend_k(bore_m, ratio, angle_deg) - wall, 0.0)
    return k


def rennels_turn_k(bore_m: Floats, radius_ratio: Floats, angle_deg: Floats = 90.0) -> Floats:
    """Return K of a smooth bend without the friction of its own length, whatever its bore `bore_m`.

    With s = sin(angle/2) and f at `USUAL_REYNOLDS`: K = (0.10 + 2.4 f) s + 6.6 f (sqrt(s) + s) / (r/d)^(4 angle/pi), constant
    for a `radius_ratio` outside 1 to 20. The term f angle r/d of the source is the friction along the arc. Source: Rennels and
    Hudson, Pipe Flow (2012), as in the `fluids` library.

    >>> round(float(rennels_turn_k(0.016, 4.0)), 4)
    0.1429
    """
    angle = np.radians(angle_deg)
    # as np.clip, which takes ten times as long for one number
    half, ratio = np.sin(angle / 2.0), np.minimum(np.maximum(radius_ratio, 1.0), 20.0)
    tight = 6.6 * USUAL_FRICTION * (np.sqrt(half) + half) / ratio ** (4.0 * angle / np.pi)
    k: Floats = (0.10 + 2.4 * USUAL_FRICTION) * half + tight + 0.0 * np.asarray(bore_m)
    return k


def rennels_mitre_k(angle_deg: float) -> float:
    """Return K of a sharp knee: 0.42 sin(angle/2) + 2.56 sin^3(angle/2). Source: Rennels and Hudson, Pipe Flow (2012).

    >>> round(rennels_mitre_k(90.0), 4)
    1.2021
    """
    half = sin(radians(angle_deg) / 2.0)
    return 0.42 * half + 2.56 * half**3


def two_k(bore_m: Floats, first: float, large: float) -> Floats:
    """Return K = K1/Re + Kinf (1 + 1 in / bore) at `USUAL_REYNOLDS`. Source: Hooper, Chemical Engineering 88 (17) (1981) 96.

    >>> round(two_k(0.016, 800.0, 0.40), 3)
    1.115
    """
    return first / USUAL_REYNOLDS + large * (1.0 + INCH_M / bore_m)


def three_k(bore_m: Floats, first: float, inner: float, size: float) -> Floats:
    """Return K = K1/Re + Ki (1 + Kd / (bore in inches)^0.3) at `USUAL_REYNOLDS`.

    Source: Darby, Chemical Engineering 106 (7) (1999) 101 and 108 (4) (2001) 127, as in the `fluids` library; the nominal size
    of the source is taken as the bore.

    >>> round(three_k(0.016, 800.0, 0.14, 4.0), 3)
    0.863
    """
    return first / USUAL_REYNOLDS + inner * (1.0 + size / (bore_m / INCH_M) ** 0.3)


def _elbow_by_crane(bore_m: Floats, angle: int) -> Floats:
    return elbow_k(bore_m, f"standard {angle}")


def _elbow_by_hooper(bore_m: Floats, angle: int) -> Floats:
    return two_k(bore_m, 800.0, 0.25) if angle == 90 else two_k(bore_m, 500.0, 0.20)


def _elbow_by_darby(bore_m: Floats, angle: int) -> Floats:
    return three_k(bore_m, 800.0, 0.091, 4.0) if angle == 90 else three_k(bore_m, 500.0, 0.071, 4.2)


def _elbow_as_mitre(bore_m: Floats, angle: int) -> Floats:
    return rennels_mitre_k(angle) + 0.0 * bore_m


def _swept_by_rennels(bore_m: Floats) -> Floats:
    """With the friction of its own length, which is no length of any hose."""
    return rennels_turn_k(bore_m, SWEPT_RATIO) + USUAL_FRICTION * np.pi / 2.0 * SWEPT_RATIO


def _valve_by_crane(bore_m: Floats, shape: str) -> Floats:
    return gate_valve_k(bore_m) if shape == "gate valve" else ball_valve_k(bore_m, bore_m)


def _valve_by_darby(bore_m: Floats, shape: str) -> Floats:
    return three_k(bore_m, 300.0, 0.037, 3.9) if shape == "gate valve" else three_k(bore_m, 300.0, 0.017, 3.5)


def _valve_by_hooper(bore_m: Floats, _shape: str) -> Floats:
    """One row of the source for gate, ball and plug valves of full line size."""
    return two_k(bore_m, 300.0, 0.10)


def _constant(value: float) -> Law:
    return lambda: value


LAWS: Mapping[str, Mapping[str, Law]] = MappingProxyType(
    {
        "contraction": MappingProxyType(
            {
                "Idelchik": idelchik_contraction_k,
                "Crane": contraction_k,
                "Hooper": hooper_contraction_k,
                "Rennels": rennels_contraction_k,
            }
        ),
        "expansion": MappingProxyType({"Borda-Carnot": expansion_k, "Hooper": hooper_expansion_k}),
        "entrance": MappingProxyType(
            {"Crane flush": _constant(0.5), "Rennels flush": _constant(0.57), "Crane projecting": _constant(0.78)}
        ),
        "bend": MappingProxyType({"Rennels": rennels_turn_k, "Crane": crane_turn_k}),
        "elbow": MappingProxyType(
            {"Crane": _elbow_by_crane, "Hooper": _elbow_by_hooper, "Darby": _elbow_by_darby, "Rennels mitre": _elbow_as_mitre}
        ),
        "swept": MappingProxyType(
            {
                "Crane": lambda bore_m: bend_k(bore_m, SWEPT_RATIO),
                "Rennels": _swept_by_rennels,
                "Hooper": lambda bore_m: two_k(bore_m, 800.0, 0.20),
            }
        ),
        "threaded": MappingProxyType(
            {
                "Hooper": lambda bore_m: two_k(bore_m, 800.0, 0.40),
                "Crane": elbow_k,
                "Darby": lambda bore_m: three_k(bore_m, 800.0, 0.14, 4.0),
                "HVAC Pump Handbook": threaded_elbow_k,
            }
        ),
        "valve": MappingProxyType({"Crane": _valve_by_crane, "Darby": _valve_by_darby, "Hooper": _valve_by_hooper}),
    }
)
"""Laws by what they are of and by their names; the first of each is the one that is taken."""

BODIES: Mapping[str, tuple[str, tuple[Any, ...]]] = MappingProxyType(
    {
        "elbow 90": ("elbow", (90,)),
        "elbow 45": ("elbow", (45,)),
        "swept 90": ("swept", ()),
        "threaded elbow 90": ("threaded", ()),
        "ball valve": ("valve", ("ball valve",)),
        "gate valve": ("valve", ("gate valve",)),
    }
)
"""What of `LAWS` the body of a fitting goes by, by its shape, and what those are asked besides the bore."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingLaws:
    """Which law each loss of a fitting goes by: a name of `LAWS`, or `LOWEST` or `HIGHEST`. Why those that stand here are taken:

    - ``contraction`` Idelchik: at moulded tails (0.7 to 0.85 of the hose's bore) it stands with Hooper and Rennels (16 to 12 mm:
      0.269, 0.269, 0.294), while Crane's straight line is a fifth and more below the first two (0.219). For a tail in a vessel
      it ends at 0.5, the flush entrance. A tail fills the hose that is pushed on it, so its end is a step and does not stand out
      into the water.
    - ``expansion`` Borda and Carnot: a momentum balance; Hooper adds 2.5 % for the uneven speed in the small bore.
    - ``entrance``, from a guard or a canister into a tail: 0.5. A thin wall that stands out into the water loses more (Crane
      0.78), but those of plastic are thick, 0.05 of the bore and more, and then Idelchik (diagram 3-1) has 0.5 however far they
      stand out, and Rennels 0.57.
    - ``bend``, of a hose: Rennels, which parts the turn from the friction along the arc (the hose's own length has that) and
      goes with Ito (1960) and Miller (1990) for smooth pipe (r/d 3, less the arc: 0.158, 0.153, 0.164). Crane's factors, of
      rough steel pipe, give 0.186 there, and twice as much or more beyond r/d 8.
    - ``elbow``, moulded or glued: Crane, as a sheet for glued PVC has it (28.9 bores of pipe). At 90 degrees Hooper and Darby
      are about a quarter from it; a knee that is sharp inside is a mitre (Rennels, 1.20).
    - ``swept``: Crane, close to Rennels; Hooper has up to twice as much.
    - ``threaded``: Hooper's screwed elbow, near the middle of what is published (14 mm: Crane 0.79, Darby 0.89, Hooper 1.21, HVAC
      Pump Handbook 2.10). The last is the highest of all, and ends at a bore of 15.8 mm.
    - ``valve``, open and of full bore: Crane, with Darby close by. Hooper has several times as much at small bores (ball, 12 mm:
      0.08, 0.12 and 0.34): what the unknown of open valves is as wide as.

    Raises ValueError for a name that is none.

    >>> laws, crane = FittingLaws(), FittingLaws(contraction="Crane")
    >>> round(laws.contraction_k(0.016, 0.012), 3), round(crane.contraction_k(0.016, 0.012), 3)
    (0.269, 0.219)
    """

    contraction: str = "Idelchik"
    expansion: str = "Borda-Carnot"
    entrance: str = "Crane flush"
    bend: str = "Rennels"
    elbow: str = "Crane"
    swept: str = "Crane"
    threaded: str = "Hooper"
    valve: str = "Crane"

    def __post_init__(self) -> None:
        for each in fields(self):
            name, known = getattr(self, each.name), LAWS[each.name]
            if name not in known and name not in (LOWEST, HIGHEST):
                raise ValueError(f"no law {name!r} for {each.name}; there are {', '.join((*known, LOWEST, HIGHEST))}")

    def contraction_k(self, large_m: float, small_m: float) -> float:
        """K of a sudden step down."""
        return _by("contraction", self.contraction, large_m, small_m)

    def expansion_k(self, small_m: float, large_m: float) -> float:
        """K of a sudden step up."""
        return _by("expansion", self.expansion, small_m, large_m)

    def entrance_k(self) -> float:
        """K from still water into a tail."""
        return _by("entrance", self.entrance)

    def bend_k(self, bore_m: float, radius_ratio: float, angle_deg: float = 90.0) -> float:
        """K of a bend in a hose without the friction along it."""
        return _by("bend", self.bend, bore_m, radius_ratio, angle_deg)

    def body_k(self, shape: str, bore_m: float) -> float:
        """K of the body of a fitting of a shape in `BODIES`, on its passage; 0 for any other, which is straight."""
        if shape not in BODIES:
            return 0.0
        what, more = BODIES[shape]
        return _by(what, getattr(self, what), bore_m, *more)


def _by(what: str, name: str, *at: Any) -> float:
    laws = LAWS[what]
    if name in laws:
        return float(laws[name](*at))
    return float(reduce(min if name == LOWEST else max, (law(*at) for law in laws.values())))


def all_by(name: str) -> FittingLaws:
    """`LOWEST` or `HIGHEST` at every fitting.

    >>> all_by(HIGHEST).entrance_k()
    0.78
    """
    return FittingLaws(**{each.name: name for each in fields(FittingLaws)})


CHOSEN = FittingLaws()
"""The laws that are taken unless others are asked for."""
