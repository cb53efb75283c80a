"""Tanks with several filters as they are told: sums, noise as powers, and how many filters for the same money."""

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from small_households import one_water

from optimizer import api
from optimizer.model.household import Household
from optimizer.model.saved import answer_of
from optimizer.model.shared import SharedResult
from optimizer.report import share_text
from optimizer.search.best import RESOLUTION_M3S
from optimizer.tanks import several_filters
from optimizer.tanks.shared_result import shared_answer


def told_of(seed: int) -> tuple[Household, SharedResult]:
    house, catalog = one_water(seed)
    return house, shared_answer(house, catalog)


@pytest.mark.parametrize("seed", [7, 9, 15])
def test_the_row_of_the_tank_is_the_sum_of_its_filters(seed: int) -> None:
    """Flow, turnover by the net volume and watts as sums, noise as powers (10 lg of the sum), shares by the sum."""
    house, told = told_of(seed)
    (whole,) = told.together
    rows = [tank for tank in told.tanks if tank.tank == "reef"]
    assert whole.filters == tuple(row.name for row in rows) and len(rows) >= 2
    flow = sum(row.flow_m3s for row in rows)
    assert whole.flow_m3s == pytest.approx(flow) and whole.now_m3s == pytest.approx(sum(row.now_m3s for row in rows))
    assert whole.turnover_per_hour == pytest.approx(flow * 3600.0 / house.tanks[0].rig.tank.net_m3)
    assert whole.power_w == pytest.approx(sum(row.power_w for row in rows))
    powers = [10 ** (row.noise_dba / 10) for row in rows if row.there]
    assert whole.noise_dba == pytest.approx(10 * np.log10(sum(powers)))
    assert {row.share for row in rows} == {whole.share} and whole.share == pytest.approx(min(1.0, flow / whole.target_m3s))
    aim = next(row for row in told.aims if row.aim == told.aim)
    alone = [(tank.target_m3s, tank.flow_m3s) for tank in told.tanks if not tank.tank]
    pairs = [(whole.target_m3s, flow), *alone]
    assert aim.shortfall_m3s == pytest.approx(sum(max(0.0, target - got) for target, got in pairs))
    assert aim.least_share == pytest.approx(min(min(1.0, got / target) for target, got in pairs))


def options() -> list[tuple[int, Household, SharedResult]]:
    """Worlds in which numbers of filters are compared."""
    found = ((seed, *told_of(seed)) for seed in (7, 9, 13, 15))
    return [each for each in found if each[2].together and each[2].together[0].counts]


def test_the_answer_is_the_best_of_the_numbers_and_the_bill_adds_up() -> None:
    """Each number of filters is proved, none beats the answer, what is bought stands in the bill at its price, and the text says
    all of it."""
    worlds, seen = options(), set()
    assert len(worlds) >= 3
    for _, house, told in worlds:
        (whole,) = told.together
        target = whole.target_m3s
        there = sum(tank.is_there for tank in house.tanks if tank.water)
        assert [each.filters for each in whole.counts] == list(range(max(there, 1), len(whole.filters) + 1))
        assert told.price == sum(line.price for line in told.bill) <= told.budget
        bought = [tank for tank in told.tanks if tank.option and tank.there]
        assert sum(tank.price for tank in bought) == sum(
            line.price for line in told.bill if line.name.startswith("the filter as")
        )
        text = " ".join(share_text.render(told).split())
        for each in whole.counts:
            seen.add((each.outcome, each.names == tuple(tank.name for tank in told.tanks if tank.tank and tank.there)))
            assert each.outcome in ("proved", "infeasible") and (each.outcome == "infeasible") == (each.names == ())
            assert len(each.names) in (0, each.filters) and each.price <= told.budget
            if len(house.tanks) == len(whole.filters):
                assert min(each.flow_m3s, target) <= min(whole.flow_m3s, target) + 2 * RESOLUTION_M3S
            words = f": {each.flow_m3s * 3.6e6:,.0f} l/h for {each.price / 100:.2f}".replace(",", " ")
            assert (words if each.names else ": not to be had for") in text.replace("\xa0", " ")
    assert ("proved", True) in seen and ("proved", False) in seen


