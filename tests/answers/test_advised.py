"""The step that is advised: money is worth something, and what a bucket cannot tell is not worth a keeper's money.

The rule is held against a full listing of small worlds, which knows nothing of ladders (`worlds/enumeration.py`).
"""

import json
from dataclasses import replace

import enumeration
import pytest
from demo import rig, shop
from how_many import some_of
from small_worlds import aged_world

from optimizer import api
from optimizer.answers.advised import BUCKET, advise
from optimizer.model.limits import Limits
from optimizer.model.results import Advice, Result, Row
from optimizer.model.rig import Rig
from optimizer.model.saved import answer_of
from optimizer.search.best import RESOLUTION_M3S
from optimizer.search.choices import choices

FREE = ("keep", "clean")


def advised(found: Result) -> tuple[Advice, Row]:
    """The advice of an answer that has one, and the row of its step."""
    assert found.advice is not None and found.best is not None
    return found.advice, found.best


def wishless(some: Rig) -> Rig:
    """The rig of a keeper who says nothing but a sum."""
    return replace(some, target_m3s=0.0, limits=replace(some.limits, flow_min_m3s=0.0))


@pytest.mark.parametrize("seed", some_of(range(40), 4))
def test_the_step_is_the_cheapest_that_cannot_be_told_from_the_most(seed: int) -> None:
    """Of all bundles that there are, listed one by one, none that delivers as much as the step was asked for costs less; and
    every sum of the ladder is dearer and better than the one before, and nothing cheaper is as good."""
    world, catalog = aged_world(seed)
    world = wishless(world)
    menu = choices(world, catalog, world.limits)
    bundles = enumeration.every_bundle(menu)
    found = advise(world, catalog, told_apart=0.05)
    most = enumeration.most_flow(bundles, menu, RESOLUTION_M3S)
    assert (most is None) == (found.best is None)
    if most is None:
        return
    advice, step = advised(found)
    assert advice.most.row.flow_m3s == pytest.approx(most.flow_m3s, abs=1.001 * RESOLUTION_M3S)
    assert advice.most.row.price == most.price
    assert advice.top_m3s <= most.flow_m3s * (1.0 + 1e-9)
    if advice.top_m3s < 0.999 * most.flow_m3s:  # the steps keep all media, which the listing does not ask for
        assert advice.top_m3s >= 0.95 * most.flow_m3s
        assert not any(change.tray and change.change not in FREE for change in found.changes) or advice.reason == "most"
        return
    enough = next((each for each in advice.steps if "enough" in each.roles), None)
    least = enumeration.least_price(bundles, menu, 0.95 * advice.most.row.flow_m3s)
    assert least is not None
    if enough is not None:
        assert enough.row.price == least.price
    else:  # what costs nothing is the cleaned step
        assert least.price == 0
    if advice.reason in ("enough", "cleaned", "most"):
        assert step.price == least.price
    assert step.price <= most.price
    prices = [each.row.price for each in advice.steps if each.row.price]
    assert prices == sorted(set(prices))
    for each in advice.steps[2:]:
        as_good = enumeration.least_price(bundles, menu, each.row.flow_m3s * (1.0 - 1e-9))
        near = enumeration.least_price(bundles, menu, each.row.flow_m3s * (1.0 - BUCKET))
        assert as_good is not None and near is not None and near.price <= each.row.price <= as_good.price


def test_nothing_is_bought_where_cleaning_meets_the_wish() -> None:
    """The measured, dirty tank used to be told to spend 97.66 of its 100, though a clean alone gives the wished turnover."""
    found = advise(rig("reading_corner_130"), shop(), budget=10000)
    advice, step = advised(found)
    assert (advice.reason, step.price, found.bill) == ("met", 0, ())
    assert step.turnover_per_hour >= advice.wanted_per_hour == pytest.approx(3.0)
    assert advice.most.row.price > 0 and advice.most.row.flow_m3s > step.flow_m3s


def test_the_last_sums_that_a_bucket_cannot_tell_are_kept() -> None:
    """Less than the most is spent, and what is given up is less than can be told apart."""
    found = advise(wishless(rig("reading_corner_130")), shop(), budget=6000)
    advice, step = advised(found)
    assert advice.reason == "enough"
    assert step.price < advice.most.row.price
    assert step.flow_m3s >= advice.top_m3s * (1.0 - advice.told_apart)


