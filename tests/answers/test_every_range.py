"""Every range of a law that the package states is watched: a loop that leaves it is told of, whichever loop it is."""

import ast
import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from small_worlds import single

import optimizer
from optimizer import api
from optimizer.answers.question import stands_now
from optimizer.answers.rows import Standing
from optimizer.answers.validity import validity_warnings
from optimizer.dirt.laws import VOIDAGE, Laws
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.parts import Clamp, Medium, Outlet, PumpCurve
from optimizer.model.rig import Rig
from optimizer.physics import fitting_laws, fittings, guards, hose, media, outlets, pumps, sound, water
from optimizer.physics.media import KOZENY_RANGE
from optimizer.physics.validity import Validity
from optimizer.report.measures import system
from optimizer.report.text import render

PACKAGE = Path(optimizer.__file__).parent
DEMO = PACKAGE.parent / "parts_demo"
SHOP = api.read_catalog(DEMO / "catalog")
NANO = api.read_rig(DEMO / "rigs" / "nano_60.toml", SHOP)
NOTHING = Catalog(parts={}, products=(), name="", currency="")
LOOPS = ("as it is now", "cleaned", "as chosen")

Change = Callable[[Rig], Rig]


def stated() -> Iterator[tuple[str, int]]:
    """Modules of the package and how many ranges each states."""
    for path in sorted(PACKAGE.rglob("*.py")):
        calls = (node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call))
        count = sum(isinstance(call.func, ast.Name) and call.func.id == "Validity" for call in calls)
        if count:
            yield ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts), count


def found() -> dict[str, Validity]:
    """Every range of the package, by the name it has."""
    modules = [(name, import_module(name)) for name, _ in stated()]
    return {f"{name}.{key}": held for name, module in modules for key, held in vars(module).items() if isinstance(held, Validity)}


def sides(validity: Validity) -> set[str]:
    """The sides on which a range can be left: nothing is below no length, number or share, nor is a share above all of it."""
    if validity.inside:
        return {"within"}
    low = math.isfinite(validity.low) and (validity.low > 0.0 or validity.kind == "temperature")
    high = math.isfinite(validity.high) and not (validity.kind == "share" and validity.high >= 1.0)
    return {side for side, there in (("low", low), ("high", high)) if there}


def part(place: str, **changes: Any) -> Change:
    """A change of the part at a place."""

    def made(rig: Rig) -> Rig:
        at = next(n for n, position in enumerate(rig.positions) if position.name == place)
        held: Any = rig.positions[at].installed
        changed = replace(rig.positions[at], installed=replace(held, **changes))
        return replace(rig, positions=(*rig.positions[:at], changed, *rig.positions[at + 1 :]))

    return made


def place(name: str, blocked: float | None = None, fouled: float | None = None, **changes: Any) -> Change:
    """A change of how a place is, and of how dirty what stands there is."""

    def made(rig: Rig) -> Rig:
        at = next(n for n, position in enumerate(rig.positions) if position.name == name)
        dirt = {key: value for key, value in (("blocked", blocked), ("fouled", fouled)) if value is not None}
        old = rig.positions[at]
        changed = replace(old, state=replace(old.state, **dirt), **changes)
        return replace(rig, positions=(*rig.positions[:at], changed, *rig.positions[at + 1 :]))

    return made


def both(*changes: Change) -> Change:
    """One change after the other."""

    def made(rig: Rig) -> Rig:
        for change in changes:
            rig = change(rig)
        return rig

    return made


def screen(form: str, open_fraction: float, blocked: float, face_m2: float = 0.0012) -> Change:
    """The strainer as another screen."""
    changed = part("strainer", form=form, open_fraction=open_fraction, face_area_m2=face_m2, opening_m=0.8e-3)
    return both(changed, place("strainer", blocked=blocked))


