"""What a rig takes from the mains in a year, now and after the change, as text."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.results import Result, Row
from optimizer.report.layout import GLUE, Block, bullets, cut
from optimizer.report.measures import Measures, money, number, watts

__all__ = ["lines"]


def lines(result: Result, _: Measures) -> list[Block]:
    """Return the kWh and the money of a year and by how much they change; kWh are kWh in every system of units. No lines for a
    row that was not worked out: every pump draws something."""
    if not result.now.energy_kwh_per_year:
        return []
    currency = cut(safe(result.currency), 8)
    after = result.best or result.spend_nothing
    return ["Running cost a year, day and night", *bullets(_told(result.now, after, currency))]


def _told(now: Row, after: Row | None, currency: str) -> Iterator[str]:
    yield f"now: {_row(now, currency)}."
    if after is None:
        return
    if after.power_w == now.power_w:
        yield f"{safe(after.name)}: the same, the pump draws as much as before."
        return
    more = after.energy_kwh_per_year - now.energy_kwh_per_year
    change = f"{_kwh(abs(more))} {'more' if more > 0.0 else 'less'}"
    if now.energy_cost_per_year is not None and after.energy_cost_per_year is not None:
        change += f", {money(abs(after.energy_cost_per_year - now.energy_cost_per_year), currency)}"
    yield f"{safe(after.name)}: {_row(after, currency)}: {change} a year."


def _row(row: Row, currency: str) -> str:
    told = f"{watts(row.power_w)}{GLUE}W, {_kwh(row.energy_kwh_per_year)}"
    return told if row.energy_cost_per_year is None else f"{told}, {money(row.energy_cost_per_year, currency)}"


def _kwh(energy: float) -> str:
    return f"{number(energy, 1 if energy < 10.0 else 0)}{GLUE}kWh"
