"""Pressure along a bundle's loop, and what is left before air is drawn, a hose flattens or the canister exceeds its rating."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.answers.rows import Standing
from optimizer.loop.kinds import ends_of
from optimizer.loop.profile import Station, Stretch, stations
from optimizer.loop.terms import adapter_quadratic, change_quadratic
from optimizer.model.options import Chain, Option, OrientedAdapter
from optimizer.model.parts import Canister, Hose, Kind, Part, Pump
from optimizer.model.results import PressurePoint, PressureProfile
from optimizer.model.rig import Rig
from optimizer.physics.fitting_laws import FittingLaws
from optimizer.physics.water import GRAVITY_MS2, Water

LEVEL_SLACK_M = 1e-9
"""Rounding in levels that were shared out."""

Holder = Option | OrientedAdapter
"""What the water passes: a part in its place, or an adapter in a joint."""

BOTH, RIM = ("inlet", "outlet"), "rim"


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A stretch with what the water passes there (None: a step of bore in a joint), and which of its two ends are told, as what
    (empty: that end is not told)."""

    stretch: Stretch
    holder: Holder | None = None
    told: tuple[str, str] = BOTH


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """One end that is told: where it is, and the pressure there."""

    station: Station
    holder: Holder


def profile(name: str, rig: Rig, water: Water, stands: Standing) -> PressureProfile | None:
    """Pressure along the loop of one row; None when nothing flows.

    Levels: the guard's tail at the water line, pump and canister at their depth, the outlet at its height, hoses falling
    evenly between them. The first hose on the way to the pump climbs straight up to the rim, and the last one behind it comes
    down from there, where the rig says how high that is.
    """
    if stands.flow_m3s <= 0.0:
        return None
    told = list(_told(rig, stands))
    pump = next(n for n, each in enumerate(told) if _is(each.holder, Pump))
    crest = next((n for n in range(pump) if told[n].station.end == RIM), None)
    air = _outside(told, pump, crest)
    points = tuple(_point(each, water, n <= pump, n in air) for n, each in enumerate(told))
    outside = [n for n in range(pump + 1) if points[n].in_air]
    in_hose = [points[n] for n in outside if _is(told[n].holder, Hose)]
    joints = [points[n] for n in outside if points[n].end != RIM]
    inside = next(point for point, each in zip(points, told, strict=True) if _is(each.holder, Canister))
    shut = _shut_m(rig, stands)
    return PressureProfile(
        name=name,
        points=points,
        lowest=min(points[: pump + 1], key=_head),
        joint=min([*joints, points[pump]], key=_head),
        hose=min(in_hose, key=_head, default=None),
        canister_m=inside.head_m,
        canister_shut_m=shut,
        canister_rating_m=rig.canister.rating_m,
        canister_margin_m=rig.canister.rating_m - max(shut, inside.head_m),
        depth_known=rig.positions[rig.index(Kind.PUMP)].depth_known,
        rim_m=None if crest is None else rig.rim_m,
    )


def _told(rig: Rig, stands: Standing) -> Iterator[_Told]:
    """The ends that are told, in the order of the water; those of a bare joint are the ends of its neighbours."""
    legs = list(_over_the_rim(rig, list(_way(rig, stands))))
    passed = stations([leg.stretch for leg in legs], stands.flow_m3s)
    for n, leg in enumerate(legs):
        for side, end in enumerate(leg.told):
            if end and leg.holder is not None:
                yield _Told(station=replace(passed[2 * n + side], end=end), holder=leg.holder)


def _outside(told: Sequence[_Told], pump: int, crest: int | None) -> frozenset[int]:
    """Which ends hang outside the tank, where a leak lets in air and not water: on the way to the pump all that is below the
    water line, or comes after the ``crest``; behind it all up to where the last hose comes back over the rim."""
    last = len(told) - 1
    hoses = [n for n in range(pump, len(told)) if _is(told[n].holder, Hose)]
    back = next((n for n in hoses if told[n].station.end == RIM), hoses[-2] if hoses else last)
    below = {n for n in range(back + 1) if told[n].station.level_m < -LEVEL_SLACK_M}
    over = () if crest is None else (*range(crest, pump + 1), *range(pump, back + 1))
    return frozenset(below.union(over))