def tray(form: str, permeability: float = 1e-7, void: float = 0.0, pores: float = 0.0) -> Change:
    """Another medium in the first tray."""

    def made(rig: Rig) -> Rig:
        bed = Medium(
            id="M",
            name="bed",
            form=form,
            permeability_m2=permeability,
            inertial_1m=10.0,
            area_m2m3=300.0,
            mechanical=True,
            biological=True,
            void=void,
            pores_ppi=pores,
        )
        return replace(rig, trays=(replace(rig.trays[0], medium=bed), *rig.trays[1:]))

    return made


def elbow(shape: str, passage_m: float) -> Change:
    """The outlet's coupling as an elbow."""
    return part("out_coupling", shape=shape, passage_m=passage_m)


def tank(**changes: float) -> Change:
    """Other water."""
    return lambda rig: replace(rig, tank=replace(rig.tank, **changes))


def mains(hz: float) -> Change:
    """Another frequency of the mains."""
    return lambda rig: replace(rig, mains_hz=hz)


FOUNTAIN = PumpCurve(flows_m3s=(0.0, 5.0), heads_m=(1e10, 0.0), shape=2.0)

LEAVING: dict[Validity, dict[str, Change]] = {
    guards.MESH_RANGE: {"low": screen("mesh", 0.4, 0.95), "high": screen("mesh", 0.97, 0.0)},
    guards.MESH_WEAVE: {"low": screen("mesh", 0.06, 0.0), "high": screen("mesh", 0.8, 0.0)},
    guards.MESH_REYNOLDS: {"low": screen("mesh", 0.4, 0.0, face_m2=10.0)},
    guards.PLATE_RANGE: {"low": screen("holes", 0.4, 0.97)},
    guards.SLOT_RANGE: {"low": screen("slots", 0.38, 0.85), "high": screen("slots", 0.95, 0.0)},
    hose.ROUGHNESS_RANGE: {"high": part("return_hose", roughness_m=1e-3)},
    hose.REYNOLDS_RANGE: {"high": part("pump", curve=FOUNTAIN)},
    hose.CURVATURE_RANGE: {"high": place("return_hose", coil_m=0.1)},
    hose.TRANSITION: {"within": part("return_hose", inside_m=0.025, outside_m=0.034)},
    fittings.BEND_RADIUS_RANGE: {
        "low": place("return_hose", bend_radius_m=0.004),
        "high": place("return_hose", bend_radius_m=0.3),
    },
    fittings.TURBULENT_BORE_RANGE: {"low": elbow("elbow 90", 0.006), "high": elbow("elbow 90", 0.6)},
    fittings.THREADED_BORE_RANGE: {"low": elbow("threaded elbow 90", 0.006), "high": elbow("threaded elbow 90", 0.03)},
    fitting_laws.THREADED_REYNOLDS: {"low": elbow("threaded elbow 90", 0.02)},
    media.FOAM_RANGE: {"low": tray("foam", pores=5.0), "high": tray("foam", pores=80.0)},
    media.ERGUN_RANGE: {"low": tray("granules", void=0.25), "high": tray("granules", void=0.8)},
    media.RING_RANGE: {"low": tray("rings", void=0.3), "high": tray("rings", void=0.97)},
    media.PACKED_REYNOLDS: {"high": tray("granules", permeability=4e-4, void=0.4)},
    media.DAVIES_RANGE: {"low": tray("fibre", void=0.996), "high": tray("fibre", void=0.6)},
    pumps.SPEED_RANGE: {
        "low": place("pump", fouled=0.4),
        "high": both(part("pump", label_hz=50.0), lambda r: replace(r, mains_hz=70.0)),
    },
    outlets.BAR_AREA_RATIO: {"high": part("spray_bar", holes=60)},
    sound.DISTANCE_RANGE: {"low": lambda rig: replace(rig, listen_m=0.1), "high": lambda rig: replace(rig, listen_m=4.0)},
    water.DENSITY_TEMPERATURE: {"low": tank(temperature_c=-5.0), "high": tank(temperature_c=41.0)},
    water.VISCOSITY_TEMPERATURE: {"low": tank(temperature_c=-25.0), "high": tank(temperature_c=115.0)},
    water.DENSITY_SALINITY: {"high": tank(salinity_gkg=50.0)},
    water.VISCOSITY_SALINITY: {"high": tank(salinity_gkg=160.0)},
}
"""What makes the loop leave each range, on each side where it can be left."""

