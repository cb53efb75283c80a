"""Random loops as they stand behind most tanks, clean, with nothing odd about them. All invented.

The ranges are common practice, no published source: three classes by the label, each with its heads, hoses and canister;
hoses of 1.2 to 2 m a side; the bore of all barbs of a loop 70 to 85 % of the hose; 4 to 10 barbs; the usual fittings, media
and outlets.
"""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass

from dirt_cases import floss, foam, rings
from small_worlds import fitting, guard, label_curve, pump, tail

from optimizer.answers.question import stands_now
from optimizer.loop.standing import StandingLoop
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Canister, Fitting, Hose, Outlet, Part
from optimizer.model.rig import Position, Rig, Tank, Tray

OUTSIDE_MM = {9: 12, 12: 16, 16: 22, 19: 27, 25: 34}


@dataclass(frozen=True, slots=True, kw_only=True)
class Class:
    """What canisters of one class have, each from the least to the most: the label's flow in l/h and head in m, litres of
    the canister, and the hoses in mm that are on it, the usual more than once; the tank that it is sold for, in l."""

    flow: tuple[float, float]
    head: tuple[float, float]
    litres: tuple[float, float]
    hoses: tuple[int, ...]
    tank: float


CLASSES = (
    Class(flow=(300.0, 700.0), head=(0.8, 1.5), litres=(2.0, 6.0), hoses=(9, 12), tank=100.0),
    Class(flow=(900.0, 1300.0), head=(1.5, 2.1), litres=(6.0, 12.0), hoses=(16,), tank=240.0),
    Class(flow=(1700.0, 2600.0), head=(2.0, 2.7), litres=(12.0, 20.0), hoses=(16, 16, 19, 19, 25), tank=450.0),
)
"""Common practice, no published source."""

MEDIA_SHARE = 0.6
"""Share of a canister's litres that its trays take: prior of the authors."""

