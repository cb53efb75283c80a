"""The demo data: an invented catalog and invented rigs, which must read without a problem and fit together.

An outside fact has its source beside the check; all else is invented, and the files say so.
"""

import csv
import math
import re
import tomllib
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest

from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.loop.kinds import ends_of, part_loss
from optimizer.loop.operating import pump_head_m, run_head_m
from optimizer.loop.terms import change_quadratic, pump_speed, tray_loss
from optimizer.model.catalog import Catalog
from optimizer.model.ends import Closure, End, Standard, mating
from optimizer.model.parts import Clamp, Device, Fitting, Guard, Hose, Kind, Outlet, Part, Pump, Seal, TeePiece, kind_of
from optimizer.model.rig import Position, Rig, is_throttle
from optimizer.model.state import State
from optimizer.physics.water import Water

DEMO = Path(__file__).parents[1] / "parts_demo"
RIG_FILES = sorted((DEMO / "rigs").glob("*.toml"))
TEXT_FILES = sorted(path for path in DEMO.rglob("*") if path.suffix in (".toml", ".csv", ".md"))
KINDS = (
    Kind.GUARD,
    Kind.HOSE,
    Kind.FITTING,
    Kind.PUMP,
    Kind.DEVICE,
    Kind.OUTLET,
    Kind.MEDIUM,
    Kind.CLAMP,
    Kind.SEAL,
    Kind.TEE,
)
BRANCHED = ("ricefish_160", "stem_plants_200")


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    """The demo catalog."""
    return read_catalog(DEMO / "catalog")


@pytest.fixture(scope="module")
def rigs(catalog: Catalog) -> dict[str, Rig]:
    """All demo rigs by the name of their file."""
    return {path.stem: read_rig(path, catalog) for path in RIG_FILES}


def rows_of(path: Path) -> list[dict[str, str]]:
    """The rows of a CSV file as the standard library reads them."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def places_of(rig: Rig) -> list[Position]:
    """The places the water passes today: of two branches the one that is there."""
    found: list[Position] = []
    for position in rig.positions:
        assert not any(branch.installed for branch in position.branches[1:])
        found += position.branches[0].positions if position.branches else (position,)
    return [place for place in found if place.installed is not None]


def all_ends(part: Part) -> list[End]:
    """Every end of a part, that of a tee's branch included."""
    ends = (part.inlet, part.outlet, part.side) if isinstance(part, TeePiece) else ends_of(part)
    return [end for end in ends if end is not None]


def joints_of(rig: Rig) -> list[tuple[str, End, End]]:
    """Where two installed neighbours meet: their names, the end the water leaves, the end it enters."""
    found = []
    installed = [(p.name, p.installed) for p in places_of(rig) if p.installed is not None]
    for (name, part), (next_name, next_part) in pairwise(installed):
        leaving, entering = ends_of(part)[1], ends_of(next_part)[0]
        if leaving is not None and entering is not None:
            found.append((f"{name} to {next_name}", leaving, entering))
    assert len(found) == len(installed) - 1
    return found


def faces_of(part: Part) -> list[tuple[str, float, str, str] | None]:
    """What decides where a part fits: the faces of its two ends (None on the tank's side)."""
    return [None if end is None else end.face for end in ends_of(part)]


def delivered_m3s(rig: Rig, *, clean: bool) -> float:
    """Flow at which pump head and loop loss meet, found by halving alone; all joints are direct."""
    water = Water(temperature_c=rig.tank.temperature_c, salinity_gkg=rig.tank.salinity_gkg)
    places = places_of(rig)
    states = [p.state.cleaned() if clean else p.state for p in places]
    losses = [part_loss(p.installed, s, p, water) for p, s in zip(places, states, strict=True) if p.installed]
    for tray in rig.trays:
        if tray.medium is not None:
            state = State() if clean else tray.state
            losses.append(tray_loss(tray.medium, state, rig.canister, water))
    steps = sum(change_quadratic(leaving.bore_m, entering.bore_m) for _, leaving, entering in joints_of(rig))
    place = places[[p.kind for p in places].index("pump")]
    speed = pump_speed(rig.pump, place.state.cleaned() if clean else place.state, rig.mains_hz)

    def short_of(flow: float) -> float:
        lost = steps * flow * flow - pump_head_m(rig.pump.curve, speed, flow)
        for loss in losses:
            lost += loss.lift_m + loss.linear * flow + loss.quadratic * flow * flow
            if loss.run is not None:
                lost += run_head_m(loss.run, flow, water.kinematic_m2s)
        return lost

    low, high = 0.0, rig.pump.curve.max_flow_m3s * speed
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if short_of(middle) < 0.0 else (low, middle)
    return low


