"""One flow for one thing: what the commands say of the same loop, now, cleaned, and of the same bundle, is the same, and so is
its band."""

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from demo import rig, shop

from optimizer import api
from optimizer.answers.asked import question_of
from optimizer.answers.question import seek
from optimizer.model.banded import Banded
from optimizer.model.catalog import Catalog
from optimizer.model.diagnosis import Diagnosis
from optimizer.model.results import Result
from optimizer.report.diagnose_text import render as diagnose_text

DEMO = Path(__file__).parents[2] / "parts_demo"
RIGS = ("nano_60", "planted_300", "reading_corner_130")
"""Without and with a ceiling that a throttle holds in many draws, and one with fills."""


@cache
def answers(name: str) -> tuple[Result, Banded, Diagnosis]:
    return api.best(rig(name), shop()), api.bands(rig(name), shop(), candidates=1, most=True), api.diagnose(rig(name), shop())


@pytest.mark.parametrize("name", RIGS)
def test_the_loop_as_it_is_and_cleaned(name: str) -> None:
    """As it is: best, bands and diagnosis. Cleaned, all throttles open: diagnosis, and the first day of ageing."""
    best, bands, diagnosis = answers(name)
    assert bands.now_band is not None
    assert bands.now_band.stated_m3s == pytest.approx(best.now.flow_m3s, rel=1e-6)
    delivered, line = diagnosis.calibrated.delivered, bands.now_band
    assert delivered.p50_m3s == pytest.approx(best.now.flow_m3s, rel=1e-6)
    assert (delivered.p10_m3s, delivered.p90_m3s) == pytest.approx((line.p10_m3s, line.p90_m3s), rel=1e-9)
    aged = api.ageing(rig(name), days=1)
    assert diagnosis.calibrated.cleaned.p50_m3s == pytest.approx(aged.rows[0].flow_m3s, rel=1e-6)


def test_the_ladder_has_the_flows_and_bands_of_all_others() -> None:
    """The first screen: now as it is drawn, cleaned as the diagnosis has it, and the most for the budget as `bands` does."""
    _, bands, diagnosis = answers("reading_corner_130")
    found = api.advise(rig("reading_corner_130"), shop(), most=True)
    assert found.advice is not None and bands.now_band is not None and bands.band is not None
    steps = {role: step for step in found.advice.steps for role in step.roles}
    clean, most = diagnosis.calibrated.cleaned, bands.band.lines[0]
    for role, flow, low, high in (
        ("now", bands.now_band.stated_m3s, bands.now_band.p10_m3s, bands.now_band.p90_m3s),
        ("cleaned", clean.p50_m3s, clean.p10_m3s, clean.p90_m3s),
        ("most", most.stated_m3s, most.p10_m3s, most.p90_m3s),
    ):
        step = steps[role]
        assert (step.row.flow_m3s, step.p10_m3s, step.p90_m3s) == pytest.approx((flow, low, high), rel=1e-6), role


@pytest.mark.parametrize("name", RIGS)
def test_the_best_bundle_and_its_band(name: str) -> None:
    """The flow that the search states, and the same band; wide open too, where a throttle holds it. Some cheap test then tells
    something of it, and one that tells nothing leaves the band as it is."""
    best, bands, diagnosis = answers(name)
    assert best.best is not None and bands.band is not None
    tests, line = diagnosis.next_tests, bands.band.lines[0]
    assert tests.band.p50_m3s == line.stated_m3s == pytest.approx(best.best.flow_m3s, rel=1e-9)
    assert (tests.band.p10_m3s, tests.band.p90_m3s) == pytest.approx((line.p10_m3s, line.p90_m3s), rel=1e-9)
    free = tests.free or tests.band
    assert free.p50_m3s == pytest.approx(best.best.own_m3s, rel=1e-9)
    low, high = line.free_p10_m3s or line.p10_m3s, line.free_p90_m3s or line.p90_m3s
    assert (free.p10_m3s, free.p90_m3s) == pytest.approx((low, high), rel=1e-9)
    assert tests.tests[0].shrink > 0.1
    for test in tests.tests:
        left = math.sqrt(1.0 - test.shrink)
        assert math.log(test.band.p90_m3s / free.p50_m3s) == pytest.approx(left * math.log(high / free.p50_m3s), rel=1e-6)


def test_a_ceiling_ends_the_band_and_the_free_one_is_told() -> None:
    """With a ceiling at the flow of the best, half of the draws are held there: both answers show what lies beyond."""
    loop = rig("planted_300")
    top = 0.95 * api.best(loop, shop()).best.own_m3s  # type: ignore[union-attr]
    low = replace(loop, limits=replace(loop.limits, flow_max_m3s=top))
    bands, diagnosis = api.bands(low, shop(), candidates=1, most=True), api.diagnose(low, shop())
    assert bands.band is not None
    line = bands.band.lines[0]
    assert line.p90_m3s == pytest.approx(top) and line.held_share > 0.3
    assert line.free_p90_m3s is not None and line.free_p90_m3s > 1.02 * top
    assert diagnosis.next_tests.band.p50_m3s == pytest.approx(top) == diagnosis.next_tests.band.p90_m3s
    assert diagnosis.next_tests.free is not None
    assert diagnosis.next_tests.free.p90_m3s == pytest.approx(line.free_p90_m3s, rel=1e-9)
    assert diagnosis.next_tests.tests[0].shrink > 0.1
    said = " ".join(diagnose_text(diagnosis).split())
    assert "held there by its throttle; the tests are about it wide open" in said


def test_before_and_after_some_work_flow_as_each_rig_does_by_itself() -> None:
    """What `verify` says went from so much to so much is what `best` says of either rig, band and all."""
    before, after = rig("reading_corner_130"), rig("reading_corner_130_after")
    told = api.verify(before, after)
    for each, band in ((before, told.before_flow), (after, told.after_flow)):
        line = api.bands(each, shop(), candidates=1, most=True).now_band
        assert line is not None
        assert band.p50_m3s == pytest.approx(api.best(each, shop(), budget=0).now.flow_m3s, rel=1e-9)
        assert (band.p10_m3s, band.p90_m3s) == pytest.approx((line.p10_m3s, line.p90_m3s), rel=1e-9)


def test_what_was_foretold_of_the_work_is_what_the_search_says_of_that_bundle() -> None:
    """The rig before with the same work done by its options: intake, media and impeller cleaned, the open pipe bought."""
    before, after = rig("reading_corner_130"), rig("reading_corner_130_after")
    products = [each for each in shop().products if each.lines[0].part_id in ("OPEN-12", "CLIP-16")]
    sold = {line.part_id: shop().parts[line.part_id] for each in products for line in each.lines}
    question, _ = question_of(before, Catalog(parts=sold, products=tuple(products)), None, True)
    seeker = seek(question)
    rows = [seeker.problem.option(flat) for flat in range(len(seeker.problem.option_plain))]
    wanted = {"intake": "clean", "pump": "clean", "spray_bar": "swap", "canister": "clean"}
    found = seeker.most_flow_with(np.array([option.change == wanted.get(option.place, "keep") for option in rows]))
    assert found is not None
    assert api.verify(before, after).predicted.p50_m3s == pytest.approx(found.delivered.own_m3s, rel=1e-6)
