"""Several answers side by side as plain text: one table, a few columns at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from optimizer.errors import safe
from optimizer.model.compared import Column, Compared
from optimizer.model.results import Row, Spot
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.layout import PLAIN, Block, Screen, aligned, bullets, cut, finished, paragraph
from optimizer.report.measures import UNKNOWN, Measures, gain, money, number, system, turnover, watts

__all__ = ["headline", "render"]

AT_A_TIME = 4
LONGEST_NAME = 60


def headline(told: Compared, units: str = "metric") -> str:
    """Return which answer delivers most, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(_sentences(told, system(units)))])


def render(told: Compared, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the table as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    lines = [line for sentence in _sentences(told, measures) for line in paragraph(sentence, rest="  ")]
    for first in range(0, len(told.columns), AT_A_TIME):
        some = told.columns[first : first + AT_A_TIME]
        lines += ["", *_table(some, first, measures)]
    missed = [line for number_, column in enumerate(told.columns, start=1) for line in _missed(number_, column, measures)]
    lines += ["", "Limits not met", *bullets(missed)] if missed else []
    return finished(lines, screen)


def _sentences(told: Compared, measures: Measures) -> Iterator[str]:
    best = [(column.best.flow_m3s, column) for column in told.columns if column.best is not None]
    yield f"{len(told.columns)} answers side by side."
    if best:
        flow, most = max(best, key=lambda pair: pair[0])
        price = 0 if most.best is None else most.best.price
        yield f"Most water: {measures.flow_text(flow)} in {_name(most)}, for {money(price, safe(most.currency))}."
    stopped = [_name(column) for column in told.columns if column.status == "stopped"]
    if stopped:
        yield f"Stopped before it was proved: {', '.join(stopped)}."
    for number_, column in enumerate(told.columns, start=1):
        yield from (f"({number_}) {each}" for each in by_fills_sentences(column.by_fills, measures))


def _name(column: Column) -> str:
    return cut(safe(column.rig), LONGEST_NAME)


def _table(some: Sequence[Column], first: int, measures: Measures) -> list[Block]:
    rows: list[tuple[str, Callable[[Column], str]]] = [
        ("", lambda column: _name(column)),
        ("from", lambda column: cut(safe(column.source), LONGEST_NAME)),
        (
            "budget",
            lambda column: "none" if column.question.budget is None else money(column.question.budget, safe(column.currency)),
        ),
        ("status", lambda column: column.status),
        (f"now, {measures.flow}", lambda column: _of(column.now, lambda row: measures.bare_flow(row.flow_m3s))),
        (f"for free, {measures.flow}", lambda column: _of(column.spend_nothing, lambda row: measures.bare_flow(row.flow_m3s))),
        (f"advised, {measures.flow}", lambda column: _of(column.best, lambda row: measures.bare_flow(row.flow_m3s))),
        ("over free", _over_free),
        ("turnover, per hour", lambda column: _of(column.best, lambda row: turnover(row.turnover_per_hour))),
        ("price", lambda column: _of(column.best, lambda row: money(row.price, safe(column.currency)))),
        ("noise, dB(A)", lambda column: _of(column.best, lambda row: number(row.noise_dba, 1))),
        ("power, W", lambda column: _of(column.best, lambda row: watts(row.power_w))),
        ("tightest now", lambda column: _spot(column.tightest_before, measures)),
        ("tightest then", lambda column: _spot(column.tightest, measures)),
        ("limits missed", lambda column: _count(column)),
    ]
    numbers = [f"({first + n})" for n in range(1, len(some) + 1)]
    return aligned([("", *numbers), *((label, *map(cell, some)) for label, cell in rows)])


def _of(row: Row | None, say: Callable[[Row], str]) -> str:
    return UNKNOWN if row is None else say(row)


def _over_free(column: Column) -> str:
    if column.best is None or column.spend_nothing is None:
        return UNKNOWN
    return gain(column.best.flow_m3s, column.spend_nothing.flow_m3s) or UNKNOWN


def _spot(spot: Spot | None, measures: Measures) -> str:
    return UNKNOWN if spot is None else f"{measures.bore_text(spot.bore_m)} {safe(spot.place)}"


def _count(column: Column) -> str:
    now = len(column.now.breaks)
    then = UNKNOWN if column.best is None else str(len(column.best.breaks))
    return f"{now} now, {then} then"


def _missed(number_: int, column: Column, measures: Measures) -> Iterator[str]:
    for row, when in ((column.now, "now"), (column.best, "at its best")):
        if row is not None and row.breaks:
            yield f"({number_}) {when}: {safe('; '.join(measures.words(each.words) for each in row.breaks))}"
    if column.best is None:
        yield f"({number_}) no bundle meets all limits"
