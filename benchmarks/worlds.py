"""Big invented rigs and catalogs for the benchmarks: every position has many parts, with joints on both sides.

Ends come in the usual hose sizes with a handful of tail bores each, and in G threads; a few dozen adapters lead from
one to another. Prices follow the loss with noise (dearer parts lose less, often but not always). Clamps are sold singly
and in packs, hose by the metre and as a coil, and one kit spans three positions, so that prices do not add up. All is
drawn from a seed, all is invented.
"""

import math
from dataclasses import dataclass, field

import numpy as np

from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import End, Gender, Standard
from optimizer.model.limits import Limits
from optimizer.model.parts import Canister, Clamp, Fitting, Guard, Hose, Medium, Outlet, Part, Pump, PumpCurve, Seal
from optimizer.model.rig import Position, Rig, Tank, Tray
from optimizer.model.state import State
from optimizer.search.choices import choices
from optimizer.search.layers import Problem, build

HOSES_MM = {12: (16, 17), 16: (22, 23), 19: (25, 27), 25: (32, 34)}
"""Inside sizes and their usual outsides."""

BORE_SHARES = (0.70, 0.76, 0.82, 0.88, 0.94)
"""Bore of a tail over its size."""

THREADS_IN = {12: 0.375, 16: 0.5, 19: 0.75, 25: 1.0}
"""The G thread that goes with each hose size."""

SIZES = tuple(HOSES_MM)

SIZED = {"1e6": (6, 2), "1e9": (5, 1), "1e12": (18, 1), "1e15": (62, 1)}
"""Parts per kind, and every how many-th adapter is sold, for about so many bundles (each way to join counts)."""

BUDGET = 9_000
"""Minor units of money: some 20 % of what the dearest parts of all positions cost together."""


@dataclass(slots=True)
class _Market:
    """A catalog in the making, with the generator it is drawn from."""

    rng: np.random.Generator
    parts: dict[str, Part] = field(default_factory=dict)
    products: list[Product] = field(default_factory=list)

    def sell(self, part: Part, price: float, count: int = 1, **terms: float) -> None:
        self.parts[part.id] = part
        line = Line(part_id=part.id, count=count)
        step = float(terms.get("step_m", 0.0))
        self.products.append(Product(id=f"{part.id}x{count}", price=max(int(price), 5), lines=(line,), step_m=step))

    def noise(self, spread: float = 0.35) -> float:
        return float(np.exp(self.rng.normal(0.0, spread)))

    def size(self) -> int:
        return int(self.rng.choice(SIZES, p=(0.2, 0.4, 0.25, 0.15)))

    def tail(self, size: int) -> End:
        return tail(size, size * float(self.rng.choice(BORE_SHARES)))

    def port(self, size: int) -> End:
        """A tail, or for one part in five a threaded port."""
        if self.rng.random() < 0.2:
            return thread(size, Gender.MALE, size * 0.85)
        return self.tail(size)


def tail(size_mm: int, bore_mm: float) -> End:
    """A hose tail; its bore is rounded to half a millimetre."""
    bore = round(bore_mm * 2.0) / 2e3
    return End(standard=Standard.HOSE, size_m=size_mm / 1e3, gender=Gender.MALE, bore_m=bore)


def thread(size_mm: int, gender: Gender, bore_mm: float) -> End:
    """The G thread that goes with a hose size."""
    bore = round(bore_mm * 2.0) / 2e3
    return End(standard=Standard.G, size_m=THREADS_IN[size_mm] * 0.0254, gender=gender, bore_m=bore)


def catalog(per_kind: int, seed: int, thinned: int = 1) -> Catalog:
    """A catalog with ``per_kind`` guards, hoses, couplings, pumps and outlets, and a few dozen parts that join them.

    ``thinned`` sells only every so many-th of the adapters.
    """
    market = _Market(np.random.default_rng(seed))
    for n in range(per_kind):
        _guard(market, n)
        _hose(market, n)
        _coupling(market, n)
        _pump(market, n)
        _outlet(market, n)
    _adapters(market, thinned)
    _closures(market)
    _shared(market)
    return Catalog(parts=market.parts, products=tuple(market.products), name=f"{per_kind} of a kind")


