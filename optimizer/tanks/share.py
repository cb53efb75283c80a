"""Sharing one budget between the tanks of a household: what is asked, the aims side by side, and what each comes to."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from optimizer.answers.question import stands_now
from optimizer.answers.rows import Standing
from optimizer.model.catalog import Catalog
from optimizer.model.fitted import ByFills
from optimizer.model.household import Household, HouseTank, waters
from optimizer.model.parts import Kind, Part
from optimizer.search.best import RESOLUTION_M3S
from optimizer.search.choices import jobs_with_tools
from optimizer.tanks.hand_me_downs import HandMeDown, common_spares, handed_parts
from optimizer.tanks.household import Aim, Progress, Sharing
from optimizer.tanks.joint_prices import Bounds
from optimizer.tanks.measured import by_their_fills
from optimizer.tanks.program import AimStage, Column, Program
from optimizer.tanks.signatures import Side, sides

AIMS = ("worst tank first", "least total shortfall", "most total flow")
"""The three aims, in a keeper's words."""

LITRES_PER_HOUR = 3.6e6
PER_MILLE = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """A household prepared for its search, by its fills where it has any (``by_fills``, filter by filter).

    ``now`` are the loops as they are today (of a filter that is not there, as it would come), ``content`` numbers of the filters
    of tanks that have enough, ``aside`` of those that meet their limits with no bundle. What has enough or is set aside gets
    nothing and keeps all it has.
    """

    household: Household
    catalog: Catalog
    now: tuple[Standing, ...]
    content: tuple[int, ...]
    aside: tuple[int, ...]
    sides: tuple[Side, ...]
    handed: tuple[HandMeDown, ...]
    sharing: Sharing
    by_fills: tuple[ByFills | None, ...]

    @property
    def waters(self) -> tuple[tuple[int, ...], ...]:
        """The filters of each tank by number."""
        return waters(self.household.tanks)

    def now_m3s(self, number: int) -> float:
        """What a filter delivers today."""
        return self.now[number].flow_m3s if self.household.tanks[number].is_there else 0.0


def sought(household: Household, catalog: Catalog, progress: Progress | None = None, measured: bool = True) -> Sought:
    """Everything that the aims have in common; not ``measured``: as if no fills had been made. Raises ValueError when no budget
    is set, InputError for fills that no loop can explain."""
    if household.budget is None:
        raise ValueError("a household needs a budget")
    cure = (
        "Leave postage, free_from and least_order empty in suppliers.csv and take what one common order is charged off the "
        "budget; or ask for one tank at a time, where postage is counted."
    )
    catalog.refuse_charges("a household's shared bill", cure)
    household, told = by_their_fills(household, measured)
    return prepared(household, told, catalog, progress)


def prepared(
    household: Household,
    told: tuple[ByFills | None, ...],
    catalog: Catalog,
    progress: Progress | None = None,
    held: Mapping[int, bool] = MappingProxyType({}),
) -> Sought:
    """The same for a household that goes by its fills already. ``held``: filters that are not there yet, by number, of which
    it is settled that they are got (True) or not; all others are got where that is best."""
    budget = household.budget or 0
    tanks = household.tanks
    now = tuple(stands_now(tank.rig, catalog) for tank in tanks)
    content = _content(tanks, now)
    left = [n for n, got in held.items() if not got and n not in content]
    aside, made = _possible(household, catalog, [*content, *left])
    fixed = [_as_it_is(n, tanks[n], now[n].flow_m3s) for n in (*content, *left, *aside)]
    options = [side.number for side in made if not side.tank.is_there and side.number not in held]
    fixed += map(Column.absent, options)
    sharing = Sharing(_program(household, made, budget), made, fixed, progress or (lambda *_: None))
    return Sought(
        household=household,
        catalog=catalog,
        now=now,
        content=content,
        aside=aside,
        sides=tuple(made),
        handed=tuple(_handed(tanks, (*content, *left, *aside), catalog.parts)),
        sharing=sharing,
        by_fills=told,
    )


def _content(tanks: Sequence[HouseTank], now: Sequence[Standing]) -> tuple[int, ...]:
    """The filters of tanks that have enough."""
    found: list[int] = []
    for members in waters(tanks):
        flow = sum(now[n].flow_m3s for n in members if tanks[n].is_there)
        found += members if flow >= tanks[members[0]].target_m3s * (1 - 1e-9) else ()
    return tuple(sorted(found))


