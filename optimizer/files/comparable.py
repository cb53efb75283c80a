"""What can be compared: rig files, saved answers, and rigs and answers at hand."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from optimizer.errors import InputError, Problem, Problems
from optimizer.files.answer_json import read_answer
from optimizer.files.rig_toml import read_rig
from optimizer.model.catalog import Catalog
from optimizer.model.dossiers import Dossier
from optimizer.model.results import Result
from optimizer.model.rig import Rig

__all__ = ["read_all"]

CURE = 'Save one with "fullbore best tank.toml --json > tank.json".'


def read_all(sources: Sequence[str | Path | Rig | Result], catalog: Catalog) -> list[tuple[str, Rig | Result]]:
    """Each source by its name, read where it is a file; one that ends in .json is a saved answer, any other a rig file.

    Raises `InputError` with the problems of all files in one list.

    >>> try:
    ...     read_all(["a.toml", "b.json"], Catalog(parts={}, products=()))
    ... except InputError as error:
    ...     print(error)
    2 problems in 2 files, nothing was solved.
    a.toml: 1 problem.
      file: there is no such file. Check the name and the folder.
    b.json: 1 problem.
      file: there is no such file. Check the name and the folder.
    """
    problems = Problems()
    found: list[tuple[str, Rig | Result]] = []
    for source in sources:
        if not isinstance(source, str | Path):
            found.append((source.rig if isinstance(source, Result) else source.name, source))
            continue
        path = Path(source)
        try:
            found.append((path.name, _answer(path) if path.suffix.lower() == ".json" else read_rig(path, catalog)))
        except InputError as error:
            # told with the file they stand in, so that those of several files make one list
            problems.extend(problem.in_file(error.source) for problem in error.problems)
    problems.raise_if_any(next((Path(each).name for each in sources if isinstance(each, str | Path)), "compare"))
    return found


def _answer(path: Path) -> Result:
    found = read_answer(path)
    result = found.result if isinstance(found, Dossier) else None
    if result is None:
        raise InputError(path.name, [Problem(where="file", what='holds no answer of "best" or "cheapest".', cure=CURE)])
    return result
