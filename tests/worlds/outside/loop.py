"""A loop as losses in the order of the water, and the flow at which the pump gives what they take."""

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from outside import reading
from outside.laws import DRAWN_TUBE_M, OPEN_FOAM, OTHER, RUBBER_M, Laws, foam_lacroix
from outside.water import GRAVITY, Water, water

PASCAL_PER_BAR = 1e5
CAKE_M2 = 1e-11
"""Permeability of a cake of dirt: a prior of the authors of the program, so there is no other source to take it from."""
NO_CAKES: Mapping[int, float] = MappingProxyType({})
Place = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """A rig's places in the order of the water, the water in them, its mains and the laws it is reckoned by."""

    places: dict[str, Place]
    water: Water
    mains_hz: float
    laws: Laws


def world(file: Path, clean: bool, laws: Laws = OTHER, cakes: Mapping[int, float] = NO_CAKES) -> World:
    """A rig as its file states it, or with everything cleaned (wear stays: a clean does not mend it). ``cakes`` in m lie on the
    trays of these numbers where the file states none."""
    tables = reading.rig(file)
    tank, site = tables["tank"], tables.get("site", {})
    placed = {key: place for key, place in _placed(tables["loop"]).items() if place.get("installed", True)}
    for place in placed.values():
        for number, tray in enumerate(place.get("trays", ()), 1):
            tray.setdefault("cake", cakes.get(number, 0.0))
    places = {key: cleaned(place) for key, place in placed.items()} if clean else placed
    degrees, salt = reading.quantity(tank.get("temperature", "25 degC")), reading.quantity(tank.get("salinity", "0 g/kg"))
    return World(places=places, water=water(degrees, salt), mains_hz=reading.quantity(site.get("mains", "50 Hz")), laws=laws)


def _placed(loop: Place) -> dict[str, Place]:
    """The places that are there; those of a branch beside which there is no other stand among them in their order."""
    places: dict[str, Place] = {}
    for key, table in loop.items():
        if table["kind"] != "branches":
            places[key] = reading.place(table, _demo_catalog())
            continue
        tees = {where: reading.place(table[where], _demo_catalog()) for where in ("parting", "meeting") if where in table}
        ways = {way: held for way, held in table.items() if isinstance(held, dict) and way not in tees}
        there = [
            _placed({name: p for name, p in held.items() if name != "installed"})
            for held in ways.values()
            if held.get("installed", True)
        ]
        places |= there[0] if len(there) == 1 else {key: {"kind": "branches", "ways": there, **tees}}
    return places


@cache
def _demo_catalog() -> dict[str, Place]:
    return reading.catalog()


def cleaned(place: Place) -> Place:
    """A place without its dirt."""
    kept = {key: value for key, value in place.items() if key not in ("blocked", "film", "filled", "cake", "fouled")}
    kept |= {"ways": [{name: cleaned(each) for name, each in way.items()} for way in place["ways"]]} if "ways" in place else {}
    return kept | ({"trays": [cleaned(tray) for tray in place["trays"]]} if "trays" in place else {})


def head(flow: float, bore: float) -> float:
    """The velocity head in m of a flow in a bore."""
    return (flow / (math.pi / 4.0 * bore**2)) ** 2 / (2.0 * GRAVITY)


def reynolds(here: World, flow: float, bore: float) -> float:
    """Of a flow in a bore."""
    return 4.0 * flow / (math.pi * bore * here.water.kinematic)


def step(here: World, flow: float, before: float, after: float) -> float:
    """Head in m that a sudden change of bore takes."""
    narrow = min(before, after)
    if math.isclose(before, after):
        return 0.0
    law = here.laws.contraction if after < before else here.laws.expansion
    return law(before, after, reynolds(here, flow, narrow)) * head(flow, narrow)


def ends(here: World, place: Place) -> tuple[float, float]:
    """The open bores where the water enters and leaves a place; none at the tank."""
    film = 2.0 * place.get("film", 0.0) if here.laws.film_to_ends else 0.0
    if place["kind"] == "branches":
        parting, meeting = place.get("parting", {}), place.get("meeting", {})
        return parting.get("inlet_bore", 0.0), meeting.get("outlet_bore", 0.0)
    if place["kind"] == "hose":
        return place["inside"] - film, place["inside"] - film
    return place.get("inlet_bore", 0.0) - film, place.get("outlet_bore", 0.0) - film


def losses(here: World, flow: float) -> Iterator[tuple[str, float]]:
    """Head in m that each place takes at a flow, and each joint in front of one."""
    return along(here, flow, here.places, 0.0, 0.0)