def test_the_catalog_has_parts_of_every_kind(catalog: Catalog) -> None:
    counts = Counter(kind_of(part) for part in catalog.parts.values())
    assert sum(counts.values()) >= 270
    assert all(counts[kind] >= 8 for kind in KINDS)
    roles = Counter(part.role for part in catalog.parts.values() if isinstance(part, Fitting))
    assert all(roles[role] >= 10 for role in ("coupling", "valve", "elbow", "tail", "adapter"))


def test_no_id_stands_twice_in_the_catalog(catalog: Catalog) -> None:
    ids = [row["id"] for path in sorted((DEMO / "catalog").glob("*.csv")) for row in rows_of(path)]
    assert [name for name, times in Counter(ids).items() if times > 1] == []
    kits = len(rows_of(DEMO / "catalog" / "kits.csv"))
    assert len(catalog.parts) == len(ids) - kits


def test_every_row_is_sold_for_money(catalog: Catalog) -> None:
    sold = {line.part_id for product in catalog.products for line in product.lines}
    assert sold == set(catalog.parts)
    assert all(product.price > 0 for product in catalog.products)


def test_a_kit_is_cheaper_than_its_pieces_bought_one_by_one(catalog: Catalog) -> None:
    single = {product.id: product for product in catalog.products if len(product.lines) == 1}
    kits = [product for product in catalog.products if len(product.lines) > 1]
    assert len(kits) >= 8
    for kit in kits:
        apart = 0
        for line in kit.lines:
            one = single[line.part_id]
            if one.step_m:
                apart += one.cut_price(line.amount_m)
            elif line.amount_m3:
                apart += one.price * math.ceil(line.amount_m3 / one.lines[0].amount_m3 - 1e-9)
            else:
                apart += one.price * math.ceil(line.count / one.lines[0].count)
        assert kit.price < apart, (kit.id, kit.price, apart)


