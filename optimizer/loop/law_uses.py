"""At which values the laws of a standing loop are used: every range of a correlation that part, tray or water meets in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from optimizer.loop.kinds import VOIDS, kind
from optimizer.loop.standing import StandingLoop
from optimizer.model.part_names import tray_place
from optimizer.model.parts import Canister, Kind, Part
from optimizer.model.rig import Position
from optimizer.model.state import State
from optimizer.physics.media import PACKED_REYNOLDS, packed_reynolds
from optimizer.physics.validity import Validity
from optimizer.physics.water import DENSITY_SALINITY, DENSITY_TEMPERATURE, VISCOSITY_SALINITY, VISCOSITY_TEMPERATURE, Water

__all__ = ["Use", "law_uses", "part_uses"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """A value that a law is used at, with the range it was measured for, and where in the loop."""

    place: str
    validity: Validity
    value: float


def law_uses(loop: StandingLoop, flow_m3s: float, branch_flows: Mapping[str, Sequence[float]]) -> Iterator[Use]:
    """Every use of a law in a loop that delivers ``flow_m3s`` (0: it does not flow, and what hangs on the flow is left out).
    ``branch_flows`` are those of its branches in m3/s, by the place of their fork."""
    yield from _of_water(loop.water)
    for n, one in enumerate(loop.stands):
        inside = loop.branch_of(n)
        passing = flow_m3s if inside is None else branch_flows[loop.forks[inside[0]].place][inside[1]]
        yield from part_uses(one.part, one.state, one.position, one.speed, loop.water, passing)
        if one.part is loop.canister:
            yield from _of_trays(loop, loop.canister, one.position, passing)


def part_uses(part: Part, state: State, position: Position, speed: float, water: Water, flow_m3s: float) -> Iterator[Use]:
    """Every use of a law by a part at its place, at a flow through it in m3/s. Raises TypeError for an unknown kind."""
    known = kind(part)
    for validity, value in known.ranges(part, state, position, speed):
        yield Use(place=position.name, validity=validity, value=value)
    if flow_m3s > 0.0:
        for validity, value in known.flow_ranges(part, state, position, water, flow_m3s):
            yield Use(place=position.name, validity=validity, value=value)


def _of_water(water: Water) -> Iterator[Use]:
    for validity in (DENSITY_TEMPERATURE, VISCOSITY_TEMPERATURE):
        yield Use(place="water", validity=validity, value=water.temperature_c)
    for validity in (DENSITY_SALINITY, VISCOSITY_SALINITY):
        yield Use(place="water", validity=validity, value=water.salinity_gkg)


def _of_trays(loop: StandingLoop, body: Canister, position: Position, flow_m3s: float) -> Iterator[Use]:
    for number, tray in enumerate(loop.trays, start=1):
        medium = tray.medium
        if medium is None:
            continue
        place = Position(name=tray_place(position.name, number), kind=Kind.CANISTER, installed=None)
        yield from part_uses(medium, tray.state, place, 1.0, loop.water, 0.0)
        if medium.form in VOIDS and medium.void and flow_m3s > 0.0:
            speed = flow_m3s / body.tray_area_m2
            number_of = packed_reynolds(medium.permeability_m2, medium.void, speed, loop.water.kinematic_m2s)
            yield Use(place=place.name, validity=PACKED_REYNOLDS, value=float(number_of))
