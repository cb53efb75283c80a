"""What goes beside an interval: the page, the order, the bands, the reasons, and a target of the clean day."""

import html
import json
import re
from functools import cache
from pathlib import Path

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.model.catalog import Catalog
from optimizer.model.dossiers import Dossier
from optimizer.model.results import Result
from optimizer.model.rig import Rig
from optimizer.model.saved import answer_of
from optimizer.report import bands_text, order_text
from optimizer.report.html.page import page
from optimizer.report.text import headline, render

DEMO = Path(__file__).parents[2] / "parts_demo"
LITRE_PER_HOUR = 1e-3 / 3600.0
DAYS = 40.0


@cache
def files() -> tuple[Rig, Catalog]:
    """The demo rig with a wish to last, and its catalog."""
    catalog = api.read_catalog(DEMO / "catalog")
    return api.read_rig(DEMO / "rigs" / "shrimp_and_fry_240.toml", catalog), catalog


@cache
def best() -> Result:
    """The answer over the interval alone."""
    return api.best(*files(), interval_days=DAYS)


def test_the_page_shows_the_answer_of_the_interval_and_leaves_out_what_every_sum_buys() -> None:
    """Its result is the one of the command without a page, read back from JSON the same; the table has its figures."""
    found = api.dossier(*files(), interval_days=DAYS, draws=50)
    assert found.result is not None and found.result.lasting is not None
    assert found.result.lasting == best().lasting
    assert found.result.bill == best().bill
    assert found.front is None
    assert any("clean day only" in line for line in found.left_out)
    text = page(found)
    block = text[text.index('id="lasting"') :]
    shown = [float(value) for value in re.findall(r'<data value="([^"]+)"', block[: block.index("</table>")])]
    rows = found.result.lasting.rows
    wanted = [number for row in rows for number in (row.clean_m3s, row.last_m3s, row.mean_m3s)]
    assert all(any(abs(each - number) < 1e-12 for each in shown) for number in wanted)
    assert "all other rows begin clean" in html.unescape(block)
    problems: list[str] = []
    again = answer_of(json.loads(json.dumps(found.to_dict())), lambda place, what: problems.append(f"{place}: {what}"))
    assert problems == []
    assert isinstance(again, Dossier)
    assert page(again) == text
    assert found.falls is not None
    falls = {fall.name: fall for fall in found.falls.falls}
    assert falls["best"].days[-1] == DAYS
    assert falls["best"].flows_m3s[-1] == pytest.approx(rows[-1].last_m3s, rel=1e-9)


def test_the_order_is_that_of_the_bundle_of_the_interval_and_says_by_which_day() -> None:
    told = api.buying_order(*files(), interval_days=DAYS)
    lasting = best().lasting
    assert lasting is not None and told.best is not None
    assert told.steps[-1].paid - told.thrown == lasting.rows[-1].price
    assert told.steps[-1].flow_m3s == pytest.approx(lasting.rows[-1].clean_m3s, abs=0.11 * LITRE_PER_HOUR)
    assert told.judged_m3s == pytest.approx(lasting.rows[-1].last_m3s, rel=1e-6)
    assert all(step.stage is None for step in told.steps)
    assert told.status == "proved"
    words = order_text.render(told).replace("\n  ", " ")
    assert f"on day {DAYS:g}" in words
    assert "are those of the clean day" in words


def test_bands_are_those_of_the_bundle_of_the_interval_on_both_days() -> None:
    told = api.bands(*files(), interval_days=DAYS, draws=400)
    lasting = best().lasting
    assert lasting is not None and told.band is not None and told.last_band is not None
    (clean,) = told.band.lines
    assert clean.stated_m3s == pytest.approx(lasting.rows[-1].clean_m3s, rel=1e-6)
    assert told.last_band.stated_m3s == pytest.approx(lasting.rows[-1].last_m3s, rel=1e-9)
    assert told.last_band.p10_m3s < told.last_band.stated_m3s < told.last_band.p90_m3s
    assert told.last_band.p10_m3s < clean.p10_m3s
    assert told.last_band.p90_m3s < clean.p90_m3s
    words = bands_text.render(told).replace("\n  ", " ")
    assert f"Best: {bare(told.last_band.stated_m3s)} l/h on day {DAYS:g}" in words
    assert "how much there will be is not drawn" in words


def bare(flow_m3s: float) -> str:
    """A flow below 1000 l/h as it is printed."""
    return f"{flow_m3s / LITRE_PER_HOUR:.0f}"


