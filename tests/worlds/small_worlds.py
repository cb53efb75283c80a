"""Random small rigs and catalogs, made in memory, with everything that makes prices and joints awkward. All invented.

Joints over one to three adapters, traps of threads that never mate, packs, coils, hose by the metre, kits, spares, short stock,
trays of media with a floor for bacteria, flow windows, ceilings with and without a throttle, suction, the speed at the guard,
screw clamps on offer or not, worn pumps with a new one of the same model for sale.
A world is cut down, product by product, until all its bundles can be listed one by one.
"""

import random
from dataclasses import dataclass, field, replace

from enumeration import number_of_bundles

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
from optimizer.search.choices import choices

HOSES = {12: 16, 16: 22, 19: 27}
LITRE_PER_HOUR = 1e-3 / 3600.0
INF = float("inf")
CLOSURES = ("K", "W", "T")
"""Clamps, washers and tape are cut last: without them next to nothing can be fitted."""


def tail(size: int, bore: float) -> End:
    """A hose tail of a nominal size and bore, both in mm."""
    return End(standard=Standard.HOSE, size_m=size / 1e3, gender=Gender.MALE, bore_m=round(bore, 1) / 1e3)


def socket(size: int) -> End:
    """The end of a hose."""
    return End(
        standard=Standard.HOSE,
        size_m=size / 1e3,
        gender=Gender.FEMALE,
        bore_m=size / 1e3,
        outside_m=HOSES[size] / 1e3,
    )


def thread(standard: Standard, gender: Gender, inches: float, bore: float) -> End:
    """A threaded end."""
    return End(standard=standard, size_m=inches * 0.0254, gender=gender, bore_m=round(bore, 1) / 1e3)


def label_curve(head: float, litres_per_hour: float, shape: float = 2.0) -> PumpCurve:
    """A pump curve from the two figures of a label."""
    return PumpCurve(flows_m3s=(0.0, litres_per_hour * LITRE_PER_HOUR), heads_m=(head, 0.0), shape=shape)


def point_curve(head: float, litres_per_hour: float) -> PumpCurve:
    """A pump curve through four points."""
    flows = tuple(share * litres_per_hour * LITRE_PER_HOUR for share in (0.0, 0.4, 0.75, 1.0))
    return PumpCurve(flows_m3s=flows, heads_m=tuple(share * head for share in (1.0, 0.85, 0.5, 0.0)))


def guard(name: str, size: int, bore: float, area_cm2: float, open_share: float = 0.4, opening_mm: float = 3.0) -> Guard:
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


def fitting(
    name: str,
    role: str,
    inlet: End,
    outlet: End,
    throttles: bool = False,
    shape: str = "straight",
    passage_mm: float = 0.0,
) -> Fitting:
    """A fitting as wide inside as its narrower end, unless its passage is given."""
    return Fitting(
        id=name,
        name=f"{role} {name}",
        role=role,
        shape=shape,
        inlet=inlet,
        outlet=outlet,
        passage_m=passage_mm / 1e3 or min(inlet.bore_m, outlet.bore_m),
        throttles=throttles,
    )


def pump(name: str, inlet: End, outlet: End, curve: PumpCurve, power: float = 20.0, noise: float = 38.0) -> Pump:
    """A pump."""
    return Pump(id=name, name=f"pump {name}", curve=curve, power_w=power, noise_dba=noise, inlet=inlet, outlet=outlet)


def bar(name: str, inlet: End, holes: int, hole_mm: float) -> Outlet:
    """A spray bar."""
    return Outlet(
        id=name,
        name=f"bar {holes} x {hole_mm:g} mm",
        form="bar",
        inlet=inlet,
        holes=holes,
        hole_m=hole_mm / 1e3,
        bar_bore_m=inlet.bore_m,
        pitch_m=0.03,
    )


def mouth(name: str, inlet: End, bore_mm: float) -> Outlet:
    """An open end."""
    return Outlet(id=name, name=f"mouth {bore_mm:g} mm", form="open", inlet=inlet, holes=1, hole_m=bore_mm / 1e3)


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


def single(part: Part, price: int, *, count: int = 1, stock: int | None = None, id: str = "") -> Product:
    """A part, or a pack of them, at a price."""
    return Product(id=id or part.id, price=price, lines=(Line(part_id=part.id, count=count),), stock=stock)


