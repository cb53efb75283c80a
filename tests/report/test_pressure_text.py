"""Pressures and jets as text: the places on the way to the pump, what is left of the margins, and the jets of each row."""

import math
from dataclasses import replace

import pytest

from optimizer.model.answer import Asked
from optimizer.model.results import Jets, PressurePoint, PressureProfile, Proof, Result, Row
from optimizer.report.layout import WIDTH, finished
from optimizer.report.measures import system
from optimizer.report.pressure_text import jet_lines, pressure_lines


def point(place: str, end: str, level_m: float, head_m: float, suction: bool = True) -> PressurePoint:
    """A point with a speed that the text does not show."""
    return PressurePoint(
        place=place,
        end=end,
        level_m=level_m,
        speed_ms=1.0,
        head_m=head_m,
        pressure_pa=9800.0 * head_m,
        suction=suction,
        in_joint=place.startswith("joint "),
    )


POINTS = (
    point("strainer", "inlet", 0.0, 0.0),
    point("strainer", "outlet", 0.0, -0.125),
    point("joint strainer to hose: adapter", "inlet", 0.0, -0.2),
    point("joint strainer to hose: adapter", "outlet", 0.0, -0.2),
    point("hose \x1b[2J", "inlet", 0.0, -0.1),
    point("hose \x1b[2J", "outlet", -1.0, 0.4),
    point("pump", "inlet", -0.8, 0.3),
    point("pump", "outlet", -0.8, 1.9, suction=False),
    point("outlet", "inlet", 0.0, 0.2, suction=False),
    point("outlet", "outlet", 0.0, 0.0, suction=False),
)
NOW = PressureProfile(
    name="now",
    points=POINTS,
    lowest=POINTS[2],
    joint=POINTS[6],
    hose=POINTS[5],
    canister_m=0.9,
    canister_shut_m=1.2,
    canister_rating_m=3.0,
    canister_margin_m=1.8,
)
DRY = replace(
    NOW,
    name="best",
    points=tuple(replace(p, head_m=p.head_m - 0.5) for p in POINTS if not p.place.startswith("joint ")),
    joint=replace(POINTS[6], head_m=-0.2),
    hose=replace(POINTS[5], head_m=-0.1),
    canister_rating_m=math.inf,
    canister_margin_m=math.inf,
)
ROW = Row(
    name="now",
    flow_m3s=2e-4,
    own_m3s=2e-4,
    held_by="",
    turnover_per_hour=2.0,
    price=0,
    noise_dba=30.0,
    power_w=20.0,
    bio_area_m2=1.0,
    inlet_head_m=0.3,
)
RESULT = Result(
    rig="tank",
    catalog="shop",
    currency="EUR",
    question=Asked(),
    now=ROW,
    spend_nothing=ROW,
    best=ROW,
    changes=(),
    bill=(),
    joints=(),
    heads=(),
    tightest=None,
    tightest_before=None,
    cautions=(),
    basis=(),
    warnings=(),
    proof=Proof(status="proved", bound_m3s=0.0, combinations=1, rounds=1, nodes=1, paths=1),
    profile=(NOW, replace(NOW, name="spend nothing"), DRY),
)


def told(result: Result, units: str = "metric") -> str:
    """The lines as they are printed, wrapped lines joined."""
    return " ".join(finished(pressure_lines(result, system(units))).split())


def test_the_places_up_to_the_pump_stand_in_the_order_of_the_water_now_and_in_the_answer() -> None:
    """Places behind the pump are left to the JSON; names cannot repaint the screen."""
    lines = finished(pressure_lines(RESULT, system("metric"))).splitlines()
    assert lines[0] == "Gauge pressure on the way to the pump, in m of water"
    cells = [line.split() for line in lines[1:6]]
    assert cells[0] == ["now", "best"]
    assert cells[1] == ["in", "out", "in", "out"]
    assert cells[2] == ["strainer", "0.00", "-0.12", "-0.50", "-0.62"]
    assert cells[3] == ["hose", "\\x1b[2J", "-0.10", "0.40", "-0.60", "-0.10"]
    assert cells[4] == ["pump", "0.30", "1.90", "-0.20", "1.40"]
    assert max(map(len, lines)) <= WIDTH
    assert "outlet " not in "".join(lines[:6])


