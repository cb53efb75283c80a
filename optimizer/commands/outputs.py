"""The one place that writes: it looks at where before anything is solved, and writes once the answer is printed."""

from __future__ import annotations

import importlib
import os
import stat
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.commands.streams import printed, reason, say
from optimizer.errors import COMMAND_LINE, InputError, Problem, Problems, safe
from optimizer.exits import ANSWER, BAD_INPUT, STOPPED

Input = tuple[str, Path]
"""What a file is to the run, in words, and where it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """Files of one option, made when they are to be written, all of them or none, in a system of units. ``place`` names them in a
    message, ``told`` is said once they are written."""

    flag: str
    place: Path
    make: Callable[[str], Sequence[tuple[Path, bytes]]]
    told: str = ""


def file_of(flag: str, place: Path | None, make: Callable[[str], bytes], told: str = "") -> tuple[Output, ...]:
    """The file of an option; none where it is not asked for."""
    return () if place is None else (Output(flag=flag, place=place, make=lambda units: [(place, make(units))], told=told),)


def table_of(flag: str, place: Path | None, name: str, *whole: object) -> tuple[Output, ...]:
    """The file of a table, made of the answer by the function ``name`` of `report.sheet_csv` or `report.sheet_xlsx`."""
    module = f"optimizer.report.sheet_{name.rpartition('_')[2]}"

    def made(_: str) -> bytes:
        table: str | bytes = getattr(importlib.import_module(module), name)(*whole)
        # the mark at the front of a text tells spreadsheets that it is UTF-8
        return table if isinstance(table, bytes) else table.encode("utf-8-sig")

    return file_of(flag, place, made)


class Outputs:
    """The places that the options of one run name. What can be seen to fail is a problem before anything is solved: no output
    may be a file that is read, or that of another option, nor lie where nothing can be written."""

    def __init__(self, problems: Problems, inputs: Iterable[Input]) -> None:
        self._problems = problems
        self._inputs = tuple(inputs)
        self._taken: dict[Path, str] = {}

    def file(self, flag: str, given: str | None, example: str) -> Path | None:
        """Where the file of an option goes, links followed; None when it is not asked for or cannot go there."""
        if given is None:
            return None
        path, what = self._looked_at(given)
        if what:
            cure = f"Name a file in a folder of yours, for example {example}."
            self._problems.add(Problem(where=flag, what=what.format(safe(given)), cure=cure))
            return None
        return self._take(flag, path)

    def folder(self, flag: str, given: str | None, names: Iterable[str]) -> Path | None:
        """A folder that is there and can be written to, and in which files of these names may be replaced."""
        if given is None:
            return None
        what = ""
        try:
            folder = Path(os.path.realpath(given))
            if not folder.is_dir() or _refuses(folder):
                what = "{} is no folder, or cannot be written to."
        except (OSError, ValueError) as error:
            what = _unusable(error)
        if what:
            cure = "Name a folder that is there."
            self._problems.add(Problem(where=flag, what=what.format(safe(given)), cure=cure))
            return None
        for name in names:
            _, what = self._looked_at(str(folder / name))
            if what:
                what = what.format(f"{name} in it")
                self._problems.add(Problem(where=flag, what=what, cure="Name another folder."))
            else:
                self._take(flag, folder / name)
        return folder

    def _take(self, flag: str, path: Path) -> Path | None:
        other = self._taken.setdefault(path, flag)
        if other != flag:
            self._problems.add(Problem(where=flag, what=f"is the same file as {other}.", cure="Name two files."))
            return None
        return path

    def _looked_at(self, given: str) -> tuple[Path, str]:
        """The place, and what is wrong with it, with a gap for its name."""
        path = Path(given)
        try:
            path = Path(os.path.realpath(given))
            there = _there(path)
            if there is not None and not stat.S_ISREG(there.st_mode):
                return path, "{} is not a file."
            read = next((what for what, each in self._inputs if _same(each, path, there)), "")
        except (OSError, ValueError) as error:
            return path, _unusable(error)
        if read:
            return path, f"{{}} is {read} itself."
        return path, "the folder of {} is not there or cannot be written to." if _refuses(path.parent) else ""


def written(outputs: Sequence[Output], units: str, pressed: Callable[[], bool], tell: bool) -> int:
    """Write files, those of each option whole or not at all, say what could not be written, and return the exit status; what was
    written is said where ``tell`` asks for it."""
    status = ANSWER
    for output in outputs:
        where = safe(str(output.place))
        try:
            if pressed():
                raise KeyboardInterrupt
            _write_whole(output.make(units))
        except KeyboardInterrupt:
            say(f"{output.flag}: {where} is not written: stopped before it was drawn.")
            status = status or STOPPED
        except OSError as error:
            say(f"{output.flag}: {where} cannot be written: {reason(error)}.")
            status = BAD_INPUT
        else:
            printed(output.told if tell else "")
    return status


def write_now(flag: str, files: Sequence[tuple[Path, bytes]]) -> None:
    """Write files that are the whole answer, all of them or none. Raises InputError where they cannot be written."""
    try:
        _write_whole(files)
    except OSError as error:
        what = f"{safe(error.filename or '')} cannot be written: {reason(error)}."
        problem = Problem(where=flag, what=what, cure="Free some room, or name another place.")
        raise InputError(COMMAND_LINE, [problem]) from error


def _write_whole(files: Sequence[tuple[Path, bytes]]) -> None:
    from optimizer.files.whole_file import write_whole  # most runs write nothing

    write_whole(files)


def _there(path: Path) -> os.stat_result | None:
    """What is at a path; None where nothing is. Raises OSError for a name that no file can have."""
    try:
        return path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return None


def _same(each: Path, path: Path, there: os.stat_result | None) -> bool:
    """Whether two paths name one file: by what is there, or where nothing is yet by the path with links followed."""
    try:
        if there is not None:
            return os.path.samestat(each.stat(), there)
        return os.path.realpath(each) == str(path)
    except (OSError, ValueError):
        return False


def _refuses(folder: Path) -> bool:
    """Whether no file can be made in a folder."""
    from optimizer.files.whole_file import try_folder  # as above

    try:
        try_folder(folder)
    except OSError:
        return True
    return False


def _unusable(error: Exception) -> str:
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return f"{{}} cannot be used: {safe(reason)}."
