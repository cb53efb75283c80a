"""Random small rigs and catalogs, made in memory: joints, packs, coils, kits, spares, media stacks, limits. All invented."""

import random
from dataclasses import replace

from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import End, Gender, Standard
from optimizer.model.limits import Limits
from optimizer.model.parts import (
    Canister,
    Clamp,
    Device,
    Fitting,
    Guard,
    Hose,
    Medium,
    Outlet,
    Part,
    Pump,
    PumpCurve,
    Seal,
)
from optimizer.model.rig import Adjust, Position, Rig, Spare, Tank, Tray
from optimizer.model.state import State

HOSES = {12: 16, 16: 22, 19: 27}


def tail(size: int, bore: float) -> End:
    """A hose tail of a nominal size and bore, both in mm."""
    return End(standard=Standard.HOSE, size_m=size / 1e3, gender=Gender.MALE, bore_m=bore / 1e3)


def thread(standard: Standard, gender: Gender, inches: float, bore: float) -> End:
    """A threaded end."""
    return End(standard=standard, size_m=inches * 0.0254, gender=gender, bore_m=bore / 1e3)


def label_curve(head: float, litres_per_hour: float, shape: float = 2.0) -> PumpCurve:
    """A pump curve from the two figures of a label."""
    return PumpCurve(flows_m3s=(0.0, litres_per_hour / 3.6e6), heads_m=(head, 0.0), shape=shape)


def guard(name: str, size: int, bore: float, area_cm2: float, open_share: float, opening_mm: float) -> Guard:
    """A slotted strainer with a hose tail."""
    return Guard(
        id=name,
        name=f"strainer {name}",
        form="slots",
        face_area_m2=area_cm2 / 1e4,
        open_fraction=open_share,
        opening_m=opening_mm / 1e3,
        outlet=tail(size, bore),
    )


def hose(name: str, size: int) -> Hose:
    """A smooth hose of one of the usual sizes."""
    return Hose(id=name, name=f"hose {size}/{HOSES[size]}", inside_m=size / 1e3, outside_m=HOSES[size] / 1e3)


def fitting(name: str, role: str, inlet: End, outlet: End, throttles: bool = False, shape: str = "straight") -> Fitting:
    """A fitting as wide inside as its narrower end."""
    return Fitting(
        id=name,
        name=f"{role} {name}",
        role=role,
        shape=shape,
        inlet=inlet,
        outlet=outlet,
        passage_m=min(inlet.bore_m, outlet.bore_m),
        throttles=throttles,
    )


def pump(name: str, size: int, bore: float, curve: PumpCurve, power: float, noise: float) -> Pump:
    """A pump with a tail on either side."""
    return Pump(
        id=name,
        name=f"pump {name}",
        curve=curve,
        power_w=power,
        noise_dba=noise,
        inlet=tail(size, bore),
        outlet=tail(size, bore),
    )


def bar(name: str, size: int, bore: float, holes: int, hole_mm: float) -> Outlet:
    """A spray bar."""
    return Outlet(
        id=name,
        name=f"bar {holes} x {hole_mm:g} mm",
        form="bar",
        inlet=tail(size, bore),
        holes=holes,
        hole_m=hole_mm / 1e3,
        bar_bore_m=size / 1e3,
        pitch_m=0.03,
    )


def medium(name: str, permeability: float, mechanical: bool, area: float) -> Medium:
    """A medium; it counts for bacteria when it has an area."""
    return Medium(
        id=name,
        name=f"medium {name}",
        form="foam",
        permeability_m2=permeability,
        inertial_1m=300.0,
        area_m2m3=area,
        mechanical=mechanical,
        biological=area > 0.0,
    )


def world(seed: int) -> tuple[Rig, Catalog]:
    """A random rig with a random small catalog (a few hundred to some ten thousand bundles)."""
    rng = random.Random(seed)
    size = rng.choice([12, 16])
    rig = _rig(rng, size)
    catalog = _catalog(rng, size)
    spares: tuple[Spare, ...] = ()
    if rng.random() < 0.3:
        owned = rng.choice([part for part in catalog.parts.values() if isinstance(part, Fitting | Outlet | Guard)])
        spares = (Spare(part=owned, count=1),)
    return replace(rig, spares=spares), catalog


