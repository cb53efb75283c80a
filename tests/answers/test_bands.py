"""Bands of whole questions, against loops solved one by one and against the search's own flows."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from how_many import some_of
from scipy.optimize import brentq

from optimizer import api
from optimizer.answers.bands import BandWish, bands_answer
from optimizer.answers.question import Question
from optimizer.bands import band
from optimizer.bands.candidates import Candidate, candidate
from optimizer.bands.draws import Factors, draw, unknowns_of
from optimizer.bands.installed import installed
from optimizer.bands.priors import PRIORS
from optimizer.bands.series import scaled_loops
from optimizer.loop.standing import standing_loop
from optimizer.model.banded import Banded
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.parts import TeePiece
from optimizer.model.rig import Rig
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

DEMO = Path(__file__).parents[2] / "parts_demo"
SMALL = Path(__file__).parents[1] / "data" / "small"
DRAWS = 400
SERIES = ("community_180", "nano_60", "planted_300")


@pytest.fixture(scope="module")
def shop() -> Catalog:
    """The demo catalog."""
    return api.read_catalog(DEMO / "catalog")


def rig(name: str, shop: Catalog) -> Rig:
    """A demo rig."""
    return api.read_rig(DEMO / "rigs" / f"{name}.toml", shop)


def churchill(reynolds: float, roughness: float) -> float:
    """Friction factor in plain numbers: Churchill, Chemical Engineering 84 (1977) 91-92."""
    a = (2.457 * math.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * roughness))) ** 16
    return float(8.0 * ((8.0 / reynolds) ** 12 + (a + (37530.0 / reynolds) ** 16) ** -1.5) ** (1.0 / 12.0))


def flow_of(one: Candidate, factors: Factors, row: int) -> float:
    """Delivered flow of one draw: the head left over, in plain numbers, bracketed by SciPy's brentq."""
    loops = scaled_loops(one, factors).rows(np.array([row]))
    assert loops.curves is None and loops.run_coil_m is not None and not np.isfinite(loops.run_coil_m).any()
    lift, linear, quadratic, head, top, shape = (
        float(column[0])
        for column in (loops.lift_m, loops.linear, loops.quadratic, loops.max_head_m, loops.max_flow_m3s, loops.shape)
    )
    columns = (loops.run_bore_m, loops.run_length_m, loops.run_roughness_m, loops.run_factor)
    runs = list(zip(*(column[0].tolist() for column in columns), strict=True))

    def short_of(flow: float) -> float:
        total = lift + linear * flow + quadratic * flow * flow - head * (1.0 - (flow / top) ** shape)
        for bore, length, roughness, factor in runs:
            speed = flow / (math.pi * bore * bore / 4.0)
            friction = factor * churchill(speed * bore / one.kinematic_m2s, roughness / bore)
            total += friction * length / bore * speed * speed / (2.0 * 9.80665)
        return total

    return float(brentq(short_of, 1e-9, top, xtol=1e-15, rtol=1e-12))


@pytest.mark.parametrize("name", SERIES)
def test_the_stated_flows_are_those_of_the_search(name: str, shop: Catalog) -> None:
    tank = rig(name, shop)
    told, best = api.bands(tank, shop, draws=DRAWS, most=True), api.best(tank, shop)
    assert best.best is not None and told.band is not None and told.now is not None and told.now_band is not None
    assert (told.status, len(told.candidates), told.asked) == ("proved", 5, 5)
    assert told.candidates[0].row.price == best.best.price
    assert told.band.lines[0].stated_m3s == pytest.approx(best.best.flow_m3s, rel=1e-6)
    assert told.now_band.stated_m3s == pytest.approx(best.now.flow_m3s, rel=1e-6)
    assert told.now.flow_m3s == pytest.approx(best.now.flow_m3s)
    for each, line in zip(told.candidates, told.band.lines, strict=True):
        assert line.name == each.row.name
        assert line.stated_m3s == pytest.approx(each.row.flow_m3s, rel=1e-6)
        assert line.p10_m3s < line.p50_m3s < line.p90_m3s
    assert sum(line.win_share for line in told.band.lines) == pytest.approx(1.0)