def test_no_pump_is_bought_that_may_well_deliver_less_than_the_one_that_was_timed() -> None:
    """For 100.00 there is another pump, of which only the label is known; the one that is there has been timed. More than one
    draw in ten says that the dearer bundle delivers less, so the step before it is taken, and that step keeps the pump."""
    found = advise(wishless(rig("reading_corner_130")), shop(), budget=10000)
    advice, step = advised(found)
    assert advice.reason == "unsure"
    (taken,) = (each for each in advice.steps if each.row.price == step.price)
    assert taken.lead_p10_m3s <= 0.0 < taken.p10_m3s
    most = advice.most
    assert step.flow_m3s < 0.9 * most.row.flow_m3s
    bought, by_most = ([each.place for each in some if each.change == "swap"] for some in (found.changes, most.changes))
    assert "pump" not in bought and "pump" in by_most


def test_no_tray_is_emptied_for_what_a_bucket_cannot_tell() -> None:
    """The most empties a tray for some 2 % more; the steps keep it, and are measured by the most that keeps it too."""
    found = advise(rig("community_180"), shop(), budget=6000)
    advice, step = advised(found)
    emptied = [change for change in advice.most.changes if change.change == "remove"]
    assert [change.tray for change in emptied] == [3]
    assert advice.most.row.flow_m3s * (1.0 - advice.told_apart) <= advice.top_m3s < advice.most.row.flow_m3s
    assert not any(change.tray and change.change not in FREE for change in found.changes)
    assert step.flow_m3s >= advice.top_m3s * (1.0 - advice.told_apart)


def test_the_most_is_taken_where_it_is_asked_for() -> None:
    some = rig("nano_60")
    found, best = advise(some, shop(), budget=10000, most=True), api.best(some, shop(), budget=10000)
    advice, step = advised(found)
    assert best.best is not None
    assert (advice.reason, step.price, step.flow_m3s) == ("asked", best.best.price, best.best.flow_m3s)
    assert found.bill == best.bill


def test_what_can_be_told_apart_is_one_parameter() -> None:
    """The less is told apart the more is spent; where everything is, all is spent that adds anything."""
    some = wishless(rig("community_180"))
    spent = [advised(advise(some, shop(), budget=10000, told_apart=share))[1].price for share in (0.2, 0.05, 0.0)]
    assert spent == sorted(spent) and len(set(spent)) == 3
    best = api.best(some, shop(), budget=10000).best
    assert best is not None and spent[-1] == best.price
    assert advised(advise(replace(some, told_apart=0.2), shop(), budget=10000))[1].price == spent[0]


def test_own_fills_tell_what_can_be_told_apart() -> None:
    """Two fills of a container known to 1 % differ surely by the root of two times their own uncertainty (GUM, 5.1.2)."""
    measured = rig("reading_corner_130")
    known = advise(measured, shop(), budget=4000)
    usual = advise(replace(measured, fills=()), shop(), budget=4000)
    assert advised(known)[0].rests_on == "fills" and advised(usual)[0].rests_on == "bucket"
    assert 0.01 <= advised(known)[0].told_apart < advised(usual)[0].told_apart == BUCKET


def test_no_medium_is_thrown_out_for_what_cannot_be_told_apart() -> None:
    """Spending nothing used to empty a tray for a few litres an hour."""
    some = rig("reading_corner_130")
    emptied = api.best(some, shop(), budget=0)
    assert any(change.change == "remove" for change in emptied.changes)
    found = advise(some, shop(), budget=0)
    advice, step = advised(found)
    assert all(change.change in FREE for change in found.changes)
    assert emptied.best is not None and step.flow_m3s >= emptied.best.flow_m3s * (1.0 - advice.told_apart)