def _rig(rng: random.Random, size: int) -> Rig:
    bore = size * rng.uniform(0.7, 0.85)
    tailed = tail(size, round(bore, 1))
    own = hose("own-hose", size)
    body = Canister(
        id="body",
        name="canister",
        inlet=tailed,
        outlet=thread(Standard.G, Gender.FEMALE, 0.5, size),
        trays=2,
        tray_area_m2=0.03,
        tray_height_m=0.05,
    )
    foam, rings = medium("own-foam", 1.2e-7, True, 0.0), medium("own-rings", 4e-7, False, rng.choice([0.0, 500.0]))
    head = rng.uniform(1.2, 2.4)
    motor = replace(
        pump("own-pump", size, size * 0.8, label_curve(head, head * rng.uniform(600, 900)), 20.0, 38.0),
        inlet=thread(Standard.G, Gender.MALE, 0.5, size),
    )
    lift = rng.choice([-0.02, 0.05])
    adjusts = (Adjust(name="sink it", height_m=-0.02),) if lift > 0 and rng.random() < 0.7 else ()
    coupling = fitting("own-coupling", "coupling", tailed, tailed, throttles=rng.random() < 0.4)
    positions = [
        Position(
            name="intake",
            kind="guard",
            installed=guard("own-guard", size, bore, rng.uniform(4, 10), 0.4, 3.0),
            state=State(blocked=rng.choice([0.0, 0.6, 0.9])),
        ),
        Position(name="suction", kind="hose", installed=own, length_m=rng.choice([1.5, 1.8]), bends=1),
        Position(name="canister", kind="canister", installed=body, depth_m=1.2),
        Position(name="pump", kind="pump", installed=motor, depth_m=rng.choice([0.3, 0.9])),
        Position(name="return", kind="hose", installed=own, length_m=rng.choice([1.5, 1.8]), bends=2),
    ]
    extra = rng.random()
    if extra < 0.5:
        positions.append(
            Position(name="tap", kind="fitting", role="coupling", installed=coupling, may_go=rng.random() < 0.4)
        )
        positions.append(Position(name="last", kind="hose", installed=own, length_m=0.4, stays=rng.random() < 0.5))
    elif extra < 0.75:
        heater = Device(
            id="heater",
            name="heater",
            inlet=tailed,
            outlet=tailed,
            quadratic=2e5,
            flow_min_m3s=rng.choice([0.0, 300 / 3.6e6]),
            flow_max_m3s=rng.choice([500, 900, 5000]) / 3.6e6,
        )
        positions.append(Position(name="heater", kind="device", installed=heater, may_go=rng.random() < 0.3))
        positions.append(Position(name="last", kind="hose", installed=own, length_m=0.4, stays=True))
    positions.append(
        Position(
            name="outlet",
            kind="outlet",
            installed=bar("own-bar", size, bore, 12, rng.choice([2.5, 3.0])),
            height_m=lift,
            adjusts=adjusts,
        )
    )
    filled = rng.choice([0.0, 0.7])
    return Rig(
        name="random tank",
        tank=Tank(nominal_m3=0.3, net_m3=0.26),
        positions=tuple(positions),
        trays=(Tray(medium=foam, state=State(filled=filled)), Tray(medium=rings)),
    )


