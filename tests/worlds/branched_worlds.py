"""Random small rigs with branches: a second guard, a bypass round a device, a second outlet; there already or to be added.

All invented. Outside the branches little but the pump can be swapped, so that all ways to fill the branches can be listed.
"""

import random
from dataclasses import replace

from small_worlds import (
    HOSES,
    LITRE_PER_HOUR,
    bar,
    fitting,
    guard,
    hose,
    label_curve,
    medium,
    mouth,
    pump,
    single,
    tail,
    thread,
)

from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import End, Gender, Standard
from optimizer.model.limits import Limits
from optimizer.model.parts import Canister, Clamp, Device, Part, TeePiece
from optimizer.model.rig import Branch, Position, Rig, Tank, Tray
from optimizer.model.state import State

WHERE = ("guards", "device", "outlets")


def tee(name: str, run: End, side: End, angle: float = 90.0) -> TeePiece:
    """A tee with both straight ends alike, as wide inside as its ends."""
    return TeePiece(
        id=name,
        name=f"tee {name}",
        inlet=run,
        outlet=run,
        side=side,
        passage_m=run.bore_m,
        side_passage_m=min(side.bore_m, run.bore_m),
        angle_deg=angle,
    )


def branched_world(seed: int) -> tuple[Rig, Catalog]:
    """A rig with branches in one place, its limits, and a small catalog."""
    rng = random.Random(seed)
    size = rng.choice([12, 16])
    where, added = rng.choice(WHERE), rng.random() < 0.6
    rig = _rig(rng, size, where, added)
    return replace(rig, limits=_limits(rng, where)), _catalog(rng, size, rig)


NESTED = ("guards", "device", "outlets", "row")
"""Sorts of nested worlds; every tenth is a row: two outlets within a branch, and two more within one of theirs."""


def nested_world(seed: int) -> tuple[Rig, Catalog]:
    """A rig with branches in a branch, its limits, and a catalog of which little fits, so that all ways can be listed."""
    rng = random.Random(seed)
    size, where, added = rng.choice([12, 16]), NESTED[3 if seed % 10 == 9 else seed % 3], rng.random() < 0.5
    sort = "outlets" if where == "row" else where
    flat = _rig(rng, size, sort, False)
    group = next(n for n, position in enumerate(flat.positions) if position.branches)
    nest = {"guards": _nested_guards, "device": _nested_devices, "outlets": _nested_outlets, "row": _row_of_outlets}[where]
    calm = replace(flat.positions[group], stays=True)
    positions = tuple(nest(rng, size, added, calm) if n == group else each for n, each in enumerate(flat.positions))
    rig = replace(flat, positions=positions, limits=_limits(rng, sort))
    catalog = _catalog(rng, size, rig)
    kept = {p.id for p in catalog.products if rng.random() < 0.55 or (added and p.id.startswith(("T-a", "H-", "G-a", "O-a")))}
    return rig, replace(catalog, products=tuple(p for p in catalog.products if p.id in kept))


def _calm(branch: Branch) -> Branch:
    """The branch with nothing in it that could be swapped."""
    return replace(branch, positions=tuple(replace(each, stays=each.installed is not None) for each in branch.positions))


def _within(position: Position, branch: int, inner: Position, behind: bool) -> Position:
    """The place with another one in a branch, behind what stands there or in front of it."""
    own = _calm(position.branches[branch])
    row = (*own.positions, inner) if behind else (inner, *own.positions)
    some = tuple(replace(own, positions=row) if n == branch else _calm(each) for n, each in enumerate(position.branches))
    return replace(position, branches=some)


def _nested_guards(rng: random.Random, size: int, added: bool, position: Position) -> Position:
    """The second of two guards has another one beside it, and now and then a hose behind their tee."""
    run = tail(size, size * 0.8)
    first = position.branches[1]
    part, other = (None, None) if added else (guard("own-third", size, size * 0.8, rng.uniform(5, 20)), hose("own-c", size))
    third = (_spot("intake_c", "guard", part), _spot("hose_c", "hose", other, length_m=rng.uniform(0.2, 0.8)))
    lone = replace(first, name="right a", positions=_calm(first).positions)
    inner = _group(
        "far intakes", (lone, Branch(name="right b", positions=third, installed=not added)), None, tee("own-i", run, run)
    )
    behind = (_spot("hose_d", "hose", hose("own-d", size), length_m=0.4, stays=True),) if rng.random() < 0.5 else ()
    outer = replace(first, positions=(inner, *behind))
    return replace(position, branches=(position.branches[0], outer))


