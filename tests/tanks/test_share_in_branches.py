"""Parts inside branches handed on: the household against every combination of all bundles, no filling of a branch left out."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations, product
from typing import Any

import exhaustive
import pytest
from branched_worlds import branched_world
from how_many import some_of

from optimizer.model.catalog import Catalog
from optimizer.model.household import Household, HouseTank, Room
from optimizer.model.limits import Limits
from optimizer.model.parts import Guard
from optimizer.model.rig import Position, Rig
from optimizer.search import branch_fillings
from optimizer.search.choices import choices
from optimizer.tanks.hand_me_downs import HandMeDown, common_spares, handed_parts, with_spares
from optimizer.tanks.share import aims, sought
from optimizer.tanks.shared_result import _handed_on
from optimizer.tanks.signatures import every_option

PAIRS = some_of(((18, 42), (35, 36), (36, 52), (58, 59)), 2)
"""Random worlds with two guards each, on hoses of one size."""
LIMITS = Limits(inlet_head_m=-1e9, guard_speed_ms=1e9, mechanical_stage=False, mature_media=False)
SOLD = ("G-a", "K-a")
"""What the shop has of the catalogs: every piece by itself and as often as it is asked for, so that prices add up."""


@dataclass(frozen=True)
class One:
    """A bundle of one tank: flow, price without what is handed on, parts kept and taken."""

    flow_m3s: float
    price: int
    kept: frozenset[str]
    taken: tuple[tuple[str, float], ...]


def house(seed: int, other: int) -> tuple[Household, Catalog]:
    """Two random tanks with branches. The guard that the shop sells is too coarse for the second one, whose own are small."""
    rigs = [_loose(branched_world(each)[0]) for each in (seed, other)]
    limits = replace(LIMITS, opening_m=0.004)
    rigs[1] = replace(rigs[1].with_each(_small), limits=limits)
    catalog = branched_world(seed)[1]
    coarse = replace(catalog.parts["G-a"], opening_m=0.005)
    sold = [p for p in catalog.products if p.id in SOLD and p.stock is None]
    tanks = tuple(HouseTank(name=f"tank {n}", rig=rig, target_m3s=1.0, room="hall") for n, rig in enumerate(rigs))
    hall = Room(name="hall", noise_dba=math.inf)
    found = Household(name="two", tanks=tanks, rooms=(hall,), budget=2500, power_w=math.inf)
    return found, replace(catalog, products=tuple(sold), parts={**catalog.parts, "G-a": coarse})


def _small(place: Position) -> Position:
    part = place.installed
    return replace(place, installed=replace(part, face_area_m2=0.1 * part.face_area_m2)) if isinstance(part, Guard) else place


def _loose(rig: Rig) -> Rig:
    """Only guards may be swapped."""
    free = rig.with_each(lambda p: replace(p, stays=p.kind != "guard", may_go=False))
    return replace(free, limits=LIMITS, spares=())


def bundles(house: Household, catalog: Catalog, number: int, handed: Sequence[HandMeDown]) -> list[One]:
    """Every bundle of one tank."""
    others = {each.id: each for each in handed if each.owner != number}
    own = {each.position: each.id for each in handed if each.owner == number}
    rig = with_spares(house.tanks[number].rig, common_spares(house.tanks), others.values())
    menu = choices(rig, catalog, replace(rig.limits, budget=None))
    found = {}
    for listed in exhaustive.all_bundles(menu, house.budget or 0):
        if not exhaustive.holds(listed):
            continue
        inside = list(every_option([listed.options]))
        items = [item for option in listed.options for item in option.items] + [i for j in listed.joints for i in j.items]
        taken: Counter[str] = Counter()
        for item in items:
            if item.key[1] in others:
                taken[item.key[1]] += item.weight  # type: ignore[assignment]
        kept = frozenset(own[o.place] for o in inside if o.place in own and o.is_installed and o.part is not None)
        found[One(listed.flow_m3s, listed.price, kept, tuple(sorted(taken.items())))] = None
    return list(found)


def fits(handed: dict[str, HandMeDown], chosen: Sequence[One]) -> bool:
    """Parts handed on are freed, go once, and the tanks can be done in some order."""
    used: Counter[str] = Counter()
    for one in chosen:
        used.update(dict(one.taken))
    kept = frozenset().union(*(one.kept for one in chosen))
    if any(name in kept or amount > (handed[name].length_m or 1.0) + 1e-9 for name, amount in used.items()):
        return False
    arrows = {(handed[name].owner, n) for n, one in enumerate(chosen) for name, _ in one.taken}
    return any(all(order.index(a) < order.index(b) for a, b in arrows) for order in permutations(range(len(chosen))))


def best_of(household: Household, catalog: Catalog, monkeypatch: pytest.MonkeyPatch) -> tuple[list[tuple[One, ...]], set[str]]:
    """All combinations that can be paid and hold together, and the ids of what stands inside branches."""
    handed = {each.id: each for each in handed_parts(household.tanks, ())}
    with monkeypatch.context() as patched:
        patched.setattr(branch_fillings, "_unbeaten", lambda some, _: list(some))
        each = [bundles(household, catalog, n, list(handed.values())) for n in range(len(household.tanks))]
    combos = [some for some in product(*each) if sum(one.price for one in some) <= (household.budget or 0) and fits(handed, some)]
    inside = {name for name, one in handed.items() if household.tanks[one.owner].rig.positions[one.place].branches}
    return combos, inside


def test_equals_every_combination(monkeypatch: pytest.MonkeyPatch) -> None:
    """Worth what the best combination is worth, for what the cheapest of its like costs; parts leave one tank's branch for that
    of another, and are told with the places that they come to."""
    from_inside = 0
    for pair in PAIRS:
        household, catalog = house(*pair)
        combos, inside = best_of(household, catalog, monkeypatch)
        found = sought(household, catalog)
        assert not found.aside and not found.content
        aim = aims(household.tanks, ())[0]
        answer, stages = found.sharing.answer(aim), aim.stages

        def worth(flows: Sequence[float], stages: Any = stages) -> tuple[float, ...]:
            values = [sorted(stage.value(n, flow) for n, flow in enumerate(flows)) for stage in stages]
            return tuple(sum(each[: stage.worst or len(each)]) for stage, each in zip(stages, values, strict=True))

        best = max(worth([one.flow_m3s for one in some]) for some in combos)
        assert answer.chosen is not None and answer.status == "proved"
        assert worth(answer.flows_m3s) == pytest.approx(best, abs=6 * aim.close), pair
        ours = worth(answer.flows_m3s)
        rated = [(some, worth([one.flow_m3s for one in some])) for some in combos]
        alike = [some for some, value in rated if all(a >= b - 1e-6 for a, b in zip(value, ours, strict=True))]
        assert answer.chosen.price <= min(sum(one.price for one in some) for some in alike), pair
        told = _handed_on(found, answer.chosen)
        places = {each.position for each in found.handed if each.id in inside}
        from_inside += sum(each.from_place in places for each in told)
        assert all(place in {p.name for p in household.tanks[0].rig.every_position} for each in told for place in each.to_places)
    assert from_inside


def test_a_part_that_stays_in_a_branch_is_given_to_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without money nothing closes a joint with, so nothing can be freed: what could be taken stays where it is."""
    household, catalog = house(*PAIRS[0])
    poor = replace(household, budget=0)
    combos, _ = best_of(poor, catalog, monkeypatch)
    answer = sought(poor, catalog).sharing.answer(aims(household.tanks, ())[0])
    assert answer.chosen is not None
    assert not any(column.bundle and column.bundle.taken for column in answer.chosen.columns)
    assert sum(answer.flows_m3s) == pytest.approx(max(sum(one.flow_m3s for one in some) for some in combos), rel=1e-6)