def along(here: World, flow: float, places: dict[str, Place], before: float, after: float) -> Iterator[tuple[str, float]]:
    """The same of places in a row, from a bore before them to one after them; none at the tank."""
    for name, place in places.items():
        entered, left = ends(here, place)
        if before and entered:
            yield f"to {name}", step(here, flow, before, entered)
        if place["kind"] != "pump":
            yield name, BODIES[place["kind"]](here, place, flow)
        before = left
    if before and after:
        yield "to the end", step(here, flow, before, after)


def _branches(here: World, place: Place, flow: float) -> float:
    return _way(here, place, flow, divided(here, place, flow), 0)


def divided(here: World, place: Place, flow: float) -> float:
    """Of the flow of two ways side by side that of the second: both take the same head, their ways through the tees with them."""
    return brentq(
        lambda side: _way(here, place, flow, side, 0) - _way(here, place, flow, side, 1), 0.02 * flow, 0.98 * flow, rtol=1e-10
    )


def _way(here: World, place: Place, flow: float, side: float, way: int) -> float:
    """The head that the first or the second way takes when so much goes by the second."""
    taken, legs = 0.0, [0.0, 0.0]
    for joining, tee in ((False, place.get("parting")), (True, place.get("meeting"))):
        if tee:
            legs[joining] = tee["side_bore"] if way else tee["inlet_bore"] if joining else tee["outlet_bore"]
            run = tee.get("passage", min(tee["inlet_bore"], tee["outlet_bore"]))
            coefficients = here.laws.tee(side / flow, run, tee.get("side_passage", min(tee["side_bore"], run)), joining)
            taken += coefficients[way] * head(flow, run)
    return taken + sum(lost for _, lost in along(here, (flow - side, side)[way], place["ways"][way], *legs))


def _guard(here: World, place: Place, flow: float) -> float:
    speed, share = flow / place["face_area"], place["open"] * (1.0 - place.get("blocked", 0.0))
    entrance = here.laws.entrance(place["outlet_bore"]) * head(flow, place["outlet_bore"])
    if place["form"] == "sponge":
        fast = speed / (1.0 - place.get("blocked", 0.0))
        lost = foam_lacroix(place["pores"], OPEN_FOAM, fast, here.water) * place["thickness"]
        return entrance + lost / (here.water.density * GRAVITY)
    mesh = place["form"] == "mesh"
    k = here.laws.mesh(share, place["opening"], speed, here.water) if mesh else here.laws.plate(place["form"], share)
    return entrance + k * speed**2 / (2.0 * GRAVITY)


def _hose(here: World, place: Place, flow: float) -> float:
    bore, end = place["inside"] - 2.0 * place.get("film", 0.0), ends(here, place)[0]
    number = reynolds(here, flow, bore)
    run = (
        here.laws.friction(number, bore, RUBBER_M if place.get("material") == "rubber" else DRAWN_TUBE_M) * place["length"] / bore
    )
    if "coil" in place:
        run *= here.laws.coil(number, bore, place["coil"])
    turns = place.get("bends", 0) * here.laws.bend(bore, place.get("bend_radius", 0.10), number)
    return (run + turns) * head(flow, bore) + step(here, flow, end, bore) + step(here, flow, bore, end)


def _fitting(here: World, place: Place, flow: float) -> float:
    entered, left = ends(here, place)
    passage = min(
        place.get("passage", min(place["inlet_bore"], place["outlet_bore"])) - 2.0 * place.get("film", 0.0), entered, left
    )
    shape = place.get("shape", "flap" if place["kind"] == "non-return valve" else "straight")
    turn = (
        getattr(here.laws, TURNS[shape])(passage, reynolds(here, flow, passage)) * head(flow, passage) if shape in TURNS else 0.0
    )
    return step(here, flow, entered, passage) + turn + step(here, flow, passage, left) + place.get("crack", 0.0)


TURNS = {
    "elbow 90": "elbow_90",
    "elbow 45": "elbow_45",
    "swept 90": "swept",
    "threaded elbow 90": "threaded",
    "ball valve": "valve",
    "gate valve": "gate",
    "flap": "flap",
}
"""The law that the body of a fitting goes by; a straight one has none."""


def _canister(here: World, place: Place, flow: float) -> float:
    ports = head(flow, place["inlet_bore"]) + here.laws.entrance(place["outlet_bore"]) * head(flow, place["outlet_bore"])
    speed = flow / place["tray_area"]
    beds = sum(bed(here, tray, speed) for tray in place["trays"] if not tray.get("empty")) * place["tray_height"]
    cakes = sum(here.water.viscosity * speed * tray["cake"] / CAKE_M2 for tray in place["trays"] if tray.get("cake"))
    return ports + (beds + cakes) / (here.water.density * GRAVITY)


