"""The loop that is installed as a candidate, straight from the rig: no search is needed for it, and nothing that is sold."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from optimizer.bands.candidates import Candidate, candidate
from optimizer.loop.terms import canister_loss, change_quadratic, part_loss, pump_speed, tray_loss
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.losses import Loss
from optimizer.model.parts import Canister, Device, Guard, Kind, Outlet, Part, Pump
from optimizer.model.rig import Position, Rig
from optimizer.physics.water import Water
from optimizer.search.joints import Chain
from optimizer.search.options import KEEP, Option, ends_of
from optimizer.search.stacks import Fill


def branches_at(rig: Rig) -> str:
    """Name of the first place that holds branches, or could; empty for a loop in series."""
    return next((position.name for position in rig.positions if position.kind == Kind.BRANCHES), "")


def installed(rig: Rig, name: str = "as it is", upto: int | None = None) -> Candidate:
    """What is installed, in the state that the rig describes; a throttle, if there is one, stands open.

    ``upto`` leaves out every position after that one (a number in the order of the water). Raises ValueError where the pump is
    among them, and for a loop with branches, which `as_it_is` takes.
    """
    branched = branches_at(rig)
    if branched:
        raise ValueError(f"{branched} holds branches, and only loops in series can be taken apart")
    water = Water(temperature_c=rig.tank.temperature_c, salinity_gkg=rig.tank.salinity_gkg)
    last = len(rig.positions) if upto is None else upto + 1
    options = [_option(rig, place, water) for place in range(last)]
    return replace(candidate(rig, water, name, options, _joints(options)), ceiling_m3s=math.inf)


def as_it_is(rig: Rig, name: str = "as it is") -> Candidate:
    """The same for any loop, with branches or without; with branches, what devices and guards allow counts among the limits."""
    if not branches_at(rig):
        return installed(rig, name)
    from optimizer.search.choices import choices  # a loop without branches starts quicker without it

    free = Limits().without(*Limits().binding)
    menu = choices(replace(rig, spares=()), Catalog(parts={}, products=()), free)
    kept = [next(option for option in some if option.change == KEEP) for some in menu.options]
    options = [_with_window(option, rig.limits) for option in kept]
    held = candidate(rig, menu.water, name, options, _joints(options))
    return replace(held, ceiling_m3s=math.inf, throttled=False)


def _with_window(option: Option, limits: Limits) -> Option:
    """The option with the flows that its parts need and allow, and with throttles in branches that stand open."""
    if option.ways is None:
        low, high = _window([option], limits)
        return replace(option, flow_min_m3s=low, flow_max_m3s=high)
    ways, losses = option.ways, []
    for way, loss in zip(ways.branches, ways.split.branches, strict=True):
        low, high = _window(way.there, limits)
        losses.append(replace(loss, flow_min_m3s=low, flow_max_m3s=high, throttles=False))
    ways = replace(ways, split=replace(ways.split, branches=tuple(losses)))
    # of a branch by itself the window is the position's; beside another it is its own
    return replace(option, ways=ways, flow_min_m3s=losses[0].flow_min_m3s, flow_max_m3s=losses[0].flow_max_m3s)


def _window(options: Iterable[Option], limits: Limits) -> tuple[float, float]:
    """Flows in m3/s that the parts of some options need and allow, as far as the limits ask for it."""
    low, high = 0.0, math.inf
    for option in options:
        if isinstance(option.part, Guard):
            high = min(high, limits.guard_speed_ms * option.part.face_area_m2 * (1.0 - option.state.blocked))
        elif isinstance(option.part, Device) and limits.device_windows:
            low, high = max(low, option.part.flow_min_m3s), min(high, option.part.flow_max_m3s)
    return low, high


def _option(rig: Rig, place: int, water: Water) -> Option:
    position = rig.positions[place]
    part = position.installed
    if part is None:
        return Option(position=place, change=KEEP, part=None)
    inlet, outlet = ends_of(part)
    fills: tuple[Fill, ...] = ()
    if isinstance(part, Canister):
        trays = enumerate(rig.trays)
        fills = tuple(Fill(tray=n, change=KEEP, medium=tray.medium, state=tray.state) for n, tray in trays)
    return Option(
        position=place,
        change=KEEP,
        part=part,
        state=position.state,
        loss=_loss(part, position, water, fills),
        inlet=inlet,
        outlet=outlet,
        speed=pump_speed(part, position.state, rig.mains_hz) if isinstance(part, Pump) else 1.0,
        fills=fills,
        height_m=position.height_m if isinstance(part, Outlet) else 0.0,
    )


def _loss(part: Part, position: Position, water: Water, fills: tuple[Fill, ...]) -> Loss:
    if not isinstance(part, Canister):
        return part_loss(part, position.state, position, water)
    loss = canister_loss(part)
    for fill in fills:
        if fill.medium is not None:
            loss = loss.add(tray_loss(fill.medium, fill.state, part, water))
    return loss


def _joints(options: Sequence[Option]) -> list[Chain]:
    """Installed neighbours are joined as they are: a step of bores."""
    chains, before = [], None
    for option in options:
        quadratic = 0.0
        if before is not None and option.inlet is not None:
            quadratic = change_quadratic(before.bore_m, option.inlet.bore_m)
        chains.append(Chain((), (), quadratic, 0, (), (), True))
        before = option.outlet or before
    return chains
