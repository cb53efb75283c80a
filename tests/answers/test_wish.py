"""What becomes of a wish: bounds hold against proved searches, and what is said to be in the way really is."""

from dataclasses import replace
from pathlib import Path

import pytest
from small_worlds import world

from optimizer.answers.wish import wish
from optimizer.api import best, read_catalog, read_rig
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.rig import Rig
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"


def most(rig: Rig, catalog: Catalog, limits: Limits) -> float:
    """The most that any money buys within the limits, proved."""
    outcome = Seeker(build(choices(rig, catalog, replace(limits, budget=None, flow_min_m3s=0.0)))).most_flow()
    assert outcome.status == "proved"
    return 0.0 if outcome.found is None else outcome.found.flow_m3s


@pytest.mark.parametrize("seed", range(500, 530))
def test_what_is_out_of_reach_is_more_than_any_money_buys(seed: int) -> None:
    """The bound is never below a proved answer without a budget; what is within the bound is not called out of reach."""
    rig, catalog = world(seed)
    top = most(rig, catalog, rig.limits)
    wanted = replace(rig, target_m3s=max(1.5 * top, 3e-4))
    told = wish(wanted, catalog, replace(rig.limits, flow_min_m3s=0.0), 0.0)
    assert told is not None and not told.reached
    assert told.reach_m3s >= top - RESOLUTION_M3S
    assert bool(told.in_the_way) == (told.reach_m3s < wanted.target_m3s)


def test_a_wish_that_is_reached_or_not_above_the_floor_needs_no_reason() -> None:
    """Nothing stands in the way of what is there; no wish, no line."""
    rig, catalog = world(1)
    told = wish(replace(rig, target_m3s=2e-4), catalog, Limits(), 2.5e-4)
    assert told is not None and told.reached and told.in_the_way == ()
    assert wish(replace(rig, target_m3s=0.0), catalog, Limits(), 2.5e-4) is None
    assert wish(replace(rig, target_m3s=1e-4), catalog, Limits(flow_min_m3s=1e-4), 2.5e-4) is None


def test_the_planted_tank_of_the_trade_is_out_of_reach_and_its_windows_say_why() -> None:
    """Case of the trade (common practice, no published source): ten per hour through reactor, heater and ultraviolet unit in one
    line is out of reach and not the right goal; the unit is outside its window already; the heater stays and keeps its flow."""
    catalog = read_catalog(DEMO / "catalog")
    result = best(read_rig(DEMO / "rigs" / "planted_300.toml", catalog), catalog, budget=10_000)
    assert result.wish is not None and result.best is not None
    assert not result.wish.reached
    assert result.wish.reach_m3s < result.wish.flow_m3s / 2
    assert result.wish.in_the_way[0] == "the flow windows of the inline devices (reactor, heater, ultraviolet)"
    now = {line.place: line.kept for line in result.windows if line.row == "now"}
    assert now == {"reactor": True, "heater": True, "ultraviolet": False}
    last = {line.place: line for line in result.windows if line.row == "best"}
    assert all(line.kept for line in last.values())
    assert last["heater"].flow_m3s >= last["heater"].flow_min_m3s
