"""Random small households, made in memory: two or three tanks that fit each other's parts, with packs, coils, kits, spares and
short stock to share, rooms and watts. All invented."""

import random
from dataclasses import replace

from small_worlds import LITRE_PER_HOUR, bar, guard, hose, label_curve, medium, mouth, pump, single, tail, thread

from optimizer.api import operating_point
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import Gender, Standard
from optimizer.model.household import Household, HouseTank, Room
from optimizer.model.limits import Limits
from optimizer.model.parts import Canister, Clamp, Part, Seal
from optimizer.model.rig import Position, Rig, Spare, Tank, Tray
from optimizer.model.state import State

INF = float("inf")
PORT = thread(Standard.G, Gender.MALE, 0.5, 14)
"""What all pumps screw into the canister with: a washer makes it tight."""


def household(seed: int) -> tuple[Household, Catalog]:
    """A random household and the catalog it buys from. Every fourth one can hand pumps on in a chain."""
    rng = random.Random(seed)
    chain = seed % 4 == 0
    number = 3 if chain else rng.choice([2, 2, 3])
    catalog = _catalog(rng, chain)
    tanks = tuple(_tank(rng, n, number, chain) for n in range(number))
    noise = rng.choice([INF, INF, rng.uniform(36.0, 46.0)])
    budget = rng.choice([0, 900, 2500, 4000, 6000, 9000])
    power = rng.choice([INF, INF, INF, rng.uniform(30.0, 110.0)])
    return Household(
        name="random", tanks=tanks, rooms=(Room(name="hall", noise_dba=noise),), budget=budget, power_w=power
    ), catalog


def _catalog(rng: random.Random, chain: bool) -> Catalog:
    wide = replace(hose("wide", 16), inside_m=0.0164)
    parts: dict[str, Part] = {}
    products = []

    def sell(part: Part, price: int, count: int = 1, stock: int | None = None) -> None:
        parts[part.id] = part
        products.append(single(part, price, count=count, stock=stock, id=f"{part.id} x{count}"))

    for n in range(1 if chain else rng.choice([1, 2])):
        strong = label_curve(rng.uniform(2.0, 3.2), rng.uniform(1500, 2600))
        sell(
            pump(f"P{n}", PORT, tail(16, 13), strong, rng.uniform(15, 45), rng.uniform(36, 44)),
            rng.randrange(1200, 4500),
            stock=1 if chain else rng.choice([None, 1]),
        )
    sell(bar("B0", tail(16, 13.5), 16, 4.0), rng.randrange(300, 1200), stock=rng.choice([None, None, 1]))
    sell(Seal(id="W", name="washer", closure="washer", standard="G"), 40, count=rng.choice([1, 5]))
    sell(Clamp(id="K", name="clamp", low_m=0.014, high_m=0.030), 90)
    if rng.random() < 0.8:
        products.append(Product(id="K pack", price=rng.choice([250, 400]), lines=(Line(part_id="K", count=rng.choice([4, 10])),)))
    parts["wide"] = wide
    if rng.random() < 0.7:
        stock = rng.choice([None, None, 2, 3])
        products.append(
            Product(id="wide cut", price=rng.randrange(200, 500), lines=(Line(part_id="wide"),), step_m=0.1, stock=stock)
        )
    length = rng.choice([2.0, 3.0, 4.0])
    coil = Line(part_id="wide", amount_m=length)
    products.append(
        Product(id="wide coil", price=int(length * rng.randrange(120, 300)), lines=(coil,), stock=rng.choice([None, 1]))
    )
    if rng.random() < 0.4:
        kit = (Line(part_id="wide", amount_m=2.0), Line(part_id="K", count=4), Line(part_id="B0"))
        products.append(Product(id="kit", price=rng.randrange(700, 1600), lines=kit, stock=rng.choice([None, 1])))
    return Catalog(parts=parts, products=tuple(products), name="random")


