"""The loop that is installed as a candidate, straight from the rig: no catalog and no search are needed for it."""

import math
from dataclasses import replace

from optimizer.bands.candidates import Candidate, candidate
from optimizer.loop.terms import canister_loss, change_quadratic, part_loss, pump_speed, tray_loss
from optimizer.model.losses import Loss
from optimizer.model.parts import Canister, Kind, Outlet, Part, Pump
from optimizer.model.rig import Position, Rig
from optimizer.physics.water import Water
from optimizer.search.joints import Chain
from optimizer.search.options import KEEP, Option, ends_of
from optimizer.search.stacks import Fill


def branches_at(rig: Rig) -> str:
    """Name of the first place that holds branches, or could; empty for a loop in series, which is all that bands cover."""
    return next((position.name for position in rig.positions if position.kind == Kind.BRANCHES), "")


def installed(rig: Rig, name: str = "as it is", upto: int | None = None) -> Candidate:
    """What is installed, in the state that the rig describes; a throttle, if there is one, stands open.

    ``upto`` leaves out every position after that one (a number in the order of the water). Raises ValueError where the pump is
    among them, and for a loop with branches.
    """
    branched = branches_at(rig)
    if branched:
        raise ValueError(f"{branched} holds branches; bands cover loops in series only")
    water = Water(temperature_c=rig.tank.temperature_c, salinity_gkg=rig.tank.salinity_gkg)
    last = len(rig.positions) if upto is None else upto + 1
    options = [_option(rig, place, water) for place in range(last)]
    return replace(candidate(rig, water, name, options, _joints(options)), ceiling_m3s=math.inf)


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


def _joints(options: list[Option]) -> list[Chain]:
    """Installed neighbours are joined as they are: a step of bores."""
    chains, before = [], None
    for option in options:
        quadratic = 0.0
        if before is not None and option.inlet is not None:
            quadratic = change_quadratic(before.bore_m, option.inlet.bore_m)
        chains.append(Chain((), (), quadratic, 0, (), (), True))
        before = option.outlet or before
    return chains
