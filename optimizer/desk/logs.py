"""Logs of a folder: which belong to a tank, and entries that are written into one."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Mapping, Sequence
from pathlib import PurePosixPath
from typing import Any

from starlette.requests import Request

from optimizer import api
from optimizer.commands import log
from optimizer.commands.reader import Reader
from optimizer.commands.streams import reason
from optimizer.desk.desk import Desk
from optimizer.desk.folder import Folder
from optimizer.errors import InputError, Problem
from optimizer.model.catalog import Catalog

__all__ = ["SUFFIX", "asked_of", "beside", "enter", "is_new", "logs_of", "mark_entered", "once", "problems_of"]

SUFFIX = ".log"
AFTER = "_after"
"""Ends the name of a rig file that was written as the work left the tank: it has the log of the tank."""


def logs_of(folder: Folder, rig: str, there: Sequence[str] | None = None) -> tuple[str, ...]:
    """All logs of a folder (``there``, where they are known), those of a rig's name first: beside it, then elsewhere."""
    path = PurePosixPath(rig)
    stems = (path.stem, path.stem.removesuffix(AFTER))

    def far(name: str) -> tuple[bool, bool, str]:
        log_path = PurePosixPath(name)
        return (log_path.stem not in stems, log_path.parent != path.parent, name)

    return tuple(sorted(folder.files(SUFFIX) if there is None else there, key=far))


def beside(folder: Folder, rig: str, there: Sequence[str] | None = None) -> tuple[str, bool]:
    """The log of a rig's own name, and whether it is there: one that is not would be begun beside the rig."""
    path = PurePosixPath(rig)
    stem = path.stem.removesuffix(AFTER)
    found = next((name for name in logs_of(folder, rig, there) if PurePosixPath(name).stem in (stem, path.stem)), "")
    return found or (path.parent / f"{stem}{SUFFIX}").as_posix(), bool(found)


def asked_of(given: Mapping[str, str], file: str) -> log.Asked:
    """What is to be entered, read as the options of `fullbore log` are. Raises InputError with all that is wrong."""
    options = {option.name: option.reads.get("default") for option in log.COMMAND.options}
    texts = {name: text for name, text in given.items() if text.strip()}
    reader = Reader(Namespace(**{**options, **texts, "file": file, "rig": None, "catalog": None}), log.COMMAND.options)
    return log.COMMAND.read(reader)


def enter(desk: Desk, file: str, asked: log.Asked, rig: str, catalog: str) -> None:
    """Write entries into a log, as those of the tank of a rig file. Raises InputError and OSError; nothing is written then."""
    from optimizer.answers.logbook import written  # the first page does without

    if not file.endswith(SUFFIX):
        cure = f'Name a file that ends in "{SUFFIX}".'
        raise InputError(file, [Problem(where="into", what="this is no name of a log.", cure=cure)])
    path = desk.folder.path(file)
    known = api.read_catalog(desk.folder.path(catalog)) if catalog else Catalog(parts={}, products=())
    tank = api.read_rig(desk.folder.path(rig), known)
    path.parent.mkdir(parents=True, exist_ok=True)
    written(path, *log.entries(asked), rig=tank)


def problems_of(error: InputError | OSError) -> tuple[Problem, ...]:
    """What is wrong with what was entered, or with the place that it was to be written to."""
    if isinstance(error, InputError):
        return tuple(error.placed)
    cure = "Look at the folder and its rights, or choose another place; nothing that was typed is lost."
    return (Problem(where="into", what=f"cannot be written: {reason(error)}.", cure=cure),)


# -- a form that is sent twice -------------------------------------------------------------------------------------


def once() -> str:
    """A name for a form, by which one that is sent twice is known."""
    import secrets

    return secrets.token_hex(8)


def is_new(request: Request, name: object) -> bool:
    """Whether nothing was entered by the form of a name yet."""
    return name not in _entered(request)


def mark_entered(request: Request, name: object) -> None:
    """Note that what the form of a name said is entered."""
    _entered(request)[name] = True


def _entered(request: Request) -> dict[Any, bool]:
    state = request.app.state
    if not hasattr(state, "entered"):
        state.entered = {}
    found: dict[Any, bool] = state.entered
    return found
