"""A rig between two cleanings: against naive daily walks, hand sums, and what the trade says of filters in use."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from branched_worlds import branched_world
from demo import rig, shop

from optimizer import api
from optimizer.answers.ageing import CLEAN_BELOW, DUE_COST, shown_days
from optimizer.answers.by_fills import by_fills
from optimizer.answers.media_plan import surface
from optimizer.cli import main
from optimizer.dirt.course import course
from optimizer.dirt.daily import daily_of
from optimizer.dirt.law_sources import FIELDS, SOURCES, with_law
from optimizer.dirt.laws import USUAL
from optimizer.loop.standing import standing_loop
from optimizer.model.ageing import Ageing
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig
from optimizer.report.ageing_text import headline, render
from optimizer.report.text import render as render_result

DEMO = Path(__file__).parents[2] / "parts_demo"
COMMUNITY, SHRIMP = "community_180", "shrimp_and_fry_240"


@cache
def told(name: str) -> Ageing:
    """A demo rig over 90 days."""
    return api.ageing(rig(name), renew=True)


def cleaned(one: Rig) -> Rig:
    """The rig with every part and tray clean."""
    positions = tuple(replace(position, state=position.state.cleaned()) for position in one.positions)
    return replace(one, positions=positions, trays=tuple(replace(tray, state=tray.state.cleaned()) for tray in one.trays))


def test_the_first_day_is_the_rig_itself() -> None:
    """Clean and as it is, by the bracketing scalar solver of one loop."""
    first = told(COMMUNITY).rows[0]
    assert first.flow_m3s == pytest.approx(api.operating_point(cleaned(rig(COMMUNITY))).flow_m3s, rel=1e-8)
    assert first.undone_m3s == pytest.approx(api.operating_point(rig(COMMUNITY)).flow_m3s, rel=1e-8)
    assert first.turnover_per_hour == pytest.approx(first.flow_m3s * 3600.0 / rig(COMMUNITY).tank.net_m3)


def test_days_until_something_is_missed_by_a_finer_walk() -> None:
    """Naive: the first day of a course in quarter days on which the flow is below; the table runs straight between days."""
    from optimizer.answers.question import stands_now

    stands = stands_now(rig(SHRIMP), Catalog(parts={}, products=()))
    fine = course(
        standing_loop(rig(SHRIMP), stands.options, stands.joints).cleaned(), daily_of(rig(SHRIMP)), 30.0, step_days=0.25
    )
    for name, least in (("three quarters", CLEAN_BELOW * fine.flow_m3s[0]), ("target", rig(SHRIMP).target_m3s)):
        below = next(float(day) for day, flow in zip(fine.days, fine.flow_m3s, strict=True) if flow < least)
        found = next(miss for miss in told(SHRIMP).missing if miss.name == name)
        assert found.day == pytest.approx(below, abs=0.7)
        assert found.undone_day == 0.0
    days = [miss.day for miss in told(SHRIMP).missing]
    assert days == sorted(days)


def test_a_fine_guard_is_cleaned_every_week_or_two() -> None:
    """Common practice, no published source: a guard of 0.8 mm in a tank with plants weekly, and it is what clogs first. This
    one is small for its plants: its file has it 92 % blocked on day five."""
    found = told(SHRIMP)
    guard = found.stages[0]
    assert (guard.what, guard.part) == ("guard", rig(SHRIMP).positions[0].installed.name)  # type: ignore[union-attr]
    assert 2.0 < guard.due_day < 16.0
    assert found.clogs_first[0].place == guard.place == rig(SHRIMP).positions[0].name


def test_each_stage_by_itself_is_that_stage_alone_dirty() -> None:
    """The floss tray: a rig that is clean but for that tray, filled and under a cake as the course has it, solved as it stands.
    Floss is due
    within weeks (common practice, no published source)."""
    found = told(COMMUNITY)
    stage = next(stage for stage in found.stages if stage.place == "canister, tray 3")
    one = cleaned(rig(COMMUNITY))
    tray = replace(one.trays[2], state=replace(one.trays[2].state, filled=stage.dirt, cake_m=stage.cake_m))
    dirty = api.operating_point(replace(one, trays=(*one.trays[:2], tray))).flow_m3s
    assert stage.cost == pytest.approx(1.0 - dirty / found.rows[0].flow_m3s, rel=1e-6)
    assert stage.cost > DUE_COST
    assert 14.0 < stage.due_day < 70.0


def test_the_dirt_is_accounted_for() -> None:
    """What is made is 0.25 kg of dry solids per kg of feed (Timmons and Ebeling) and the debris; all of it is somewhere."""
    found, daily = told(COMMUNITY), daily_of(rig(COMMUNITY))
    assert found.made_kg == pytest.approx(90.0 * (0.25 * found.feed_kg_day + daily.debris_kg_day))
    caught = sum(stage.caught_kg for stage in found.stages if stage.caught_kg is not None)
    assert caught + found.left_kg == pytest.approx(found.made_kg, rel=1e-9)


def test_renewal_leaves_half_and_takes_weeks() -> None:
    """By hand: 0.6 m2 of the rings and 1.3 m2 of the foam; the smaller goes first and whole, the larger in two halves, four weeks
    apart (common practice, no published source)."""
    steps = told(COMMUNITY).renewal
    assert [(step.week, step.tray, step.share) for step in steps] == [(0, 2, 1.0), (4, 1, 0.5), (8, 1, 0.5)]
    assert all(step.sound and step.stays >= 0.5 for step in steps)
    assert not api.ageing(rig(COMMUNITY), days=3).renewal


@pytest.mark.parametrize("about", FIELDS)
def test_every_law_can_be_chosen_and_has_a_source(about: str) -> None:
    for name, source in SOURCES[about].items():
        laws = with_law(USUAL, about, name)
        found = api.ageing(rig("nano_60"), days=20, laws=laws)
        assert next((law.law, law.source) for law in found.laws if law.about == about) == (name, source)
        assert ("from memory" in source or "prior of the authors" in source or "20" in source) or name == "kozeny"
    with pytest.raises(ValueError, match="no "):
        with_law(USUAL, about, "nosuch")


def test_laws_differ_where_they_should() -> None:
    """Doubling at the rated capacity is far milder than the cubic law where all lies in the depth, and the less so where what is
    coarse lies on the face; no cake is milder than one."""
    bare = with_law(USUAL, "faces", "none")
    cubic, doubling, both = (
        api.ageing(rig(COMMUNITY), laws=laws).rows[-1].flow_m3s
        for laws in (bare, with_law(bare, "media", "doubling"), with_law(USUAL, "media", "doubling"))
    )
    caked = told(COMMUNITY).rows[-1].flow_m3s
    assert doubling > 1.05 * cubic
    assert doubling > both > caked
    assert cubic > 1.05 * caked


@pytest.mark.parametrize("name", sorted(path.stem for path in (DEMO / "rigs").glob("*.toml")))
def test_every_demo_rig_ages_sensibly(name: str) -> None:
    """Flow falls from day to day and dirt only costs: 2 to 90 % in 90 days, where 20 to 50 % after eight weeks are common (common
    practice, no published source). All lines fit. What is not cleaned never has more, but for a millionth where both have
    choked long ago: what flows less brings its media less dirt."""
    found = told(name)
    flows = [row.flow_m3s for row in found.rows]
    assert flows == sorted(flows, reverse=True)
    assert [row.days for row in found.rows] == shown_days(90)
    assert all(row.undone_m3s <= row.flow_m3s * (1.0 + 1e-5) for row in found.rows)
    assert 0.02 < 1.0 - found.rows[-1].share < 0.9
    assert all(0.0 <= stage.cost < 1.0 for stage in found.stages)
    assert found.clogs_first
    bio = found.bacteria
    assert bio.need_low_m2 < bio.need_m2 < bio.need_high_m2
    assert 0.0 <= bio.enough <= 1.0
    text = render(found)
    assert all(len(line) <= 90 for line in text.splitlines())
    worst = max(found.stages, key=lambda stage: stage.cost)
    assert f"What costs most of the flow by then: {worst.place} (" in " ".join(text.split())
    assert headline(found).count("\n") == 1
    json.dumps(found.to_dict(), allow_nan=False)


def test_surface_is_enough_when_it_is_far_more_than_is_needed() -> None:
    """By hand: 3 g of feed of 45 % protein make 3 x 0.45 x 0.092 g of nitrogen (Timmons and Ebeling), at 0.3 g/m2 and day; here
    1.04^2 times that at 26 degC."""
    bio = told(COMMUNITY).bacteria
    assert bio.ammonia_g_day == pytest.approx(3.0 * 0.45 * 0.092, rel=1e-3)
    assert bio.need_m2 == pytest.approx(bio.ammonia_g_day / (0.3 * 1.04**2), rel=1e-9)
    assert bio.have_m2 == pytest.approx(rig(COMMUNITY).bio_area_m2)
    assert bio.verdict == "enough"
    hungry = replace(rig(COMMUNITY), load=replace(rig(COMMUNITY).load, feed_kg_day=0.1))
    assert surface(hungry, daily_of(hungry), hungry.trays).verdict == "too little"


def test_a_rig_with_branches_ages_with_the_flow_of_each() -> None:
    """Two guards on one tee: both are stages, what passes them adds up, since no water is lost, and each is held against
    the limit on the speed in front of it by its own flow."""
    two = next(one for one in (branched_world(seed)[0] for seed in range(50)) if _has_two(one) and one.positions[0].branches)
    two = replace(two, limits=replace(two.limits, guard_speed_ms=0.06))
    found = api.ageing(two)
    left, right = found.branches
    assert (left.place, left.branch, right.branch) == ("intakes", "left", "right")
    for n, row in enumerate(found.rows):
        assert left.flows_m3s[n] + right.flows_m3s[n] == pytest.approx(row.flow_m3s, rel=1e-9)
    assert [guard.place for guard in found.guards] == ["intake", "intake_b"]
    faces = {place.name: place.installed.face_area_m2 for place in two.every_position if place.kind == "guard"}  # type: ignore[union-attr]
    for guard, flows in zip(found.guards, (left, right), strict=True):
        assert guard.clean_ms == pytest.approx(flows.flows_m3s[0] / faces[guard.place])
        miss = next(miss for miss in found.missing if (miss.name, miss.place) == ("guard_speed_ms", guard.place))
        assert (miss.day <= found.days) == (guard.last_ms > 0.06)
    assert [stage.place for stage in found.stages if stage.what == "guard"] == ["intake", "intake_b"]
    text = render(found)
    assert "Flow of each branch" in text
    assert all(len(line) <= 90 for line in text.splitlines())
    json.dumps(found.to_dict(), allow_nan=False)


def test_a_device_in_a_branch_goes_by_its_own_flow() -> None:
    two = next(one for one in (branched_world(seed)[0] for seed in range(8, 50)) if _has_two(one) and "uv" in _names(one))
    (window,) = api.ageing(two).windows
    unit, bypass = api.ageing(two).branches
    assert (window.place, window.clean_m3s, window.last_m3s) == ("unit", unit.flows_m3s[0], unit.flows_m3s[-1])
    assert bypass.flows_m3s[-1] > 0.0
    assert f"window {window.flow_min_m3s * 3.6e6:.0f}" in render(api.ageing(two)) or not window.flow_min_m3s


def test_fills_say_what_stays_loses_and_what_its_dirt_costs() -> None:
    """If nothing is done the first day is what the calibration says the loop delivers; cleaned, what cleaning all of it does
    by the same factors: both by the answers of the clean day, which know nothing of courses."""
    one = rig("reading_corner_130")
    found, stated = api.ageing(one), api.ageing(one, measured=False)
    assert found.by_fills is not None
    assert found.rows[0].undone_m3s == pytest.approx(found.by_fills.delivered_m3s, rel=1e-7)
    assert stated.rows[0].undone_m3s == pytest.approx(found.by_fills.stated_m3s, rel=1e-7)
    fitted = replace(cleaned(one), fitted=by_fills(one)[0].fitted)
    assert found.rows[0].flow_m3s == pytest.approx(api.operating_point(fitted).flow_m3s, rel=1e-7)
    assert found.rows[1].undone_m3s < found.rows[0].undone_m3s
    assert "By the fills" in render(found)
    lasting = api.best(one, shop(), budget=0, interval_days=30.0)
    assert lasting.lasting is not None
    assert lasting.by_fills == found.by_fills
    assert all(check.agrees for check in lasting.proof.certificates)


def _names(one: Rig) -> list[str]:
    return [position.name for position in one.positions]


def _has_two(one: Rig) -> bool:
    return any(position.branches and position.branches[1].installed for position in one.positions)


@pytest.mark.parametrize("days", [0, 731])
def test_days_beyond_all_sense(days: int) -> None:
    with pytest.raises(ValueError, match="from 1 to 730 days"):
        api.ageing(rig("nano_60"), days=days)


def test_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    path, catalog = str(DEMO / "rigs" / "nano_60.toml"), ["--catalog", str(DEMO / "catalog")]
    assert main(["ageing", path, *catalog, "--days", "2 weeks", "--law", "overlap, hoses=Steady", "--json"]) == 0
    body = json.loads(capsys.readouterr().out)
    assert (body["schema"], body["days"], body["rows"][-1]["days"]) == ("fullbore-ageing/6", 14.0, 14.0)
    assert {law["about"]: law["law"] for law in body["laws"]}["hoses"] == "steady"
    assert any(miss["day"] is None for miss in body["missing"])
    assert main(["ageing", path, *catalog, "--units", "us"]) == 0
    assert "gph" in capsys.readouterr().out
    for argv, said in (
        (["--days", "0"], '--days: "0" is no whole number of days from 1 to 730.'),
        (["--days", "9" * 30], "is no whole number of days from 1 to 730."),
        (["--law", "saturating"], '--law: "saturating" is a law for hoses and impeller. Write for example "hoses=saturating".'),
        (["--law", "media=steady"], '--law: "steady" is not known here. Write one of: cubic,'),
        (["--law", "boots=cubic"], '--law: "boots" is not known here.'),
        (["--law", ""], '--law: "" is no law. There are, for media: cubic,'),
    ):
        assert main(["ageing", path, *catalog, *argv]) == 1
        assert said in capsys.readouterr().err
    assert main(["ageing", path, *catalog, "--days", "x", "--law", "y"]) == 1
    assert capsys.readouterr().err.startswith("command line: 2 problems")


def test_a_bundle_that_changes_biological_media_brings_its_plan() -> None:
    """Floor before and after and the steps, in text and JSON; a bundle that leaves such media alone brings none."""
    one = rig(COMMUNITY)
    trays = tuple(replace(tray, state=replace(tray.state, filled=0.9)) for tray in one.trays)
    limits = replace(one.limits.without(*one.limits.binding), mature_media=True, mechanical_stage=True, budget=20000)
    found = api.best(replace(one, trays=trays, limits=limits), shop())
    plan = found.media
    assert plan is not None
    assert plan.now.have_m2 == pytest.approx(one.bio_area_m2)
    assert found.best is not None
    assert plan.after.have_m2 == pytest.approx(found.best.bio_area_m2)
    weeks = sorted({step.week for step in plan.steps})
    assert all(then - week >= 4 for week, then in zip(weeks, weeks[1:], strict=False))
    assert all(step.stays >= 0.5 - 1e-9 for step in plan.steps if step.sound)
    text = render_result(found, full=True)
    assert "Bacteria and their media" in text
    assert "of the mature surface stays" in text
    assert found.to_dict()["media"]["steps"]  # type: ignore[index]
    assert api.best(one, shop(), budget=0).media is None
    assert math.isfinite(plan.now.enough)


def test_us_units_reach_what_is_missed() -> None:
    """Windows and the wish of the rig file in US gallons per hour: 400 l/h are 400 / 3.785411784 of them."""
    found = api.ageing(api.read_rig(DEMO / "rigs" / "planted_300.toml", shop()))
    missed = render(found, "us").split("What is missed when")[1].split("Each stage")[0]
    assert "l/h" not in missed
    assert f"to {400 / 3.785411784:.0f} gph" in missed
    assert "150 to 400 l/h" in render(found)