def test_a_filter_that_is_not_bought_is_silent_and_costs_nothing() -> None:
    """It makes no noise, draws nothing, is not worked on and frees nothing; on screen and page it is said to be no more than an
    option."""
    house, catalog = one_water(3)
    price = 1_000_000
    tanks = tuple(replace(tank, price=price if n == 1 else None) for n, tank in enumerate(house.tanks))
    told = shared_answer(replace(house, tanks=tanks, budget=500), catalog)
    tank = told.tanks[1]
    assert (tank.option, tank.there, tank.flow_m3s, tank.now_m3s, tank.power_w, tank.changes) == (True, False, 0.0, 0.0, 0.0, ())
    assert tank.noise_dba is None and told.together[0].noise_dba == pytest.approx(told.tanks[0].noise_dba)
    assert tank.set_aside == ("it alone costs 10000.00",)
    assert tank.name not in [step.tank for step in told.steps] and not any(each.from_tank == tank.name for each in told.handed_on)
    assert "not there, and not bought" in share_text.render(told)
    assert tank.name in api.page(told)
    saved = json.loads(json.dumps(told.to_dict(), allow_nan=False))
    wrong: list[str] = []
    assert answer_of(saved, lambda place, what: wrong.append(f"{place}: {what}")) is not None, wrong


def test_a_tank_with_enough_buys_no_filter() -> None:
    """Its filters are asked about together: what each has alone would not do."""
    house, catalog = one_water(5)
    target = 1e-5
    tanks = tuple(replace(tank, target_m3s=target, price=500 if n == 1 else None) for n, tank in enumerate(house.tanks[:2]))
    told = shared_answer(replace(house, tanks=tanks), catalog)
    assert told.price == 0 and all(tank.enough for tank in told.tanks)
    assert told.together[0].counts == () and not told.tanks[1].there


def test_more_than_a_rig_file_allows_is_said() -> None:
    """A greatest flow is kept by each filter alone; where both together pass more, that comes first."""
    house, catalog = one_water(15)
    now = shared_answer(house, catalog).tanks[0].now_m3s
    tanks = [replace(tank, price=None, target_m3s=now * 0.5) for tank in house.tanks[:2]]
    tanks[0] = replace(tanks[0], rig=replace(tanks[0].rig, limits=replace(tanks[0].rig.limits, flow_max_m3s=now * 1.01)))
    told = shared_answer(replace(house, tanks=tuple(tanks)), catalog)
    assert told.together[0].flow_m3s > now * 1.01
    assert told.cautions[0].startswith("reef: its filters together deliver ") and "set the filters back" in told.cautions[0]
    assert any("is asked of that filter alone" in note for note in told.notes)


@pytest.mark.parametrize("key", ["tank", "target", "room", "price"])
def test_a_household_cannot_hold_filters_that_contradict_each_other(key: str) -> None:
    house, _ = one_water(3)
    first, second, *others = house.tanks
    wrong = {
        "tank": lambda: replace(second, rig=replace(second.rig, tank=replace(second.rig.tank, salinity_gkg=35.0))),
        "target": lambda: replace(second, target_m3s=second.target_m3s / 2),
        "room": lambda: replace(second, room="" if second.room else "hall"),
        "price": lambda: replace(second, price=5, water=""),
    }
    with pytest.raises(ValueError, match=r"different tanks|the tank it would serve"):
        replace(house, tanks=(first, wrong[key](), *others))


def test_ctrl_c_among_the_numbers_keeps_the_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is proved stays proved, and of the numbers of filters those are told that are known."""
    house, catalog = one_water(7)
    whole = shared_answer(house, catalog)

    def pressed(*_: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(several_filters, "prepared", pressed)
    told = shared_answer(house, catalog)
    assert replace(told, together=()) == replace(whole, together=(), turns=told.turns)
    assert [each.filters for each in told.together[0].counts] == [1] and len(whole.together[0].counts) == 2