def _guard(market: _Market, n: int) -> None:
    size, area = market.size(), float(market.rng.uniform(8.0, 90.0))
    part = Guard(
        id=f"G{n}",
        name=f"strainer {n}",
        form="slots",
        face_area_m2=area / 1e4,
        open_fraction=float(market.rng.uniform(0.25, 0.6)),
        opening_m=float(market.rng.uniform(1e-3, 3e-3)),
        outlet=market.tail(size),
    )
    market.sell(part, (250 + 22 * area * part.open_fraction + 30 * size) * market.noise())


def _hose(market: _Market, n: int) -> None:
    size = market.size()
    outside = int(market.rng.choice(HOSES_MM[size]))
    part = Hose(
        id=f"H{n}",
        name=f"hose {size}/{outside} {n}",
        inside_m=size / 1e3,
        outside_m=outside / 1e3,
        roughness_m=float(market.rng.choice([1.5e-6, 6e-6, 1e-5])),
        ribbed=bool(market.rng.random() < 0.2),
    )
    market.sell(part, (90 + 16 * size) * (0.6 if part.ribbed else 1.0) * market.noise(), step_m=0.1)


def _coupling(market: _Market, n: int) -> None:
    size = market.size()
    ends = (market.tail(size), market.tail(size))
    share = float(market.rng.uniform(0.75, 1.0))
    passage = min(end.bore_m for end in ends) * share
    part = Fitting(
        id=f"C{n}",
        name=f"coupling {n}",
        role="coupling",
        shape=str(market.rng.choice(["straight", "ball valve"])),
        inlet=ends[0],
        outlet=ends[1],
        passage_m=passage,
        throttles=bool(market.rng.random() < 0.5),
    )
    market.sell(part, (200 + 45 * 1e3 * passage) * market.noise())


def _pump(market: _Market, n: int) -> None:
    size, head = market.size(), float(market.rng.uniform(1.0, 2.6))
    litres = head * float(market.rng.uniform(450.0, 950.0))
    part = Pump(
        id=f"P{n}",
        name=f"pump {n}",
        curve=PumpCurve(flows_m3s=(0.0, litres / 3.6e6), heads_m=(head, 0.0), shape=float(market.rng.uniform(1.4, 2.4))),
        power_w=float(litres * head / 120.0 + 5.0),
        noise_dba=float(market.rng.uniform(32.0, 46.0)),
        inlet=market.port(size),
        outlet=market.port(size),
    )
    market.sell(part, (1500 + 0.9 * litres * math.sqrt(head)) * market.noise(0.25))


def _outlet(market: _Market, n: int) -> None:
    size, holes = market.size(), int(market.rng.integers(8, 28))
    hole = float(market.rng.uniform(2.0, 5.5))
    part = Outlet(
        id=f"B{n}",
        name=f"bar {n}",
        form="bar",
        inlet=market.tail(size),
        holes=holes,
        hole_m=hole / 1e3,
        bar_bore_m=size / 1e3,
        pitch_m=0.025,
    )
    market.sell(part, (200 + 2.2 * holes * hole**2 + 25 * size) * market.noise())


def _adapters(market: _Market, thinned: int) -> None:
    """Reducers between neighbouring sizes, tails on threads, thread nipples, and stubs of hose between two tails."""
    number = -1

    def sell(inlet: End, outlet: End, price: float) -> None:
        nonlocal number
        number += 1
        if number % thinned:
            return
        passage = min(inlet.bore_m, outlet.bore_m)
        part = Fitting(
            id=f"A{number}",
            name=f"adapter {number}",
            role="adapter",
            shape="straight",
            inlet=inlet,
            outlet=outlet,
            passage_m=passage,
        )
        market.sell(part, price * market.noise())

    for small, large in ((12, 16), (16, 19), (19, 25), (12, 19), (16, 25)):
        for share in (0.74, 0.84, 0.92):
            sell(tail(small, small * share), tail(large, large * share), 60 + 160 * share**4 * large / 16)
    for size in SIZES:
        female = thread(size, Gender.FEMALE, size * 0.9)
        for share in (0.76, 0.88):
            sell(female, tail(size, size * share), 110 + 200 * share**4 * size / 16)
            sell(thread(size, Gender.MALE, size * 0.9), tail(size, size * share), 100 + 180 * share**4 * size / 16)
        sell(female, female, 190)
        for outside in HOSES_MM[size]:
            stub = End(
                standard=Standard.HOSE,
                size_m=size / 1e3,
                gender=Gender.FEMALE,
                bore_m=size / 1e3,
                outside_m=outside / 1e3,
            )
            sell(stub, stub, 60 + 3 * size)