def _over_the_rim(rig: Rig, legs: list[Leg]) -> Iterator[Leg]:
    """The same way with the first hose towards the pump and the last one behind it led over the rim, if its height is known."""
    pump = next(n for n, leg in enumerate(legs) if _is(leg.holder, Pump))
    hoses = [n for n, leg in enumerate(legs) if _is(leg.holder, Hose)]
    up = next((n for n in hoses if n < pump), -1)
    down = next((n for n in reversed(hoses) if n > pump), -1)
    rim = rig.rim_m
    for n, leg in enumerate(legs):
        if rim is not None and (n == up or (n == down and _comes_down(legs[-1], rim))):
            yield from _climbing(leg, rim, first=n == up)
        else:
            yield leg


def _comes_down(last: Leg, rim_m: float) -> bool:
    """True unless the outlet is no lower than the rim."""
    return last.stretch.level_m is not None and last.stretch.level_m < rim_m


def _climbing(leg: Leg, rim_m: float, first: bool) -> Iterator[Leg]:
    """A hose in three: up to the rim, the rim itself, and on. The short piece, on the side of the tank, is as long as the rim is
    high, at most half of the hose; the loss is shared by length."""
    whole = leg.stretch
    short = min(rim_m, whole.length_m / 2.0) / whole.length_m
    before = short if first else 1.0 - short
    for share, told in ((before, ("inlet", "")), (1.0 - before, ("", "outlet"))):
        part = replace(whole, loss_m=whole.loss_m * share, length_m=whole.length_m * share)
        yield replace(leg, stretch=part, told=told)
        if told[0]:
            yield replace(leg, stretch=replace(whole, loss_m=0.0, length_m=0.0, level_m=rim_m), told=(RIM, ""))


def _head(point: PressurePoint) -> float:
    return point.head_m


def _is(holder: Holder | None, kind: type[Part]) -> bool:
    return isinstance(holder, Option) and isinstance(holder.part, kind)


def _point(told: _Told, water: Water, suction: bool, in_air: bool) -> PressurePoint:
    station = told.station
    return PressurePoint(
        place=station.place,
        end=station.end,
        level_m=station.level_m,
        speed_ms=station.speed_ms,
        head_m=station.head_m,
        pressure_pa=water.density_kgm3 * GRAVITY_MS2 * station.head_m,
        suction=suction,
        in_joint=isinstance(told.holder, OrientedAdapter),
        in_air=in_air,
    )


def _shut_m(rig: Rig, stands: Standing) -> float:
    """Head in the canister with the outlet shut: its depth, and the pump's head at no flow where the pump feeds it."""
    body, pump = rig.index(Kind.CANISTER), rig.index(Kind.PUMP)
    return rig.positions[body].depth_m + (shut_off_m(stands) if pump < body else 0.0)


def shut_off_m(stands: Standing) -> float:
    """Head of the pump of a bundle at no flow, in m."""
    return next(each.curve.max_head_m * each.speed**2 for each in stands.elements if each.curve is not None)


def _way(rig: Rig, stands: Standing) -> Iterator[Leg]:
    """Every part and adapter with its stretch, and the steps of bore between them, in the order of the water."""
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
            yield from _joint(name, joint, (_bores(before)[1], _bores(option)[0]), next(between), stands.flow_m3s, rig.laws)
        surplus = -sum(stands.heads_m) if place == throttled else 0.0
        yield Leg(stretch=_part(rig, option, lost[place] - option.loss.lift_m + surplus), holder=option)
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
    name: str, chain: Chain, bores_m: tuple[float, float], loss_m: float, flow_m3s: float, laws: FittingLaws
) -> Iterator[Leg]:
    """A joint, each adapter apart, so that the pressure in it is seen. The losses add up to ``loss_m``."""
    (bore, to_m), left = bores_m, loss_m
    for turned in chain.adapters:
        entry, leaves = turned.entry.bore_m, turned.exit.bore_m
        step = change_quadratic(bore, entry, laws) * flow_m3s**2
        inside = adapter_quadratic(turned.part, turned.flipped, laws) * flow_m3s**2
        yield Leg(stretch=Stretch(place=name, loss_m=step, inlet_bore_m=bore, outlet_bore_m=entry))
        place = f"{name}: {turned.part.name}"
        yield Leg(stretch=Stretch(place=place, loss_m=inside, inlet_bore_m=entry, outlet_bore_m=leaves), holder=turned)
        bore, left = leaves, left - step - inside
    yield Leg(stretch=Stretch(place=name, loss_m=left, inlet_bore_m=bore, outlet_bore_m=to_m))