BY_FORM = {KOZENY_RANGE}
"""Ranges that no part of a loop leaves but a form of media, in the course of days."""

OF_THE_ROOM = {sound.DISTANCE_RANGE}
"""Ranges of what is the same whichever loop stands there."""


@cache
def standing(change: Change | None) -> Standing:
    """The demo rig as it stands, changed or not."""
    return stands_now(NANO if change is None else change(NANO), NOTHING)


def test_every_range_has_a_loop_that_leaves_it() -> None:
    """A range that somebody adds is in no list here: this fails until it is watched, on every side."""
    assert sum(count for _, count in stated()) == len(found()), "a range must be a name of its module"
    known = set(LEAVING) | BY_FORM
    assert {name for name, validity in found().items() if validity not in known} == set()
    assert {name for name, each in found().items() if each in LEAVING and sides(each) != set(LEAVING[each])} == set()


CASES = [(validity, side) for validity, ways in LEAVING.items() for side in ways]


NAMES = [f"{validity.name}, {validity.quantity}, {side}" for validity, side in CASES]


@pytest.mark.parametrize(("validity", "side"), CASES, ids=NAMES)
def test_a_range_that_is_left_is_told_of_whichever_loop_it_is(validity: Validity, side: str) -> None:
    change = LEAVING[validity][side]
    rig = change(NANO) if validity in OF_THE_ROOM else NANO
    assert not [line for line in validity_warnings(NANO, dict.fromkeys(LOOPS, standing(None))) if tells(line, validity)]
    for which in LOOPS:
        loops = {name: standing(change if name == which else None) for name in LOOPS}
        told = [line for line in validity_warnings(rig, loops) if tells(line, validity)]
        assert len(told) == 1
        assert validity in OF_THE_ROOM or f" ({which}): " in told[0]
    everywhere = [line for line in validity_warnings(rig, dict.fromkeys(LOOPS, standing(change))) if tells(line, validity)]
    assert len(everywhere) == 1 and not any(name in everywhere[0] for name in LOOPS)


def tells(line: str, validity: Validity) -> bool:
    """Whether a warning is of this range: of the law by its name, about what it is a range of."""
    if validity.inside:
        return "neither laminar nor turbulent" in line
    known = ", range from memory" if "memory" in validity.source else ""
    return f"its law ({validity.name}{known})" in line and f": {validity.quantity} " in line


def test_kozeny_is_told_of_by_the_forms_it_does_not_hold_for() -> None:
    """Rings have 0.65 of voids, beyond the 0.6 of granular beds, so that another law stands in for them as for foam and floss."""
    words = " ".join(Laws(clogging="kozeny").words)
    fit = {form for form, voids in VOIDAGE.items() if KOZENY_RANGE.low <= voids <= KOZENY_RANGE.high}
    assert fit == {"granules"} and "kozeny is used for granules only; cubic for foam, fibre, rings" in words
    assert "kozeny" not in " ".join(Laws().words)