def test_a_named_part_is_held_against_the_best_of_the_same_day() -> None:
    """The best with it has no more on that day; what the best has is said to be in it; unknown ids are refused as ever."""
    swaps = [change for change in best().changes if change.change == "swap" and change.part_id]
    inside = api.why(*files(), f"{swaps[0].position}={swaps[0].part_id}", interval_days=DAYS)
    assert "in the best bundle" in inside
    assert f"on day {DAYS:g}" in inside
    other = api.why(*files(), "OPEN-G12", interval_days=DAYS)
    lasting = best().lasting
    assert lasting is not None
    flows = [float(words.replace(" ", "")) for words in re.findall(r"([\d ]+) l/h on day", other)]
    assert flows and all(flow <= lasting.rows[-1].last_m3s / LITRE_PER_HOUR + 0.6 for flow in flows)


def test_targets_of_both_days_hold_and_it_is_said_which_decides() -> None:
    """For the last day alone less money does; with the target of the clean day it costs more, and both are met."""
    flow = 0.75 * last_m3s(best())
    alone = api.cheapest(*files(), flow_m3s=flow, interval_days=DAYS)
    clean = 0.97 * clean_m3s(best())
    both = api.cheapest(*files(), flow_m3s=flow, interval_days=DAYS, clean_flow_m3s=clean)
    assert both.lasting is not None and alone.lasting is not None and both.best is not None and alone.best is not None
    assert both.status == alone.status == "proved"
    assert clean_m3s(alone) < clean <= clean_m3s(both)
    assert both.best.price > alone.best.price
    assert last_m3s(both) >= flow
    assert both.lasting.binding == "clean"
    assert "of the clean day decide" in headline(both).replace("\n  ", " ")
    assert "when clean" in render(both)
    idle = api.best(*files(), interval_days=DAYS, clean_flow_m3s=0.5 * clean)
    assert idle.lasting is not None
    assert (idle.bill, idle.lasting.binding) == (best().bill, "neither")


def clean_m3s(result: Result) -> float:
    """The flow of the clean day."""
    assert result.lasting is not None
    return result.lasting.rows[-1].clean_m3s


def last_m3s(result: Result) -> float:
    """The flow of the last day."""
    assert result.lasting is not None
    return result.lasting.rows[-1].last_m3s


def test_a_target_of_the_clean_day_that_nothing_has_is_an_answer() -> None:
    """It names the flow that was asked of the clean day."""
    result = api.best(*files(), interval_days=DAYS, clean_flow_m3s=4.0 * clean_m3s(best()))
    assert result.status == "infeasible"
    assert result.conflict is not None
    assert result.conflict.limits


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--clean-flow", "900 l/h"], "needs --interval"),
        (["--interval", "60d", "--clean-flow", "900"], "has no unit"),
        (["--interval", "60d", "--robust", "P10"], "does not go together with --robust"),
        (["--interval", "60d", "--bands", "--candidates", "4"], "does not go together with --candidates"),
        (["--interval", "60d", "--alternatives", "3"], "does not go together with --alternatives"),
        (["--interval", "60d", "--told-apart", "5 %"], "does not go together with --told-apart"),
    ],
)
def test_what_cannot_be_asked(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    argv = ["best", str(DEMO / "rigs" / "nano_60.toml"), "--catalog", str(DEMO / "catalog"), *words]
    assert main(argv) == 1
    assert said in capsys.readouterr().err


def test_fills_count_over_an_interval_as_they_do_on_the_clean_day() -> None:
    """A measured rig: now, what is free, and the bundle have on the first day what the plain answer says of the same loops."""
    catalog = files()[1]
    rig = api.read_rig(DEMO / "rigs" / "reading_corner_130.toml", catalog)
    assert rig.fills
    result = api.best(rig, catalog, interval_days=21.0)
    assert result.lasting is not None and result.best is not None
    rows = {row.name: row for row in result.lasting.rows}
    assert rows["now"].clean_m3s == pytest.approx(api.best(rig, catalog).now.flow_m3s, rel=1e-7)
    assert rows["best"].clean_m3s == pytest.approx(result.best.flow_m3s, rel=1e-7)
    stated = api.best(rig, catalog, interval_days=21.0, measured=False)
    assert stated.now.flow_m3s != pytest.approx(result.now.flow_m3s, rel=1e-3)
