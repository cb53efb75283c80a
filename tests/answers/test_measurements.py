"""Measured, diagnosed and verified rigs as answers: what they hold, what they refuse, and bands that know the fills."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from optimizer import api
from optimizer.errors import InputError
from optimizer.measure.calibrate import Z90
from optimizer.model.catalog import Catalog
from optimizer.model.fill import TimedFill
from optimizer.model.parts import Outlet
from optimizer.model.rig import Rig

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "parts_demo"
LITRE_PER_HOUR = 1e-3 / 3600.0


@pytest.fixture(scope="module")
def shop() -> Catalog:
    """The demo catalog."""
    return api.read_catalog(DEMO / "catalog")


@pytest.fixture(scope="module")
def before(shop: Catalog) -> Rig:
    """A demo rig with three fills."""
    return api.read_rig(DEMO / "rigs" / "reading_corner_130.toml", shop)


@pytest.fixture(scope="module")
def after(shop: Catalog) -> Rig:
    """The same after the work."""
    return api.read_rig(DEMO / "rigs" / "reading_corner_130_after.toml", shop)


# -- measure -------------------------------------------------------------------------------------------------------


def test_a_fill_of_the_gum(before: Rig) -> None:
    """10 l within 0.10 l, five times around 61.1 s (by hand from JCGM 100:2008, equations 10 to 12 and 4.3.7): 9.8200 l/min,
    0.638 % with the level left aside."""
    fill = TimedFill(volume_m3=0.010, seconds=(61.2, 60.8, 61.5, 61.0, 61.0), volume_limit_m3=1e-4)
    (found,) = api.measure(before, (fill,)).fills
    assert found.measured.flow_m3s * 6e4 == pytest.approx(9.8200, abs=5e-5)
    level = next(line.relative for line in found.measured.lines if line.source == "level")
    assert math.sqrt(found.measured.relative**2 - level**2) == pytest.approx(0.00638, abs=5e-6)
    assert found.installed.p50_m3s == pytest.approx(found.measured.flow_m3s, rel=1e-12)


def test_a_fill_below_the_water_line_is_brought_back(before: Rig) -> None:
    """What a siphon of 40 cm adds is the loop's own business: a rig whose outlet stands 40 cm deeper in the air would lift as
    much less. The ratio is that of two loops solved by brackets (`api.operating_point`), one with its outlet 40 cm higher."""
    fill = TimedFill(volume_m3=0.005, seconds=(40.0, 40.1, 39.9), height_m=0.40)
    (found,) = api.measure(before, (fill,)).fills
    raised = replace(before, positions=(*before.positions[:-1], replace(before.positions[-1], height_m=0.40)))
    home, high = api.operating_point(before).flow_m3s, api.operating_point(raised).flow_m3s
    blank = api.measure(replace(before, fills=()), (fill,))
    assert blank.expected.p50_m3s == pytest.approx(home, rel=1e-5)
    assert home / high > 1.15
    # the calibration moves both loops, and the ratio with them
    assert found.ratio == pytest.approx(home / high, rel=0.06)
    assert found.installed.p50_m3s == pytest.approx(found.measured.flow_m3s * found.ratio, rel=1e-9)


def test_watts_count(before: Rig) -> None:
    """Far fewer watts than such a pump draws make what was measured less probable; a flow that was timed stays what it was."""
    usual = api.measure(before)
    weak = api.measure(before, power_w=3.0)
    assert weak.powers_w == (3.0,)
    assert weak.tail < usual.tail
    assert weak.delivered.p50_m3s == pytest.approx(usual.delivered.p50_m3s, rel=2e-3)


def test_measuring_refuses(before: Rig, shop: Catalog) -> None:
    with pytest.raises(InputError, match="nothing was timed"):
        api.measure(replace(before, fills=()))
    impossible = TimedFill(volume_m3=1.0, seconds=(1e-4,))
    with pytest.raises(InputError, match=r"cannot be: fill, as it is: 1000 l in 0\.0001 s"):
        api.measure(before, (impossible,))


# -- diagnose ------------------------------------------------------------------------------------------------------


def test_a_diagnosis(before: Rig, shop: Catalog) -> None:
    told = api.diagnose(before, shop)
    assert told.status == "clean first"
    assert told.calibrated.clean_first == "gain"
    first = [(each.unknown, each.places) for each in told.suspects[:2]]
    assert ("filled media", ("canister tray 3",)) in first, "a label that may promise too much is the other"
    everything = told.cleaning[-1]
    assert everything.what == "everything"
    assert everything.gain.p50 == pytest.approx(told.calibrated.gain.p50)
    assert everything.delivered.p50_m3s / told.calibrated.delivered.p50_m3s == pytest.approx(everything.gain.p50)
    # the flow of the best bundle, without any fill, is what the search states
    blank = api.diagnose(replace(before, fills=()), shop)
    assert blank.target == "the best bundle for at most 40.00"
    best = api.best(before, shop, measured=False).best
    assert best is not None
    assert blank.next_tests.band.p50_m3s == pytest.approx(best.flow_m3s, rel=1e-5)
    assert blank.suspects == ()
    assert [test.shrink for test in told.next_tests.tests] == pytest.approx(
        sorted((test.shrink for test in told.next_tests.tests), reverse=True), abs=0.01
    )


def test_without_a_catalog_or_a_bundle_today_counts(before: Rig, shop: Catalog) -> None:
    assert api.diagnose(before).target == "the loop as it is"
    hard = replace(before, limits=replace(before.limits, flow_min_m3s=1.0, flow_max_m3s=math.inf))
    told = api.diagnose(hard, shop)
    assert told.target == "the loop as it is (no bundle meets the limits)"
    assert told.next_tests.band == api.diagnose(before).next_tests.band


def test_a_clean_file_and_a_third_of_the_flow(before: Rig) -> None:
    """Nothing is written that a clean would take away, and yet something is there."""
    told = api.diagnose(
        replace(
            before,
            positions=tuple(replace(p, state=p.state.cleaned()) for p in before.positions),
            trays=tuple(replace(tray, state=tray.state.cleaned()) for tray in before.trays),
        ),
        fills=(TimedFill(volume_m3=0.005, seconds=(150.0, 151.0, 149.5)),),
    )
    assert told.cleaning == ()
    assert told.status == "clean first"
    assert told.calibrated.tail < 1e-3


# -- verify --------------------------------------------------------------------------------------------------------


def test_the_demo_was_mostly_the_cleaning(before: Rig, after: Rig) -> None:
    told = api.verify(before, after)
    assert (told.left_out, told.parts) == ((), ("spray_bar",))
    assert told.cleaned == ("intake", "pump", "tray 1", "tray 2", "tray 3")
    verdict = told.verdict
    assert verdict.advice == "Mostly the cleaning, but the parts did bring something."
    assert verdict.worked > 0.9 and verdict.probability < 0.3 and not verdict.matched
    assert told.predicted.p10_m3s < verdict.after.p90_m3s and verdict.after.p10_m3s < told.predicted.p90_m3s
    # the fill after is what the model brought up to date says
    assert verdict.after.p50_m3s == pytest.approx(0.005 / np.mean(after.fills[0].seconds), rel=0.01)
    gains = verdict.from_parts_m3s.p50_m3s + verdict.from_cleaning_m3s.p50_m3s
    assert gains == pytest.approx(verdict.after.p50_m3s - verdict.before.p50_m3s, rel=1e-9)


def test_a_part_described_in_the_file_and_its_successor_are_two(before: Rig, after: Rig, shop: Catalog) -> None:
    """Both are called after their place. Were they one part, a wide new mouth would inherit what is known of the old one's."""
    old = replace(before.positions[-1].installed, id="installed:spray_bar")
    new = replace(after.positions[-1].installed, id="installed:spray_bar")
    named = [
        replace(rig, positions=(*rig.positions[:-1], replace(rig.positions[-1], installed=part)))
        for rig, part in ((before, old), (after, new))
    ]
    told = api.verify(*named)
    assert told.verdict.worked == pytest.approx(api.verify(before, after).verdict.worked, abs=0.02)
    assert {line.part for line in told.factors} >= {"installed:spray_bar", "installed:spray_bar, new"}