SHAPES = (1.5, 2.0)
"""Exponent of a label's curve: what the demo's canister pumps have, and what is taken where nothing is stated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordinary:
    """A loop as it stands, and the flow in m3/s on its label."""

    loop: StandingLoop
    label_m3s: float


def ordinary(seed: int, of: Class) -> Ordinary:
    """The random loop of a number in a class."""
    rng = random.Random(f"ordinary {seed} {of.tank}")
    rig = _rig(rng, of)
    loop = stands_now(rig, Catalog(parts={}, products=())).loop
    curve = next(p.installed.curve for p in rig.positions if p.name == "pump")  # type: ignore[union-attr]
    return Ordinary(loop=loop, label_m3s=curve.max_flow_m3s)


def _rig(rng: random.Random, of: Class) -> Rig:
    """The same, as a rig."""
    place = rng.random()
    litres_per_hour = of.flow[0] + place * (of.flow[1] - of.flow[0])
    head_m = of.head[0] + min(max(place + rng.uniform(-0.2, 0.2), 0.0), 1.0) * (of.head[1] - of.head[0])
    size = of.hoses[min(int(place * len(of.hoses)), len(of.hoses) - 1)]
    barb = rng.uniform(0.70, 0.85) * size
    curve = label_curve(head_m, litres_per_hour, rng.uniform(*SHAPES))
    body, trays = _canister(rng, of, size, barb)
    strainer = guard("strainer", size, barb, rng.uniform(0.08, 0.16) * size**2, rng.uniform(0.35, 0.45), rng.uniform(2.0, 3.0))
    sides = [_side(rng, name, size, barb, pieces) for name, pieces in zip(("suction", "return"), _pieces(rng), strict=True)]
    places: list[Position] = [
        Position(name="intake", kind="guard", installed=strainer),
        *sides[0],
        Position(name="in coupling", kind="fitting", installed=_coupling(rng, "in", size, barb), role="coupling"),
        Position(name="canister", kind="canister", installed=body, depth_m=1.2),
        Position(name="pump", kind="pump", installed=pump("pump", body.outlet, body.outlet, curve), depth_m=0.9),
        Position(name="out coupling", kind="fitting", installed=_coupling(rng, "out", size, barb), role="coupling"),
        *sides[1],
        Position(name="outlet", kind="outlet", installed=_outlet(rng, size, barb), height_m=rng.uniform(-0.05, 0.02)),
    ]
    return Rig(
        name="ordinary", tank=Tank(nominal_m3=of.tank / 1e3, net_m3=0.85e-3 * of.tank), positions=tuple(places), trays=trays
    )


def _canister(rng: random.Random, of: Class, size: int, barb: float) -> tuple[Canister, tuple[Tray, ...]]:
    """Three to five trays, coarse foam first and floss last; ports up to a quarter wider than the barbs."""
    count, height = rng.randint(3, 5), rng.uniform(0.04, 0.08)
    area = MEDIA_SHARE * rng.uniform(*of.litres) * 1e-3 / (count * height)
    port = tail(size, barb * rng.uniform(1.0, 1.25))
    body = Canister(id="body", name="body", inlet=port, outlet=port, trays=count, tray_area_m2=area, tray_height_m=height)
    middle = [rng.choice([rings(), foam(20.0), foam(30.0)]) for _ in range(count - 3)]
    media = [foam(rng.choice([10.0, 20.0])), *middle, rings(), floss(rng.choice([0.02, 0.03, 0.08]))]
    return body, tuple(Tray(medium=each) for each in media)


def _pieces(rng: random.Random) -> tuple[int, int]:
    """How many fittings with two barbs stand in each hose: with the four barbs that every loop has, 4 to 10."""
    both = rng.randint(0, 3)
    suction = rng.randint(0, both)
    return suction, both - suction


def _coupling(rng: random.Random, name: str, size: int, barb: float) -> Fitting:
    """With a tap, or angled, a little narrower inside than its barb."""
    end = tail(size, barb)
    shape = rng.choice(["ball valve", "ball valve", "elbow 45", "elbow 90"])
    return fitting(name, "coupling", end, end, shape=shape, passage_mm=barb * rng.uniform(0.85, 1.0))


def _side(rng: random.Random, name: str, size: int, barb: float, pieces: int) -> Iterator[Position]:
    """One side's hose, cut for the fittings that stand in it."""
    length, bends = rng.uniform(1.2, 2.0), rng.randint(1, 3)
    hose = Hose(id=f"{size} mm", name="hose", inside_m=size / 1e3, outside_m=OUTSIDE_MM[size] / 1e3)
    end = tail(size, barb)
    for n in range(pieces + 1):
        if n:
            shape = rng.choice(["elbow 90", "swept 90", "straight", "ball valve"])
            part: Part = fitting(f"{name} {n}", "elbow", end, end, shape=shape)
            yield Position(name=f"{name} fitting {n}", kind="fitting", installed=part, role="elbow")
        turns = bends // (pieces + 1) + (1 if n < bends % (pieces + 1) else 0)
        radius = rng.uniform(4.0, 8.0) * size / 1e3
        yield Position(
            name=f"{name} hose {n}",
            kind="hose",
            installed=hose,
            length_m=length / (pieces + 1),
            bends=turns,
            bend_radius_m=radius,
        )


def _outlet(rng: random.Random, size: int, barb: float) -> Outlet:
    """A bar whose holes have half to all of the hose's area, a nozzle of 60 to 80 % of its bore, or an open end."""
    form = rng.choice(["bar", "bar", "open", "nozzle"])
    end = tail(size, barb)
    if form == "bar":
        hole = rng.uniform(2.0, 2.0 + size / 10.0)
        holes = max(6, round(rng.uniform(0.5, 1.0) * (size / hole) ** 2))
        return Outlet(
            id="bar", name="bar", form="bar", inlet=end, holes=holes, hole_m=hole / 1e3, bar_bore_m=size / 1e3, pitch_m=0.025
        )
    if form == "open":
        return Outlet(id="open", name="open", form="open", inlet=end, holes=1, hole_m=size / 1e3, discharge=1.0)
    return Outlet(
        id="jet", name="jet", form="nozzle", inlet=end, holes=1, hole_m=rng.uniform(0.6, 0.8) * size / 1e3, discharge=0.9
    )


def quantiles(values: list[float]) -> tuple[float, float, float]:
    """P10, P50 and P90 of values.

    >>> quantiles([0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0])
    (1.0, 5.0, 9.0)
    """
    ranked = sorted(values)

    def at(share: float) -> float:
        place = share * (len(ranked) - 1)
        low = math.floor(place)
        return ranked[low] + (place - low) * (ranked[min(low + 1, len(ranked) - 1)] - ranked[low])

    return at(0.1), at(0.5), at(0.9)
