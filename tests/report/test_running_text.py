"""What a year costs: kWh of a pump that runs day and night, and money where the keeper says what a kWh costs."""

from dataclasses import replace

from demo import rig, shop

from optimizer import api
from optimizer.model.results import Result
from optimizer.report import running_text
from optimizer.report.layout import finished
from optimizer.report.measures import SYSTEMS
from optimizer.report.text import render


def told(result: Result, units: str = "metric") -> str:
    return " ".join(finished(running_text.lines(result, SYSTEMS[units])).split())


def test_a_year_of_both_pumps_is_8760_hours_of_what_they_draw() -> None:
    """By hand: W x 8760 h / 1000, at 0.32 a kWh; the difference is said in kWh and in money."""
    result = api.best(replace(rig("display_600"), energy_price=32.0), shop())
    now, best = result.now, result.best
    assert best is not None
    assert best.power_w != now.power_w
    for row in (now, best):
        assert row.energy_kwh_per_year == row.power_w * 8.76
        assert row.energy_cost_per_year == round(row.power_w * 8.76 * 32.0)
    assert now.energy_cost_per_year is not None
    assert best.energy_cost_per_year is not None
    text = told(result)
    assert f"now: {now.power_w:.0f} W, {now.power_w * 8.76:.0f} kWh, {now.energy_cost_per_year / 100:.2f} EUR." in text
    more = best.energy_kwh_per_year - now.energy_kwh_per_year
    money = abs(best.energy_cost_per_year - now.energy_cost_per_year) / 100
    assert f": {abs(more):.0f} kWh {'more' if more > 0 else 'less'}, {money:.2f} EUR a year." in text
    assert "Running cost a year, day and night" in render(result, full=True)


def test_without_a_price_only_kwh_are_told_and_us_units_leave_them() -> None:
    """Nobody meters in anything else; the same pump is said to draw the same."""
    result = api.best(rig("nano_60"), shop(), budget=0)
    text = told(result)
    assert "EUR" not in text
    assert f"{result.now.energy_kwh_per_year:.0f} kWh." in text
    assert "the same, the pump draws as much as before" in text
    assert told(result, "us") == text
    assert result.now.energy_cost_per_year is None
