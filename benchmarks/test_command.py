"""The whole command on the demo rigs, against a Python that imports what other commands need and exits."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from benchmarks.clock import in_turn
from benchmarks.conftest import Report

ROOT = Path(__file__).resolve().parent.parent
RIGS = ("planted_300", "rift_lake_450")
LIBRARIES = "import numpy, scipy.optimize, networkx, pandas, pint, pulp"
REPEATS = 9


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
