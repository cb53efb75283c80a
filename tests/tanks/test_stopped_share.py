"""What a stopped household says: one truth, and no money left where it would help."""

import math
import random
import signal
from dataclasses import replace
from itertools import count
from types import FrameType

import pulp
import pytest
from small_households import household

from optimizer import api
from optimizer.model.catalog import Catalog
from optimizer.model.household import Household
from optimizer.search.best import RESOLUTION_M3S
from optimizer.tanks import household as searching
from optimizer.tanks.program import Program
from optimizer.tanks.share import AIMS, aims, sought
from optimizer.tanks.shared_result import shared_answer

SEEDS = (1, 2, 10)


def interrupted(house: Household, catalog: Catalog, monkeypatch: pytest.MonkeyPatch, after: int):
    """The answer when Ctrl-C comes at the so-manieth program after the first choice."""
    real, priced, asked, begun = Program.solved, searching._Search._priced, count(1), []

    def solved(self: Program, *args: object, **more: object) -> object:
        if begun and next(asked) == after:
            raise KeyboardInterrupt
        return real(self, *args, **more)

    def seen(self: object, *args: object) -> object:
        begun.append(True)
        return priced(self, *args)

    with monkeypatch.context() as patched:
        patched.setattr(Program, "solved", solved)
        patched.setattr(searching._Search, "_priced", seen)
        return shared_answer(house, catalog)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("after", [1, 2, 5])
def test_verdict_bill_table_and_page_are_one_choice(seed: int, after: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Wherever Ctrl-C comes once there is a choice, all that is said is of that one."""
    house, catalog = household(seed)
    told = interrupted(house, catalog, monkeypatch, after)
    assert told.status == "stopped" or "stopped" in [row.status for row in told.aims] or len(told.aims) < len(AIMS)
    row = next(row for row in told.aims if row.aim == told.aim)
    assert row.price == told.price == sum(line.price for line in told.bill) <= house.budget
    assert row.flows_m3s == tuple(tank.flow_m3s for tank in told.tanks)
    assert row.least_share == min(tank.share for tank in told.tanks)
    page = api.page(told)
    assert page.count(f'<data value="{told.price}">') + page.count(f'<data value="{told.price / 100!r}">') >= 2
    assert bool(told.gap) == (told.status == "stopped") and "not known" not in told.gap


def test_ctrl_c_is_heard_while_a_program_is_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    """HiGHS itself hears no signal: the program is made one that it works on for minutes (of the market split kind, Cornuejols
    and Dawande 1998), and Ctrl-C must end it."""
    house, catalog = household(2)
    found = sought(house, catalog)
    found.sharing.answer(aims(house.tanks)[2])
    columns = found.sharing.columns()
    real = Program._handed_on

    def harder(self: Program, lp: pulp.LpProblem, *rest: object) -> None:
        real(self, lp, *rest)
        marks = [lp.add_variable(f"m{n}", cat=pulp.LpBinary) for n in range(50)]
        rng = random.Random(1)
        for _ in range(6):
            weights = [rng.randrange(100) for _ in range(50)]
            lp += pulp.lpSum(w * m for w, m in zip(weights, marks, strict=True)) == sum(weights) // 2

    def press(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Program, "_handed_on", harder)
    before = signal.signal(signal.SIGALRM, press)
    try:
        signal.setitimer(signal.ITIMER_REAL, 2.0)
        with pytest.raises(KeyboardInterrupt):
            found.sharing.program.solved(columns, aims(house.tanks)[2].stages[0], ())
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_money_is_left_where_it_would_help_a_tank(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped before any search for a proof, no tank below its target could do more alone with what it has and what is left."""
    house, catalog = household(seed)
    monkeypatch.setattr(searching, "MOST_WORK", 0)
    found = sought(house, catalog)
    answer = found.sharing.answer(aims(house.tanks, found.aside)[0])
    assert answer.chosen is not None
    left = house.budget - math.ceil(answer.chosen.price)
    looked = 0
    for side, flow in zip(found.sides, (answer.flows_m3s[s.number] for s in found.sides), strict=True):
        column = next(column for column in answer.chosen.columns if column.tank == side.number)
        takers = [other for other in answer.chosen.columns if any(name in side.own for name, _ in other.taken)]
        if flow >= side.tank.target_m3s or takers or column.taken:
            continue
        own = side.seeker.exact.true_price(column.bundle.path)
        more = side.asked(side.without(side.others), left + int(own)).most_flow().found
        # what it shares with others may be in `own` twice, so that a little less is surely there
        sure = side.asked(side.without(side.others), left).most_flow().found
        assert sure is None or sure.flow_m3s <= flow + RESOLUTION_M3S
        looked += more is not None
    assert looked or all(f >= t.target_m3s for f, t in zip(answer.flows_m3s, house.tanks, strict=True))


def test_the_first_choice_is_no_worse_than_what_each_tank_does_for_its_share(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped at once, the worst tank has at least what an equal part of the money gives the worst tank."""
    for seed in SEEDS:
        house, catalog = household(seed)
        house = replace(house, rooms=tuple(replace(room, noise_dba=math.inf) for room in house.rooms), power_w=math.inf)
        monkeypatch.setattr(searching, "MOST_WORK", 0)
        found = sought(house, catalog)
        answer = found.sharing.answer(aims(house.tanks, found.aside)[0])
        equal = []
        for side in found.sides:
            for_its_part = house.budget // len(found.sides)
            most = side.asked(side.without(side.others), for_its_part).most_flow().found
            equal.append(0.0 if most is None else min(1.0, most.flow_m3s / side.tank.target_m3s))
        if min(equal) <= 0.0:
            continue  # shared stock may let only one of them have what is scarce
        got = min(min(1.0, answer.flows_m3s[s.number] / s.tank.target_m3s) for s in found.sides)
        scarce = any(product.stock is not None for side in found.sides for product in side.problem.shop.products)
        assert scarce or got >= min(equal) - 1e-3


def test_aims_that_were_not_reached_are_not_in_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only what was answered stands side by side."""
    house, catalog = household(2)
    told = interrupted(house, catalog, monkeypatch, 1)
    assert [(row.aim, row.status) for row in told.aims] == [(AIMS[0], "stopped")]
