"""A tank that no bundle brings within its limits stays as it is, with its own reason, and the others are answered."""

from dataclasses import replace

import pytest
from small_households import household

from optimizer import api
from optimizer.answers.question import Question, answer
from optimizer.model.catalog import Catalog
from optimizer.model.household import Household
from optimizer.report import share_text
from optimizer.search.best import Outcome, Seeker
from optimizer.tanks import share
from optimizer.tanks.shared_result import shared_answer

FAR = 5e-3
"""A flow that no part of these worlds delivers, in m3/s."""


def with_impossible(seed: int) -> tuple[Household, Catalog, int]:
    """A random household whose last tank has to deliver what nothing delivers."""
    house, catalog = household(seed)
    last = house.tanks[-1]
    rig = replace(last.rig, limits=replace(last.rig.limits, flow_min_m3s=FAR, flow_max_m3s=2 * FAR))
    return replace(house, tanks=(*house.tanks[:-1], replace(last, rig=rig, target_m3s=FAR))), catalog, len(house.tanks) - 1


@pytest.mark.parametrize("seed", [2, 7])
def test_the_others_are_answered_as_if_it_stood_still(seed: int) -> None:
    """The same flows and price as where the impossible tank has enough, and so gets nothing."""
    house, catalog, last = with_impossible(seed)
    told = shared_answer(house, catalog)
    assert [bool(tank.set_aside) for tank in told.tanks] == [n == last for n in range(len(house.tanks))]
    still = replace(house.tanks[last], rig=household(seed)[0].tanks[last].rig, target_m3s=1e-7)
    calm = shared_answer(replace(house, tanks=(*house.tanks[:last], still)), catalog)
    assert (told.status, told.price) == (calm.status, calm.price) == ("proved", calm.price)
    assert [tank.flow_m3s for tank in told.tanks] == pytest.approx([tank.flow_m3s for tank in calm.tanks])
    assert told.tanks[last].flow_m3s == told.tanks[last].now_m3s and not told.tanks[last].changes


def test_its_reason_is_the_one_that_it_gets_alone() -> None:
    """Word for word, on the screen and on the page; nothing is said against another tank."""
    house, catalog, last = with_impossible(2)
    house = replace(house, tanks=tuple(replace(tank, rig=replace(tank.rig, spares=())) for tank in house.tanks))
    told = shared_answer(house, catalog)
    rig = house.tanks[last].rig
    alone = answer(Question(rig=rig, catalog=catalog, limits=replace(rig.limits, budget=house.budget))).conflict
    assert alone is not None
    said = told.tanks[last].set_aside
    assert said[0] == "cannot hold together: " + "; ".join(alone.limits) and said[1] == f"closest: {alone.closest}"
    text = share_text.render(told, full=True).replace("\n    ", " ").replace("\n  ", " ")
    assert f"Left as it is, since no bundle meets its limits: {rig.name}." in text and str(alone.closest) in text
    assert "every other tank gets at least" in text
    assert "no bundle meets its limits" in api.page(told)


def test_nothing_but_impossible_tanks_is_no_answer() -> None:
    """With the reason of each."""
    house, catalog, last = with_impossible(2)
    told = shared_answer(replace(house, tanks=house.tanks[last:]), catalog)
    assert (told.status, told.tanks) == ("infeasible", ())
    assert told.reasons[0].startswith(f"{house.tanks[last].name}: cannot hold together: ")


def test_a_search_that_gave_up_proves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the spares and parts of others make a search too crowded, the tank is not called impossible."""
    house, catalog = household(2)
    found = share.sought(house, catalog)

    def crowded(self: Seeker, _: float) -> Outcome:
        return Outcome(None, "stopped", 0.0, self.tally)

    monkeypatch.setattr(Seeker, "least_price", crowded)
    assert found.sides and not any(share._impossible(side, house.budget) for side in found.sides)
