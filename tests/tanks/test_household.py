"""The household against brute force: every bundle of every tank, every combination of them, the joint bill found by trying.

The listing below is a computation of its own: it knows nothing of cells, columns, shares or programs. Chains and flows of single
bundles come from `enumeration` (flows by SciPy's general root finder), the bill from a recursion that tries every way to serve
each piece.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import permutations, product

import numpy as np
import pytest
from enumeration import _listed, _Table
from how_many import some_of
from small_households import household, one_water

from optimizer.model.catalog import Catalog, Line
from optimizer.model.household import Household, waters
from optimizer.model.items import Item, line_serves
from optimizer.search.choices import choices
from optimizer.tanks.hand_me_downs import common_spares, handed_parts, with_spares
from optimizer.tanks.household import Aim, Shared
from optimizer.tanks.several_filters import with_filters
from optimizer.tanks.share import Sought, aims, sought
from optimizer.tanks.shared_result import shared_answer

SEEDS = sorted({*some_of(range(220), 32), 96})
"""In 96 parts go from the first tank to the second and from there to the third."""
SEVERAL = sorted({*some_of([seed for seed in range(160) if seed % 4], 17), 23})
"""Without chains, where holding numbers takes long. In 23 a first look at a front leaves nothing open."""
LITRES_PER_HOUR = 3.6e6
Bill = Callable[[tuple["One", ...]], float]


@dataclass(frozen=True)
class One:
    """A bundle of one filter: flow, items to be bought, parts kept and taken, noise and watts; ``price`` of a filter that was not
    there, ``there`` whether it is."""

    flow: float
    items: tuple[Item, ...]
    kept: frozenset[str]
    taken: tuple[tuple[str, float], ...]
    noise: float
    watts: float
    price: int = 0
    there: bool = True


ABSENT = One(0.0, (), frozenset(), (), -np.inf, 0.0, there=False)
"""A filter that is not got."""


def bundles(house: Household, catalog: Catalog, number: int, content: list[int]) -> list[One]:
    """Every bundle of one tank that is within its own limits, whatever it costs."""
    tank = house.tanks[number]
    handed = handed_parts(house.tanks, content)
    others = {each.id: each for each in handed if each.owner != number}
    own = {each.place: each.id for each in handed if each.owner == number}
    rig = with_spares(tank.rig, common_spares(house.tanks), others.values())
    menu = choices(rig, catalog, replace(rig.limits, budget=None))
    worn = tuple(
        tuple(
            replace(o, speed=o.speed * (1 - others[o.part.id].worn)) if o.part and o.part.id in others and o.part.curve else o
            for o in some
        )
        if place == rig.index("pump")
        else some
        for place, some in enumerate(menu.options)
    )
    menu = replace(menu, options=worn)
    rows, joints = _listed(menu)
    table = _Table(menu, np.array(rows, dtype=np.intp), joints)
    numbered = table.bundles(np.arange(len(rows), dtype=float))
    found = {}
    for place in range(len(numbered.price)):
        row = int(numbered.price[place])
        if numbered.flow_m3s[place] < rig.limits.flow_min_m3s * (1 - 1e-9) or not numbered.holds[place]:
            continue
        options = [some[n] for some, n in zip(menu.options, rows[row], strict=True)]
        items = [i for o in options for i in o.items] + [i for way in joints[row] for i in way.items]
        taken: Counter[str] = Counter()
        for item in items:
            if item.key[1] in others:
                taken[item.key[1]] += item.weight
        one = One(
            float(numbered.flow_m3s[place]),
            tuple(sorted(i for i in items if i.key[1] not in others)),
            frozenset(own[n] for n, o in enumerate(options) if n in own and o.is_installed),
            tuple(sorted(taken.items())),
            float(numbered.noise_dba[place]),
            options[rig.index("pump")].power_w,
            tank.price or 0,
        )
        found[one] = None
    return list(found)


def naive_bill(house: Household, catalog: Catalog, items: tuple[Item, ...]) -> float:
    """The least price of all items together, by trying every way to serve each of them in turn."""
    spares = common_spares(house.tanks)
    parts = {**catalog.parts, **{spare.part.id: spare.part for spare in spares}}
    offers = [(p.price, p.lines, p.stock, p.step_m, p) for p in catalog.products]

    @cache
    def serves(line: Line, item: Item) -> bool:
        return line_serves(line, parts[line.part_id], item.key)

    @cache
    def least(left: tuple[Item, ...], open_lines: tuple[tuple[str, float], ...], used: tuple[int, ...], clamps: int) -> float:
        if not left:
            return 0.0
        item, rest = left[0], left[1:]
        best = float("inf")
        if clamps and any(line_serves_spare(spare, item) for spare in spares):
            best = least(rest, open_lines, used, clamps - 1)
        for n, (part_id, room) in enumerate(open_lines):
            line = next(line for p in catalog.products for line in p.lines if line.part_id == part_id)
            if serves(line, item) and room >= item.weight - 1e-9 and (part_id, room) not in open_lines[:n]:
                after = tuple(sorted((*open_lines[:n], *open_lines[n + 1 :], (part_id, room - item.weight))))
                best = min(best, least(rest, tuple(o for o in after if o[1] > 1e-9), used, clamps))
        for k, (price, lines, stock, step, whole) in enumerate(offers):
            serving = [line for line in lines if serves(line, item)]
            takes = int(np.ceil(item.weight / step - 1e-9)) if step else 1
            if not serving or (stock is not None and used[k] + takes > (round(stock / step) if step else stock)):
                continue
            counted = (*used[:k], used[k] + takes, *used[k + 1 :]) if stock is not None else used
            if step:
                best = min(best, whole.cut_price(item.weight) + least(rest, open_lines, counted, clamps))
                continue
            rooms = [(line.part_id, line.amount_m or float(line.count)) for line in lines]
            for m, (part_id, room) in enumerate(rooms):
                if lines[m] in serving and room >= item.weight - 1e-9:
                    bought = [*rooms[:m], (part_id, room - item.weight), *rooms[m + 1 :]]
                    after = tuple(sorted(o for o in (*open_lines, *bought) if o[1] > 1e-9))
                    best = min(best, price + least(rest, after, counted, clamps))
        return best

    def line_serves_spare(spare, item: Item) -> bool:
        return item.key[0] == "clamp" and spare.part.fits(item.key[2])

    ordered = tuple(sorted(items, key=lambda item: (-item.weight, item.key)))
    return least(ordered, (), (0,) * len(offers), sum(spare.count for spare in spares))


def fits(house: Household, handed: dict, chosen: tuple[One, ...]) -> bool:
    """Rooms, watts, and parts handed on: freed, once, by tanks that can be done in some order."""
    for room in house.rooms:
        levels = [one.noise for one, tank in zip(chosen, house.tanks, strict=True) if tank.room == room.name and one.there]
        if levels and 10 * np.log10(sum(10 ** (level / 10) for level in levels)) > room.noise_dba + 1e-9:
            return False
    if sum(one.watts for one in chosen) > house.power_w + 1e-9:
        return False
    used: Counter[str] = Counter()
    for one in chosen:
        for name, amount in one.taken:
            used[name] += amount
    kept = set().union(*(one.kept for one in chosen))
    if any(name in kept or amount > (handed[name].length_m or 1.0) + 1e-9 for name, amount in used.items()):
        return False
    arrows = {(handed[name].owner, n) for n, one in enumerate(chosen) for name, _ in one.taken}
    return any(all(order.index(a) < order.index(b) for a, b in arrows) for order in permutations(range(len(chosen))))


def options_of_tanks(house: Household, catalog: Catalog, found: Sought) -> tuple[list[list[One]], list[int]]:
    """What each tank could do, and the tanks of which no bundle can be paid with all the money. These, and those that have
    enough, stay as they are."""
    idle = list(found.content)
    while True:
        each = [_as_it_is(house, found, n) if n in idle else bundles(house, catalog, n, idle) for n in range(len(house.tanks))]
        hopeless = [
            n
            for n, ones in enumerate(each)
            if n not in idle and all(naive_bill(house, catalog, one.items) + one.price > house.budget for one in ones)
        ]
        if not hopeless:
            options = [n for n, tank in enumerate(house.tanks) if tank.price is not None and n not in idle]
            each = [[*ones, ABSENT] if n in options else ones for n, ones in enumerate(each)]
            return each, [n for n in idle if n not in found.content]
        idle += hopeless


def _as_it_is(house: Household, found: Sought, n: int) -> list[One]:
    if house.tanks[n].price is not None:
        return [ABSENT]
    pump = house.tanks[n].rig.pump
    level = pump.noise_dba - 20 * np.log10(house.tanks[n].rig.listen_m)
    return [One(found.now[n].flow_m3s, (), frozenset(), (), level, pump.power_w)]


@pytest.mark.parametrize("seed", SEEDS)
def test_equals_brute_force(seed: int) -> None:
    """The answer is proved, is worth what the best of all combinations is worth, and costs what the cheapest of its like does."""
    house, catalog = household(seed)
    check(house, catalog, seed % 3)


@pytest.mark.parametrize("budget", [0, 1, 1_000_000])
@pytest.mark.parametrize("seed", range(3))
def test_equals_brute_force_with_odd_budgets(seed: int, budget: int) -> None:
    """No money, the least there is, and far more than can be of use."""
    house, catalog = household(seed)
    check(replace(house, budget=budget), catalog, (seed + budget) % 3)


@pytest.mark.parametrize("seed", SEVERAL)
def test_several_filters_equal_brute_force(seed: int) -> None:
    """Filters that stand at one tank count by the sum of their flows, those that are not there may be got or left; and with a
    number of filters held the answer is the best of those with that number."""
    house, catalog = one_water(seed)
    check(house, catalog, seed % 3, counted=True)


def check(house: Household, catalog: Catalog, aim_number: int, counted: bool = False) -> None:
    found = sought(house, catalog)
    each, aside = options_of_tanks(house, catalog, found)
    assert sorted(aside) == list(found.aside)
    handed = {each.id: each for each in handed_parts(house.tanks, [*found.content, *aside])}
    combos = [chosen for chosen in product(*each) if fits(house, handed, chosen)]
    price = cache(lambda items: naive_bill(house, catalog, items))

    def bill(chosen: tuple[One, ...]) -> float:
        return price(tuple(sorted(item for one in chosen for item in one.items))) + sum(one.price for one in chosen)

    for aim in aims(house.tanks, aside)[aim_number:][:1]:
        same_as_the_best(found, aim, combos, bill, found.sharing.answer(aim))
        for members in waters(house.tanks) if counted else ():
            there = sum(house.tanks[n].is_there for n in members)
            for count in range(there, len(members) + 1 if there < len(members) and members[0] not in found.content else there):
                some = [chosen for chosen in combos if sum(chosen[n].there for n in members) == count]
                held = with_filters(found, aim, members, count)
                assert held is not None
                same_as_the_best(found, aim, some, bill, held)


def same_as_the_best(found: Sought, aim: Aim, combos: Sequence[tuple[One, ...]], bill: Bill, answer: Shared) -> None:
    """No combination is worth more than the answer, and none that is worth as much costs less."""
    house = found.household

    def worth(flows: Sequence[float]) -> tuple[float, ...]:
        sums = []
        for stage in aim.stages:
            values = sorted(stage.value(tank, sum(flows[n] for n in members)) for tank, members in enumerate(waters(house.tanks)))
            sums.append(sum(values[: stage.worst or len(values)]))
        return tuple(sums)

    ranked = sorted(((worth([one.flow for one in chosen]), k) for k, chosen in enumerate(combos)), reverse=True)
    best = next((value for value, k in ranked if bill(combos[k]) <= house.budget), None)
    if best is None:
        assert answer.chosen is None
        return
    assert answer.chosen is not None
    ours = worth(answer.flows_m3s)
    # at this size nothing may be given up
    assert answer.status == "proved"
    assert ours == pytest.approx(best, abs=3 * aim.close * len(house.tanks))
    alike = [combos[k] for value, k in ranked if all(a >= b - 1e-6 for a, b in zip(value, ours, strict=True))]
    assert answer.chosen.price <= min(map(bill, alike)) + 1e-6
    same = [c for c in combos if all(abs(one.flow - f) < 1e-12 + 1e-7 * f for one, f in zip(c, answer.flows_m3s, strict=True))]
    assert answer.chosen.price == pytest.approx(min(map(bill, same)), abs=1e-6)


@pytest.mark.parametrize("seed", [seed for seed in range(60) if any(t.rig.spares for t in household(seed)[0].tanks)][3:5])
def test_the_drawer_of_the_household_is_that_of_all_tanks(seed: int) -> None:
    """Spares in the household file do as much as in the file of a tank: flows and price stay the same; without them it is never
    better."""
    house, catalog = household(seed)
    drawer = tuple(spare for tank in house.tanks for spare in tank.rig.spares)
    emptied = replace(house, tanks=tuple(replace(tank, rig=replace(tank.rig, spares=())) for tank in house.tanks))
    own, common, none = (shared_answer(each, catalog) for each in (house, replace(emptied, spares=drawer), emptied))
    assert (own.status, own.price) == (common.status, common.price)
    assert [tank.flow_m3s for tank in own.tanks] == pytest.approx([tank.flow_m3s for tank in common.tanks], rel=1e-9)
    if none.aims:
        assert common.aims[0].least_share >= none.aims[0].least_share - 1e-6