def _nested_devices(rng: random.Random, size: int, added: bool, position: Position) -> Position:
    """A second device beside the first, or within the bypass, with its own window."""
    own, run = tail(size, size * 0.7), tail(size, size * 0.8)
    least = rng.choice([0.0, 20.0, 60.0]) * LITRE_PER_HOUR
    unit = Device(
        id="own-reactor", name="reactor", inlet=own, outlet=own, quadratic=rng.uniform(3e6, 4e7), flow_min_m3s=least,
        flow_max_m3s=rng.choice([150.0, 300.0, 800.0]) * LITRE_PER_HOUR, purpose="media reactor",
    )  # fmt: skip
    device = Branch(name="reactor", positions=(_spot("reactor", "device", unit, stays=True),))
    held = None if added else hose("own-e", size)
    inside = [_spot("past", "hose", held, length_m=rng.uniform(0.2, 1.0)), _spot("past_tap", "fitting", None, role="valve")]
    past = Branch(name="past", positions=tuple(inside), installed=not added)
    way = tee("own-i", run, run, rng.choice([90.0, 45.0]))
    return _within(position, rng.choice([0, 1]), _group("reactors", (device, past), way, way), rng.random() < 0.5)


def _nested_outlets(rng: random.Random, size: int, added: bool, position: Position, level: str = "") -> Position:
    """The second of two outlets has another one beside it."""
    own, run = tail(size, size * 0.8), tail(size, size * 0.8)
    first = position.branches[1]
    held, part = (None, None) if added else (hose(f"own-c{level}", size), mouth(f"own-third{level}", own, size * 0.5))
    far = _spot(f"hose_c{level}", "hose", held, length_m=rng.uniform(0.2, 0.8))
    last = _spot(f"outlet_c{level}", "outlet", part, height_m=rng.choice([-0.02, 0.05]))
    lone = replace(_calm(first), name=f"far a{level}")
    third = Branch(name=f"far b{level}", positions=(far, last), installed=not added)
    inner = _group(f"far outlets{level}", (lone, third), tee(f"own-i{level}", run, run), None)
    lead = (_spot(f"lead{level}", "hose", hose(f"own-d{level}", size), length_m=0.4, stays=True),) if rng.random() < 0.5 else ()
    return replace(position, branches=(_calm(position.branches[0]), replace(first, positions=(*lead, inner))))


def _row_of_outlets(rng: random.Random, size: int, added: bool, position: Position) -> Position:
    """Four outlets, each on a tee behind that of the one before it."""
    outer = _nested_outlets(rng, size, False, position)
    branch = outer.branches[1]
    inner = _nested_outlets(rng, size, added, branch.positions[-1], " 2")
    return replace(outer, branches=(outer.branches[0], replace(branch, positions=(*branch.positions[:-1], inner))))


def _limits(rng: random.Random, where: str) -> Limits:
    return Limits(
        budget=rng.choice([0, 1500, 3000, 5000, None]),
        inlet_head_m=rng.choice([0.0, 0.2, -1e9]),
        guard_speed_ms=rng.choice([0.06, 0.15, 1e9]) if where == "guards" else 1e9,
        mechanical_stage=False,
        mature_media=False,
    )