def test_the_margins_say_where_air_is_drawn_and_what_the_canister_bears() -> None:
    """Nothing is said about hoses that are not sucked at; a rating that is not stated is said to be none."""
    text = told(RESULT)
    assert "now: lowest on the way to the pump -0.20 m at the inlet of joint strainer to hose: adapter; " in text
    assert "at joints below the water line at least 0.30 m at the inlet of pump, so none draws air." in text
    assert "now: in the canister 0.90 m, with the outlet shut 1.20 m; it is rated for 3.00 m." in text
    assert "-0.20 m at the inlet of pump: below 0, where a joint that is not tight draws air." in text
    assert "best: in hoses below the water line at least -0.10 m at the outlet of hose" in text
    assert "now: in hoses" not in text
    assert "best: in the canister 0.90 m, with the outlet shut 1.20 m; no rating is stated, so it is held to none." in text
    assert "spend nothing" not in text


def test_a_joint_held_at_nothing_draws_no_air() -> None:
    """What is shown as 0.00 m is not below 0: the search holds a bundle to the limit to the last digit."""
    for head_m, drawn in ((-1e-9, False), (-0.004, False), (-0.006, True)):
        profile = replace(NOW, joint=replace(NOW.joint, head_m=head_m))
        assert ("below 0, where" in told(replace(RESULT, profile=(profile,)))) == drawn


def test_without_a_best_bundle_spending_nothing_is_shown_and_without_flow_nothing_is() -> None:
    assert "spend nothing: in the canister" in told(replace(RESULT, best=None, profile=RESULT.profile[:2]))
    assert pressure_lines(replace(RESULT, profile=()), system("metric")) == []


def test_heads_in_us_units_are_feet() -> None:
    """1 ft = 0.3048 m: NIST SP 811."""
    text = told(RESULT, "us")
    assert "in ft of water" in text
    assert "0.98 ft at the inlet of pump" in text  # 0.3 m


@pytest.mark.parametrize(
    ("units", "row"),
    [("metric", ["now", "3", "3.0", "1.10", "1.25", "88", "%"]), ("us", ["now", "3", "0.12", "3.61", "4.10", "88", "%"])],
)
def test_the_jets_of_a_row_are_its_slowest_and_its_fastest(units: str, row: list[str]) -> None:
    """1 ft/s = 0.3048 m/s: NIST SP 811."""
    found = Jets(name="now", place="bar", holes=3, hole_m=0.003, speeds_ms=(1.1, 1.2, 1.25), evenness=0.88)
    lines = finished(jet_lines((found,), system(units))).splitlines()
    assert lines[0] == "Jets of the spray bar"
    assert lines[-1].split() == row


def test_without_a_bar_there_are_no_jets() -> None:
    assert jet_lines((), system("metric")) == []


def test_a_rim_of_known_height_has_a_row_of_its_own_and_the_lowest_is_told_there() -> None:
    """The sentence on what is not counted goes when it is counted."""
    crest = point("hose", "rim", 0.06, -0.31)
    over = replace(NOW, points=(*POINTS[:5], crest, *POINTS[5:]), lowest=crest, hose=crest, rim_m=0.06)
    text = told(replace(RESULT, best=None, profile=(over,)))
    assert "hose, at the rim -0.31" in text
    assert "lowest on the way to the pump -0.31 m where hose climbs over the rim; at joints outside the tank" in text
    assert "in hoses outside the tank at least -0.31 m where hose climbs over the rim: below 0" in text
    assert "the hose climbs 6 cm above it and crosses the rim there." in text
    assert "has as much less up there" not in text
    assert "has as much less up there" in told(RESULT)
    assert "climbs 2.4 in above it" in told(replace(RESULT, best=None, profile=(over,)), "us")
