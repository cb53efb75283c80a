"""What becomes of a wish: bounds hold against proved searches, and what is said to be in the way really is."""

from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

import enumeration
import pytest
from small_worlds import world

from optimizer.answers import wish as wishes
from optimizer.answers.wish import wish
from optimizer.answers.words import limit_words
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


def listed_most(rig: Rig, catalog: Catalog, limits: Limits) -> float:
    """The most that any bundle delivers, whether it can be held there or not, by listing all."""
    menu = choices(rig, catalog, replace(limits, budget=None, flow_min_m3s=0.0))
    return float(enumeration.every_bundle(menu).flow_m3s.max(initial=0.0))


SINGLE = {"the flow window of heater": "device_windows"}
"""What a limit is called where its words are not those of the whole limit."""


def test_the_limits_in_the_way_are_those_that_a_listing_without_them_names() -> None:
    """Each limit is dropped in turn, and all bundles listed again: named are just those without which a hundredth more is
    delivered, or (where it takes several) together. Limits on suction and on media are as good a reason as any."""
    named: set[str] = set()
    for seed in (960, 961, 963, 965):
        rig, catalog = world(seed, most=40)
        limits = replace(rig.limits, budget=None, flow_min_m3s=0.0, inlet_head_m=max(rig.limits.inlet_head_m, 0.1))
        within, free = listed_most(rig, catalog, limits), listed_most(rig, catalog, Limits().without(*Limits().binding))
        if not within or free < within * 1.02:
            continue
        wanted = 10.0 * free
        told = wish(replace(rig, target_m3s=wanted, limits=limits), catalog, limits, 0.0)
        assert told is not None
        assert told.reach_m3s == pytest.approx(within, abs=RESOLUTION_M3S), seed
        alone = {name for name in limits.binding if listed_most(rig, catalog, limits.without(name)) >= within * 1.01}
        words = {limit_words(name, limits, rig): name for name in limits.binding} | SINGLE
        found = {name for text, name in words.items() for said in told.in_the_way if said.startswith(text)}
        if alone:
            assert found == alone, (seed, told.in_the_way)
        else:
            assert " and " in told.in_the_way[0], (seed, told.in_the_way)
        named |= found
    assert named == {"flow_max_m3s", "inlet_head_m"}


@pytest.mark.parametrize("most", [60, 3])
def test_where_no_single_limit_helps_the_smallest_set_is_named(monkeypatch: pytest.MonkeyPatch, most: int) -> None:
    """Of five limits two hold the flow together, or three others; with few questions to ask, a set none of which is needless."""
    monkeypatch.setattr(wishes, "MOST_ASKED", most)
    five = [(name, "") for name in "abcde"]

    def helps(without: Collection[tuple[str, str]]) -> bool:
        names = {name for name, _ in without}
        return {"b", "d"} <= names or {"a", "c", "e"} <= names

    least = wishes._least(five, helps)
    assert helps(least) and not any(helps([other for other in least if other != one]) for one in least)
    assert most == 3 or {name for name, _ in least} == {"b", "d"}


def test_a_wish_that_is_reached_or_not_above_the_floor_needs_no_reason() -> None:
    """Nothing stands in the way of what is there; no wish, no line."""
    rig, catalog = world(1)
    told = wish(replace(rig, target_m3s=2e-4), catalog, Limits(), 2.5e-4)
    assert told is not None and told.reached and told.in_the_way == ()
    assert wish(replace(rig, target_m3s=0.0), catalog, Limits(), 2.5e-4) is None
    assert wish(replace(rig, target_m3s=1e-4), catalog, Limits(flow_min_m3s=1e-4), 2.5e-4) is None


def test_the_planted_tank_of_the_trade_is_out_of_reach_and_its_windows_say_why() -> None:
    """Of the windows only that of the reactor is in the way, since what else has one may go or takes more.

    Case of the trade (common practice, no published source): ten per hour through reactor, heater and ultraviolet unit in one
    line is out of reach and not the right goal; the unit is outside its window already; the heater stays and keeps its flow."""
    catalog = read_catalog(DEMO / "catalog")
    result = best(read_rig(DEMO / "rigs" / "planted_300.toml", catalog), catalog, budget=10_000)
    assert result.wish is not None and result.best is not None
    assert not result.wish.reached
    assert result.wish.reach_m3s < result.wish.flow_m3s / 2
    assert result.wish.in_the_way[0] == "the flow window of reactor, at most 800 l/h"
    now = {line.place: line.kept for line in result.windows if line.row == "now"}
    assert now == {"reactor": True, "heater": True, "ultraviolet": False}
    last = {line.place: line for line in result.windows if line.row == "best"}
    assert all(line.kept for line in last.values())
    assert last["heater"].flow_m3s >= last["heater"].flow_min_m3s