def _rig(rng: random.Random, size: int, where: str, added: bool) -> Rig:
    own = tail(size, size * 0.8)
    body = Canister(id="body", name="body", inlet=own, outlet=own, trays=1, tray_area_m2=0.03, tray_height_m=0.05)
    main = [
        _held("intake", guard("own-guard", size, size * 0.8, rng.uniform(5, 20))),
        _held("suction", hose("own-suction", size), length_m=1.5, stays=True),
        _held("canister", body, depth_m=1.0, stays=True),
        _held("link", hose("own-link", size), length_m=0.1, stays=True),
        _held("pump", pump("own-pump", own, own, label_curve(rng.uniform(1.0, 2.0), rng.uniform(700, 1600))), depth_m=0.8),
        _held("return", hose("own-return", size), length_m=rng.uniform(0.5, 2.0), stays=True),
        _held("outlet", bar("own-bar", own, 14, rng.choice([2.5, 3.0])), height_m=rng.choice([-0.02, -0.02, 0.05])),
    ]
    group = {"guards": _guards, "device": _device, "outlets": _outlets}[where](rng, size, added, main)
    return Rig(
        name="branched",
        tank=Tank(nominal_m3=0.24, net_m3=0.2),
        positions=tuple(group),
        trays=(Tray(medium=medium("own-medium", 3e-7, True, 300.0)),),
    )


def _held(name: str, part: Part, **more: object) -> Position:
    kind = {"intake": "guard", "outlet": "outlet", "canister": "canister", "pump": "pump"}.get(name, "hose")
    return Position(name=name, kind=kind, installed=part, **more)  # type: ignore[arg-type]


def _spot(name: str, kind: str, part: Part | None, **more: object) -> Position:
    return Position(name=name, kind=kind, installed=part, **more)  # type: ignore[arg-type]


def _group(name: str, branches: tuple[Branch, Branch], parting: TeePiece | None, meeting: TeePiece | None) -> Position:
    there = branches[1].installed
    return Position(
        name=name,
        kind="branches",
        installed=None,
        branches=branches,
        parting=parting if there else None,
        meeting=meeting if there else None,
    )


def _guards(rng: random.Random, size: int, added: bool, main: list[Position]) -> list[Position]:
    """Two guards on hoses that meet in front of the suction hose's coupling."""
    run = tail(size, size * 0.8)
    old = replace(main[0], state=State(blocked=rng.choice([0.0, 0.8])))
    first = (old, _spot("hose_a", "hose", hose("own-a", size), length_m=0.4))
    part = None if added else guard("own-second", size, size * 0.8, rng.uniform(5, 20))
    other = None if added else hose("own-b", size)
    second = (_spot("intake_b", "guard", part), _spot("hose_b", "hose", other, length_m=rng.uniform(0.3, 1.0)))
    branches = (Branch(name="left", positions=first), Branch(name="right", positions=second, installed=not added))
    return [_group("intakes", branches, None, tee("own-tee", run, run)), *main[1:]]


def _device(rng: random.Random, size: int, added: bool, main: list[Position]) -> list[Position]:
    """A device with a flow window between two hoses, and a bypass with a place for a tap."""
    own, run = tail(size, size * 0.7), tail(size, size * 0.8)
    unit = Device(
        id="own-unit",
        name="unit",
        inlet=own,
        outlet=own,
        quadratic=rng.uniform(3e6, 2e7),
        flow_min_m3s=rng.choice([0.0, 80.0, 200.0]) * LITRE_PER_HOUR,
        flow_max_m3s=rng.choice([250.0, 400.0, 900.0]) * LITRE_PER_HOUR,
        purpose="ultraviolet",
    )
    first = (
        _spot("unit_in", "hose", hose("own-in", size), length_m=0.2, stays=True),
        _spot("unit", "device", unit, stays=True),
        _spot("unit_out", "hose", hose("own-out", size), length_m=0.2, stays=True),
    )
    second = (
        _spot("bypass_a", "hose", None if added else hose("own-ba", size), length_m=0.2),
        _spot("tap", "fitting", None, role="valve"),
        _spot("bypass_b", "hose", None if added else hose("own-bb", size), length_m=0.2, stays=not added),
    )
    if not added and rng.random() < 0.5:
        held = fitting("own-tap", "valve", own, own, True, "ball valve")
        second = (second[0], replace(second[1], installed=held), second[2])
    branches = (Branch(name="unit", positions=first), Branch(name="bypass", positions=second, installed=not added))
    joined = _spot("joined", "hose", hose("own-joined", size), length_m=0.3, stays=True)
    way = tee("own-tee", run, run, rng.choice([90.0, 45.0]))
    return [*main[:6], _group("uv", branches, way, way), joined, main[6]]


