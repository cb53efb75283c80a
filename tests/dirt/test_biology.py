"""The biological floor: published areas, odds against drawing at random, and plans that keep half of the bacteria."""

import math

import numpy as np
import pytest
from dirt_cases import fed, floss, foam, rings, setup
from hypothesis import given
from hypothesis import strategies as st

from optimizer.dirt.biology import biological_floor, have_m2, least_m2, need_m2, sure_m2
from optimizer.dirt.change_plan import LEAST_STAYS, WEEKS_APART, change_plan
from optimizer.dirt.daily import Daily
from optimizer.dirt.laws import Laws
from optimizer.model.parts import Medium
from optimizer.model.rig import Tray
from optimizer.physics.dirt_figures import DIRT_FIGURES
from optimizer.physics.media import biological_area_m2

BODY = setup([foam(20)]).canister
"""Trays of 1.5 l."""


def feeding(feed_kg: float, protein: float) -> Daily:
    """A daily load of food alone."""
    return Daily(feed_kg_day=feed_kg, protein_share=protein, solids_kg_day=0.25 * feed_kg, debris_kg_day=0.0)


# Timmons and Ebeling: ammonia F x PC x 0.092; area at the planning rate of 0.3 g/m2/day by hand.
@pytest.mark.parametrize(("feed_kg", "protein", "ammonia_g"), [(1.0, 0.35, 32.20), (0.010, 0.40, 0.3680), (0.005, 0.45, 0.2070)])
def test_need_meets_the_handbook(feed_kg: float, protein: float, ammonia_g: float) -> None:
    daily = feeding(feed_kg, protein)
    floor = biological_floor(daily, 24.0, [Tray(medium=foam(20))], BODY)
    assert floor.ammonia_g_day == pytest.approx(ammonia_g, rel=1e-4)
    assert floor.need_m2 == pytest.approx(ammonia_g / 0.3, rel=1e-4)
    assert ammonia_g / 1.0 < floor.need_low_m2 < floor.need_m2 < floor.need_high_m2 <= ammonia_g / 0.15 * (1.0 + 1e-9)


def test_need_follows_the_temperature() -> None:
    """One rate with its law of warmth; 4 % a degree (Zhu and Chen 2002, from memory): 1.04^6 between 18 and 24 degC."""
    daily = feeding(0.008, 0.42)
    assert need_m2(daily, 18.0, Laws(warmth="none")) == pytest.approx(float(biological_area_m2(0.008, 0.42, 0.3)))
    assert need_m2(daily, 18.0) == pytest.approx(1.04**6 * need_m2(daily, 24.0))
    assert need_m2(daily, 24.0) > need_m2(daily, 28.0)


def test_a_stack_that_is_enough_stays_so_and_none_is_taken_on_a_coin_toss() -> None:
    """The need alone is enough in every second case, `sure_m2` in nine of ten (drawn at random); below that nothing may go."""
    rng = np.random.default_rng(2)
    rate, area = (math.log(DIRT_FIGURES[name].spread) / 1.2815515655446004 for name in ("nitrification", "media area"))
    over = np.exp(rng.normal(0.0, area, 200_000) + rng.normal(0.0, rate, 200_000))
    assert float((over * sure_m2(0.7) >= 0.7).mean()) == pytest.approx(0.9, abs=4e-3)
    assert float((over * 0.7 >= 0.7).mean()) == pytest.approx(0.5, abs=4e-3)
    assert least_m2(0.7, 9.0) == sure_m2(0.7)
    assert least_m2(0.7, 1.0) == 1.0
    assert least_m2(0.7, 0.3) == 0.7
    assert least_m2(0.0, 0.3) == 0.0


def test_small_feedings_need_a_litre_or_three_of_foam() -> None:
    """From memory: 5 g a day need 0.2 to 1.0 m2, that is 1 to 3 l of ordinary foam: biology rarely limits."""
    floor = biological_floor(feeding(0.005, 0.45), 24.0, [Tray(medium=foam(20))] * 2, BODY)
    assert floor.have_m2 == pytest.approx(3.0)
    assert 0.2 < floor.need_m2 < 1.0
    assert floor.verdict == "enough"


def test_only_media_for_bacteria_count() -> None:
    trays = [Tray(medium=floss()), Tray(medium=None), Tray(medium=rings())]
    assert have_m2(trays, BODY) == pytest.approx(350.0 * 1.5e-3)
    nothing = biological_floor(fed(), 24.0, trays[:2], BODY)
    assert (nothing.have_m2, nothing.enough, nothing.verdict) == (0.0, 0.0, "too little")
    assert biological_floor(feeding(0.0, 0.4), 24.0, trays, BODY).verdict == "enough"


