"""A figure that nobody gave makes no limit fail in silence, and a limit that nobody asked for does not come first."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.answers.question import stands_now
from optimizer.answers.rows import row
from optimizer.answers.words import limit_words
from optimizer.model.limits import Limits
from optimizer.model.results import Result
from optimizer.model.rig import Rig
from optimizer.report.text import render

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
SHOP = api.read_catalog(DEMO / "catalog")
DEPTH = 'depth = "0.6 m"\n'

Reads = Callable[[str], Rig]


@pytest.fixture
def without_depth(tmp_path: Path) -> Reads:
    """Reads the small tank on the desk without the depth of its pump, with more limits."""

    def made(limits: str = "") -> Rig:
        text = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
        assert text.count(DEPTH) == 1
        file = tmp_path / "nano.toml"
        file.write_text(text.replace(DEPTH, "").replace("[limits]", f"[limits]\n{limits}"), encoding="utf-8")
        return api.read_rig(file, SHOP)

    return made


def deeper(rig: Rig, depth_m: float) -> Rig:
    """The rig with its pump at a known depth."""
    places = (replace(p, depth_m=depth_m, depth_known=True) if p.kind == "pump" else p for p in rig.positions)
    return replace(rig, positions=tuple(places))


def said(result: Result) -> str:
    """The whole text on one line."""
    return " ".join(render(result, full=True).split())


def test_a_limit_missed_for_want_of_the_depth_says_so_and_from_what_depth_on_it_holds(without_depth: Reads) -> None:
    """Hydrostatics: every centimetre deeper is a centimetre more. At the depth named the limit holds, a centimetre higher not."""
    rig = without_depth('inlet_pressure = "5 cm"')
    [told] = [each for each in api.best(rig, SHOP).now.breaks if each.limit == "inlet_head_m"]
    assert "loop.pump.depth is not given" in told.words
    depth = float(re.findall(r"from (\d\.\d\d) m below it on this would hold", told.words)[0])
    for metres, holds in ((depth, True), (depth - 0.01, False)):
        deep = deeper(rig, metres)
        breaks = [each.limit for each in row("now", deep, deep.limits, stands_now(deep, SHOP)).breaks]
        assert ("inlet_head_m" not in breaks) == holds


def test_joints_are_not_said_to_draw_air_where_the_depth_is_not_known(without_depth: Reads) -> None:
    """Nobody asked for the limit, so it is left aside; the pressures say what they take for the depth."""
    rig = without_depth()
    text = said(api.best(rig, SHOP))
    assert "that is not tight draws air" not in text
    depth = float(re.findall(r"its depth is not given\. From (\d\.\d\d) m below it on no joint draws air", text)[0])
    assert "so none draws air" in said(api.best(deeper(rig, depth), SHOP))
    assert "that is not tight draws air" in said(
        api.best(replace(deeper(rig, 0.1), limits=replace(rig.limits, inlet_head_m=-1.0)), SHOP)
    )


def test_a_flow_held_for_a_depth_that_nobody_gave_is_said_to_be(without_depth: Reads) -> None:
    """With the depth as in the demo rig the same limit holds nothing back."""
    rig = without_depth('inlet_pressure = "-30 cm"')
    result = api.best(rig, SHOP, budget=4000)
    assert result.best is not None and result.best.held_by == "inlet_head_m"
    assert any("loop.pump.depth is not given" in caution for caution in result.cautions)
    deep = api.best(deeper(rig, 0.6), SHOP, budget=4000)
    assert deep.best is not None and deep.best.held_by == ""
    assert not any("not given" in caution for caution in deep.cautions)


def test_a_canister_without_a_rating_is_held_to_none(without_depth: Reads) -> None:
    assert "no rating is stated, so it is held to none." in said(api.best(without_depth(), SHOP))


def test_what_nobody_asked_for_comes_last_and_in_plain_words() -> None:
    """A pump above the water line sucks: that stands behind the turnover that the rig file asks for."""
    text = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
    assert "inlet_pressure" not in text and "turnover_min" in text
    rig = deeper(api.read_rig(DEMO / "rigs" / "nano_60.toml", SHOP), 0.05)
    rig = replace(rig, limits=replace(rig.limits, flow_min_m3s=1e-4, flow_max_m3s=2e-4))
    result = api.best(rig, SHOP)
    assert [each.asked for each in result.now.breaks] == [True, False]
    shown = render(result)
    asked, unasked = shown.index("Limits not met now"), shown.index("Not asked for, but worth keeping")
    assert asked < shown.index("at least 360 l/h delivered", asked) < unasked
    assert "no suction at the pump's inlet, which would suck air in at a loose joint" in " ".join(shown[unasked:].split())
    assert "gauge pressure" not in shown[asked:unasked]


def test_a_limit_in_the_rig_file_is_asked_for_even_where_it_is_the_usual_one(tmp_path: Path) -> None:
    """Whoever writes it wants it."""
    text = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
    file = tmp_path / "nano.toml"
    file.write_text(text.replace("[limits]", '[limits]\ninlet_pressure = "0 m"'), encoding="utf-8")
    asking, usual = api.read_rig(file, SHOP), api.read_rig(DEMO / "rigs" / "nano_60.toml", SHOP)
    assert asking.limits == usual.limits
    assert asking.asks_for("inlet_head_m") and not usual.asks_for("inlet_head_m")
    assert not usual.asks_for("bio_area_m2"), "there is no [feeding]: it must not fall"
    assert usual.asks_for("flow_min_m3s") and not usual.asks_for("device_windows")
    assert replace(usual, limits=replace(usual.limits, inlet_head_m=0.1)).asks_for("inlet_head_m")


def test_windows_are_told_with_the_devices_that_have_one() -> None:
    """Of the planted tank; a loop without a device has none to name."""
    planted = api.read_rig(DEMO / "rigs" / "planted_300.toml", SHOP)
    nano = api.read_rig(DEMO / "rigs" / "nano_60.toml", SHOP)
    assert limit_words("device_windows", Limits(), planted).endswith("(reactor, heater, ultraviolet)")
    assert limit_words("device_windows", Limits(), nano) == "the flow windows of the inline devices"
