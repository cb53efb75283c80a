"""A shop's kits, solved by whoever is hired for it, with earlier answers kept in a file."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from optimizer.files.results_file import ResultsFile, passed_over
from optimizer.model.kits import BY, KitPlan
from optimizer.model.shop import Store
from optimizer.tanks.plan import kits_answer
from optimizer.tanks.pool import cluster, in_this_process, processes
from optimizer.tanks.shop_questions import Asker
from optimizer.version import source_sum, version


def kits(
    store: Store,
    *,
    by: str = "gain",
    most: int | None = None,
    workers: int = 1,
    scheduler: str | None = None,
    results: str | Path | None = None,
    progress: Callable[[str, int, int], None] | None = None,
    remark: Callable[[str], None] | None = None,
) -> KitPlan:
    """At most ``most`` kits (without it as many as the shop says) that serve a shop's tanks best, and what its stock is worth.

    ``by`` is "gain" or "coverage". ``workers`` processes solve, or with ``scheduler`` ("tcp://...") a Dask cluster; the answer is
    the same whoever does. ``results`` is a file that answers are kept in and taken from, so that stopped work goes on.
    ``progress`` is called with what is solved, how many are done, and of how many, ``remark`` with a line about what else
    there is to say: that lines of ``results`` are of no use, that a cluster has no worker. Ctrl-C gives what is known by then, or
    raises KeyboardInterrupt. Raises ValueError for an unknown ``by``, no kits, no workers, or both workers and a scheduler,
    InputError for a file that is none of results, OSError for a scheduler that does not answer.
    """
    if by not in BY:
        raise ValueError(f"kits are chosen by {' or '.join(BY)}, not {by!r}")
    if scheduler is not None and workers != 1:
        raise ValueError("either processes of this machine or a cluster solve, not both")
    asked = store if most is None else replace(store, most_kits=most)
    here = in_this_process if workers == 1 else processes(workers)
    hire = here if scheduler is None else cluster(scheduler, remark or (lambda _: None))
    if results is None:
        return kits_answer(Asker(store=asked, hire=hire, told=progress), by)
    kept = ResultsFile(results)
    asker = Asker(store=asked, hire=hire, results=kept, told=progress, version=f"{version()} {source_sum()}")
    plan = kits_answer(asker, by)
    if remark is not None and (lines := kept.damaged + asker.refused):
        remark(passed_over(results, lines))
    return plan
