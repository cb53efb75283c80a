"""Rigs, rig files and answers, also saved ones, side by side."""

from pathlib import Path

from optimizer.answers.advised import advise
from optimizer.answers.logged import each_with_log
from optimizer.answers.question import Progress
from optimizer.files.comparable import read_all
from optimizer.model.catalog import Catalog
from optimizer.model.compared import Compared, column_of
from optimizer.model.results import Result
from optimizer.model.rig import Rig


def compare(
    catalog: Catalog,
    *sources: str | Path | Rig | Result,
    budget: int | None = None,
    measured: bool = True,
    log: str | Path | None = None,
    progress: Progress | None = None,
) -> Compared:
    """Several rigs, rig files, answers, or saved answers (files that end in .json) side by side; rigs are answered with `advise`,
    by their fills unless ``measured`` is False, with those of a ``log`` beside them where it is the log of their tank.

    Raises ValueError for none, InputError with the problems of all files.
    """
    if not sources:
        raise ValueError("at least one answer must be given")
    found = read_all(sources, catalog)
    logged = {} if log is None else each_with_log([each for _, each in found if isinstance(each, Rig)], log)
    made = []
    for name, each in found:
        if isinstance(each, Rig):
            each = advise(logged.get(id(each), each), catalog, budget=budget, measured=measured, progress=progress)
        made.append(column_of(name, each))
    return Compared(columns=tuple(made))