def test_nothing_but_a_clean(before: Rig, after: Rig) -> None:
    """The same parts, washed: no probability is given to parts that are not there."""
    washed = replace(
        before,
        name="washed",
        positions=tuple(replace(p, state=p.state.cleaned()) for p in before.positions),
        trays=tuple(replace(tray, state=tray.state.cleaned()) for tray in before.trays),
        fills=after.fills,
    )
    told = api.verify(before, washed)
    assert told.parts == told.left_out == ()
    assert told.verdict.worked == told.verdict.probability == 0.0
    assert told.verdict.from_parts_m3s.p90_m3s == 0.0


def test_what_changed_is_listed(before: Rig) -> None:
    hose = next(n for n, p in enumerate(before.positions) if p.name == "return_hose")
    cut = replace(before.positions[hose], length_m=1.0)
    new = replace(before, positions=(*before.positions[:hose], cut, *before.positions[hose + 1 :]))
    new = replace(new, trays=(*new.trays[:2], replace(new.trays[2], medium=None)))
    told = api.verify(before, new)
    assert (told.left_out, told.parts) == (("tray 3",), ("return_hose",))
    with pytest.raises(InputError, match="nothing was timed"):
        api.verify(before, replace(new, fills=()))


# -- bands ---------------------------------------------------------------------------------------------------------