@pytest.mark.parametrize("seed", some_of(range(60), 10))
def test_no_single_change_of_the_cleaned_step_could_be_left(seed: int) -> None:
    """Each change that costs nothing is there for more than can be told apart, judged against all that nothing buys."""
    world, catalog = aged_world(seed)
    nothing = api.best(world, catalog, budget=0)
    found = advise(world, catalog, budget=0)
    if nothing.best is None or found.best is None or found.advice is None:
        assert (nothing.best is None) == (found.best is None)
        return
    assert found.best.flow_m3s >= nothing.best.flow_m3s * (1.0 - found.advice.told_apart) - RESOLUTION_M3S
    changed = [change.place for change in found.changes if change.change not in FREE]
    assert len(changed) <= len([change.place for change in nothing.changes if change.change not in FREE])


def test_a_dirty_loop_is_cleaned_and_measured_before_anything_is_bought() -> None:
    assert advised(advise(rig("community_180"), shop(), budget=5000))[0].first == "dirty"
    assert advised(advise(rig("planted_300"), shop(), budget=2000))[0].first == ""


def test_a_wish_is_reached_by_the_cheapest_that_does() -> None:
    some = rig("community_180")
    found = advise(replace(some, target_m3s=0.6 / 3600.0), shop(), budget=5000)
    advice, step = advised(found)
    cheapest = api.cheapest(some, shop(), flow_m3s=0.6 / 3600.0, budget=5000)
    assert cheapest.best is not None
    assert (advice.reason, step.price) == ("wish", cheapest.best.price)


def test_a_step_of_the_ladder_that_is_crowded_does_not_hide_the_wish() -> None:
    """What the trays and hoses of the reef rig share made one step too crowded to be proved, and with it all steps after it."""
    told, step = advised(advise(rig("marine_75gal"), shop(), budget=10_000))
    assert all(each.proved for each in told.steps)
    assert (told.reason, told.step.roles) == ("wish", ("wish",))
    assert step.price < told.steps[-1].row.price


def test_a_flow_asked_for_is_a_ladder_too() -> None:
    found = advise(rig("nano_60"), shop(), flow_m3s=250e-3 / 3600.0)
    advice, step = advised(found)
    assert (advice.reason, advice.steps[-1].roles, advice.chosen) == ("cheapest", ("cheapest",), 2)
    assert step.flow_m3s >= 250e-3 / 3600.0


def test_the_band_belongs_to_the_bundle_of_the_step() -> None:
    """To the last digit that is printed it is the band that `--bands` draws of the same bundle."""
    some = rig("nano_60")
    advice, step = advised(advise(some, shop(), budget=3000, most=True))
    drawn = api.bands(some, shop(), budget=3000, candidates=1, most=True)
    assert drawn.band is not None
    line = drawn.band.lines[0]
    assert line.stated_m3s == pytest.approx(step.flow_m3s, rel=1e-9)
    assert advice.step.p10_m3s == pytest.approx(line.p10_m3s, rel=1e-6)
    assert advice.step.p90_m3s == pytest.approx(line.p90_m3s, rel=1e-6)


def test_an_answer_with_advice_comes_back_as_it_was() -> None:
    found = advise(rig("community_180"), shop(), budget=5000)
    wrong: list[str] = []
    back = answer_of(
        json.loads(json.dumps(found.to_dict(), allow_nan=False)), lambda place, what: wrong.append(f"{place}: {what}")
    )
    assert not wrong and back is not None
    assert back.result is not None and back.result.advice == found.advice  # type: ignore[union-attr]


def test_the_buying_order_is_that_of_the_step() -> None:
    some = rig("community_180")
    found = advise(some, shop(), budget=5000)
    order, most = (api.buying_order(some, shop(), budget=5000, most=each) for each in (False, True))
    assert found.best is not None and order.best is not None and most.best is not None
    assert order.best.price == found.best.price < most.best.price
    assert order.question.advised and not most.question.advised


@pytest.mark.parametrize("share", [-0.01, 0.51])
def test_a_share_that_is_none_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="told apart"):
        advise(rig("nano_60"), shop(), told_apart=share)


def test_limits_that_nothing_meets_are_told_as_before() -> None:
    found = advise(replace(rig("nano_60"), limits=Limits(budget=100, flow_min_m3s=1.0)), shop())
    assert found.advice is None and found.status == "infeasible"