def test_quantiles_and_the_lead_over_today_are_those_of_loops_solved_one_by_one(shop: Catalog) -> None:
    """Every draw of the best bundle and of the loop as it is, each by itself; quantiles by sorting, linearly in between."""
    tank = rig("community_180", shop)
    tank = replace(tank, limits=replace(tank.limits, budget=2000, flow_min_m3s=0.0, inlet_head_m=-5.0))
    told = api.bands(tank, shop, draws=60, seed=3, candidates=1, most=True)
    assert told.band is not None and told.now_band is not None
    seeker = Seeker(build(choices(tank, shop, tank.limits)))
    found = seeker.most_flow().found
    assert found is not None
    joints = [seeker.problem.joint(flat) for flat in found.bundle.path.joints]
    best = candidate(standing_loop(tank, seeker.options_of(found.bundle), joints), tank.limits, "best")
    pair = (best, installed(tank))
    factors = Factors(draw(unknowns_of(one.unknowns for one in pair), 60, seed=3), PRIORS)
    flows = [[flow_of(one, factors, row) for row in range(60)] for one in pair]
    for line, own in zip((told.band.lines[0], told.now_band), flows, strict=True):
        ranked = sorted(own)
        for share, value in ((0.1, line.p10_m3s), (0.5, line.p50_m3s), (0.9, line.p90_m3s)):
            whole, part = divmod(share * 59, 1.0)
            by_hand = ranked[int(whole)] + part * (ranked[int(whole) + 1] - ranked[int(whole)])
            assert value == pytest.approx(by_hand, rel=1e-7)
    leads = sum(mine > today + RESOLUTION_M3S for mine, today in zip(*flows, strict=True))
    assert told.beats_now_share == pytest.approx(leads / 60)


def test_a_bundle_has_the_same_band_in_whatever_set_it_stands(shop: Catalog) -> None:
    tank = rig("nano_60", shop)
    few, many = (api.bands(tank, shop, draws=DRAWS, candidates=count, most=True) for count in (2, 6))
    assert few.band is not None and many.band is not None
    for one, same in zip(few.band.lines, many.band.lines, strict=False):
        assert (one.name, one.p10_m3s, one.p50_m3s, one.p90_m3s) == (same.name, same.p10_m3s, same.p50_m3s, same.p90_m3s)


def test_the_same_seed_gives_the_same_answer_and_another_one_nearly(shop: Catalog) -> None:
    tank = rig("nano_60", shop)
    one, same, other = (api.bands(tank, shop, draws=2000, seed=seed, most=True) for seed in (7, 7, 8))
    assert one == same
    assert one.band is not None and other.band is not None
    assert one.band.lines != other.band.lines
    for mine, its in zip(one.band.lines, other.band.lines, strict=True):
        assert mine.p50_m3s == pytest.approx(its.p50_m3s, rel=0.01)


@pytest.mark.parametrize("quantile", some_of(["P10", "P50", "P90"], 2))
def test_the_robust_bundle_has_the_best_quantile_of_its_set(quantile: str, shop: Catalog) -> None:
    told = api.bands(rig("shrimp_and_fry_240", shop), shop, budget=6000, draws=DRAWS, robust=quantile)
    assert told.band is not None and told.band.robust is not None
    assert len(told.candidates) == told.asked == 20
    values = {line.name: getattr(line, f"{quantile.lower()}_m3s") for line in told.band.lines}
    chosen = told.band.robust
    assert told.band.told == chosen.name
    assert values[chosen.name] == chosen.flow_m3s
    assert chosen.flow_m3s >= max(values.values()) - RESOLUTION_M3S
    medians = {line.name: line.p50_m3s for line in told.band.lines}
    assert chosen.gives_up_m3s == pytest.approx(max(medians["best"] - medians[chosen.name], 0.0), abs=1e-15)
    assert (
        chosen.made == "the 20 that deliver most by the stated figures for at most 60.00, each truly different from better ones"
    )


