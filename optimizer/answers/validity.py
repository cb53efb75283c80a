"""Where a correlation was used outside the range it was measured for, and what that means for the figures."""

from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.answers.bundle_walk import each_option, position_of
from optimizer.answers.rows import Standing, with_flows
from optimizer.loop.kinds import ends_of, kind
from optimizer.model.ends import refusal
from optimizer.model.options import Option
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said, length
from optimizer.physics.hose import reynolds
from optimizer.physics.sound import DISTANCE_RANGE
from optimizer.physics.validity import Validity, outside
from optimizer.physics.water import DENSITY_SALINITY, DENSITY_TEMPERATURE, Water

TRANSITION = Validity(
    name="laminar or turbulent friction",
    quantity="Reynolds number",
    low=2000.0,
    high=4000.0,
    source="Churchill, Chemical Engineering 84 (24) (1977) 91-92 joins the two laws here",
)
"""The band in which friction in a pipe is uncertain by about a fifth."""


@dataclass(frozen=True, slots=True)
class _Use:
    """A value that a correlation was used at, and where in the loop."""

    place: str
    validity: Validity
    value: float


def validity_warnings(rig: Rig, stands: Standing, water: Water) -> tuple[str, ...]:
    """One line per correlation that was used outside its range, naming the places, then the runs in transition, then the joints
    of the loop as it is that do not close by what the rig says of their ends."""
    broken: dict[Validity, list[_Use]] = {}
    for use in _uses(rig, stands):
        if outside(use.validity, use.value):
            broken.setdefault(use.validity, []).append(use)
    lines = [_line(validity, uses) for validity, uses in broken.items()]
    return (*lines, *_transitions(stands, water), *_unmated(rig))


def _line(validity: Validity, uses: list[_Use]) -> str:
    in_metres = validity.in_metres
    values = sorted({use.value for use in uses})
    places = ", ".join(dict.fromkeys(use.place for use in uses))
    return Said(
        f"{places}: {validity.quantity} ",
        *_span(list(dict.fromkeys((values[0], values[-1]))), in_metres),
        " is outside the ",
        *_span([validity.low, validity.high], in_metres),
        f" for which its law ({validity.name}) was measured; take the figures there as rough.",
    )


def _span(values: list[float], in_metres: bool) -> Iterator[str | Quantity]:
    """One value or two, the unit behind the last."""
    for n, value in enumerate(values):
        if n:
            yield " to "
        unit = " mm" if n == len(values) - 1 else ""
        yield length(value, f"{value * 1e3:.3g}{unit}") if in_metres else f"{value:.3g}"


def _uses(rig: Rig, stands: Standing) -> Iterator[_Use]:
    yield _Use("tank", DENSITY_TEMPERATURE, rig.tank.temperature_c)
    yield _Use("tank", DENSITY_SALINITY, rig.tank.salinity_gkg)
    yield _Use("noise", DISTANCE_RANGE, rig.listen_m)
    for option in each_option(stands.options):
        yield from _of_option(rig, option)


def _of_option(rig: Rig, option: Option) -> Iterator[_Use]:
    part, position = option.part, position_of(rig, option)
    if position is None:
        return
    if part is not None:
        for validity, value in kind(part).ranges(part, option.state, position, option.speed):
            yield _Use(position.name, validity, value)


def _unmated(rig: Rig) -> Iterator[str]:
    """Installed neighbours whose ends do not go together: there may be an adapter that the rig file does not name."""
    inside = (branch.positions for position in rig.positions for branch in position.branches)
    for positions in (rig.positions, *inside):
        before, leaves = "", None
        for position in positions:
            if position.branches:
                before, leaves = "", None
            if position.installed is None:
                continue
            enters, out = ends_of(position.installed)
            why = refusal(leaves, enters) if leaves is not None and enters is not None else ""
            if why:
                yield Said(
                    *(f"{before} to {position.name}: by the rig file these do not go together (", why, "). What joins them "),
                    "now is taken to stay and to lose no more than the step in bore; look whether both ends are the real ones.",
                )
            before, leaves = position.name, out


def _transitions(stands: Standing, water: Water) -> Iterator[str]:
    for option, flow in with_flows(stands):
        run = option.loss.run
        if run is None:
            continue
        number = float(reynolds(flow, run.bore_m, water.kinematic_m2s))
        if not outside(TRANSITION, number):
            yield (
                f"{option.place}: the flow is neither laminar nor turbulent (Reynolds number {number:.0f}); its friction is "
                "uncertain by about 20 %."
            )
