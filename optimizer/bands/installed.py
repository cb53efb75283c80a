"""The loop that is installed as a candidate, straight from the rig: no search is needed for it, and nothing that is sold."""

import math
from collections.abc import Sequence
from dataclasses import replace

from optimizer.bands.candidates import Candidate, candidate
from optimizer.loop.kinds import ends_of, part_loss
from optimizer.loop.standing import StandingLoop, standing_loop
from optimizer.loop.terms import change_quadratic, pump_speed
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.options import KEEP, Chain, Fill, Option
from optimizer.model.parts import Canister, Kind, Pump
from optimizer.model.rig import Rig
from optimizer.physics.water import Water


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
    return _open(standing_loop(rig, options, _joints(options)), rig.limits, name)


def as_it_is(rig: Rig, name: str = "as it is") -> Candidate:
    """The same for any loop, with branches or without; what devices and guards allow counts among the limits."""
    if not branches_at(rig):
        return installed(rig, name)
    from optimizer.search.choices import choices  # a loop without branches starts quicker without it

    free = Limits().without(*Limits().binding)
    menu = choices(replace(rig, spares=()), Catalog(parts={}, products=()), free)
    kept = [next(option for option in some if option.change == KEEP) for some in menu.options]
    return _open(standing_loop(rig, kept, _joints(kept)), rig.limits, name)


def _open(loop: StandingLoop, limits: Limits, name: str) -> Candidate:
    """The loop with every throttle open."""
    forks = tuple(replace(fork, throttles=(False, False)) for fork in loop.forks)
    return replace(candidate(replace(loop, forks=forks, throttled=False), limits, name), ceiling_m3s=math.inf)


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
        loss=part_loss(part, position.state, position, water),
        inlet=inlet,
        outlet=outlet,
        speed=pump_speed(part, position.state, rig.mains_hz) if isinstance(part, Pump) else 1.0,
        fills=fills,
        height_m=position.height_m,
    )


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
