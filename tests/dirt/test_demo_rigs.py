"""Demo rigs over time: rough size, and how far the separable approximation is from the coupled course."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from separable import arrival_of, separable_courses

from optimizer import api
from optimizer.answers.question import dearest, found_standing, stands_now
from optimizer.dirt.course import course
from optimizer.dirt.course_readings import rises
from optimizer.dirt.daily import daily_of
from optimizer.loop.standing import StandingLoop, standing_loop
from optimizer.model.catalog import Catalog
from optimizer.model.load import Load
from optimizer.model.rig import Rig
from optimizer.search.best import Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

DEMO = Path(__file__).parents[2] / "parts_demo"
NAMES = tuple(sorted(path.stem for path in (DEMO / "rigs").glob("*.toml")))


@cache
def rig(name: str) -> Rig:
    """A demo rig."""
    return api.read_rig(DEMO / "rigs" / f"{name}.toml", api.read_catalog(DEMO / "catalog"))


def branched(name: str) -> bool:
    """True for a rig with branches."""
    return any(position.branches for position in rig(name).positions)


SERIES = tuple(name for name in NAMES if not branched(name))


@cache
def clean(name: str) -> StandingLoop:
    """A demo rig as it stands, cleaned."""
    stands = stands_now(rig(name), Catalog(parts={}, products=()))
    return standing_loop(rig(name), stands.options, stands.joints).cleaned()


@pytest.mark.parametrize("name", NAMES)
def test_a_setup_flows_like_the_bundle_it_is(name: str) -> None:
    """The scalar solution of the verdict's own row."""
    stands = stands_now(rig(name), Catalog(parts={}, products=()))
    found = course(standing_loop(rig(name), stands.options, stands.joints), daily_of(rig(name)), 0.0)
    assert found.own_m3s[0] == pytest.approx(stands.own_m3s, rel=1e-8)


@pytest.mark.parametrize("name", SERIES)
def test_flow_falls_as_the_trade_says(name: str) -> None:
    """Common practice, no published source: 20 to 50 % by cleaning day, which is after four to eight weeks; less with large
    guards and coarse media, more with a fine guard, which is cleaned every week."""
    found = course(clean(name), daily_of(rig(name)), 56.0)
    left = float(found.flow_m3s[-1] / found.flow_m3s[0])
    assert 0.45 < left < 0.92 or found.loop.guards[0][1].opening_m < 1e-3  # type: ignore[union-attr]
    assert float(found.flow_m3s[28] / found.flow_m3s[0]) > left


@pytest.mark.parametrize("name", SERIES)
def test_the_separable_approximation_is_close(name: str) -> None:
    """Within 9 % of the coupled flow on each day up to 60: the worst are loops that choke, whose loss holds the dirt off;
    within 1 % while the loop still has four fifths of its flow. It errs to the safe side, since the flow of the clean rig that
    it takes for all days is the greatest."""
    daily = daily_of(rig(name))
    coupled = course(clean(name), daily, 60.0, step_days=0.25)
    apart = separable_courses([clean(name)], arrival_of(clean(name), daily), list(range(0, 61, 5)))[0]
    same = np.interp(apart.days, coupled.days, coupled.flow_m3s)
    error = apart.flow_m3s / same - 1.0
    assert np.abs(error).max() < 0.09
    assert np.abs(error[same > 0.8 * same[0]]).max() < 0.01
    assert error.max() < 1e-3


@pytest.mark.parametrize("name", ["rift_lake_450", "planted_300", "shrimp_and_fry_240"])
@pytest.mark.parametrize("budget", [3000, 30000])
def test_the_rig_of_today_will_do_as_the_reference_for_its_best_bundle(name: str, budget: int) -> None:
    """One reference for all bundles, with the openings of each one's own guard, which it tears soft solids to. Bundles of up to
    twice the flow: within 2 % on the last day on which they still have four fifths of it, within 3 % on day 60."""
    now, daily = clean(name), daily_of(rig(name))
    limits = replace(rig(name).limits, budget=budget)
    seeker = Seeker(build(choices(rig(name), api.read_catalog(DEMO / "catalog"), limits), dearest(limits)))
    found = seeker.most_flow().found
    assert found is not None
    stands = found_standing(rig(name), seeker, found)
    best = standing_loop(rig(name), stands.options, stands.joints, stands.flow_m3s if stands.held_by else float("inf"))
    coupled = course(best, daily, 60.0)
    four_fifths = int(np.flatnonzero(coupled.flow_m3s > 0.8 * coupled.flow_m3s[0])[-1])
    arrival = replace(arrival_of(now, daily), opening_m=best.guards[0][1].opening_m)
    apart = separable_courses([best], arrival, [coupled.days[four_fifths], 60.0])[0]
    assert coupled.flow_m3s[0] > course(now, daily, 0.0).flow_m3s[0]
    assert apart.flow_m3s[0] == pytest.approx(coupled.flow_m3s[four_fifths], rel=0.02)
    assert apart.flow_m3s[1] == pytest.approx(coupled.flow_m3s[-1], rel=0.03)


def test_packed_floss_clogs_first_in_the_rift_lake_loop() -> None:
    assert rises(course(clean("rift_lake_450"), daily_of(rig("rift_lake_450")), 60.0))[0].place == "canister, tray 3"


def test_what_is_not_said_is_assumed_and_told() -> None:
    """Feed and protein by rig file; debris by volume; nothing assumed when all is said."""
    base = rig("rift_lake_450")
    daily = daily_of(base)
    assert (daily.feed_kg_day, daily.protein_share, daily.solids_kg_day) == pytest.approx((0.008, 0.42, 0.002))
    assert daily.debris_kg_day == pytest.approx(0.3e-3 * 0.4)
    assert len(daily.notes) == 1
    assert daily.notes[0].startswith("feeding.debris: not given, taken as 0.12 g/day")
    assert len(daily_of(replace(base, load=Load())).notes) == 3
    told = daily_of(replace(base, load=Load(feed_kg_day=0.004, protein_share=0.5, debris_kg_day=0.0)))
    assert (told.debris_kg_day, told.notes) == (0.0, ())


def test_debris_is_read(tmp_path: Path) -> None:
    text = (DEMO / "rigs" / "rift_lake_450.toml").read_text(encoding="utf-8")
    path = tmp_path / "rig.toml"
    path.write_text(text.replace('feed = "8 g/day"', 'feed = "8 g/day"\ndebris = "1.4 g/week"'), encoding="utf-8")
    load = api.read_rig(path, api.read_catalog(DEMO / "catalog")).load
    assert load.debris_kg_day == pytest.approx(0.2e-3)
    assert (load.feed_kg_day, load.protein_share) == (0.008, 0.42)


def test_a_load_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        Load(feed_kg_day=-1.0)
    with pytest.raises(ValueError, match="protein"):
        Load(protein_share=1.5)
