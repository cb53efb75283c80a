"""One truth about the loop as it is: whatever is asked of a measured rig goes by its fills, and says so.

The rig of the reading corner has three fills; they say 284 l/h where its figures alone say 341.
"""

from dataclasses import replace
from pathlib import Path

import pytest
from demo import rig, shop

from optimizer import api
from optimizer.report.drill_text import headline as drill_headline

DEMO = Path(__file__).parents[2] / "parts_demo"
LOG = DEMO / "logs" / "reading_corner_130.log"
MEASURED, AFTER = "reading_corner_130", "reading_corner_130_after"


def test_a_bar_is_drilled_in_the_loop_that_was_measured_and_is_cleaned_first() -> None:
    """Now as `best` has it, and all holes in the loop after a clean of everything, as `ageing` has it: dirt is no measure of
    holes that stay."""
    drilled = api.drill(rig(MEASURED), evenness=0.9)
    assert drilled.by_fills is not None and drilled.by_fills.fills == 3
    assert drilled.now.flow_m3s == pytest.approx(api.best(rig(MEASURED), shop()).now.flow_m3s, rel=1e-9)
    clean = api.ageing(rig(MEASURED), days=1).rows[0].flow_m3s
    assert drilled.cleaned.flow_m3s == pytest.approx(clean, rel=1e-9)
    assert drilled.now.flow_m3s < 0.8 * clean
    said = drill_headline(drilled)
    assert "instead of 373" in said and "By the 3 fills of 2026-03-01 the loop as it is delivers 284 l/h" in said
    assert "after everything has been cleaned" in said


def test_each_drilled_bar_flows_as_the_rig_that_has_it_by_the_same_fills() -> None:
    """The scalar path of a rig that is described with the new holes, cleaned, by the factors of the fills."""
    from optimizer.answers.by_fills import by_fills
    from optimizer.answers.question import stands_now
    from optimizer.measure.fill_loop import cleaned
    from optimizer.model.catalog import Catalog
    from optimizer.model.parts import Outlet

    fitted, _ = by_fills(rig(MEASURED))
    last = fitted.positions[-1]
    assert isinstance(last.installed, Outlet)
    for each in api.drill(rig(MEASURED), evenness=0.9).best[:3]:
        long = last.installed.holes * last.installed.pitch_m
        bar = replace(last.installed, holes=each.holes, hole_m=each.hole_m, pitch_m=long / each.holes)
        made = replace(fitted, positions=(*fitted.positions[:-1], replace(last, installed=bar)))
        flow = stands_now(cleaned(made, ("clean",)), Catalog(parts={}, products=())).flow_m3s
        assert each.flow_m3s == pytest.approx(flow, rel=1e-9)


def test_without_its_fills_a_bar_is_drilled_by_the_stated_figures_and_it_is_said() -> None:
    drilled = api.drill(rig(MEASURED), evenness=0.9, measured=False)
    assert drilled.now.flow_m3s * 3.6e6 == pytest.approx(341.0, abs=0.5)
    assert "left out" in drill_headline(drilled)