@pytest.mark.parametrize("path", TEXT_FILES, ids=lambda path: path.name)
def test_nothing_looks_like_an_address(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert re.search(r"https?:|www\.|\w@\w|\.(com|net|org|shop|eu|de|co\.uk)\b", text) is None


@pytest.mark.parametrize("path", [*RIG_FILES, DEMO / "catalog" / "about.toml"], ids=lambda path: path.name)
def test_every_file_says_that_it_is_invented(path: Path) -> None:
    comments = [line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("#")]
    assert any("invented" in line for line in comments)


def test_there_are_rigs_of_different_character(rigs: dict[str, Rig]) -> None:
    assert len(rigs) >= 7
    assert len({rig.name for rig in rigs.values()}) == len(rigs)
    assert any(rig.tank.salinity_gkg > 30.0 for rig in rigs.values())
    assert any(position.kind == "device" for rig in rigs.values() for position in rig.positions)
    assert any(rig.positions[-1].height_m > 0.0 for rig in rigs.values())
    assert {rig.mains_hz for rig in rigs.values()} == {50.0, 60.0}


def test_one_rig_has_a_worn_pump_and_no_ceiling_and_one_a_ceiling_and_no_throttle(rigs: dict[str, Rig], catalog: Catalog) -> None:
    """Two cases that are easily got wrong: the worn pump is sold anew, and what is behind the pump cannot be set."""
    barbs, gouramis = rigs["barbs_96"], rigs["gouramis_54"]
    assert barbs.positions[barbs.index(Kind.PUMP)].state.worn > 0.0
    assert catalog.parts[barbs.pump.id] == barbs.pump
    assert math.isinf(barbs.limits.flow_max_m3s)
    assert math.isfinite(gouramis.limits.flow_max_m3s)
    for rig in (barbs, gouramis):
        assert not any(is_throttle(place.installed) for place in rig.positions[rig.index(Kind.PUMP) :])


@pytest.mark.parametrize("name", [path.stem for path in RIG_FILES])
def test_neighbours_that_are_installed_mate(name: str, rigs: dict[str, Rig]) -> None:
    for where, leaving, entering in joints_of(rigs[name]):
        assert mating(leaving, entering) is not None, f"{where}: {leaving.label} | {entering.label}"


@pytest.mark.parametrize("name", [path.stem for path in RIG_FILES])
def test_what_is_installed_can_be_closed_anew(name: str, rigs: dict[str, Rig], catalog: Catalog) -> None:
    """The catalog sells a clamp or a seal for every joint that is there now."""
    clamps = [part for part in catalog.parts.values() if isinstance(part, Clamp)]
    seals = [part for part in catalog.parts.values() if isinstance(part, Seal)]
    for _, leaving, entering in joints_of(rigs[name]):
        pair = mating(leaving, entering)
        assert pair is not None
        if pair.closure is Closure.CLAMP:
            assert any(clamp.fits(pair.size_m) for clamp in clamps)
        elif pair.closure is not Closure.NONE:
            assert any(seal.fits(pair.closure.value, pair.standard.value, pair.size_m) for seal in seals)


@pytest.mark.parametrize("name", [path.stem for path in RIG_FILES])
def test_the_shop_has_others_that_fit_in_place(name: str, rigs: dict[str, Rig], catalog: Catalog) -> None:
    """Guard, pump and outlet can each be swapped without touching a neighbour."""
    rig = rigs[name]
    for kind in (Kind.GUARD, Kind.PUMP, Kind.OUTLET):
        (now,) = [place.installed for place in places_of(rig) if place.kind == kind]
        assert now is not None
        like = [p for p in catalog.parts.values() if kind_of(p) == kind and p.id != now.id and faces_of(p) == faces_of(now)]
        assert len(like) >= 2, f"{kind} of {name}"


@pytest.mark.parametrize("name", [path.stem for path in RIG_FILES])
def test_media_meet_the_floor_for_bacteria(name: str, rigs: dict[str, Rig]) -> None:
    rig = rigs[name]
    area = sum(
        tray.medium.area_m2m3 * rig.canister.tray_volume_m3
        for tray in rig.trays
        if tray.medium is not None and tray.medium.biological
    )
    assert area >= rig.limits.bio_area_m2 - 1e-12
    assert any(tray.medium is not None and tray.medium.mechanical for tray in rig.trays)


@pytest.mark.parametrize("name", [path.stem for path in RIG_FILES])
def test_the_label_promises_more_than_is_delivered(name: str, rigs: dict[str, Rig]) -> None:
    """Delivered over label is 0.33 to 0.72 for eight in ten (common practice, no published source)."""
    rig = rigs[name]
    clean = delivered_m3s(rig, clean=True)
    assert 0.28 < clean / rig.pump.curve.max_flow_m3s < 0.75
    assert delivered_m3s(rig, clean=False) <= clean


def test_the_rift_lake_tank_delivers_what_was_measured(rigs: dict[str, Rig]) -> None:
    """The rig file says that a timed fill gave 700 l/h; the fill itself is within 5 %."""
    assert delivered_m3s(rigs["rift_lake_450"], clean=True) * 3.6e6 == pytest.approx(700.0, rel=0.05)


def test_the_planted_tank_delivers_what_was_measured(rigs: dict[str, Rig]) -> None:
    """The rig file says 530 l/h on the clean day."""
    assert delivered_m3s(rigs["planted_300"], clean=True) * 3.6e6 == pytest.approx(530.0, rel=0.05)


def test_the_fine_guard_of_the_shrimp_tank_costs_little_until_it_costs_a_lot(rigs: dict[str, Rig]) -> None:
    """Little is lost at 80 % blocked, a lot at 92 % (common practice, no published source)."""
    rig = rigs["shrimp_and_fry_240"]
    clean, choked = (delivered_m3s(rig, clean=way) for way in (True, False))
    assert clean * 3.6e6 == pytest.approx(660.0, rel=0.05)
    assert choked < 0.85 * clean
    assert rig.turnover_per_hour(choked) < 2.8 < rig.turnover_per_hour(clean)


def test_the_dirty_household_tank_gains_most_from_a_clean(rigs: dict[str, Rig]) -> None:
    """Clean to dirty loses 20 to 50 % (common practice, no published source); this one is beyond that."""
    rig = rigs["community_180"]
    assert delivered_m3s(rig, clean=False) < 0.6 * delivered_m3s(rig, clean=True)


def test_traps_are_on_the_shelf_and_do_not_fit(catalog: Catalog) -> None:
    """NPT never meets G, R or Rc, nor G male Rc: ISO 7-1, ISO 228-1, ASME B1.20.1."""
    ends = {
        end
        for part in catalog.parts.values()
        if not isinstance(part, Hose | Clamp | Seal) and kind_of(part) not in (Kind.MEDIUM, Kind.CANISTER)
        for end in all_ends(part)
    }
    by_standard = {standard: [end for end in ends if end.standard is standard] for standard in Standard}
    bans = [
        (Standard.NPT, Standard.G),
        (Standard.NPT, Standard.R),
        (Standard.NPT, Standard.RC),
        (Standard.G, Standard.RC),
        (Standard.GHT, Standard.NPT),
        (Standard.GHT, Standard.G),
        (Standard.SLIP_MM, Standard.SLIP_IN),
    ]
    for one, other in bans:
        assert by_standard[one]
        assert by_standard[other]
        assert all(mating(a, b) is None for a in by_standard[one] for b in by_standard[other])


def test_sizes_in_the_catalog_are_those_of_the_trade(catalog: Catalog) -> None:
    """Tail bores are 70 to 85 % of the hose, moulded ones less (common practice, no published source).

    Pipe is 20, 25, 32 mm (ISO 161-1) or 21.3, 26.7, 33.4 mm outside (ASME B36.10, NPS 1/2, 3/4, 1).
    """
    for part in catalog.parts.values():
        if isinstance(part, Fitting | Guard | Outlet | Pump | TeePiece):
            for end in all_ends(part):
                if end.standard is Standard.HOSE:
                    assert 0.6 <= end.bore_m / end.size_m <= 0.9, part.id
                if end.standard in (Standard.SLIP_MM, Standard.SLIP_IN):
                    metric = end.standard is Standard.SLIP_MM
                    sizes = (20.0, 25.0, 32.0) if metric else (21.3, 26.7, 33.4)
                    assert any(abs(end.size_m * 1e3 - size) < 0.05 for size in sizes), part.id
    hoses = [part for part in catalog.parts.values() if isinstance(part, Hose)]
    sizes_mm = {(round(hose.inside_m * 1e3), round(hose.outside_m * 1e3)) for hose in hoses}
    assert sizes_mm >= {(9, 12), (12, 16), (16, 22), (19, 27), (25, 34)}


def test_rig_files_use_the_spellings_of_the_trade() -> None:
    text = "\n".join(path.read_text(encoding="utf-8") for path in RIG_FILES)
    for spelling in ('"75 gal"', '"5/8 in"', '"300 gph"', '"78 degF"', '"16/22 mm"', '"450 l"', '"2 1/2 ft"'):
        assert spelling in text


@pytest.mark.parametrize("path", RIG_FILES, ids=lambda path: path.name)
def test_every_table_of_the_loop_is_a_place_of_the_rig(path: Path, rigs: dict[str, Rig]) -> None:
    written = tomllib.loads(path.read_text(encoding="utf-8"))["loop"]
    positions = rigs[path.stem].positions
    assert [position.name for position in positions] == list(written)
    for position in positions:
        for branch in position.branches:
            table = written[position.name][branch.name]
            inner = [f"{branch.name}.{key}" for key, value in table.items() if isinstance(value, dict)]
            assert [place.name for place in branch.positions] == inner


def test_two_rigs_have_a_branch_that_could_be_added(rigs: dict[str, Rig]) -> None:
    """A second guard where the loop starts, a way round a device in its middle; nothing of either is there."""
    places = {name: next(p for p in rigs[name].positions if p.branches) for name in BRANCHED}
    assert {name for name, rig in rigs.items() if any(p.branches for p in rig.positions)} == set(BRANCHED)
    assert rigs["ricefish_160"].positions[0] is places["ricefish_160"]
    for place in places.values():
        there, added = place.branches
        assert (there.installed, added.installed, place.parting, place.meeting) == (True, False, None, None)
        assert [inner.installed for inner in added.positions] == [None] * len(added.positions)
    kinds = {name: [[p.role or p.kind for p in branch.positions] for branch in place.branches] for name, place in places.items()}
    assert kinds["ricefish_160"] == [["guard"], ["guard", "tail", "hose"]]
    assert kinds["stem_plants_200"] == [["tail", "hose", "device", "hose", "tail"], ["valve", "hose"]]


@pytest.mark.parametrize(("name", "joints"), [("ricefish_160", 1), ("stem_plants_200", 2)])
def test_a_tee_fits_where_the_branch_could_be_added(name: str, joints: int, rigs: dict[str, Rig], catalog: Catalog) -> None:
    """Straight on into the joint that is there, one way round or the other, with a side for the hose of the loop."""
    rig = rigs[name]
    (pair,) = [position for position in rig.positions if position.branches]
    inner = [place.name for place in pair.branches[0].positions]
    open_joints = [
        (leaving, entering)
        for where, leaving, entering in joints_of(rig)
        if sum(end in inner for end in where.split(" to ")) == 1
    ]
    assert len(open_joints) == joints
    for leaving, entering in open_joints:
        fits = [
            tee.id
            for tee in catalog.parts.values()
            if isinstance(tee, TeePiece) and tee.side.standard is Standard.HOSE and tee.side.size_m == 0.016
            for first, last in ((tee.inlet, tee.outlet), (tee.outlet, tee.inlet))
            if mating(leaving, first) is not None and mating(last, entering) is not None
        ]
        assert fits == ["TEE-G12-T16", "WYE-G12-T16"]


def test_tees_cost_what_the_trade_asks(catalog: Catalog) -> None:
    """4 to 14 a piece (common practice, no published source)."""
    tees = {part.id for part in catalog.parts.values() if isinstance(part, TeePiece)}
    prices = {product.id: product.price for product in catalog.products if product.id in tees}
    assert set(prices) == tees
    assert len(tees) >= 14
    assert all(400 <= price <= 1400 for price in prices.values())


def test_all_the_water_is_too_much_for_the_ultraviolet_unit(rigs: dict[str, Rig]) -> None:
    """Which is why a way round it is asked for: clean or dirty, the flow is outside the window of its maker."""
    rig = rigs["stem_plants_200"]
    (unit,) = [place.installed for place in places_of(rig) if isinstance(place.installed, Device)]
    assert unit.flow_max_m3s < delivered_m3s(rig, clean=False) < delivered_m3s(rig, clean=True)


def test_the_one_guard_of_the_rice_fish_draws_too_fast(rigs: dict[str, Rig]) -> None:
    """Even clean; with two of them, and the least flow asked for or the flow there is, the water is slow enough."""
    rig = rigs["ricefish_160"]
    (guard,) = [place.installed for place in places_of(rig) if isinstance(place.installed, Guard)]
    clean, area = delivered_m3s(rig, clean=True), guard.face_area_m2
    assert clean / (2.0 * area) < rig.limits.guard_speed_ms < rig.limits.flow_min_m3s / area < clean / area
