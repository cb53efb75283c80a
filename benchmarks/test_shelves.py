"""Catalogs of 1e3 to 1e5 parts from their files: reading and checking against listing choices and searching, and the memory."""

from pathlib import Path
from statistics import median
from time import process_time
from typing import Any

import numpy as np
import pytest

from benchmarks.clock import Times
from benchmarks.conftest import ROWS, Report, Row
from benchmarks.memory import of_command
from benchmarks.shelves import for_files, write_catalog
from benchmarks.worlds import catalog, problem, rig
from optimizer.files.catalog_csv import read_catalog
from optimizer.search.best import RESOLUTION_M3S, Seeker

KINDS = 5
PER_KIND = (200, 2_000, 20_000)
"""1e3, 1e4 and 1e5 parts that fill positions."""
REPEATS = 3

IMPORTS = (
    "import sys",
    "from benchmarks.worlds import problem, rig",
    "from optimizer.files.catalog_csv import read_catalog",
    "from optimizer.search.best import Seeker",
)
STEPS = ("offers = read_catalog(sys.argv[1])", "Seeker(problem(rig(), offers)).most_flow()")


def test_reading_against_searching(benchmark: Any, report: Report, tmp_path: Path) -> None:
    """To read a catalog takes no longer than to find the best bundle in it, and both grow no faster than the number of parts."""
    sizes, reading, searching, memory = [KINDS * each for each in PER_KIND], [], [], []
    for per_kind, size in zip(PER_KIND, sizes, strict=True):
        offers = for_files(catalog(per_kind, seed=1))
        folder = write_catalog(offers, tmp_path / str(size))
        known = Seeker(problem(rig(), offers)).most_flow().found
        assert known is not None
        memory.append([_peak(folder, *steps) - _peak(folder) for steps in (STEPS[:1], STEPS)])
        spent = [_spent(folder, known.flow_m3s) for _ in range(REPEATS if size < sizes[-1] else 1)]
        reading.append(Times(tuple(read for read, _ in spent)))
        searching.append(Times(tuple(search for _, search in spent)))
        megabytes = f"{memory[-1][0]:.0f} / {memory[-1][1]:.0f} MB"
        note = f"{reading[-1].least:.3g} s / {searching[-1].least:.3g} s of processor time; {megabytes}"
        report(f"reading / choices and search, {size} parts from files", reading[-1], searching[-1], "at most 1", note)
    benchmark.pedantic(lambda: read_catalog(tmp_path / str(sizes[0])), rounds=2)
    for what, times in (("reading", reading), ("choices and search", searching)):
        note = ", ".join(f"{1e6 * each.least / size:.3g}" for each, size in zip(times, sizes, strict=True)) + " us a part"
        slopes = (_slope(sizes, [each.least for each in times]), _slope(sizes, [median(each.seconds) for each in times]))
        row = Row(what=f"exponent of {what}, 1e3 to 1e5 parts", least=slopes[0], middle=slopes[1], target="at most 1", note=note)
        ROWS.append(row)
        benchmark.extra_info[row.what] = {"least": row.least, "median": row.middle, "note": note}
        print(row.line())
    benchmark.extra_info["megabytes when read, and when searched"] = dict(zip(sizes, memory, strict=True))


def _spent(folder: Path, flow_m3s: float) -> tuple[float, float]:
    """Processor seconds of reading a folder, and of listing the choices, building the arrays and searching, until proved."""
    start = process_time()
    offers = read_catalog(folder)
    read = process_time()
    outcome = Seeker(problem(rig(), offers)).most_flow()
    end = process_time()
    assert outcome.status == "proved"
    assert outcome.found is not None
    assert outcome.found.flow_m3s == pytest.approx(flow_m3s, abs=RESOLUTION_M3S)
    return read - start, end - read


def _peak(folder: Path, *steps: str) -> float:
    """The most memory in MB of a Python that does these steps with a folder and ends."""
    spent = of_command("-c", "; ".join((*IMPORTS, *steps)), str(folder))
    assert spent.status == 0
    return spent.megabytes


def _slope(sizes: list[int], seconds: list[float]) -> float:
    """Slope of log time against log size."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])
