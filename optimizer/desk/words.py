"""Which words of a command the desk hands on: none that name a file outside its folder, nor that ask another machine.

Words come from forms. What an option is about is read off the table of options (`Option.names_files`), so that one which is added
later is checked as well.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from typing import Any

from optimizer.commands.command import Command
from optimizer.commands.options import Option
from optimizer.commands.table import COMMANDS, command_of
from optimizer.desk.folder import Folder, Forbidden
from optimizer.errors import COMMAND_LINE, Problem, Problems, quoted
from optimizer.files.named_files import catalog_files, rigs_named

__all__ = ["check", "writes"]

AT_A_TERMINAL = {
    "desk": "This is the desk.",
    "new": 'Describe a tank under "New tank".',
}
"""Commands that are not asked here, and what is done instead."""

ELSEWHERE = ("scheduler",)
"""Options that have other machines work."""


def writes(words: Sequence[str]) -> bool:
    """Whether a command changes files by itself: it is asked once then, whatever becomes of it.

    >>> writes(["log", "tank.log"]), writes(["log", "tank.log", "--cleaned=everything"])
    (False, True)
    """
    if not words or words[0] not in COMMANDS:
        return False
    return any(word.partition("=")[0] in command_of(words[0]).writes for word in words)


def check(folder: Folder, command: Command[Any], args: argparse.Namespace) -> None:
    """Raises InputError with every word that leads out of the folder, or to what the desk does not do."""
    problems = Problems()
    if args.command in AT_A_TERMINAL:
        problems.add(Problem(where=args.command, what="is not asked at the desk.", cure=AT_A_TERMINAL[args.command]))
    for option in command.options:
        given = getattr(args, option.name, None)
        if option.name in ELSEWHERE and given is not None:
            cure = "Leave it out; at a terminal it can be used."
            problems.add(Problem(where=option.flag, what="is not used at the desk, which asks no other machine.", cure=cure))
        for name in _names(option, given):
            _check_name(folder, option, name, problems)
    problems.raise_if_any(COMMAND_LINE)


def _names(option: Option, given: object) -> Iterator[str]:
    if option.names_files and given is not None:
        yield from map(str, given) if isinstance(given, list) else (str(given),)


def _check_name(folder: Folder, option: Option, name: str, problems: Problems) -> None:
    try:
        path = folder.root if name == "." else folder.path(name)
    except Forbidden as error:
        problems.add(Problem(where=option.flag, what=str(error), cure="Name a file of the folder of this desk."))
        return
    for each in (*rigs_named(path), *catalog_files(path)) if path.exists() else ():
        if not folder.holds(each):
            what = f"{quoted(name)} leads to {quoted(each.name)}, outside the folder of this desk."
            problems.add(Problem(where=option.flag, what=what, cure="Put that file into the folder."))
