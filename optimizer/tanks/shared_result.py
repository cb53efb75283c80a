"""The answer for a household: all aims side by side, and for one of them tanks, bill, parts handed on and the order of work."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from optimizer.answers.bill import change_lines, joint_lines
from optimizer.answers.conflict import conflict
from optimizer.answers.question import Question, found_standing
from optimizer.answers.words import money
from optimizer.model.catalog import Catalog
from optimizer.model.household import Household
from optimizer.model.options import KEEP
from optimizer.model.results import BillLine
from optimizer.model.said import Said, flowing
from optimizer.model.shared import AimRow, FilterCount, HandedOn, RoomNoise, SharedResult, TankShare, WorkStep
from optimizer.search.best import Found
from optimizer.search.exact import Bundle
from optimizer.search.pricing import Cover
from optimizer.tanks import chain
from optimizer.tanks.hand_me_downs import common_spares
from optimizer.tanks.household import Progress, Shared
from optimizer.tanks.program import Column, ProgramChoice
from optimizer.tanks.several_filters import OF_EACH, filter_counts, heard_dba, together, too_much
from optimizer.tanks.share import AIMS, Sought, aims, sought
from optimizer.tanks.shared_bill_lines import household_bill, parts_of
from optimizer.tanks.signatures import every_option

NOTE = "every tank is opened once; the budgets in the rig files do not count, that of the household does"


Between = Callable[[str, str], None]

OBJECTIVES = dict(zip(("worst", "shortfall", "flow"), AIMS, strict=True))
"""The aims by the names that they are asked for by."""


def share(
    household: Household,
    catalog: Catalog,
    *,
    budget: int | None = None,
    objective: str = "worst",
    measured: bool = True,
    all_aims: bool = False,
    progress: Progress | None = None,
    between: Between | None = None,
) -> SharedResult:
    """One budget shared between the tanks of a household: who gets what, what is handed on, the order of work and one bill.

    ``objective`` names the aim that is answered: ``worst``, ``shortfall`` or ``flow``; with ``all_aims`` the others are answered
    too, and the bill is for that one. ``budget`` in minor units replaces the household's own; the fills of its rigs count as in
    `best`, unless ``measured`` is False. Raises ValueError when there is no budget, and for an unknown objective, InputError for
    fills that no loop can explain. ``between`` is told in words what the best so far comes to and what nothing exceeds.
    """
    if objective not in OBJECTIVES:
        raise ValueError(f"no objective is called {objective}")
    asked = household if budget is None else replace(household, budget=budget)
    return shared_answer(asked, catalog, OBJECTIVES[objective], progress, measured, all_aims, between)


def shared_answer(
    household: Household,
    catalog: Catalog,
    aim: str = AIMS[0],
    progress: Progress | None = None,
    measured: bool = True,
    all_aims: bool = False,
    between: Between | None = None,
) -> SharedResult:
    """The answer for one of `AIMS`, with ``all_aims`` beside those for the others; not ``measured``: as if no fills had been
    made. Raises ValueError when no budget is set or the aim is not known, InputError for fills that no loop can explain."""
    if aim not in AIMS:
        raise ValueError(f"no aim is called {aim}")
    ready = sought(household, catalog, progress, measured)
    household = ready.household
    found: dict[str, Shared] = {}
    wanted = sorted(aims(household.tanks, ready.aside), key=lambda a: a.name != aim)
    if between is not None:
        ready.sharing.between = lambda best, most: between(BRIEFLY[aim](best), BRIEFLY[aim](most))
    for each in wanted if all_aims else wanted[:1]:
        if found and ready.sharing.halted:
            break
        found[each.name] = ready.sharing.answer(each)
    rows = tuple(_aim_row(ready, found[name]) for name in AIMS if name in found and found[name].chosen)
    asked = found[aim]
    chosen = asked.chosen
    if chosen is None or not (ready.sides or ready.content):
        return _result(ready, aim, asked, (), None, (), (), ())
    handed = tuple(_handed_on(ready, chosen))
    told = _tanks(ready, chosen, asked)
    busy = [each.name for each in told if any(change.change != KEEP for change in each.changes) or (each.option and each.there)]
    names = [tank.name for tank in household.tanks]
    steps = chain.steps(names, [names.index(name) for name in busy], chosen.before, handed)
    bill = household_bill(ready.sides, chosen.columns, chosen.bought)
    counts = {} if ready.sharing.halted else filter_counts(ready, wanted[0], asked, progress)
    return _result(ready, aim, asked, rows, chosen, handed, tuple(steps), bill, counts)


def _result(
    ready: Sought,
    aim: str,
    asked: Shared,
    rows: tuple[AimRow, ...],
    chosen: ProgramChoice | None,
    handed: tuple[HandedOn, ...],
    steps: tuple[WorkStep, ...],
    bill: tuple[BillLine, ...],
    counts: Mapping[int, tuple[FilterCount, ...]] = MappingProxyType({}),
) -> SharedResult:
    household = ready.household
    infeasible = chosen is None and (asked.status == "proved" or not ready.sides)
    return SharedResult(
        household=household.name,
        catalog=ready.catalog.name,
        currency=ready.catalog.currency,
        budget=household.budget or 0,
        aim=aim,
        outcome="infeasible" if infeasible else asked.status,
        price=0 if chosen is None else round(chosen.price),
        aims=rows,
        tanks=() if chosen is None else tuple(_tanks(ready, chosen, asked)),
        handed_on=handed,
        steps=steps,
        rooms=() if chosen is None else tuple(_rooms(household, chosen)),
        power_w=0.0 if chosen is None else sum(column.power_w for column in chosen.columns),
        most_power_w=household.power_w,
        bill=bill,
        cautions=() if chosen is None else (*too_much(ready, asked.flows_m3s), *chain.cautions(handed)),
        notes=(NOTE, *([OF_EACH] if len(ready.waters) < len(household.tanks) else []), *household.notes),
        reasons=_reasons(ready) if infeasible else (),
        gap=_gap(asked),
        turns=ready.sharing.turns,
        together=() if chosen is None else together(ready, chosen, asked.flows_m3s, counts),
    )


SAYS: Mapping[str, Callable[[float], str]] = {
    AIMS[0]: lambda value: Said(f"{value / 10.0:.1f} % of its target for the worst tank"),
    AIMS[1]: lambda value: Said(flowing(-value / 3.6e6, 1), " short of all targets together"),
    AIMS[2]: lambda value: Said(flowing(value / 3.6e6, 1), " in all tanks together"),
}
"""The first sum of each aim in words."""

BRIEFLY: Mapping[str, Callable[[float], str]] = {
    AIMS[0]: lambda value: f"{value / 10.0:.1f} %",
    AIMS[1]: lambda value: Said(flowing(-value / 3.6e6, 1), " short"),
    AIMS[2]: lambda value: Said(flowing(value / 3.6e6, 1)),
}
"""The same for one line of progress."""

LIKE = 0.5
"""Sums that differ by less than this, a part in two thousand of a target or half a litre per hour, are called the same."""


def _gap(asked: Shared) -> str:
    """What is not proved: by how much the aim itself could still be missed, or what comes after it."""
    if asked.status == "proved" or not asked.values:
        return ""
    value, bound = asked.values[0], asked.bounds[0]
    reached = Said("reached are ", SAYS[asked.aim](value))
    if math.isinf(bound):
        return Said(reached, ", how much more is possible is not known")
    if bound <= value + LIKE:
        return Said(reached, ", and no choice does better in that, but one may cost less or leave the other tanks better")
    return Said(reached, "; the best that could still exist is ", SAYS[asked.aim](bound))


def _aim_row(ready: Sought, found: Shared) -> AimRow:
    chosen = found.chosen
    if chosen is None:
        raise ValueError("an aim without a choice has no row")
    tanks, counted = ready.household.tanks, [members for members in ready.waters if not set(members) <= set(ready.aside)]
    pairs = [(tanks[members[0]].target_m3s, sum(found.flows_m3s[n] for n in members)) for members in counted]
    return AimRow(
        aim=found.aim,
        status=found.status,
        price=round(chosen.price),
        flows_m3s=found.flows_m3s,
        least_share=min((min(1.0, flow / target) for target, flow in pairs), default=1.0),
        shortfall_m3s=sum(max(0.0, target - flow) for target, flow in pairs),
        total_m3s=sum(found.flows_m3s),
        power_w=sum(column.power_w for column in chosen.columns),
    )


def _tanks(ready: Sought, chosen: ProgramChoice, asked: Shared) -> Sequence[TankShare]:
    sides = {side.number: side for side in ready.sides}
    found = []
    sums = {number: sum(asked.flows_m3s[n] for n in members) for members in ready.waters for number in members}
    each = zip(chosen.columns, ready.household.tanks, ready.now, asked.flows_m3s, ready.by_fills, strict=True)
    for column, tank, now, flow, told in each:
        side = sides.get(column.tank)
        stands = now
        if side is not None and column.bundle is not None:
            bare = Bundle(column.bundle.path, Cover(0, ()), 0)
            stands = found_standing(side.problem.choices.rig, side.seeker, Found(bare, side.seeker.delivered(bare)))
        found.append(
            TankShare(
                name=tank.name,
                room=tank.room,
                target_m3s=tank.target_m3s,
                now_m3s=ready.now_m3s(column.tank),
                flow_m3s=flow,
                share=min(1.0, sums[column.tank] / tank.target_m3s),
                noise_dba=heard_dba([column.noise_dba]),
                power_w=column.power_w,
                enough=column.tank in ready.content,
                set_aside=_own_reasons(ready, column.tank) if column.tank in ready.aside else (),
                changes=() if side is None or not column.is_there else change_lines(stands.options),
                joints=() if side is None or not column.is_there else joint_lines(stands.options, stands.joints),
                by_fills=told,
                tank=tank.water,
                option=not tank.is_there,
                price=tank.price or 0,
                there=column.is_there,
            )
        )
    return found


def _handed_on(ready: Sought, chosen: ProgramChoice) -> Sequence[HandedOn]:
    tanks, by_id = ready.household.tanks, {each.id: each for each in ready.handed}
    sides = {side.number: side for side in ready.sides}
    found = []
    for column in chosen.columns:
        for name, _ in column.bundle.taken if column.bundle else ():
            options, _joints = parts_of(sides[column.tank], column)
            places = tuple(o.place for o in every_option([options]) if any(item.key[1] == name for item in o.items))
            each = by_id[name]
            found.append(
                HandedOn(
                    part=each.was.name,
                    from_tank=tanks[each.owner].name,
                    from_place=each.position,
                    to_tank=tanks[column.tank].name,
                    to_places=places,
                )
            )
    return found


def _rooms(household: Household, chosen: ProgramChoice) -> Sequence[RoomNoise]:
    found = []
    for room in household.rooms:
        levels = [column.noise_dba for column in chosen.columns if household.tanks[column.tank].room == room.name]
        found.append(RoomNoise(room=room.name, noise_dba=heard_dba(levels), most_dba=room.noise_dba))
    return found


def _own_reasons(ready: Sought, number: int) -> tuple[str, ...]:
    """Why no bundle of a tank meets its limits for all the money of the household: the reasons that it would be given if it were
    asked about alone, with the spares of all tanks."""
    tank = ready.household.tanks[number]
    left = (ready.household.budget or 0) - (tank.price or 0)
    if left < 0:
        return (f"it alone costs {money(tank.price or 0)}",)
    rig = replace(tank.rig, spares=common_spares(ready.household.tanks, ready.household.spares))
    said = conflict(Question(rig=rig, catalog=ready.catalog, limits=replace(rig.limits, budget=left)))
    words = Said.joined(said.limits, "; ") or "no bundle of this catalog fits"
    return (Said("cannot hold together: ", words), Said("closest: ", said.closest), *said.remedies)


def _reasons(ready: Sought) -> tuple[str, ...]:
    """Why there is no answer: what each tank alone would need, and what then stands in the way."""
    household, least = ready.household, 0
    found: list[str] = []
    fixed: list[Column] = list(ready.sharing.fixed)
    for number in ready.aside:
        found += [Said(f"{household.tanks[number].name}: ", reason) for reason in _own_reasons(ready, number)]
    for side in (side for side in ready.sides if side.tank.is_there):
        outcome = side.asked(side.seeker.all, household.budget or 0).least_price(0.0)
        if outcome.found is None:
            continue  # too crowded to tell: nothing is said of it
        price = outcome.found.bundle.price
        least += price
        found.append(f"{side.tank.name}: its own limits can be met from {money(price)} on")
    if household.budget is not None and least > household.budget:
        found.append(f"one by one the tanks need {money(least)}; the household has {money(household.budget)}")
    for room in household.rooms:
        pumps = sum(household.tanks[n].room == room.name for n in range(len(household.tanks)))
        if room.noise_dba < float("inf") and pumps:
            found.append(f"room {room.name}: {pumps} pumps together may make {room.noise_dba:.1f} dB(A)")
    if household.power_w < float("inf"):
        drawn = sum(column.power_w for column in fixed)
        already = f", of which {drawn:.0f} W are drawn by tanks that get nothing" if drawn else ""
        found.append(f"all pumps together may draw {household.power_w:.0f} W{already}")
    return tuple(found)