def world(seed: int, most: int = 1200, aged: bool = False) -> tuple[Rig, Catalog]:
    """A random rig, its limits included, with a random catalog that together allow some dozens to ``most`` bundles. ``aged``: now
    and then with a worn pump, and screw clamps on offer."""
    rng = random.Random(seed)
    size = rng.choice([12, 16, 16])
    market = _Market(rng, size)
    _fill(market)
    limits = _limits(rng)
    rig = replace(_rig(rng, size, limits), spares=_spares(market), limits=limits)
    cap = rng.choice([most // 4, most // 2, most])
    rig = _aged(rig, market, seed) if aged else rig
    order = list(range(len(market.products)))
    rng.shuffle(order)
    order.sort(key=lambda number: market.products[number].id.startswith(CLOSURES))
    low, high = 0, len(order)
    while low < high:
        middle = (low + high) // 2
        if number_of_bundles(choices(rig, market.without(order[:middle]), rig.limits)) <= cap:
            high = middle
        else:
            low = middle + 1
    return rig, market.without(order[:low])


def aged_world(seed: int, most: int = 1200) -> tuple[Rig, Catalog]:
    """The same with worn pumps and screw clamps."""
    return world(seed, most, aged=True)


def large_world(seed: int, aged: bool = False) -> tuple[Rig, Catalog]:
    """The same, uncut and with a second helping of parts: far too many bundles to list."""
    rng = random.Random(seed)
    size = rng.choice([12, 16, 16])
    market = _Market(rng, size)
    for helping in ("", "x"):
        market.mark = helping
        _fill(market)
    limits = _limits(rng)
    rig = replace(_rig(rng, size, limits), spares=_spares(market), limits=limits)
    return _aged(rig, market, seed) if aged else rig, market.without([])


def _aged(rig: Rig, market: "_Market", seed: int) -> Rig:
    """The rig with, now and then, a worn pump whose model is for sale; screw clamps are put on offer now and then."""
    rng = random.Random(f"aged {seed}")
    if rng.random() < 0.5:
        market.sell(Clamp(id="S", name="screw clamp", low_m=0.014, high_m=0.030, throttles=True), rng.choice([0, 60, 220, 400]))
    if rng.random() < 0.7:
        return rig
    market.sell(rig.pump, rng.randrange(800, 5000), stock=rng.choice([None, 1]))
    place = rig.index("pump")
    state = replace(rig.positions[place].state, worn=rng.choice([0.1, 0.2, 0.3]))
    worn = replace(rig.positions[place], state=state)
    return replace(rig, positions=(*rig.positions[:place], worn, *rig.positions[place + 1 :]))


@dataclass(slots=True)
class _Market:
    """A catalog in the making. ``mark`` is appended to the ids of parts."""

    rng: random.Random
    size: int
    parts: dict[str, Part] = field(default_factory=dict)
    products: list[Product] = field(default_factory=list)
    mark: str = ""

    @property
    def wide(self) -> int:
        """The next hose size."""
        return 19 if self.size == 16 else 16

    def any_size(self) -> int:
        """One of the two hose sizes of this world."""
        return self.rng.choice([self.size, self.wide])

    def port(self, share: float) -> End:
        """A tail, now and then a threaded end."""
        size = self.any_size()
        if self.rng.random() < 0.25:
            standard = self.rng.choice([Standard.G, Standard.G, Standard.NPT])
            return thread(standard, Gender.MALE, 0.5, size * share)
        return tail(size, size * share)

    def sell(self, part: Part, price: int, count: int = 1, stock: int | None = None) -> None:
        """Put a part on offer."""
        self.parts[part.id] = part
        product = single(part, price, count=count, stock=stock)
        self.products.append(replace(product, id=f"{part.id} x{count}"))

    def without(self, gone: list[int]) -> Catalog:
        """The catalog less some products."""
        products = tuple(product for n, product in enumerate(self.products) if n not in gone)
        return Catalog(parts=self.parts, products=products, name="random")


def _fill(market: _Market) -> None:
    rng, size, wide, mark = market.rng, market.size, market.wide, market.mark
    for n in range(2):
        at, area, opening = market.any_size(), rng.uniform(12, 70), rng.choice([2.0, 3.5])
        market.sell(guard(f"G{n}{mark}", at, at * 0.85, area, 0.45, opening), rng.randrange(300, 1500))
        holes, hole = rng.choice([12, 16, 20]), rng.choice([3.0, 3.5, 4.5])
        market.sell(bar(f"B{n}{mark}", market.port(0.85), holes, hole), rng.randrange(400, 2000))
    _sell_pumps(market)
    if rng.random() < 0.5:
        market.sell(mouth(f"O{mark}", tail(wide, wide * 0.85), wide * 0.8), rng.randrange(200, 900))
    for n in range(2):
        at = rng.choice([size, size, wide])
        part = fitting(f"C{n}{mark}", "coupling", tail(at, at * 0.9), tail(at, at * 0.9), rng.random() < 0.8, "ball valve")
        market.sell(part, rng.randrange(500, 2500), stock=rng.choice([None, None, 1]))
    heater = Device(
        id=f"D{mark}",
        name="small heater",
        inlet=tail(size, size * 0.9),
        outlet=tail(size, size * 0.9),
        quadratic=6e4,
        flow_min_m3s=rng.choice([0.0, 250.0, 400.0]) * LITRE_PER_HOUR,
        flow_max_m3s=rng.choice([500.0, 1200.0]) * LITRE_PER_HOUR,
        purpose="heater",
    )
    market.sell(heater, rng.randrange(1000, 3000))
    _sell_hoses(market)
    _sell_adapters(market)
    _sell_closures(market)
    _sell_media(market)
    _sell_kits(market)


def _sell_pumps(market: _Market) -> None:
    rng = market.rng
    for n in range(2):
        head, flow, at = rng.uniform(1.6, 3.2), rng.uniform(1100, 3200), market.any_size()
        curve = point_curve(head, flow) if rng.random() < 0.4 else label_curve(head, flow, rng.choice([1.5, 2.0]))
        inlet = rng.choice([tail(at, at * 0.85), thread(Standard.G, Gender.MALE, 0.5, market.size)])
        part = pump(f"P{n}{market.mark}", inlet, market.port(0.85), curve, 35.0, rng.choice([36.0, 38.0, 44.0]))
        market.sell(part, rng.randrange(1500, 9000))


def _sell_hoses(market: _Market) -> None:
    rng = market.rng
    for n, measure in enumerate([market.size, market.wide]):
        part = hose(f"H{n}{market.mark}", measure)
        market.parts[part.id] = part
        way = rng.choice(["metre", "coil", "both", "two coils"])
        if way in ("metre", "both"):
            line = Line(part_id=part.id)
            price, stock = rng.randrange(200, 600), rng.choice([None, None, 2, 3])
            market.products.append(Product(id=f"{part.id} cut", price=price, lines=(line,), step_m=0.1, stock=stock))
        lengths = {"coil": [rng.choice([2.0, 3.0, 4.0])], "both": [3.5], "two coils": [2.0, 4.0]}.get(way, [])
        for length in lengths:
            line = Line(part_id=part.id, amount_m=length)
            price = int(rng.randrange(250, 450) * length)
            product = Product(id=f"{part.id} {length}", price=price, lines=(line,), stock=rng.choice([None, 1]))
            market.products.append(product)


def _sell_adapters(market: _Market) -> None:
    rng, size, wide, mark = market.rng, market.size, market.wide, market.mark
    for n, share in enumerate(rng.sample([0.75, 0.8, 0.9], 2)):
        part = fitting(f"AR{n}{mark}", "adapter", tail(wide, wide * share), tail(size, size * share))
        market.sell(part, rng.randrange(100, 400), count=rng.choice([1, 1, 2]), stock=rng.choice([None, None, 2]))
    stub = fitting(f"AH{mark}", "adapter", socket(market.any_size()), socket(market.any_size()))
    market.sell(stub, rng.randrange(50, 200))
    for standard in (Standard.G, Standard.NPT):
        for gender in (Gender.MALE, Gender.FEMALE):
            at = market.any_size()
            ends = (thread(standard, gender, 0.5, size * 0.9), tail(at, at * 0.8))
            part = fitting(f"A{standard.value}{gender.value[0]}{mark}", "adapter", *ends)
            market.sell(part, rng.randrange(100, 400))


def _sell_closures(market: _Market) -> None:
    rng, mark = market.rng, market.mark
    market.sell(Clamp(id=f"K{mark}", name="clamp", low_m=0.014, high_m=0.030), 90)
    if rng.random() < 0.7:
        small = Clamp(id=f"K10{mark}", name="clamps", low_m=0.014, high_m=0.024)
        market.sell(small, rng.choice([250, 400]), count=rng.choice([4, 10]), stock=rng.choice([None, 1]))
    market.sell(Seal(id=f"W{mark}", name="washer", closure="washer", standard="G"), 40, count=rng.choice([1, 5]))
    market.sell(Seal(id=f"T{mark}", name="tape", closure="tape"), 120, count=10)


def _sell_media(market: _Market) -> None:
    rng = market.rng
    for name, permeability, mechanical, area in (
        ("M1", 2e-7, True, 0.0),
        ("M2", 8e-7, False, 700.0),
        ("M3", 5e-7, True, 300.0),
    ):
        part = medium(name + market.mark, permeability * rng.uniform(0.5, 2.0), mechanical, area)
        market.parts[part.id] = part
        for litres in rng.sample([1.0, 2.0, 5.0], rng.choice([1, 2])):
            line = Line(part_id=part.id, amount_m3=litres / 1e3)
            price = int(rng.randrange(250, 700) * litres**0.8)
            stock = rng.choice([None, None, 1])
            market.products.append(Product(id=f"{part.id} {litres}", price=price, lines=(line,), stock=stock))


def _sell_kits(market: _Market) -> None:
    rng, mark = market.rng, market.mark
    hose_line = Line(part_id=f"H{rng.choice([0, 1])}{mark}", amount_m=rng.choice([2.0, 4.0]))
    offers = (
        (Line(part_id=f"AR0{mark}", count=2), Line(part_id=f"B0{mark}"), hose_line),
        (hose_line, Line(part_id=f"K{mark}", count=6), Line(part_id=f"AGm{mark}", count=2)),
        (Line(part_id=f"M2{mark}", amount_m3=2e-3), Line(part_id=f"G0{mark}")),
    )
    for n, lines in enumerate(offers):
        if rng.random() < 0.4:
            price, stock = rng.randrange(900, 2500), rng.choice([None, 1])
            market.products.append(Product(id=f"KIT{n}{mark}", price=price, lines=lines, stock=stock))


def _spares(market: _Market) -> tuple[Spare, ...]:
    rng, found = market.rng, []
    pieces = [p for p in market.parts.values() if isinstance(p, Fitting | Outlet | Guard | Clamp)]
    if rng.random() < 0.4:
        found.append(Spare(part=rng.choice(pieces), count=rng.choice([1, 3])))
    if rng.random() < 0.2:
        found.append(Spare(part=market.parts["H1"], amount_m=rng.choice([1.9, 4.0])))
    if rng.random() < 0.2:
        found.append(Spare(part=market.parts["M2"], amount_m3=1.5e-3))
    return tuple(found)


def _limits(rng: random.Random) -> Limits:
    ceiling = rng.choice([INF, INF, INF, rng.uniform(310, 600) * LITRE_PER_HOUR])
    return Limits(
        budget=rng.choice([None, 700, 1500, 2500, 2500, 4000, 4000, 8000]),
        noise_dba=rng.choice([INF, INF, 40.0]),
        power_w=rng.choice([INF, INF, INF, 30.0]),
        flow_max_m3s=ceiling,
        flow_min_m3s=rng.choice([0.0, 0.0, 0.0, 0.0, 150.0, 300.0]) * LITRE_PER_HOUR,
        opening_m=rng.choice([INF, INF, INF, INF, INF, 2.5e-3]),
        bio_area_m2=rng.choice([0.0, 0.0, 0.4, 0.6]),
        mature_media=rng.random() < 0.7,
        inlet_head_m=rng.choice([-0.3, -0.3, 0.0, 0.0, -INF, -INF, 0.2]),
        guard_speed_ms=rng.choice([INF, INF, INF, INF, 0.4, 0.2]),
    )


def _rig(rng: random.Random, size: int, limits: Limits) -> Rig:
    bore = size * rng.uniform(0.7, 0.85)
    tailed, own = tail(size, bore), hose("own-hose", size)
    ported = thread(Standard.G, Gender.FEMALE, 0.5, size)
    trays = rng.choice([2, 3])
    body = Canister(
        id="body",
        name="canister",
        inlet=tailed,
        outlet=ported,
        trays=trays,
        tray_area_m2=0.03,
        tray_height_m=0.05,
        rating_m=rng.choice([INF, 3.0]),
    )
    head = rng.uniform(1.2, 2.4)
    motor = pump("own-pump", replace(ported, gender=Gender.MALE), tailed, label_curve(head, head * rng.uniform(600, 900)))
    depth = rng.choice([0.4, 0.6, 0.9])
    intake = guard("own-guard", size, bore, rng.uniform(6, 14), 0.4, rng.choice([2.0, 3.0]))
    positions = [
        Position(name="intake", kind="guard", installed=intake, state=State(blocked=rng.choice([0.0, 0.6, 0.9]))),
        Position(name="suction", kind="hose", installed=own, length_m=rng.choice([1.5, 1.8]), bends=1),
        Position(name="canister", kind="canister", installed=body, depth_m=1.2),
        Position(name="pump", kind="pump", installed=motor, depth_m=depth, state=State(fouled=rng.choice([0.0, 0.1]))),
        Position(
            name="return",
            kind="hose",
            installed=own,
            length_m=rng.choice([1.5, 1.8]),
            bends=2,
            state=State(film_m=rng.choice([0.0, 0.4e-3])),
        ),
        *_extras(rng, tailed, own, capped=min(limits.flow_max_m3s, limits.guard_speed_ms) < INF),
        _outlet(rng, tailed, bore),
    ]
    return Rig(name="random tank", tank=Tank(nominal_m3=0.3, net_m3=0.26), positions=tuple(positions), trays=_trays(rng, trays))


def _extras(rng: random.Random, tailed: End, own: Hose, capped: bool) -> list[Position]:
    """What stands between return hose and outlet: nothing, a tap, a heater, or a place where a tap could be added.

    Where the flow is ``capped``, mostly something that can hold it.
    """
    last = Position(name="last", kind="hose", installed=own, length_m=0.4, stays=rng.random() < 0.6)
    place = Position(name="place", kind="fitting", role="coupling", installed=None)
    what = rng.choice(["tap", "tap", "tap", "place", "heater"] if capped else ["nothing", "tap", "heater", "place"])
    if what == "tap":
        own_tap = fitting("own-tap", "coupling", tailed, tailed, rng.random() < (0.85 if capped else 0.5))
        may_go = rng.random() < 0.5
        return [Position(name="tap", kind="fitting", role="coupling", installed=own_tap, may_go=may_go), last]
    if what == "place":
        return [place]
    if what == "heater":
        heater = Device(
            id="heater",
            name="heater",
            inlet=tailed,
            outlet=tailed,
            quadratic=2e5,
            flow_min_m3s=rng.choice([0.0, 0.0, 300.0]) * LITRE_PER_HOUR,
            flow_max_m3s=rng.choice([450.0, 900.0, 5000.0]) * LITRE_PER_HOUR,
            purpose="heater",
        )
        added = [place] * rng.choice([0, 1, 1])
        return [Position(name="heater", kind="device", installed=heater, may_go=rng.random() < 0.4), last, *added]
    return []


def _outlet(rng: random.Random, tailed: End, bore: float) -> Position:
    own_bar = bar("own-bar", tailed, 12, rng.choice([2.5, 3.0]))
    lift = rng.choice([-0.02, 0.05])
    adjusts = []
    if lift > 0 and rng.random() < 0.7:
        adjusts.append(Adjust(name="sink it", height_m=-0.02))
    if rng.random() < 0.4:
        drilled = replace(own_bar, holes=16, hole_m=own_bar.hole_m + 0.5e-3)
        adjusts.append(Adjust(name="re-drill it", outlet=drilled, price=rng.choice([0, 300])))
    return Position(name="outlet", kind="outlet", installed=own_bar, height_m=lift, adjusts=tuple(adjusts))


def _trays(rng: random.Random, number: int) -> tuple[Tray, ...]:
    foam, rings = medium("own-foam", 1.2e-7, True, 0.0), medium("own-rings", 4e-7, False, rng.choice([0.0, 500.0, 500.0]))
    aside = random.Random(str(rng.getstate()[1][:4]))  # what comes after in the world stays what it was
    first = Tray(medium=foam, state=State(filled=rng.choice([0.0, 0.7]), cake_m=aside.choice([0.0, 1e-3, 4e-3])))
    return (first, Tray(medium=rings), Tray(medium=rng.choice([rings, None])))[:number]