def test_a_throttle_holds_the_flow_in_every_draw(shop: Catalog) -> None:
    """The rig's limit on flow is 800 l/h, and its tap stands on the outlet side."""
    told = api.bands(rig("planted_300", shop), shop, draws=DRAWS, most=True)
    assert told.band is not None
    line = told.band.lines[0]
    assert line.p90_m3s <= 800 / 3.6e6 * (1 + 1e-12)
    assert 0.0 < line.held_share < 1.0


def test_of_the_cheapest_all_cost_no_more_and_the_wanted_flow_counts_as_a_limit(shop: Catalog) -> None:
    tank = rig("nano_60", shop)
    wanted = 230 / 3.6e6
    told, cheapest = api.bands(tank, shop, flow_m3s=wanted, draws=2000), api.cheapest(tank, shop, flow_m3s=wanted)
    assert cheapest.best is not None and told.band is not None and told.now_band is not None
    assert told.candidates[0].row.price == cheapest.best.price
    assert told.candidates[0].row.flow_m3s >= wanted - RESOLUTION_M3S
    assert all(each.row.price <= cheapest.best.price for each in told.candidates)
    first = told.band.lines[0]
    assert first.p10_m3s < wanted < first.p90_m3s
    assert 0.1 < first.within_share < 0.9
    assert told.now_band.within_share == 0.0


def test_what_to_ask_for_instead_reaches_the_wanted_flow_at_p10(shop: Catalog) -> None:
    tank = rig("nano_60", shop)
    wanted = 230 / 3.6e6
    told = api.bands(tank, shop, flow_m3s=wanted, draws=2000)
    assert told.ask_m3s > wanted
    more = api.bands(tank, shop, flow_m3s=told.ask_m3s, draws=2000)
    assert more.band is not None
    assert more.band.lines[0].p10_m3s >= wanted * 0.98
    assert api.bands(tank, shop, flow_m3s=140 / 3.6e6, draws=DRAWS, budget=3000).ask_m3s == 0.0


@pytest.mark.parametrize("name", ["stem_plants_200", "ricefish_160"])
def test_demo_rigs_with_branches_have_bands_about_the_flows_of_the_search(name: str, shop: Catalog) -> None:
    tank = rig(name, shop)
    told, best = api.bands(tank, shop, draws=DRAWS, candidates=2, most=True), api.best(tank, shop)
    assert best.best is not None and told.band is not None and told.now is not None and told.now_band is not None
    assert (told.status, len(told.candidates)) == ("proved", 2)
    assert told.candidates[0].row.price == best.best.price
    lines = zip(told.band.lines, [each.row.flow_m3s for each in told.candidates], strict=True)
    for line, flow in (*lines, (told.now_band, best.now.flow_m3s)):
        assert line.stated_m3s == pytest.approx(flow, rel=1e-6)
        assert line.p10_m3s < line.p50_m3s < line.p90_m3s


@pytest.mark.parametrize("name", ["stem_plants_200", "ricefish_160"])
def test_half_of_all_draws_lie_about_the_stated_flow_of_branches(name: str, shop: Catalog) -> None:
    """With the pump known P50 lies a little below the flow of the search, since losses are skewed. The label takes as much again:
    its two ends err farther down than up, each about its own median."""
    tank = rig(name, shop)
    seeker = Seeker(build(choices(tank, shop, tank.limits)))
    found = seeker.most_flow().found
    assert found is not None
    joints = [seeker.problem.joint(flat) for flat in found.bundle.path.joints]
    best = candidate(standing_loop(tank, seeker.options_of(found.bundle), joints), tank.limits, "best")
    pump_known = {
        each.name: replace(each, spread=1.0, spread_down=0.0) if each.group == "pump curve" else each for each in PRIORS.values()
    }
    for one in (best, installed(tank)):
        known, all_drawn = (band.line_of(one, priors=priors) for priors in (pump_known, PRIORS))
        assert known.stated_m3s == all_drawn.stated_m3s
        assert 0.97 * known.stated_m3s < known.p50_m3s < known.stated_m3s
        assert 0.97 * known.p50_m3s < all_drawn.p50_m3s < known.p50_m3s


