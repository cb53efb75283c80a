"""A saved answer read back from its JSON file."""

from __future__ import annotations

import json
from pathlib import Path

from optimizer.errors import BadValue, InputError, Problem, Problems
from optimizer.files.source_text import file_text
from optimizer.model.dossiers import Dossier
from optimizer.model.saved import Saved, answer_of

__all__ = ["read_answer", "read_dossier"]

LARGEST_BYTES = 64 << 20
MOST_PROBLEMS = 20
CURE = 'Save the answer again: "fullbore best tank.toml --report tank.html --json > answer.json".'
AGAIN = "Save it again."


def read_dossier(path: str | Path) -> Dossier:
    """Return the dossier in a JSON file, or one of the answers it is made of. Raises `InputError` as `read_answer`."""
    found = read_answer(path)
    if isinstance(found, Dossier):
        return found
    problem = Problem(
        where="schema", what="this is an answer for several tanks, and one for a single tank is asked for.", cure=CURE
    )
    raise InputError(Path(path).name, [problem])


def read_answer(path: str | Path) -> Saved:
    """Return the answer in a JSON file saved with --json: a dossier, one of the answers it is made of, kits, or a household.

    Raises `InputError` with the problems found, at most the first 20 of them.

    >>> from optimizer.errors import InputError
    >>> try:
    ...     read_answer("no_such_answer.json")
    ... except InputError as error:
    ...     print(error)
    no_such_answer.json: 1 problem, nothing was solved.
      file: there is no such file. Check the name and the folder.
    """
    path = Path(path)
    name, problems = path.name or str(path), Problems()
    try:
        saved = _parsed(file_text(path, LARGEST_BYTES))
    except BadValue as error:
        problems.add(error.at("file"))
    problems.raise_if_any(name)

    def complain(place: str, what: str) -> None:
        if len(problems) < MOST_PROBLEMS:
            problems.tell(place, what, CURE if place in ("file", "schema") else AGAIN)

    answer = answer_of(saved, complain)
    problems.raise_if_any(name)
    if answer is None:
        raise RuntimeError("an answer without problems was not read")
    return answer


def _parsed(text: str) -> object:
    try:
        return json.loads(text, parse_constant=_refused)
    except RecursionError:
        raise BadValue("this is no saved answer: it is nested too deeply.", CURE) from None
    except ValueError as error:
        raise BadValue(f"this is no JSON that can be read: {error}.", CURE) from None


def _refused(constant: str) -> float:
    raise ValueError(f"{constant} is no number of JSON")
