"""One flow for one thing: what the commands say of the same loop, now, cleaned, and of the same bundle, is the same.

Of loops without fills; the rest is rounding, or how a band is drawn (a normal band of the logarithm against draws).
"""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from demo import rig, shop

from optimizer import api
from optimizer.model.banded import Banded
from optimizer.model.diagnosis import Diagnosis
from optimizer.model.results import Result

DEMO = Path(__file__).parents[2] / "parts_demo"
RIGS = ("nano_60", "planted_300")
"""Without and with a ceiling that a throttle holds in many draws."""


@cache
def answers(name: str) -> tuple[Result, Banded, Diagnosis]:
    return api.best(rig(name), shop()), api.bands(rig(name), shop(), candidates=1, draws=2000), api.diagnose(rig(name), shop())


@pytest.mark.parametrize("name", RIGS)
def test_the_loop_as_it_is_and_cleaned(name: str) -> None:
    """As it is: best, bands and diagnosis. Cleaned, all throttles open: diagnosis, and the first day of ageing."""
    best, bands, diagnosis = answers(name)
    assert bands.now_band is not None
    assert bands.now_band.stated_m3s == pytest.approx(best.now.flow_m3s, rel=1e-6)
    assert diagnosis.calibrated.delivered.p50_m3s == pytest.approx(best.now.flow_m3s, rel=1e-6)
    aged = api.ageing(rig(name), days=1)
    assert diagnosis.calibrated.cleaned.p50_m3s == pytest.approx(aged.rows[0].flow_m3s, rel=1e-6)


@pytest.mark.parametrize("name", RIGS)
def test_the_best_bundle_and_its_band(name: str) -> None:
    """Wide open it has the flow that the search states, and the band of the diagnosis that of the draws to 3 %; some cheap test
    then tells something of it."""
    best, bands, diagnosis = answers(name)
    assert best.best is not None and bands.band is not None
    assert diagnosis.next_tests.band.p50_m3s == pytest.approx(best.best.own_m3s, rel=1e-6)
    line, band = bands.band.lines[0], diagnosis.next_tests.band
    low, high = line.free_p10_m3s or line.p10_m3s, line.free_p90_m3s or line.p90_m3s
    assert band.p10_m3s == pytest.approx(low, rel=0.03)
    assert band.p90_m3s == pytest.approx(high, rel=0.03)
    assert low <= line.p90_m3s <= high
    assert diagnosis.next_tests.tests[0].shrink > 0.1


def test_a_ceiling_ends_the_band_and_the_free_one_is_told() -> None:
    """With a ceiling at the flow of the best, half of the draws are held there: both answers show what lies beyond."""
    loop = rig("planted_300")
    top = 0.95 * api.best(loop, shop()).best.own_m3s  # type: ignore[union-attr]
    low = replace(loop, limits=replace(loop.limits, flow_max_m3s=top))
    bands, diagnosis = api.bands(low, shop(), candidates=1, draws=2000), api.diagnose(low, shop())
    assert bands.band is not None
    line = bands.band.lines[0]
    assert line.p90_m3s == pytest.approx(top) and line.held_share > 0.3
    assert line.free_p90_m3s is not None and line.free_p90_m3s > 1.02 * top
    assert diagnosis.next_tests.band.p90_m3s == pytest.approx(line.free_p90_m3s, rel=0.03)
    assert diagnosis.next_tests.tests[0].shrink > 0.1
    assert "wide open (its throttle holds it to" in diagnosis.target