@pytest.mark.parametrize("feed_g", [2.0, 8.0, 25.0])
def test_odds_are_those_of_drawing_at_random(feed_g: float) -> None:
    """Naive: draw both factors 200 000 times."""
    floor = biological_floor(fed(feed_g), 24.0, [Tray(medium=rings())] * 2, BODY)
    rng = np.random.default_rng(1)
    rate, area = (math.log(DIRT_FIGURES[name].spread) / 1.2815515655446004 for name in ("nitrification", "media area"))
    have = floor.have_m2 * np.exp(rng.normal(0.0, area, 200_000))
    need = floor.need_m2 * np.exp(rng.normal(0.0, rate, 200_000))
    assert floor.enough == pytest.approx(float((have >= need).mean()), abs=4e-3)
    assert floor.need_high_m2 == pytest.approx(float(np.quantile(need, 0.9)), rel=0.02)
    assert floor.have_low_m2 == pytest.approx(float(np.quantile(have, 0.1)), rel=0.02)


KINDS: list[Medium | None] = [None, foam(10), foam(30), rings(), floss()]


def mature_m2(halves: list[list[tuple[Medium | None, int]]], week: int) -> float:
    """Naive: every half tray with what is in it and since when; new media count four weeks later."""
    old_enough = [medium for tray in halves for medium, since in tray if since <= week - WEEKS_APART]
    return sum(have_m2([Tray(medium=medium)], BODY) / 2.0 for medium in old_enough)


@given(pairs=st.lists(st.tuples(st.sampled_from(KINDS), st.sampled_from(KINDS)), min_size=1, max_size=5))
def test_plans_change_everything_once_and_keep_half(pairs: list[tuple[Medium | None, Medium | None]]) -> None:
    """Followed half tray by half tray: what a step leaves is what is mature that day less what it takes out."""
    before, after = [Tray(medium=old) for old, _ in pairs], [new for _, new in pairs]
    halves = [[(old, -WEEKS_APART), (old, -WEEKS_APART)] for old, _ in pairs]
    weeks, begun = [], set[int]()
    for step in change_plan(before, after, BODY):
        there = mature_m2(halves, step.week)
        for half in range(round(2.0 * step.share)):
            at = half if step.share == 1.0 else next(n for n in (0, 1) if halves[step.tray][n][1] < 0)
            assert halves[step.tray][at][0] == step.old
            halves[step.tray][at] = (step.new, step.week)
        left = mature_m2(halves, step.week)
        assert step.mature_m2 == pytest.approx(left)
        if step.old is not None and step.old.biological:
            weeks.append(step.week)
            assert step.stays == pytest.approx(left / there)
            assert step.sound == (left >= LEAST_STAYS * there - 1e-9)
            whole = have_m2([Tray(medium=step.old)], BODY)
            assert step.share == 1.0 or step.tray in begun or there - whole < LEAST_STAYS * there + 1e-9
            begun.add(step.tray)
    assert [[medium for medium, _ in tray] for tray in halves] == [[new, new] for new in after]
    assert weeks == [n * WEEKS_APART for n in range(len(weeks))], "one part at a time, weeks apart"


def test_two_halves_where_one_tray_has_most() -> None:
    """Half of it now, half four weeks later: at least half of what is mature always stays (common practice)."""
    steps = change_plan([Tray(medium=foam(20)), Tray(medium=rings())], [foam(30), rings()], BODY)
    assert [(step.week, step.tray, step.share) for step in steps] == [(0, 0, 0.5), (WEEKS_APART, 0, 0.5)]
    assert all(step.sound for step in steps)


def test_taking_the_last_biological_medium_out_is_not_sound() -> None:
    steps = change_plan([Tray(medium=rings()), Tray(medium=None)], [None, floss()], BODY)
    assert [step.sound for step in steps] == [True, True, False]
    assert steps[-1].mature_m2 == 0.0


def test_new_surface_in_an_empty_tray_counts_only_once_it_is_mature() -> None:
    """An empty tray filled in week 0 does not excuse taking a whole tray out in week 0, but helps in week 4."""
    steps = change_plan([Tray(medium=rings()), Tray(medium=None)], [floss(), rings()], BODY)
    told = [(step.week, step.tray, step.share, round(step.stays, 3)) for step in steps]
    assert told == [(0, 1, 1.0, 1.0), (0, 0, 0.5, 0.5), (WEEKS_APART, 0, 0.5, 0.667)]


def test_a_plan_needs_every_tray() -> None:
    with pytest.raises(ValueError, match="every tray"):
        change_plan([Tray(medium=None)], [], BODY)
