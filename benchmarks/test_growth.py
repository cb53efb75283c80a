"""Time of choices, arrays and search against the size of the catalog, at a fixed budget."""

from time import perf_counter
from typing import Any

import numpy as np

from benchmarks.conftest import ROWS, Row
from benchmarks.worlds import catalog, problem, rig
from optimizer.search.best import Seeker

KINDS = 5
PER_KIND = (20, 200, 2_000, 20_000)
"""1e2 to 1e5 parts that fill positions."""


def test_growth_with_catalog_size(benchmark: Any) -> None:
    """Whole time grows no faster than the number of parts; an exponent is fitted to all sizes and to three."""
    home, sizes, whole, search, flows = rig(), [], [], [], []
    for per_kind in PER_KIND:
        offers = catalog(per_kind, seed=1)
        start = perf_counter()
        built = problem(home, offers)
        middle = perf_counter()
        outcome = Seeker(built).most_flow()
        end = perf_counter()
        assert outcome.status == "proved"
        assert outcome.found is not None
        sizes.append(KINDS * per_kind)
        whole.append(end - start)
        search.append(end - middle)
        flows.append(outcome.found.flow_m3s)
    small = catalog(PER_KIND[0], seed=1)
    benchmark.pedantic(lambda: Seeker(problem(home, small)).most_flow(), rounds=2)
    all_sizes, upper = _exponent(sizes, whole), _exponent(sizes[1:], whole[1:])
    each = ", ".join(f"{1e6 * t / n:.3g}" for t, n in zip(whole, sizes, strict=True))
    searches = ", ".join(f"{1e3 * t:.3g}" for t in search)
    note = f"{each} us a part; search alone {searches} ms"
    what = "exponent of growth: 1e2 to 1e5 parts, 1e3 to 1e5 parts"
    ROWS.append(Row(what=what, least=all_sizes, middle=upper, target="at most 1", note=note))
    benchmark.extra_info["growth"] = {"exponent": all_sizes, "from 1e3 on": upper, "parts": sizes, "seconds": whole}
    print(ROWS[-1].line())


def _exponent(sizes: list[int], seconds: list[float]) -> float:
    """Slope of log time against log size."""
    return float(np.polyfit(np.log(sizes), np.log(seconds), 1)[0])
