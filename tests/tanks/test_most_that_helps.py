"""More money than can help is not searched, and nothing is lost by that."""

from dataclasses import replace

import pytest
from small_households import household

from optimizer.model.limits import Limits
from optimizer.tanks.most_that_helps import most_that_helps
from optimizer.tanks.share import _program, _sides, aims, sought

MUCH = 10_000_000


@pytest.mark.parametrize("seed", [2, 5, 10])
def test_the_search_is_the_same_for_a_hundred_times_the_money(seed: int) -> None:
    """The same choice, found in the same steps, since neither looks beyond what can help."""
    house, catalog = household(seed)
    some, much = (sought(replace(house, budget=budget), catalog) for budget in (MUCH // 100, MUCH))
    assert some.sharing.program.budget == much.sharing.program.budget < MUCH // 100
    for aim in aims(house.tanks)[:1]:
        one, other = some.sharing.answer(aim), much.sharing.answer(aim)
        assert one.chosen is not None and other.chosen is not None
        assert (one.flows_m3s, one.chosen.price, some.sharing.turns) == (other.flows_m3s, other.chosen.price, much.sharing.turns)


@pytest.mark.parametrize("seed", [2, 5, 10])
def test_without_the_bound_no_aim_comes_to_more(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A search that may spend far more finds nothing better, and nothing as good for less."""
    house, catalog = household(seed)
    house = replace(house, budget=40_000)
    bounded = sought(house, catalog)
    monkeypatch.setattr("optimizer.tanks.share.most_that_helps", lambda *_: None)
    free = sought(house, catalog)
    assert bounded.sharing.program.budget < free.sharing.program.budget == 40_000
    aim = aims(house.tanks)[seed % 3]
    one, other = bounded.sharing.answer(aim), free.sharing.answer(aim)
    assert one.chosen is not None and other.chosen is not None and one.status == other.status == "proved"
    assert one.values == pytest.approx(other.values, abs=2 * aim.close)
    assert one.chosen.price == other.chosen.price


def test_where_no_choice_gives_all_the_most_there_is_no_bound() -> None:
    """Pumps that may not run side by side: what each can have alone says nothing of both."""
    house, catalog = household(2)
    house = replace(house, budget=40_000, power_w=1.0)
    free = tuple(replace(tank, rig=replace(tank.rig, limits=Limits())) for tank in house.tanks)
    house = replace(house, tanks=free)
    made = _sides(house, catalog, (), 40_000)
    assert most_that_helps(_program(house, made, 40_000), made, []) is None