def test_a_range_is_said_in_its_own_unit() -> None:
    """0.3048 m is a foot, 25.4 mm an inch (NIST Handbook 44); 41 degC is 105.8 degF."""

    def said(change: Change, units: str = "metric") -> str:
        lines = validity_warnings(change(NANO), {"as it is now": standing(change)})
        return " ".join(system(units).words(line) for line in lines)

    far, hot, shut = (LEAVING[each] for each in (sound.DISTANCE_RANGE, water.DENSITY_TEMPERATURE, guards.SLOT_RANGE))
    assert "distance 4 m is outside the 0.25 to 3 m for" in said(far["high"])
    assert "distance 100 mm is outside the 0.25 to 3 m for" in said(far["low"])
    assert "distance 13.1 ft is outside the 0.82 ft to 9.84 ft for" in said(far["high"], "us")
    assert "temperature 41 degC is outside the 0 to 40 degC" in said(hot["high"])
    assert "temperature 106 degF is outside the 32 degF to 104 degF" in said(hot["high"], "us")
    for units in ("metric", "us"):
        assert "open share 5.7 % is outside the 20 to 90 %" in said(shut["low"], units)
    assert "bore 6 mm is outside the 15.8 to 26.6 mm" in said(LEAVING[fittings.THREADED_BORE_RANGE]["low"])
    assert "bore 0.236 in is outside the 0.622 in to 1.05 in" in said(LEAVING[fittings.THREADED_BORE_RANGE]["low"], "us")
    assert "salinity 50 g/kg is outside the 0 to 42.2 g/kg" in said(LEAVING[water.DENSITY_SALINITY]["high"])
    assert (
        "Reynolds number of the mesh" in (slow := said(LEAVING[guards.MESH_REYNOLDS]["low"]))
        and "is below 0.1, from which on" in slow
    )


def test_an_answer_tells_of_the_loop_as_it_is_and_of_the_one_that_was_chosen() -> None:
    """A strainer that is nearly shut is told of though the answer cleans it; a bar of so many holes that the first of them run
    dry is told of where it is bought. The first screen says that there is something, and no more."""
    shut = LEAVING[guards.SLOT_RANGE]["low"](NANO)
    bar = next(each for each in SHOP.parts.values() if isinstance(each, Outlet) and each.id == "BAR-9-12X2")
    wide = replace(bar, id="WIDE", name="bar of 120 holes", holes=120)
    clamps = {each.id: each for each in SHOP.parts.values() if isinstance(each, Clamp) and not each.throttles}
    products = (single(wide, 300), *(single(each, 50) for each in clamps.values()))
    shop = Catalog(parts={"WIDE": wide, **clamps}, products=products, name="one bar", currency="")
    free = replace(shut, limits=Limits(budget=1000))
    told = api.advise(free, shop, most=True).warnings
    assert [line for line in told if line.startswith("strainer (as it is now): open share 5.7 %")] != []
    assert [line for line in told if line.startswith("spray_bar (as chosen): area of all holes")] != []
    answer = api.advise(free, shop, told_apart=0.3)
    assert answer.best is not None and answer.best.price == 0
    assert [line for line in answer.warnings if line.startswith("spray_bar (with the most): area of all holes")] != []
    screen_text = " ".join(render(answer).split())
    assert "Some figures lie outside what the formulas were made for (--show warnings)." in screen_text
    assert "open share" not in screen_text


def test_media_of_a_catalog_are_held_to_the_range_of_their_law(tmp_path: Path) -> None:
    """What a bed was worked out by is kept as the file has it, so that its law can be watched: a mat of 40 % solids is beyond the
    30 % of Davies (1952), a foam of 80 pores per inch beyond the planning prior."""
    stated = {key: each for key, each in SHOP.parts.items() if isinstance(each, Medium)}
    assert (stated["FOAM-30"].pores_ppi, stated["RING-10"].void, stated["BALL-12"].void) == (30.0, 0.62, 0.40)
    assert stated["MAT-FINE"].void == pytest.approx(0.94)
    for file in (DEMO / "catalog").iterdir():
        text = file.read_text(encoding="utf-8")
        text = text.replace(",35,3,0,", ",35,40,0,").replace(",foam,1,20,", ",foam,1,80,") if file.name == "media.csv" else text
        (tmp_path / file.name).write_text(text, encoding="utf-8")
    odd = api.read_catalog(tmp_path)
    rig = api.read_rig(DEMO / "rigs" / "nano_60.toml", odd)
    lines = validity_warnings(rig, {"as it is now": stands_now(rig, NOTHING)})
    assert [line.partition(" is outside")[0] for line in lines if "tray" in line] == [
        "canister tray 1: pores per inch 80",
        "canister tray 3: solid share 40 %",
    ]
