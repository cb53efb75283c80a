"""Parts inside branches handed on: the household against every combination of all bundles, no filling of a branch left out."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations, product

import exhaustive
import pytest
from branched_worlds import branched_world

from optimizer.errors import InputError
from optimizer.model.catalog import Catalog
from optimizer.model.household import Household, HouseTank, Room
from optimizer.model.limits import Limits
from optimizer.model.rig import Rig
from optimizer.search import fills
from optimizer.search.choices import choices
from optimizer.tanks.handed import Handed, common_spares, handed_parts, with_spares
from optimizer.tanks.share import aims, sought
from optimizer.tanks.shared_result import parts_of
from optimizer.tanks.signatures import every_option

PAIRS = [(seed, other) for seed in range(16) for other in (seed + 1, seed + 5)]
LIMITS = Limits(inlet_head_m=-1e9, guard_speed_ms=1e9, mechanical_stage=False, mature_media=False)
SOLD = ("G-a", "O-a", "K-a", "K-b")
"""What the shop has of the catalogs: every piece by itself and as often as it is asked for, so that prices add up."""


@dataclass(frozen=True)
class One:
    """A bundle of one tank: flow, price without what is handed on, parts kept and taken."""

    flow_m3s: float
    price: int
    kept: frozenset[str]
    taken: tuple[tuple[str, float], ...]


def house(seed: int, other: int) -> tuple[Household, Catalog]:
    """Two random tanks with branches; what they sell is the first one's."""
    rigs = [_loose(branched_world(each)[0]) for each in (seed, other)]
    catalog = branched_world(seed)[1]
    sold = [p for p in catalog.products if p.id in SOLD and p.stock is None]
    tanks = tuple(HouseTank(name=f"tank {n}", rig=rig, target_m3s=1.0, room="hall") for n, rig in enumerate(rigs))
    budget = 1200 + 300 * (seed % 4)
    found = Household(name="two", tanks=tanks, rooms=(Room(name="hall", noise_dba=math.inf),), budget=budget, power_w=math.inf)
    return found, replace(catalog, products=tuple(sold))


def _loose(rig: Rig) -> Rig:
    """Only what stands in branches, guards and outlets may change; media and their dirt stay."""
    loose = ("guard", "outlet", "hose_a", "hose_b")
    free = rig.with_each(lambda p: replace(p, stays=p.kind not in loose and p.name not in loose, may_go=False))
    return replace(free, limits=LIMITS, spares=())


def bundles(house: Household, catalog: Catalog, number: int, handed: Sequence[Handed]) -> list[One]:
    """Every bundle of one tank."""
    others = {each.id: each for each in handed if each.owner != number}
    own = {each.position: each.id for each in handed if each.owner == number}
    rig = with_spares(house.tanks[number].rig, common_spares(house.tanks), others.values())
    menu = choices(rig, catalog, replace(rig.limits, budget=None))
    found = {}
    for listed in exhaustive.all_bundles(menu):
        if not exhaustive.holds(listed) or listed.price > (house.budget or 0):
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


def fits(handed: dict[str, Handed], chosen: Sequence[One]) -> bool:
    """Parts handed on are freed, go once, and the tanks can be done in some order."""
    used: Counter[str] = Counter()
    for one in chosen:
        used.update(dict(one.taken))
    kept = frozenset().union(*(one.kept for one in chosen))
    if any(name in kept or amount > (handed[name].length_m or 1.0) + 1e-9 for name, amount in used.items()):
        return False
    arrows = {(handed[name].owner, n) for n, one in enumerate(chosen) for name, _ in one.taken}
    return any(all(order.index(a) < order.index(b) for a, b in arrows) for order in permutations(range(len(chosen))))


@pytest.mark.parametrize("chunk", range(4))
def test_equals_every_combination(chunk: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Worth what the best combination is worth, for no more than the cheapest of its like; parts go into branches and out."""
    compared = 0
    for pair in PAIRS[chunk::4]:
        household, catalog = house(*pair)
        handed = {each.id: each for each in handed_parts(household.tanks, ())}
        try:
            with monkeypatch.context() as patched:
                patched.setattr(fills, "_unbeaten", lambda some, _: list(some))
                each = [bundles(household, catalog, n, list(handed.values())) for n in range(2)]
            found = sought(household, catalog)
        except InputError:
            continue
        if found.aside or found.content or len(each[0]) * len(each[1]) > 40_000:
            continue
        combos = [chosen for chosen in product(*each) if sum(one.price for one in chosen) <= (household.budget or 0)]
        aim = aims(household.tanks, ())[0]
        answer = found.sharing.answer(aim)
        ranked = sorted(combos, key=lambda chosen: -sum(one.flow_m3s for one in chosen))
        stage = aim.stages[0]

        def worth(flows: Sequence[float], stage=stage) -> float:  # type: ignore[no-untyped-def]
            values = sorted(stage.value(n, flow) for n, flow in enumerate(flows))
            return float(sum(values[: stage.worst or len(values)]))

        ranked.sort(key=lambda chosen: -worth([one.flow_m3s for one in chosen]))
        best = next(chosen for chosen in ranked if fits(handed, chosen))
        assert answer.chosen is not None and answer.status == "proved"
        assert worth(answer.flows_m3s) == pytest.approx(worth([one.flow_m3s for one in best]), abs=3 * aim.close), pair
        compared += any(handed[name].position != "" for one in best for name, _ in one.taken)
        sides = {side.number: side for side in found.sides}
        for column in answer.chosen.columns:
            for name, _ in column.bundle.taken if column.bundle else ():
                options, _joints = parts_of(sides[column.tank], column)
                assert any(item.key[1] == name for option in every_option([options]) for item in option.items)
    assert compared