def bed(here: World, tray: Place, speed: float) -> float:
    """Pressure a metre in Pa/m of what is in a tray. Dirt takes its share of the pores, and the surface that the water rubs
    along stays as it was, so the permeability goes down with the cube of what is left (Kozeny 1927), as the loss of fast
    water goes up."""
    left = 1.0 - tray.get("filled", 0.0)
    laws = here.laws
    if tray["form"] == "foam":
        return foam_lacroix(tray["pores"], OPEN_FOAM * left, speed, here.water)
    if tray["form"] == "fibre":
        return here.water.viscosity * speed / (laws.fibre(tray["fibre"], tray["solid"]) * left**3)
    void = tray["void"]
    if tray["form"] == "granules":
        return laws.grains(tray["grain"], void, speed, here.water) / left**3
    return laws.rings(6.0 * (1.0 - void) / tray["surface"], void, speed, here.water) / left**3


def _device(here: World, place: Place, flow: float) -> float:
    if "kv" in place:
        return PASCAL_PER_BAR / (1000.0 * GRAVITY) * (flow / place["kv"]) ** 2
    return place["point_head"] * (flow / place["point_flow"]) ** 2


def _outlet(here: World, place: Place, flow: float) -> float:
    lift = place.get("above_water", 0.0)
    if place["form"] == "bar":
        return lift + step(here, flow, place["inlet_bore"], place["bar_bore"]) + bar_head(here, place, flow)
    discharge = place.get("discharge", 1.0 if place["form"] == "open" else 0.62)
    if place["form"] == "open":
        return lift + step(here, flow, place["inlet_bore"], place["hole"]) + head(flow, place["hole"])
    return lift + head(flow, place["hole"]) / discharge**2


def bar_head(here: World, place: Place, flow: float) -> float:
    """Head in m at the inlet of a spray bar over that of the tank: a march from its closed end, where a pressure drives the
    last jet, back to its inlet. Between holes friction adds to the pressure; where a jet leaves, the water slows and some of
    its velocity head comes back as pressure (all of it where no energy is lost)."""
    bore, area = place["bar_bore"], place.get("discharge", 0.62) * math.pi / 4.0 * place["hole"] ** 2

    def marched(end: float) -> tuple[float, float]:
        passed, pressure = 0.0, end
        for _ in range(int(place["holes"])):
            more = passed + area * math.sqrt(2.0 * GRAVITY * max(pressure, 0.0))
            friction = (
                here.laws.friction(reynolds(here, more, bore), bore, DRAWN_TUBE_M) * place["pitch"] / bore * head(more, bore)
            )
            pressure += friction - here.laws.regain * (head(more, bore) - head(passed, bore))
            passed = more
        return passed, pressure

    even = (flow / area / place["holes"]) ** 2 / (2.0 * GRAVITY)
    end = brentq(lambda end: marched(end)[0] - flow, 1e-6 * even, 9.0 * even, rtol=1e-10)
    return marched(end)[1] + head(flow, bore)


BODIES: dict[str, Callable[[World, Place, float], float]] = {
    "guard": _guard,
    "branches": _branches,
    "hose": _hose,
    **dict.fromkeys(("coupling", "valve", "elbow", "tail", "non-return valve"), _fitting),
    "canister": _canister,
    "device": _device,
    "outlet": _outlet,
}


def pump_curve(here: World) -> tuple[Callable[[float], float], float]:
    """The head in m of the pump at a flow in m3/s, and its greatest flow: the label's curve, or points joined by PCHIP
    (Fritsch and Carlson 1980), at its speed (affinity laws: flow with the speed, head with its square)."""
    (pump,) = (place for place in here.places.values() if place["kind"] == "pump")
    speed = (1.0 - pump.get("fouled", 0.0)) * (1.0 - pump.get("worn", 0.0)) * here.mains_hz / pump.get("label_hz", here.mains_hz)
    if "curve_points" in pump:
        measured = reading.points(pump["curve_points"])
        through = PchipInterpolator([flow for flow, _ in measured], [head for _, head in measured])
        return lambda flow: speed**2 * float(through(flow / speed)), speed * measured[-1][0]
    top, most, shape = pump["max_head"], speed * pump["max_flow"], pump.get("curve_shape", 2.0)
    return lambda flow: speed**2 * top * (1.0 - (flow / most) ** shape), most


def delivered(here: World) -> float:
    """The flow in m3/s at which the pump gives what the loop takes."""
    curve, most = pump_curve(here)
    return brentq(lambda flow: curve(flow) - sum(lost for _, lost in losses(here, flow)), 0.02 * most, most, xtol=1e-12)
