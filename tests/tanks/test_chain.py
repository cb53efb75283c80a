"""The order of work against all permutations, and what is said with it."""

from itertools import permutations, product

import pytest

from optimizer.model.shared import HandedOn
from optimizer.tanks.chain import cautions, in_order, steps

PAIRS = [(a, b) for a in range(3) for b in range(3) if a != b]


@pytest.mark.parametrize("chosen", list(product([False, True], repeat=len(PAIRS))))
def test_an_order_is_found_exactly_when_some_permutation_is_one(chosen: tuple[bool, ...]) -> None:
    befores = [pair for pair, there in zip(PAIRS, chosen, strict=True) if there]
    orders = [o for o in permutations(range(3)) if all(o.index(a) < o.index(b) for a, b in befores)]
    if orders:
        assert tuple(in_order("abc", befores)) in orders
    else:
        with pytest.raises(ValueError, match="circle"):
            in_order("abc", befores)


def test_a_giver_runs_again_before_its_taker_is_opened() -> None:
    handed = [
        HandedOn(part="pump 2", from_tank="b", from_place="pump", to_tank="c", to_places=("pump",)),
        HandedOn(part="pump 1", from_tank="a", from_place="pump", to_tank="b", to_places=("pump",)),
    ]
    made = steps(["c", "b", "a", "idle"], [0, 1, 2], [(1, 0), (2, 1)], handed)
    assert [step.tank for step in made] == ["a", "b", "c"]
    assert made[1].waits_for == ("pump 1 from a",) and made[1].frees == ("pump 2 for c",)


def test_what_lives_in_one_tank_is_minded_only_where_parts_move() -> None:
    moved = HandedOn(part="p", from_tank="a", from_place="pump", to_tank="b", to_places=("pump",))
    assert any("disinfect" in text for text in cautions([moved]))
    assert not any("disinfect" in text for text in cautions([]))