def _outlets(rng: random.Random, size: int, added: bool, main: list[Position]) -> list[Position]:
    """A second outlet on a tee behind the return hose, now and then above the water."""
    own, run = tail(size, size * 0.8), tail(size, size * 0.8)
    short = _spot("hose_a", "hose", hose("own-a", size), length_m=0.3, stays=True)
    far = _spot("hose_b", "hose", None if added else hose("own-b", size), length_m=rng.uniform(0.5, 1.2))
    part = None if added else mouth("own-mouth", own, size * 0.6)
    last = _spot("outlet_b", "outlet", part, height_m=rng.choice([-0.02, 0.1]))
    branches = (Branch(name="near", positions=(short, main[6])), Branch(name="far", positions=(far, last), installed=not added))
    return [*main[:6], _group("outlets", branches, tee("own-tee", run, run), None)]


def _catalog(rng: random.Random, size: int, rig: Rig) -> Catalog:
    wide = 19 if size == 16 else 16
    g_half = [thread(Standard.G, gender, 0.5, size * 0.75) for gender in (Gender.MALE, Gender.FEMALE)]
    parts: list[tuple[Part, int, int]] = [
        (tee("T-a", tail(size, size * 0.75), tail(size, size * 0.75)), rng.randrange(300, 900), 1),
        (tee("T-b", tail(wide, wide * 0.8), tail(size, size * 0.75), rng.choice([45.0, 90.0])), rng.randrange(300, 900), 1),
        (guard("G-a", size, size * 0.85, rng.uniform(10, 40)), rng.randrange(300, 1200), 1),
        (guard("G-b", wide, wide * 0.85, rng.uniform(10, 60)), rng.randrange(300, 1200), 1),
        (mouth("O-a", tail(size, size * 0.8), size * 0.7), rng.randrange(200, 700), 1),
        (bar("B-a", tail(wide, wide * 0.8), 16, 4.0), rng.randrange(400, 1200), 1),
        (fitting("V-a", "valve", tail(size, size * 0.8), tail(size, size * 0.8), True, "ball valve"), 600, 1),
        (fitting("A-a", "adapter", tail(size, size * 0.75), tail(wide, wide * 0.75)), 250, 1),
        (fitting("A-b", "adapter", tail(size, size * 0.75), g_half[0]), 200, 1),
        (Clamp(id="K-a", name="clamp", low_m=HOSES[size] / 1e3 - 0.004, high_m=HOSES[size] / 1e3 + 0.001), 60, 1),
        (Clamp(id="K-b", name="clamp", low_m=HOSES[wide] / 1e3 - 0.004, high_m=HOSES[wide] / 1e3 + 0.001), 80, 1),
    ]
    products: list[Product] = [single(part, price, count=count) for part, price, count in parts]
    products.append(single(parts[9][0], 200, count=4, id="K-a x4"))
    held: dict[str, Part] = {part.id: part for part, _, _ in parts}
    for at, price in ((size, rng.randrange(150, 400)), (wide, rng.randrange(200, 500))):
        new = hose(f"H-{at}", at)
        held[new.id] = new
        products.append(replace(single(new, price), step_m=0.1))
        coil = Line(part_id=new.id, amount_m=rng.choice([0.6, 1.0]))
        products.append(Product(id=f"{new.id} coil", price=rng.randrange(60, 300), lines=(coil,)))
    products.append(single(parts[0][0], rng.randrange(500, 1300), count=2, id="T-a x2"))
    outfit = (Line(part_id="T-a", count=2), Line(part_id="K-a", count=4))
    products.append(Product(id="outfit", price=rng.randrange(600, 1500), lines=outfit, stock=rng.choice([None, 1])))
    strong = pump("P-a", rig.pump.inlet, rig.pump.outlet, label_curve(2.6, 2200), 30.0, 42.0)
    held[strong.id] = strong
    products.append(single(strong, rng.randrange(2000, 4000)))
    gone = set(rng.sample([p.id for p in products if not p.id.startswith(("T", "K"))], rng.choice([0, 2, 4])))
    return Catalog(parts=held, products=tuple(p for p in products if p.id not in gone), name="branched")
