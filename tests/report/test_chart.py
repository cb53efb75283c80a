"""Drawings of flow over days: everything stands where its axes say."""

from datetime import date
from pathlib import Path

import pytest

from optimizer import api
from optimizer.measure.log import append
from optimizer.model.measuring import LogEntry
from optimizer.report.html.chart import Chart, ageing_chart, log_chart, verify_bars
from optimizer.report.measures import system

DEMO = Path(__file__).parents[2] / "parts_demo"
LOG = DEMO / "logs" / "reading_corner_130.log"


def _flow_at(chart: Chart, y: float) -> float:
    """The flow at a height, by the first tick and the last."""
    low, high = chart.flows[0], chart.flows[-1]
    share = (y - low.at) / (high.at - low.at)
    return float(low.text) + share * (float(high.text) - float(low.text))


def _day_at(chart: Chart, x: float) -> float:
    low, high = chart.days[0], chart.days[-1]
    first, last = (date.fromisoformat(each.text).toordinal() for each in (low, high))
    return first + (x - low.at) / (high.at - low.at) * (last - first)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_log_is_drawn_to_scale(units: str) -> None:
    """Fills, events, the wanted flow and the next cleaning, in either system of units."""
    measures = system(units)
    told = api.log(LOG, flow_m3s=336e-3 / 3600)
    chart = log_chart(told, measures)
    assert chart is not None and chart.level is not None and chart.due is not None and told.next is not None
    fills = [line for line in told.lines if line.flow_m3s]
    for dot, line in zip(chart.dots, fills, strict=True):
        assert _flow_at(chart, dot.y) == pytest.approx(measures.flow_of(line.flow_m3s), rel=2e-3)
        assert _day_at(chart, dot.x) == pytest.approx(date.fromisoformat(line.date).toordinal(), abs=0.6)
        assert dot.high < dot.y < dot.low
    assert _flow_at(chart, chart.level.at) == pytest.approx(measures.flow_of(told.next.flow_m3s), rel=2e-3)
    assert _day_at(chart, chart.due.at) == pytest.approx(date.fromisoformat(told.next.earliest).toordinal(), abs=0.6)
    assert [each.text for each in chart.events] == ["cleaning and change"]
    assert {each.kind for each in chart.lines} == {"trend", "ahead"}
    left, right, top, bottom = chart.edges
    assert all(left <= dot.x <= right and top <= dot.high and dot.low <= bottom for dot in chart.dots)


def test_log_of_no_fill_and_of_one(tmp_path: Path) -> None:
    """Without a fill nothing is drawn, and one alone has room around it."""
    path = tmp_path / "tank.log"
    append(path, LogEntry(kind="cleaning", date="2026-03-01", data={"what": ["guard"]}))
    assert log_chart(api.log(path), system("metric")) is None
    append(path, LogEntry(kind="fill", date="2026-03-01", data={"volume_m3": 0.01, "seconds": [60.0]}))
    chart = log_chart(api.log(path), system("metric"))
    assert chart is not None and len(chart.dots) == 1 and len(chart.flows) > 1 and not chart.lines


def test_ageing_and_verdict_are_drawn_to_scale() -> None:
    """The flow falls along its line; bars end where their flows are."""
    catalog = api.read_catalog(DEMO / "catalog")
    before, after = (api.read_rig(DEMO / f"rigs/reading_corner_130{end}.toml", catalog) for end in ("", "_after"))
    aged = api.ageing(before)
    chart = ageing_chart(aged, system("metric"))
    for line, name in zip(chart.lines, ("flow_m3s", "undone_m3s"), strict=True):
        heights = [float(point.partition(",")[2]) for point in line.points.split()]
        flows = [3.6e6 * getattr(row, name) for row in aged.rows]
        assert [_flow_at(chart, y) for y in heights] == pytest.approx(flows, rel=2e-3)
    bars = verify_bars(told := api.verify(before, after))
    assert max(bar.high for bar in bars) == 1.0
    assert bars[0].at / bars[0].flow_m3s == pytest.approx(bars[-1].at / bars[-1].flow_m3s, rel=1e-3)
    assert bars[0].flow_m3s == told.before_flow.p50_m3s