def _closures(market: _Market) -> None:
    """Clamps for each range, singly and in packs, and washers."""
    for low, high in ((14, 19), (18, 25), (24, 36)):
        clamp = Clamp(id=f"K{low}", name=f"clamp {low} to {high}", low_m=low / 1e3, high_m=high / 1e3)
        market.sell(clamp, 95 + 2 * high)
        market.sell(clamp, 420 + 9 * high, count=10)
    washer = Seal(id="W", name="washer", closure="washer", standard="G")
    market.sell(washer, 45)
    market.sell(washer, 120, count=5)


def _shared(market: _Market) -> None:
    """A coil that both runs can be cut from, and a kit of hose, outlet and adapter."""
    line = Line(part_id="H0", amount_m=4.0)
    by_metre = next(p.price for p in market.products if p.id == "H0x1")
    market.products.append(Product(id="COIL", price=int(by_metre * 2.7), lines=(line,)))
    kit = (Line(part_id="H1", amount_m=4.0), Line(part_id="B0"), Line(part_id="A0"))
    market.products.append(Product(id="KIT", price=2400, lines=kit))


def rig(budget: int = BUDGET) -> Rig:
    """A 400 l tank: six positions to change, a canister that stays; what is fitted is narrow, some of it dirty."""
    end, own = tail(16, 11.5), Hose(id="own-hose", name="hose 16/22", inside_m=0.016, outside_m=0.022)
    guard = Guard(
        id="own-guard",
        name="old strainer",
        form="slots",
        face_area_m2=8e-4,
        open_fraction=0.35,
        opening_m=2e-3,
        outlet=end,
    )
    port = tail(19, 17.0)
    body = Canister(id="body", name="canister", inlet=port, outlet=port, trays=1, tray_area_m2=0.05, tray_height_m=0.05)
    coupling = Fitting(
        id="own-coupling", name="coupling", role="coupling", shape="straight", inlet=end, outlet=end, passage_m=0.010
    )
    curve = PumpCurve(flows_m3s=(0.0, 1100 / 3.6e6), heads_m=(1.6, 0.0), shape=2.0)
    pump = Pump(id="own-pump", name="pump", curve=curve, power_w=20.0, noise_dba=38.0, inlet=end, outlet=end)
    outlet = Outlet(
        id="own-bar",
        name="bar",
        form="bar",
        inlet=end,
        holes=12,
        hole_m=0.003,
        bar_bore_m=0.016,
        pitch_m=0.025,
    )
    foam = Medium(
        id="own-foam",
        name="foam",
        form="foam",
        permeability_m2=4e-7,
        inertial_1m=300.0,
        area_m2m3=0.0,
        mechanical=True,
        biological=False,
    )
    positions = (
        Position(name="intake", kind="guard", installed=guard, state=State(blocked=0.6)),
        Position(name="suction", kind="hose", installed=own, length_m=1.6, bends=1),
        Position(name="coupling", kind="fitting", role="coupling", installed=coupling),
        Position(name="canister", kind="canister", installed=body, depth_m=1.2, stays=True),
        Position(name="pump", kind="pump", installed=pump, depth_m=1.2),
        Position(name="return", kind="hose", installed=own, length_m=1.9, bends=2),
        Position(name="outlet", kind="outlet", installed=outlet, height_m=0.02),
    )
    return Rig(
        name="bench tank",
        tank=Tank(nominal_m3=0.4, net_m3=0.34),
        positions=positions,
        trays=(Tray(medium=foam, state=State(filled=0.3)),),
        limits=Limits(budget=budget),
    )


def sized(size: str, seed: int = 1) -> tuple[Rig, Catalog]:
    """The rig, and a catalog that gives it about ``size`` bundles."""
    per_kind, thinned = SIZED[size]
    return rig(), catalog(per_kind, seed, thinned)


def problem(home: Rig, offers: Catalog) -> Problem:
    """A freshly built problem, which remembers nothing of any search before it."""
    budget = math.inf if home.limits.budget is None else float(home.limits.budget)
    return build(choices(home, offers, home.limits), dearest=budget)