def _possible(household: Household, catalog: Catalog, content: Sequence[int]) -> tuple[tuple[int, ...], list[Side]]:
    """Tanks that meet their limits with no bundle even for all the money, and the searches of the others.

    Without what a tank set aside could have freed another one may be impossible too; with it none becomes possible.
    """
    aside: list[int] = []
    while True:
        made = _sides(household, catalog, (*content, *aside), household.budget or 0)
        more = [side.number for side in made if _impossible(side, household.budget or 0)]
        if not more:
            return tuple(sorted(aside)), made
        aside += more


def _impossible(side: Side, budget: int) -> bool:
    """True when it is proved that no bundle of a tank meets its limits, whatever the others do; a search that gave up proves
    nothing."""
    for mask in (side.without(side.others), side.seeker.all):
        outcome = side.asked(mask, budget).least_price(0.0)
        side.hear()
        if outcome.found is not None:
            return False
    return outcome.status == "proved"


def _sides(household: Household, catalog: Catalog, idle: Sequence[int], budget: int) -> list[Side]:
    tanks = household.tanks
    active = [n for n in range(len(tanks)) if n not in idle]
    return sides(tanks, active, catalog, budget, common_spares(tanks, household.spares), _handed(tanks, idle, catalog.parts))


def _handed(tanks: Sequence[HouseTank], idle: Sequence[int], parts: Mapping[str, Part]) -> list[HandMeDown]:
    """What could be handed on, in a world where these parts are for sale, tools among them."""
    return handed_parts(tanks, idle, jobs_with_tools(parts.values()))


def _program(household: Household, made: Sequence[Side], budget: int) -> Program:
    tanks, busy = household.tanks, [side.number for side in made]
    parts = made[0].problem.shop.parts if made else {}
    handed = _handed(tanks, [n for n in range(len(tanks)) if n not in busy], parts)
    products = {product.id: product for side in made for product in side.problem.shop.products}
    runs = sum(position.kind == Kind.HOSE for n in busy for position in tanks[n].rig.every_position)
    by_id = {each.id: each for each in handed}
    return Program(household, range(len(tanks)), products, by_id, runs, budget, Bounds.of(household, by_id, made))


def _as_it_is(number: int, tank: HouseTank, flow_m3s: float) -> Column:
    """The one column of a tank that gets nothing."""
    if not tank.is_there:
        return Column.absent(number)
    pump = tank.rig.pump
    return Column(number, flow_m3s, None, tank.rig.heard_dba(pump), pump.power_w)


def aims(tanks: Sequence[HouseTank], aside: Collection[int] = ()) -> tuple[Aim, ...]:
    """The three aims. Ratios count up to the target and in thousandths of it, flows in l/h, each to the resolution of flows; the
    filters of one tank count by the sum of their flows. Tanks all of whose filters are set ``aside`` (by number) count as at
    their targets: nothing that is chosen changes them."""
    together = waters(tanks)
    targets = [tanks[members[0]].target_m3s for members in together]
    settled = {number for number, members in enumerate(together) if set(members) <= set(aside)}
    full = tuple(0.0 if number in settled else target for number, target in enumerate(targets))

    def ratio(number: int, flow_m3s: float) -> float:
        return PER_MILLE * (1.0 if number in settled else min(1.0, flow_m3s / targets[number]))

    def shortfall(number: int, flow_m3s: float) -> float:
        return 0.0 if number in settled else -LITRES_PER_HOUR * max(0.0, targets[number] - flow_m3s)

    def delivered(_: int, flow_m3s: float) -> float:
        return LITRES_PER_HOUR * flow_m3s

    close = RESOLUTION_M3S * LITRES_PER_HOUR
    endless = (float("inf"),) * len(together)
    worst = tuple(AimStage(ratio, full, k) for k in range(1, len(together) + 1))
    return (
        Aim(name=AIMS[0], stages=worst, close=PER_MILLE * RESOLUTION_M3S / min(targets)),
        Aim(name=AIMS[1], stages=(AimStage(shortfall, full),), close=close),
        Aim(name=AIMS[2], stages=(AimStage(delivered, endless),), close=close),
    )
