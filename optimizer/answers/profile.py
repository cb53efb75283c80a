"""Pressure along a bundle's loop, and what is left before air is drawn, a hose flattens or the canister exceeds its rating."""

from collections.abc import Iterator

from optimizer.answers.rows import Standing
from optimizer.loop.kinds import ends_of
from optimizer.loop.profile import Station, Stretch, stations
from optimizer.loop.terms import adapter_quadratic, change_quadratic
from optimizer.model.options import Chain, Option, OrientedAdapter
from optimizer.model.parts import Canister, Hose, Kind, Part, Pump
from optimizer.model.results import PressurePoint, PressureProfile
from optimizer.model.rig import Rig
from optimizer.physics.water import GRAVITY_MS2, Water

LEVEL_SLACK_M = 1e-9
"""Rounding in levels that were shared out."""

Holder = Option | OrientedAdapter
"""What the water passes: a part in its place, or an adapter in a joint."""


def profile(name: str, rig: Rig, water: Water, stands: Standing) -> PressureProfile | None:
    """Pressure along the loop of one row; None when nothing flows.

    Levels: the guard's tail at the water line, pump and canister at their depth, the outlet at its height, hoses falling
    evenly between them. How high a hose climbs over the tank's rim is not known and not counted.
    """
    if stands.flow_m3s <= 0.0:
        return None
    way = list(_way(rig, stands))
    passed = stations([stretch for stretch, _ in way], stands.flow_m3s)
    # the ends of a bare joint are those of its neighbours
    held = [(passed[2 * n + end], holder) for n, (_, holder) in enumerate(way) for end in (0, 1) if holder is not None]
    pump = next(n for n, (_, holder) in enumerate(held) if _is(holder, Pump))
    points = tuple(
        _point(station, water, n <= pump, isinstance(holder, OrientedAdapter)) for n, (station, holder) in enumerate(held)
    )
    # what is level with the water line hangs in the tank, where a leak lets in water and not air
    below = [n for n in range(pump + 1) if points[n].level_m < -LEVEL_SLACK_M]
    in_hose = [points[n] for n in below if _is(held[n][1], Hose)]
    inside = next(point for point, (_, holder) in zip(points, held, strict=True) if _is(holder, Canister))
    shut = _shut_m(rig, stands)
    return PressureProfile(
        name=name,
        points=points,
        lowest=min(points[: pump + 1], key=_head),
        joint=min([points[n] for n in below] + [points[pump]], key=_head),
        hose=min(in_hose, key=_head, default=None),
        canister_m=inside.head_m,
        canister_shut_m=shut,
        canister_rating_m=rig.canister.rating_m,
        canister_margin_m=rig.canister.rating_m - max(shut, inside.head_m),
        depth_known=rig.positions[rig.index(Kind.PUMP)].depth_known,
    )


def _head(point: PressurePoint) -> float:
    return point.head_m


def _is(holder: Holder, kind: type[Part]) -> bool:
    return isinstance(holder, Option) and isinstance(holder.part, kind)


def _point(station: Station, water: Water, suction: bool, in_joint: bool) -> PressurePoint:
    return PressurePoint(
        place=station.place,
        end=station.end,
        level_m=station.level_m,
        speed_ms=station.speed_ms,
        head_m=station.head_m,
        pressure_pa=water.density_kgm3 * GRAVITY_MS2 * station.head_m,
        suction=suction,
        in_joint=in_joint,
    )


def _shut_m(rig: Rig, stands: Standing) -> float:
    """Head in the canister with the outlet shut: its depth, and the pump's head at no flow where the pump feeds it."""
    body, pump = rig.index(Kind.CANISTER), rig.index(Kind.PUMP)
    driven = next(element for element in stands.elements if element.curve is not None)
    pushed = driven.curve.max_head_m * driven.speed**2 if driven.curve is not None and pump < body else 0.0
    return rig.positions[body].depth_m + pushed


def _way(rig: Rig, stands: Standing) -> Iterator[tuple[Stretch, Holder | None]]:
    """Every part and adapter with its stretch, and the steps of bore between them (None), in the order of the water."""
    lost: dict[str, float] = {}
    for element, head in zip(stands.elements, stands.heads_m, strict=True):
        lost[element.at] = lost.get(element.at, 0.0) + head
    between = iter(head for element, head in zip(stands.elements, stands.heads_m, strict=True) if not element.at)
    throttled = _throttle(rig, stands)
    before: Option | None = None
    for option, joint in zip(stands.options, stands.joints, strict=True):
        if not option.is_there:
            continue
        place = rig.positions[option.position].name
        if before is not None:
            name = f"joint {rig.positions[before.position].name} to {place}"
            yield from _joint(name, joint, _bores(before)[1], _bores(option)[0], next(between), stands.flow_m3s)
        surplus = -sum(stands.heads_m) if place == throttled else 0.0
        yield _part(rig, option, lost[place] - option.loss.lift_m + surplus), option
        before = option


def _throttle(rig: Rig, stands: Standing) -> str:
    """Where the surplus goes when a ceiling holds the flow: the first throttle behind the pump, or the part right behind the
    joint that it stands in; else the outlet (its tap)."""
    if not stands.held_by:
        return ""
    pump = rig.index(Kind.PUMP)
    parts = zip(stands.options, stands.joints, strict=True)
    at = (option.position for option, joint in parts if (option.throttles or joint.throttles) and option.position > pump)
    return rig.positions[next(at, len(rig.positions) - 1)].name


def _part(rig: Rig, option: Option, loss_m: float) -> Stretch:
    position = rig.positions[option.position]
    level: float | None = None
    if position.kind in (Kind.PUMP, Kind.CANISTER):
        level = -position.depth_m
    elif position.kind == Kind.GUARD or (position.branches and option.position in (0, len(rig.positions) - 1)):
        level = 0.0
    elif position.kind == Kind.OUTLET:
        level = option.height_m
    inlet, outlet = _bores(option)
    length = position.length_m if position.kind == Kind.HOSE else 0.0
    name = position.name
    return Stretch(place=name, loss_m=loss_m, inlet_bore_m=inlet, outlet_bore_m=outlet, length_m=length, level_m=level)


def _bores(option: Option) -> tuple[float, float]:
    """Bores the water enters and leaves a part by, 0 on the side of the open water; a hose's less its film."""
    if option.loss.run is not None:
        return option.loss.run.bore_m, option.loss.run.bore_m
    inlet, outlet = (option.inlet, option.outlet) if option.part is None else ends_of(option.part)
    return 0.0 if inlet is None else inlet.bore_m, 0.0 if outlet is None else outlet.bore_m


def _joint(
    name: str, chain: Chain, from_m: float, to_m: float, loss_m: float, flow_m3s: float
) -> Iterator[tuple[Stretch, OrientedAdapter | None]]:
    """A joint, each adapter apart, so that the pressure in it is seen. The losses add up to ``loss_m``."""
    bore, left = from_m, loss_m
    for turned in chain.adapters:
        entry, leaves = turned.entry.bore_m, turned.exit.bore_m
        step = change_quadratic(bore, entry) * flow_m3s**2
        inside = adapter_quadratic(turned.part, turned.flipped) * flow_m3s**2
        yield Stretch(place=name, loss_m=step, inlet_bore_m=bore, outlet_bore_m=entry), None
        place = f"{name}: {turned.part.name}"
        yield Stretch(place=place, loss_m=inside, inlet_bore_m=entry, outlet_bore_m=leaves), turned
        bore, left = leaves, left - step - inside
    yield Stretch(place=name, loss_m=left, inlet_bore_m=bore, outlet_bore_m=to_m), None