def _tank(rng: random.Random, n: int, number: int, chain: bool) -> HouseTank:
    """In a chain the pumps of later tanks are weaker, so that each could use that of the one before."""
    tailed = tail(16, 12)
    head = (2.0 - 0.5 * n) * rng.uniform(0.9, 1.1) if chain else rng.uniform(1.1, 2.2)
    motor = pump(f"installed:pump{n}", PORT, tailed, label_curve(head, head * 700), rng.uniform(8, 30), rng.uniform(34, 42))
    body = Canister(
        id="body",
        name="canister",
        inlet=tailed,
        outlet=replace(PORT, gender=Gender.FEMALE),
        trays=1,
        tray_area_m2=0.03,
        tray_height_m=0.05,
        rating_m=INF,
    )
    few = number == 3
    loose = rng.sample(["suction", "return", "outlet"], rng.choice([0, 1]) if few else 1)
    worn = rng.choice([0.0, 0.0, 0.15])

    def stays(name: str) -> bool:
        return name not in loose

    own = replace(hose("installed:hose", 16), inside_m=0.0156)
    runs = [rng.choice([1.0, 1.5, 1.8]) for _ in range(2)]
    drop = rng.choice([bar("installed:bar", tailed, 12, rng.choice([2.5, 3.0])), mouth("installed:end", tailed, 11.0)])
    positions = (
        Position(name="intake", kind="guard", installed=guard("own-guard", 16, 12, 30.0, 0.4, 3.0), stays=True),
        Position(name="suction", kind="hose", installed=own, length_m=runs[0], bends=1, stays=stays("suction")),
        Position(name="canister", kind="canister", installed=body, depth_m=1.0, stays=True),
        Position(name="pump", kind="pump", installed=motor, depth_m=0.8, state=State(worn=worn, fouled=rng.choice([0.0, 0.1]))),
        Position(name="return", kind="hose", installed=own, length_m=runs[1], bends=2, stays=stays("return")),
        Position(name="outlet", kind="outlet", installed=drop, height_m=-0.02, stays=stays("outlet")),
    )
    limits = Limits(
        flow_min_m3s=rng.choice([0.0, 0.0, 0.0, 200.0]) * LITRE_PER_HOUR,
        flow_max_m3s=rng.choice([INF, INF, INF, 900.0]) * LITRE_PER_HOUR,
        noise_dba=rng.choice([INF, INF, 42.0]),
        inlet_head_m=rng.choice([-INF, -INF, 0.0]),
        mechanical_stage=False,
        mature_media=False,
    )
    spares = (
        (Spare(part=Clamp(id="spare:1", name="old clamp", low_m=0.014, high_m=0.030), count=2),) if rng.random() < 0.3 else ()
    )
    rig = Rig(
        name=f"tank {n}",
        tank=Tank(nominal_m3=0.2, net_m3=0.17),
        positions=positions,
        trays=(Tray(medium=medium("foam", 3e-7, True, 0.0)),),
        limits=limits,
        spares=spares,
        listen_m=rng.choice([1.0, 2.0]),
    )
    now = operating_point(rig).flow_m3s
    target = min(now * rng.choice([0.9, rng.uniform(1.1, 1.4), rng.uniform(1.2, 2.0)]), limits.flow_max_m3s)
    return HouseTank(name=f"tank {n}", rig=rig, target_m3s=target, room=rng.choice(["hall", ""]))


def one_water(seed: int) -> tuple[Household, Catalog]:
    """A random household whose first two filters stand at one tank. Of most of these the second is not there yet, of some a third
    is another option for the same tank."""
    house, catalog = household(seed)
    rng = random.Random(seed + 10_000)
    number = rng.choice([2, 2, len(house.tanks)])
    first = house.tanks[0]
    whole = sum(operating_point(tank.rig).flow_m3s for tank in house.tanks[:number])
    most = sum(tank.rig.limits.flow_max_m3s for tank in house.tanks[:number])
    target = min(whole * rng.choice([0.6, rng.uniform(0.9, 1.2), rng.uniform(1.0, 1.6)]), most)
    options = rng.choice([0, 1, 1, number - 1, number])
    shared = tuple(
        replace(
            tank,
            water="reef",
            room=first.room,
            target_m3s=target,
            price=rng.choice([0, rng.randrange(200, 3000)]) if n >= number - options else None,
        )
        for n, tank in enumerate(house.tanks[:number])
    )
    return replace(house, tanks=(*shared, *house.tanks[number:])), catalog
