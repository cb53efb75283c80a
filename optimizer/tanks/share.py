"""Sharing one budget between the tanks of a household: what is asked, the aims side by side, and what each comes to."""

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.answers.question import stands_now
from optimizer.answers.rows import Standing
from optimizer.model.catalog import Catalog
from optimizer.model.household import Household, HouseTank
from optimizer.model.parts import Kind
from optimizer.physics.sound import at_distance_dba
from optimizer.search.best import RESOLUTION_M3S
from optimizer.tanks.handed import Handed, common_spares, handed_parts
from optimizer.tanks.household import Aim, Progress, Sharing
from optimizer.tanks.program import Column, Program, Stage
from optimizer.tanks.signatures import Side, sides

AIMS = ("worst tank first", "least total shortfall", "most total flow")
"""The three aims, in a keeper's words."""

LITRES_PER_HOUR = 3.6e6
PER_MILLE = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """A household prepared for its search. ``now`` are the loops as they are today, ``content`` numbers of tanks that have
    enough."""

    household: Household
    catalog: Catalog
    now: tuple[Standing, ...]
    content: tuple[int, ...]
    sides: tuple[Side, ...]
    handed: tuple[Handed, ...]
    sharing: Sharing


def sought(household: Household, catalog: Catalog, progress: Progress | None = None) -> Sought:
    """Everything that the aims have in common. Raises ValueError when no budget is set."""
    if household.budget is None:
        raise ValueError("a household needs a budget")
    tanks = household.tanks
    now = tuple(stands_now(tank.rig, catalog) for tank in tanks)
    content = tuple(n for n, tank in enumerate(tanks) if now[n].flow_m3s >= tank.target_m3s * (1 - 1e-9))
    active = [n for n in range(len(tanks)) if n not in content]
    handed = tuple(handed_parts(tanks, content))
    apart = household.power_w < float("inf") or any(room.noise_dba < float("inf") for room in household.rooms)
    made = sides(tanks, active, catalog, household.budget, common_spares(tanks), handed, apart)
    fixed = [_as_it_is(n, tanks[n], now[n].flow_m3s) for n in content]
    products = {product.id: product for side in made for product in side.problem.shop.products}
    runs = sum(position.kind == Kind.HOSE for n in active for position in tanks[n].rig.every_position)
    program = Program(household, range(len(tanks)), products, {each.id: each for each in handed}, runs, household.budget)
    sharing = Sharing(program, made, fixed, progress or (lambda *_: None))
    return Sought(
        household=household, catalog=catalog, now=now, content=content, sides=tuple(made), handed=handed, sharing=sharing
    )


def _as_it_is(number: int, tank: HouseTank, flow_m3s: float) -> Column:
    """The one column of a tank that gets nothing."""
    pump = tank.rig.pump
    noise = float(at_distance_dba(pump.noise_dba, 1.0, tank.rig.listen_m)) - tank.rig.cabinet_db
    return Column(number, flow_m3s, 0.0, None, None, frozenset(), (), noise, pump.power_w, True)


def aims(tanks: Sequence[HouseTank]) -> tuple[Aim, ...]:
    """The three aims. Ratios count up to the target and in thousandths of it, flows in l/h, each to the resolution of flows."""
    targets = [tank.target_m3s for tank in tanks]

    def ratio(number: int, flow_m3s: float) -> float:
        return PER_MILLE * min(1.0, flow_m3s / targets[number])

    def shortfall(number: int, flow_m3s: float) -> float:
        return -LITRES_PER_HOUR * max(0.0, targets[number] - flow_m3s)

    def delivered(_: int, flow_m3s: float) -> float:
        return LITRES_PER_HOUR * flow_m3s

    close = RESOLUTION_M3S * LITRES_PER_HOUR
    worst = tuple(Stage(ratio, k) for k in range(1, len(tanks) + 1))
    return (
        Aim(name=AIMS[0], stages=worst, close=PER_MILLE * RESOLUTION_M3S / min(targets)),
        Aim(name=AIMS[1], stages=(Stage(shortfall),), close=close),
        Aim(name=AIMS[2], stages=(Stage(delivered),), close=close),
    )
