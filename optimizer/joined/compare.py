"""Rigs, rig files and answers, also saved ones, side by side."""

from pathlib import Path

from optimizer.answers.best import best
from optimizer.answers.question import Progress
from optimizer.files.comparable import read_all
from optimizer.model.catalog import Catalog
from optimizer.model.compared import Compared, column_of
from optimizer.model.results import Result
from optimizer.model.rig import Rig


def compare(
    catalog: Catalog, *sources: str | Path | Rig | Result, budget: int | None = None, progress: Progress | None = None
) -> Compared:
    """Several rigs, rig files, answers, or saved answers (files that end in .json) side by side; rigs are answered with `best`.

    Raises ValueError for none, InputError with the problems of all files.
    """
    if not sources:
        raise ValueError("at least one answer must be given")
    made = []
    for name, each in read_all(sources, catalog):
        answered = best(each, catalog, budget=budget, progress=progress) if isinstance(each, Rig) else each
        made.append(column_of(name, answered))
    return Compared(columns=tuple(made))