def test_bands_know_the_fills(before: Rig, shop: Catalog) -> None:
    """Of the loop as it is they agree with the calibration's own band, which is no draw, to 1 %; without the fills they are those
    of a file that has none, to the byte."""
    told = api.bands(before, shop, draws=2000, most=True)
    now, known = told.now_band, api.measure(before).delivered
    assert now is not None and told.now is not None and told.band is not None
    assert told.fills == 3 and told.fills_left_out == ""
    assert (now.p10_m3s, now.p50_m3s, now.p90_m3s) == pytest.approx((known.p10_m3s, known.p50_m3s, known.p90_m3s), rel=0.01)
    assert now.stated_m3s == told.now.flow_m3s
    assert [line.stated_m3s for line in told.band.lines] == [each.row.flow_m3s for each in told.candidates]
    # the best bundle, against the normal band of the diagnosis; draws of new parts share what fills say of their kind
    first = api.diagnose(before, shop).next_tests.band
    assert told.band.lines[0].p50_m3s == pytest.approx(first.p50_m3s, rel=0.02)
    wide = math.log(first.p90_m3s / first.p10_m3s) / (2.0 * Z90)
    assert math.log(told.band.lines[0].p90_m3s / told.band.lines[0].p10_m3s) / (2.0 * Z90) == pytest.approx(wide, rel=0.15)

    without = api.bands(before, shop, draws=2000, measured=False, most=True)
    blank = api.bands(replace(before, fills=()), shop, draws=2000, most=True)
    assert without.fills_left_out == "as asked"
    assert json.dumps(replace(without, fills_left_out="").to_dict()) == json.dumps(blank.to_dict())
    assert told.band.lines[0].p50_m3s < 0.97 * without.band.lines[0].p50_m3s if without.band else False


def test_the_flow_to_ask_for_is_by_the_figures_of_the_search(before: Rig, shop: Catalog) -> None:
    """What is asked of the search must be in the search's own figures: P10 then reaches the wanted flow."""
    target = 540.0 * LITRE_PER_HOUR
    told = api.bands(before, shop, flow_m3s=target, budget=9000, candidates=1, draws=1000)
    assert told.ask_m3s > target
    better = api.bands(before, shop, flow_m3s=told.ask_m3s, budget=9000, candidates=1, draws=1000)
    assert better.band is not None
    assert 0.99 * target < better.band.lines[0].p10_m3s < 1.06 * target
    assert told.band is not None and told.band.lines[0].p10_m3s < 0.97 * target


def test_fills_of_a_branched_loop_count_in_bands(shop: Catalog) -> None:
    """A slow fill lowers the band of the loop as it is, and narrows it."""
    rig = api.read_rig(DEMO / "rigs" / "stem_plants_200.toml", shop)
    fills = (TimedFill(volume_m3=0.01, seconds=(90.0, 91.0, 90.5)),)
    told, blank = (api.bands(replace(rig, fills=some), shop, budget=0, candidates=1, draws=50, most=True) for some in (fills, ()))
    assert (told.fills, told.fills_left_out) == (1, "")
    assert told.now_band is not None and blank.now_band is not None
    assert told.now_band.p50_m3s == pytest.approx(0.01 / 90.5, rel=0.05)
    spread = [band.p90_m3s / band.p10_m3s for band in (told.now_band, blank.now_band)]
    assert spread[0] < spread[1]


@pytest.mark.parametrize("kind", ["measure", "diagnose", "verify"])
def test_json_is_plain_and_versioned(kind: str, before: Rig, after: Rig) -> None:
    told = {
        "measure": lambda: api.measure(before),
        "diagnose": lambda: api.diagnose(before),
        "verify": lambda: api.verify(before, after),
    }
    body = told[kind]().to_dict()
    assert body["schema"] == f"fullbore-{kind}/6"
    assert json.loads(json.dumps(body, allow_nan=False)) == body
    assert isinstance(before.positions[-1].installed, Outlet)
