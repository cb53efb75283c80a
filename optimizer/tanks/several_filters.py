"""Tanks with several filters: what these do together, and how many for the same money.

"Two small ones or one large?" is answered by asking the same question again with a number of filters held: as many as are
there, one more, and so on up to all that the household file describes. Each is a whole search over everything that is shared,
proved like any other, and the best of them is the answer found without holding the number, since that has one of these numbers.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from optimizer.model.said import Said, flowing
from optimizer.model.shared import FilterCount, Together
from optimizer.physics.sound import combine_dba
from optimizer.tanks.household import Aim, Progress, Shared
from optimizer.tanks.program import ProgramChoice
from optimizer.tanks.share import Sought, prepared

OF_EACH = (
    "what the rig file of one of several filters on a tank sets as limits (flow, noise, watts, surface for bacteria) is asked of "
    "that filter alone; noise and watts of all together are bounded by the room and the household"
)


def filter_counts(ready: Sought, aim: Aim, asked: Shared, progress: Progress | None = None) -> dict[int, tuple[FilterCount, ...]]:
    """For each tank (by number) with filters that could be got: the best with each number of filters, for the money of all.

    Empty for tanks that have enough. ``asked`` is the best whatever the number. After Ctrl-C no further number is asked for.
    """
    tanks = ready.household.tanks
    found: dict[int, tuple[FilterCount, ...]] = {}
    for number, members in enumerate(ready.waters):
        there = sum(tanks[n].is_there for n in members)
        if there == len(members) or set(members) <= set(ready.content):
            continue
        for count in range(max(there, 1), len(members) + 1):
            best = asked if _standing(asked, members) == count else with_filters(ready, aim, members, count, progress)
            if best is None:
                return found
            found[number] = (*found.get(number, ()), _row(ready, members, count, best))
    return found


def with_filters(ready: Sought, aim: Aim, members: Sequence[int], count: int, progress: Progress | None = None) -> Shared | None:
    """The best for an aim where a tank (``members`` are its filters) has so many filters: of all sets of those that could be got
    the best, proved where each is. How many other tanks have is free. None after Ctrl-C."""
    tanks = ready.household.tanks
    options = [n for n in members if not tanks[n].is_there]
    alike = {n: next(m for m in options if (tanks[m].rig, tanks[m].price) == (tanks[n].rig, tanks[n].price)) for n in options}
    found = []
    # of two sets of filters that are the same to a shop one is enough
    sets = {tuple(alike[n] for n in some): some for some in combinations(options, count - (len(members) - len(options)))}
    for some in sets.values():
        try:
            fresh = prepared(ready.household, ready.by_fills, ready.catalog, progress, {n: n in some for n in options})
        except KeyboardInterrupt:
            return None
        impossible = set(fresh.aside) & set(some)
        none = Shared(aim=aim.name, chosen=None, flows_m3s=(), status="proved")
        found.append(none if impossible else fresh.sharing.answer(aim))
        if fresh.sharing.halted:
            return None
    return replace(_best_of(found, aim), status="proved" if all(each.status == "proved" for each in found) else "stopped")


def _best_of(found: Sequence[Shared], aim: Aim) -> Shared:
    """The best by the stages of an aim, as far as differences count, and of equals the cheapest."""
    left = [each for each in found if each.chosen is not None] or list(found[:1])
    for stage in range(len(aim.stages)):
        most = max((each.values[stage] for each in left if each.chosen is not None), default=0.0)
        left = [each for each in left if each.chosen is None or each.values[stage] >= most - aim.close]
    return min(left, key=lambda each: math.inf if each.chosen is None else each.chosen.price)


def _standing(found: Shared, members: Sequence[int]) -> int:
    return 0 if found.chosen is None else sum(column.is_there for column in found.chosen.columns if column.tank in members)


def _row(ready: Sought, members: Sequence[int], count: int, found: Shared) -> FilterCount:
    if found.chosen is None:
        outcome = "infeasible" if found.status == "proved" else "stopped"
        return FilterCount(filters=count, names=(), outcome=outcome, flow_m3s=0.0, price=0)
    names = (ready.household.tanks[c.tank].name for c in found.chosen.columns if c.tank in members and c.is_there)
    return FilterCount(
        filters=count,
        names=tuple(names),
        outcome=found.status,
        flow_m3s=sum(found.flows_m3s[n] for n in members),
        price=round(found.chosen.price),
    )


def heard_dba(levels_dba: Sequence[float]) -> float | None:
    """The level of some pumps together (dB(A)); None where none makes a sound.

    >>> heard_dba([float("-inf")]) is None, round(heard_dba([30.0, 30.0]) or 0.0, 1)
    (True, 33.0)
    """
    level = float(combine_dba(levels_dba)) if levels_dba else -math.inf
    return level if math.isfinite(level) else None


def together(
    ready: Sought, chosen: ProgramChoice, flows_m3s: Sequence[float], counts: Mapping[int, tuple[FilterCount, ...]]
) -> tuple[Together, ...]:
    """The tanks with several filters, in order."""
    found = []
    columns = {column.tank: column for column in chosen.columns}
    for number, members in enumerate(ready.waters):
        tank, flow = ready.household.tanks[members[0]], sum(flows_m3s[n] for n in members)
        if not tank.water:
            continue
        found.append(
            Together(
                tank=tank.water,
                filters=tuple(ready.household.tanks[n].name for n in members),
                target_m3s=tank.target_m3s,
                now_m3s=sum(map(ready.now_m3s, members)),
                flow_m3s=flow,
                share=min(1.0, flow / tank.target_m3s),
                turnover_per_hour=tank.rig.turnover_per_hour(flow),
                noise_dba=heard_dba([columns[n].noise_dba for n in members]),
                power_w=sum(columns[n].power_w for n in members),
                counts=counts.get(number, ()),
            )
        )
    return tuple(found)


def too_much(ready: Sought, flows_m3s: Sequence[float]) -> tuple[str, ...]:
    """A caution for each tank whose filters together pass more than the rig file of one of them allows each of them."""
    found = []
    for members in ready.waters:
        tanks = [ready.household.tanks[n] for n in members]
        flow, most = sum(flows_m3s[n] for n in members), min(tank.rig.limits.flow_max_m3s for tank in tanks)
        if len(members) > 1 and math.isfinite(most) and flow > most * (1 + 1e-9):
            first = Said(f"{tanks[0].whose}: its filters together deliver ", flowing(flow), ", each no more than its own limit. ")
            bound = Said("Where the ", flowing(most), " of a rig file are the most that the animals bear in the whole tank, set ")
            found.append(Said(first, bound, "the filters back by their valves until the sum is no more."))
    return tuple(found)
