"""Air and bacteria: joints that would draw air come from the pressures, trays from the rig and from what the answer does."""

from dataclasses import replace
from functools import cache

import pytest
from demo import rig, shop

from optimizer import api
from optimizer.answers.care import air_joints
from optimizer.model.care import Care
from optimizer.model.limits import Limits
from optimizer.model.results import PressureProfile, Result
from optimizer.model.rig import Rig
from optimizer.report import bacteria_text, priming_text
from optimizer.report.layout import finished
from optimizer.report.measures import SYSTEMS
from optimizer.report.text import render

TANK = "marine_75gal"


def raised(depth_m: float, rim_m: float | None = None) -> Rig:
    """The tank with its pump, which sits on the canister, as deep as that; no limits but those on media."""
    tank = rig(TANK)
    places = tuple(replace(p, depth_m=depth_m) if p.kind in ("pump", "canister") else p for p in tank.positions)
    return replace(tank, positions=places, rim_m=rim_m, limits=Limits().without("inlet_head_m"))


@cache
def answer(depth_m: float = 1.0, rim_m: float | None = None) -> Result:
    return api.best(raised(depth_m, rim_m), shop(), budget=0)


def care_of(result: Result) -> Care:
    assert result.care is not None
    return result.care


def told(result: Result, units: str = "metric") -> str:
    lines = [*priming_text.lines(result, SYSTEMS[units]), *bacteria_text.lines(result, SYSTEMS[units])]
    return " ".join(finished(lines).split())


def last(result: Result) -> PressureProfile:
    return next(profile for profile in result.profile if profile.name == "best")


def test_joints_below_nothing_are_named_lowest_first_and_those_in_the_tank_are_not() -> None:
    """With the pump 20 cm down what guard, hose and canister take is more than the depth; the intake's joints hang in water."""
    result = answer(0.2)
    air = care_of(result).air
    by_hand = {
        (a.place, b.place): min(a.head_m, b.head_m)
        for profile in result.profile
        if profile.name == "best"
        for a, b in zip(profile.points, profile.points[1:], strict=False)
        if a.place != b.place and a.level_m < 0.0 and b.level_m < 0.0 and a.suction and min(a.head_m, b.head_m) < -0.005
    }
    assert by_hand
    mine = {joint.between: joint.head_m for joint in air.joints if joint.row == "best"}
    assert mine == pytest.approx(by_hand)
    assert not any("intake_elbow" in joint.between for joint in air.joints)
    heads = [joint.head_m for joint in air.joints if joint.row == "best"]
    assert heads == sorted(heads)
    text = told(result)
    assert "best: these draw air if they are not tight: canister to pump (-" in text
    assert "Then the joints named above, the lowest first: canister to pump" in text


def test_above_nothing_no_joint_is_named_but_the_nearest_is_said() -> None:
    """A leak there drips and draws nothing."""
    result = answer(1.0)
    air = care_of(result).air
    assert [joint for joint in air.joints if joint.row == "best"] == []
    assert air.nearest is not None
    assert air.nearest.head_m == pytest.approx(min(joint.head_m for joint in air_joints(last(result))))
    assert "best: no joint below 0; the nearest is canister to pump (" in told(result)


def test_behind_a_rim_of_known_height_joints_count_from_there_on() -> None:
    """What comes after the crest hangs outside, also above the water line; without the rim it is named as not given."""
    assert care_of(answer(1.0)).air.missing == ("site.rim",)
    result = answer(1.0, 0.06)
    assert care_of(result).air.missing == ()
    assert "over the rim, which here stands 6 cm above the water" in told(result)
    outside = {joint.between for joint in air_joints(last(result))}
    assert ("suction_hose", "in_tail") in outside
    assert not any("bar" in place or "guard" in place for pair in outside for place in pair)


@pytest.mark.parametrize(
    ("rim_m", "below_m", "words"),
    [
        (0.06, 1.0, "it does not prime by itself. A hand primer manages about 50 cm"),
        (0.7, 1.0, "nor by a hand primer, which manages about 50 cm (common practice): fill the suction hose by hand"),
        (0.0, 1.0, "water falls in by itself as soon as the air is let out"),
        (None, 1.0, "How high that is, is not given (site.rim)"),
        (0.06, -0.1, "it stands no lower than the water, so nothing falls into it: fill it by hand before every start"),
    ],
)
def test_whether_the_loop_primes_by_itself_or_by_a_primer(rim_m: float | None, below_m: float, words: str) -> None:
    """A pump full of air gives its head in m of air, 1.2 kg/m3 (handbook), which in water is a thousandth: it never lifts
    any over a rim. What a hand primer manages is common practice, no published source."""
    air = care_of(answer(1.0, 0.06)).air
    pump = raised(1.0).pump
    assert air.dry_head_m == pytest.approx(pump.curve.max_head_m * 1.2 / 1021.0, rel=0.03)
    assert air.rim_m == 0.06 and air.below_m == 1.0
    care = replace(care_of(answer(1.0, 0.06)), air=replace(air, rim_m=rim_m, below_m=below_m))
    assert words in told(replace(answer(1.0, 0.06), care=care))


def test_a_pump_whose_depth_nobody_gave_is_told_as_missing() -> None:
    tank = raised(1.0)
    places = tuple(replace(p, depth_known=False) if p.kind == "pump" else p for p in tank.positions)
    found = api.best(replace(tank, positions=places), shop(), budget=0)
    assert care_of(found).air.missing == ("loop.pump.depth", "site.rim")


def test_canister_and_hoses_take_as_much_water_as_they_hold() -> None:
    """By hand, from the rig: trays, and hoses of pi/4 d2 L by their clean bores (nothing is bought for 0)."""
    import math

    tank = raised(1.0)
    hoses = [place for place in tank.positions if place.kind == "hose"]
    water = sum(math.pi / 4.0 * place.installed.inside_m**2 * place.length_m for place in hoses)  # type: ignore[union-attr]
    held = tank.canister.trays * tank.canister.tray_volume_m3
    assert care_of(answer()).air.fill_m3 == pytest.approx(held + water, rel=0.02)
    assert f"about {care_of(answer()).air.fill_m3 * 1e3:.1f} l in all" in told(answer())
    assert "gal in all" in told(answer(), "us")


def test_trays_where_bacteria_live_are_told_from_those_where_few_do_and_cleaning_is_in_halves() -> None:
    """The rig's own media: three trays house bacteria, the floss does not."""
    care = care_of(answer())
    assert [tray.biological for tray in care.trays] == [tray.medium.biological for tray in rig(TANK).trays if tray.medium]
    text = told(answer())
    assert "Few bacteria are lost with tray 4 (dense floss pad" in text
    cleaned = [tray.tray for tray in care.trays if tray.biological and tray.change == "clean"]
    assert cleaned == [1, 2, 3]
    assert "This answer cleans trays 1, 2 and 3: not on one day. Now tray 1, the rest two weeks later" in text
    assert "Unplug everything" in text
    assert "licensed electricians" in text
    assert text.count("common practice, no published source") == 2


def test_both_lists_stand_in_the_whole_text_and_survive_being_saved() -> None:
    """A saved answer says the same."""
    import json

    from optimizer.model.saved import dossier_of

    result = answer(0.2)
    assert "Air and priming (common practice" in render(result, full=True)
    assert "Changing media without losing bacteria" in render(result, full=True)
    back = dossier_of(json.loads(json.dumps(result.to_dict())), lambda place, what: pytest.fail(f"{place} {what}"))
    assert back is not None
    assert back.result is not None
    assert told(back.result) == told(result)
