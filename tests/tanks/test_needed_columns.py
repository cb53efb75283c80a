"""Columns that a program needs: with them the best choice is worth and costs what it is with all."""

import math
import random
from itertools import pairwise, permutations, product

import pytest

from optimizer.search.rounds import Path
from optimizer.tanks.needed_columns import needed
from optimizer.tanks.program import Column
from optimizer.tanks.signatures import Demand, Listed

TANKS = 3
OWNERS = {f"part {n} of {tank}": (tank, 1.0) for tank in range(TANKS) for n in range(2)}
"""Two parts of each tank that could be handed on, the second of them a hose of 1 m."""
PACKS: tuple[Demand, ...] = (((("clamps", 0),), "", 1.0), ((("seals", 0),), "", 1.0))
PACK_OF, PACK_PRICE = 3, 200


def column(rng: random.Random, tank: int, number: int) -> Column:
    """A random bundle of one tank."""
    kept = frozenset(name for name, (owner, _) in OWNERS.items() if owner == tank and rng.random() < 0.6)
    others = (name for name, (owner, _) in OWNERS.items() if owner != tank)
    taken = {name: rng.choice((0.4, 0.7, 1.2)) if "part 1" in name else 1.0 for name in others}
    needs = ((pack, rng.randint(0, 3)) for pack in PACKS)
    bundle = Listed(
        path=Path(0.0, 0.0, (number,), ()),
        plain=100 * rng.randint(0, 5),
        needs=tuple((pack, count) for pack, count in needs if count),
        kept=kept,
        taken=tuple((name, amount) for name, amount in sorted(taken.items()) if rng.random() < 0.3),
        noise_dba=rng.choice((30.0, 35.0)),
        power_w=rng.choice((10.0, 15.0)),
    )
    return Column.of(tank, bundle, float(rng.randint(1, 4)), held=True)


def is_possible(choice: tuple[Column, ...], watts: float) -> bool:
    """Whether every part goes to one place, no tank waits for one that waits for it, and all may run at once."""
    for name, (owner, whole) in OWNERS.items():
        used = sum(dict(each.taken).get(name, 0.0) for each in choice)
        if used > whole or (used and name in choice[owner].kept):
            return False
    waits = {(OWNERS[name][0], each.tank) for each in choice for name, _ in each.taken}
    orders = (set(pairwise(order)) | {(order[0], order[-1])} for order in permutations(range(TANKS)))
    return sum(each.power_w for each in choice) <= watts and any(waits <= order for order in orders)


def price(choice: tuple[Column, ...]) -> int:
    """The joint bill, in minor units: whole packs."""
    bundles = [each.bundle for each in choice if each.bundle is not None]
    counts = [sum(dict(bundle.needs).get(pack, 0.0) for bundle in bundles) for pack in PACKS]
    return sum(bundle.plain for bundle in bundles) + sum(PACK_PRICE * math.ceil(count / PACK_OF) for count in counts)


def staircase(lists: list[list[Column]], watts: float) -> set[tuple[tuple[float, ...], int]]:
    """Flows and price of all choices that no other beats."""
    found = {(tuple(c.flow_m3s for c in choice), price(choice)) for choice in product(*lists) if is_possible(choice, watts)}

    def is_beaten(flows: tuple[float, ...], paid: int) -> bool:
        others = ((f, p) for f, p in found if (f, p) != (flows, paid))
        return any(p <= paid and all(a >= b for a, b in zip(f, flows, strict=True)) for f, p in others)

    return {pair for pair in found if not is_beaten(*pair)}


@pytest.mark.parametrize("seed", range(40))
def test_no_choice_is_lost(seed: int) -> None:
    """Every choice of all listed bundles is matched by one of those that are needed."""
    rng = random.Random(seed)
    lists = [[column(rng, tank, number) for number in range(rng.randint(2, 12))] for tank in range(TANKS)]
    left = needed(dict(enumerate(lists)), OWNERS)
    fewer = [[each for each in left if each.tank == tank] for tank in range(TANKS)]
    watts = rng.choice((35.0, 100.0))
    assert staircase(fewer, watts) == staircase(lists, watts)


def one(tank: int, plain: int, kept: frozenset[str] = frozenset(), taken: tuple[tuple[str, float], ...] = ()) -> Column:
    """A bundle that shares parts with others and nothing else."""
    return Column.of(tank, Listed(Path(0.0, 0.0, (plain,), ()), plain, (), kept, taken, 30.0, 10.0), 1.0, held=True)


def test_what_differs_in_parts_that_nobody_takes_is_one() -> None:
    """Freeing a part is worth nothing when no bundle of another tank takes it."""
    kept, freed = one(0, 100, frozenset({"part 0 of 0"})), one(0, 200)
    assert needed({0: [freed, kept], 1: [one(1, 50)]}, OWNERS) == [kept, one(1, 50)]
    taker = one(1, 10, taken=(("part 0 of 0", 1.0),))
    assert set(needed({0: [freed, kept], 1: [one(1, 50), taker]}, OWNERS)) == {freed, kept, one(1, 50), taker}


def test_what_takes_a_part_that_is_always_kept_goes() -> None:
    """A bundle cannot have what its owner keeps whatever it does; then nobody asks for what that bundle frees either."""
    keeper = one(0, 100, frozenset({"part 0 of 0"}))
    taker = one(1, 10, taken=(("part 0 of 0", 1.0),))
    assert needed({0: [keeper], 1: [taker]}, OWNERS) == [keeper]


def test_what_no_bundle_of_an_owner_frees_together_goes() -> None:
    """Two parts of one tank cannot be taken where it frees either but never both, nor by one that it waits for."""
    either = [one(0, 100, frozenset({"part 0 of 0"})), one(0, 100, frozenset({"part 1 of 0"}))]
    both = one(1, 10, taken=(("part 0 of 0", 1.0), ("part 1 of 0", 0.5)))
    assert needed({0: either, 1: [one(1, 50), both]}, OWNERS) == [either[0], one(1, 50)]
    waiting = one(0, 100, taken=(("part 0 of 1", 1.0),))
    taker = one(1, 10, frozenset({"part 1 of 1"}), (("part 0 of 0", 1.0),))
    keeper = one(0, 150, frozenset({"part 0 of 0"}))
    assert needed({0: [waiting, keeper], 1: [taker, one(1, 50)]}, OWNERS) == [waiting, keeper, one(1, 50)]


def test_what_takes_more_than_there_is_goes() -> None:
    """Two runs of 60 cm cannot be cut from one hose of 1 m."""
    long = one(1, 10, taken=(("part 1 of 0", 1.2),))
    assert needed({0: [one(0, 100)], 1: [one(1, 50), long]}, OWNERS) == [one(0, 100), one(1, 50)]