def test_a_bypass_keeps_most_draws_within_the_window_of_the_device_beside_it(shop: Catalog) -> None:
    """Today all the water goes through the ultraviolet unit, which allows 400 l/h of it."""
    told = api.bands(rig("stem_plants_200", shop), shop, draws=DRAWS, candidates=1, most=True)
    assert told.band is not None and told.now_band is not None
    assert told.now_band.p10_m3s > 400 / 3.6e6 and told.now_band.within_share == 0.0
    assert told.band.lines[0].within_share > 0.9
    (fittings,) = (share.parts for share in told.band.shares if share.unknown == "fittings")
    assert any(isinstance(shop.parts.get(part), TeePiece) for part in fittings)


@pytest.mark.parametrize("robust", ["", "P10"])
def test_two_positions_with_branches_are_drawn(robust: str) -> None:
    """Two strainers at a tee, and a reactor with a way past it; with a budget for both."""
    goods = api.read_catalog(SMALL / "catalog")
    tank = api.read_rig(SMALL / "two_intakes.toml", goods)
    told = api.bands(tank, goods, draws=DRAWS, candidates=3, robust=robust)
    best = api.best(tank, goods)
    assert told.now_band is not None and told.now_band.stated_m3s == pytest.approx(best.now.flow_m3s, rel=1e-6)
    assert best.best is not None and told.band is not None
    assert told.band.lines[0].stated_m3s == pytest.approx(best.best.flow_m3s, rel=1e-6)
    assert (told.band.robust is None) == (not robust)


def test_limits_that_nothing_meets_leave_the_band_of_today(shop: Catalog) -> None:
    told = api.bands(rig("community_180", shop), shop, budget=100, draws=DRAWS, most=True)
    assert (told.status, told.band, told.candidates) == ("infeasible", None, ())
    assert told.now_band is not None and told.now_band.p10_m3s > 0.0
    dear = api.bands(rig("community_180", shop), shop, flow_m3s=1.0, draws=DRAWS)
    assert (dear.status, dear.band) == ("infeasible", None)


def stopped_after_two(shop: Catalog) -> Banded:
    """Bands of a list that is halted once it has two bundles."""
    tank = rig("community_180", shop)
    asked: list[int] = []

    def halted() -> bool:
        asked.append(0)
        return len(asked) > 6

    question = Question(rig=tank, catalog=shop, limits=tank.limits)
    return bands_answer(question, BandWish(most=40, robust="P10", draws=DRAWS), None, halted)


def test_a_list_that_was_stopped_says_how_far_it_came(shop: Catalog) -> None:
    told = stopped_after_two(shop)
    assert told.status == "stopped"
    assert told.band is not None and told.band.robust is not None
    assert 1 <= len(told.candidates) < 40
    assert f"the {len(told.candidates)} that were found before the search was stopped" in told.band.robust.made


def test_a_set_that_holds_all_there_are_says_so(shop: Catalog) -> None:
    tank = rig("nano_60", shop)
    tank = replace(tank, limits=Limits(budget=300))
    told = api.bands(tank, shop, candidates=60, robust="P20", draws=DRAWS)
    assert told.status == "proved" and told.band is not None and told.band.robust is not None
    assert 1 < len(told.candidates) < 60
    assert told.band.robust.made.startswith(f"all {len(told.candidates)} there are for at most 3.00")


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"candidates": 0}, "at least one bundle"),
        ({"robust": "P99"}, "no quantile from P5 to P95"),
        ({"seed": -1}, "seed that is not negative"),
        ({"draws": 1}, "2 to 200000 draws"),
        ({"draws": 10**9}, "2 to 200000 draws"),
    ],
)
def test_what_makes_no_sense_is_refused(asked: dict[str, int], told: str, shop: Catalog) -> None:
    with pytest.raises(ValueError, match=told):
        api.bands(rig("nano_60", shop), shop, **asked)  # type: ignore[arg-type]