def _catalog(rng: random.Random, size: int) -> Catalog:
    parts: dict[str, Part] = {}
    products: list[Product] = []

    def sell(part: Part, price: int, count: int = 1, stock: int | None = None) -> None:
        parts[part.id] = part
        products.append(Product(id=part.id, price=price, lines=(Line(part_id=part.id, count=count),), stock=stock))

    wide = 19 if size == 16 else 16
    sell(guard("G1", rng.choice([size, wide]), size * 0.9, rng.uniform(15, 60), 0.45, 2.0), rng.randrange(300, 1500))
    for n, measure in enumerate(rng.sample([size, wide], rng.choice([1, 2]))):
        part = hose(f"H{n}", measure)
        parts[part.id] = part
        if rng.random() < 0.5:
            length = rng.choice([2.0, 3.0, 4.0])
            line = Line(part_id=part.id, amount_m=length)
            products.append(Product(id=part.id, price=rng.randrange(600, 2200), lines=(line,)))
        else:
            line = Line(part_id=part.id)
            products.append(Product(id=part.id, price=rng.randrange(200, 600), lines=(line,), step_m=0.1))
    if rng.random() < 0.7:
        curve = label_curve(rng.uniform(2.0, 3.5), rng.uniform(1500, 3500), rng.choice([1.5, 2.0]))
        at = rng.choice([size, wide])
        sell(pump("P1", at, at * 0.85, curve, 35.0, rng.choice([38.0, 44.0])), rng.randrange(3000, 12000))
    sell(bar("B1", rng.choice([size, wide]), wide * 0.8, 16, rng.choice([3.5, 4.5])), rng.randrange(500, 2000))
    if rng.random() < 0.6:
        end = tail(size, size * 0.95)
        stock = rng.choice([None, 1])
        sell(
            fitting("C1", "coupling", end, end, throttles=rng.random() < 0.7), rng.randrange(800, 3000), stock=stock
        )
    sell(
        fitting("A1", "adapter", tail(wide, wide * 0.8), tail(size, size * 0.8)),
        rng.randrange(100, 400),
        count=rng.choice([1, 2]),
    )
    if rng.random() < 0.6:
        male = thread(Standard.G, Gender.MALE, 0.5, size)
        sell(fitting("A2", "adapter", male, tail(rng.choice([size, wide]), size * 0.85)), rng.randrange(150, 400))
    stub = End(
        standard=Standard.HOSE, size_m=size / 1e3, gender=Gender.FEMALE, bore_m=size / 1e3, outside_m=HOSES[size] / 1e3
    )
    if rng.random() < 0.6:
        sell(fitting("A3", "adapter", stub, stub), 80)
    sell(Clamp(id="K", name="clamp", low_m=0.014, high_m=0.030), 90)
    if rng.random() < 0.6:
        sell(Clamp(id="K10", name="clamps", low_m=0.014, high_m=0.024), rng.choice([250, 400]), count=10)
    sell(Seal(id="W", name="washer", closure="washer", standard="G"), 40, count=rng.choice([1, 5]))
    for name, permeability, mechanical, area in (("M1", 2e-7, True, 0.0), ("M2", 8e-7, False, 700.0)):
        if rng.random() < 0.6:
            part = medium(name, permeability, mechanical, area)
            parts[name] = part
            line = Line(part_id=name, amount_m3=rng.choice([1e-3, 2e-3]))
            products.append(Product(id=name, price=rng.randrange(300, 1500), lines=(line,)))
    if rng.random() < 0.5:
        products.append(_kit(rng, parts))
    return Catalog(parts=parts, products=tuple(products), name="random")


def _kit(rng: random.Random, parts: dict[str, Part]) -> Product:
    lines = [Line(part_id="A1", count=2), Line(part_id="B1")]
    if "H0" in parts:
        lines.append(Line(part_id="H0", amount_m=rng.choice([2.0, 4.0])))
    return Product(id="KIT", price=rng.randrange(1200, 3000), lines=tuple(lines), stock=rng.choice([None, 1]))


def limits(seed: int, rig: Rig) -> Limits:
    """Random limits for a world."""
    rng = random.Random(seed * 7 + 1)
    return replace(
        rig.limits,
        budget=rng.choice([0, 1000, 2500, 5000, 12000]),
        noise_dba=rng.choice([float("inf"), 40.0]),
        flow_max_m3s=rng.choice([float("inf"), float("inf"), 600 / 3.6e6]),
        flow_min_m3s=rng.choice([0.0, 0.0, 350 / 3.6e6]),
        opening_m=rng.choice([float("inf"), 2.5e-3]),
        bio_area_m2=rng.choice([0.0, 0.5]),
        inlet_head_m=rng.choice([0.0, float("-inf"), 0.2]),
        guard_speed_ms=rng.choice([float("inf"), 0.3]),
    )
