"""The whole command on the demo rigs, against a Python that imports what other commands need and exits."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from benchmarks.clock import Times, in_turn
from benchmarks.conftest import Report
from benchmarks.memory import of_command

ROOT = Path(__file__).resolve().parent.parent
RIGS = ("planted_300", "rift_lake_450")
PAGED = ("nano_60", "community_180")
LIBRARIES = "import numpy, scipy.optimize, networkx, pandas, pint, pulp"
REPEATS, PAGE_REPEATS = 9, 3


def _run(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=120)


@pytest.mark.parametrize("rig", RIGS)
def test_command_against_imports(benchmark: Any, report: Report, rig: str) -> None:
    """Start, read, search, print: wall time of the process over that of the imports alone."""
    path = f"parts_demo/rigs/{rig}.toml"
    command = ("-m", "optimizer.cli", "best", path, "--budget", "100")
    answer = _run(*command)
    assert answer.returncode == 0, answer.stderr
    assert "proved" in answer.stdout.lower()
    whole, imports = in_turn(lambda: _run(*command), lambda: _run("-c", LIBRARIES), repeats=REPEATS)
    benchmark.pedantic(lambda: _run(*command), rounds=2)
    report(f"whole command / imports, {rig}", whole, imports, "at most 1")


@pytest.mark.parametrize("rig", PAGED)
def test_a_page_against_the_plain_answer(benchmark: Any, report: Report, rig: str, tmp_path: Path) -> None:
    """The answer with all that belongs to it as a page (front, bands, order, days, figures), over the answer alone: processor
    time of both, start included."""
    plain = ("-m", "optimizer", "best", f"parts_demo/rigs/{rig}.toml", "--budget", "100", "--quiet")
    runs = [(of_command(*plain, "--report", str(tmp_path / "page.html")), of_command(*plain)) for _ in range(PAGE_REPEATS)]
    assert all(page.status == answer.status == 0 and page.result.startswith(answer.result[:40]) for page, answer in runs)
    assert (tmp_path / "page.html").read_text(encoding="utf-8").count("<svg ") >= 6
    page, answer = (Times(tuple(spent.processor_s for spent in each)) for each in zip(*runs, strict=True))
    benchmark.pedantic(lambda: of_command(*plain), rounds=1)
    report(f"page / plain answer, {rig}", page, answer, "at most 2")
