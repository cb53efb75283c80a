"""One table of ratios against targets at the end of a run, and in ``extra_info`` of each benchmark."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from benchmarks.clock import Times


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One comparison: what was measured, its ratio at the least and at the median times, and what it should be."""

    what: str
    least: float
    middle: float
    target: str
    note: str

    def line(self) -> str:
        """The row of the table."""
        return f"{self.what:<58} {self.least:>10.3g} {self.middle:>10.3g}   {self.target:<18} {self.note}"


Report = Callable[..., None]

ROWS: list[Row] = []


@pytest.fixture
def report(benchmark: Any) -> Report:
    """Notes a ratio of times ``above`` over ``below`` in the benchmark and in the table, and prints it."""

    def note(what: str, above: Times, below: Times, target: str, remark: str = "", per: float = 1.0) -> None:
        row = Row(
            what=what,
            least=above.least / below.least / per,
            middle=above.middle / below.middle / per,
            target=target,
            note=remark or f"{above.least * 1e3:.4g} ms / {below.least * 1e3:.4g} ms",
        )
        ROWS.append(row)
        benchmark.extra_info[what] = {"least": row.least, "middle": row.middle, "target": target, "note": row.note}
        print(row.line())

    return note


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Print all ratios of the run."""
    if ROWS:
        terminalreporter.section("ratios")
        terminalreporter.write_line(f"{'what':<58} {'least':>10} {'median':>10}   {'target':<18} times")
        for row in ROWS:
            terminalreporter.write_line(row.line())
