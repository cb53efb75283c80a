"""What --report adds to the answer about a tank: the page of all that belongs to it, made of what its JSON holds."""

from __future__ import annotations

import json
import os
import shlex
from collections.abc import Callable, Set
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer import api
from optimizer.commands.options import DEMO_CATALOG
from optimizer.commands.reader import Reader

if TYPE_CHECKING:
    from optimizer.model.dossiers import Dossier

NOT_ECHOED = frozenset({"catalog", "report", "after", "csv", "xlsx", "proof", "json", "quiet", "full", "show", "cards"})
"""Options of a command that say where an answer goes or how it is printed, and the folder, which is named first. All others are
repeated: one that is new to a command is repeated too."""


def command_again(reader: Reader) -> str:
    """The command again, without the folders of this computer, and with one name for every page; empty without one."""
    args = reader.args
    if args.report is None:
        return ""
    folder = DEMO_CATALOG if args.catalog is None else args.catalog
    first = ["fullbore", args.command, _file_word(args.rig), "--catalog", _file_word(folder)]
    return shlex.join([*first, *_options_again(reader, _file_word), "--report", "report.html"])


def typed_again(reader: Reader) -> str:
    """The command as it was typed, without what says where its answer goes or how much of it is told, and without the proof by
    another route, which not everything that can be added goes with."""
    args = reader.args
    files = [reader.given(option.name) for option in reader.options if not option.flag.startswith("--")]
    folder = [] if args.catalog is None else ["--catalog", args.catalog]
    return shlex.join(
        ["fullbore", args.command, *map(_no_option, files), *_options_again(reader, _no_option, {"prove"}), *folder]
    )


def _no_option(path: str) -> str:
    """A path that begins with a dash, so that it is not taken for an option."""
    return f"./{path}" if path.startswith("-") else path


def _options_again(reader: Reader, file_word: Callable[[str], str], without: Set[str] = frozenset()) -> list[str]:
    """The options that were given, apart from those `NOT_ECHOED` and those ``without`` which it is wanted."""
    words: list[str] = []
    for option in reader.options:
        value = reader.given(option.name)
        if not option.flag.startswith("--") or option.name in NOT_ECHOED | without or value == option.reads.get("default"):
            continue
        if value is True:
            words.append(option.flag)
        elif value is not None and value is not False:
            text = file_word(value) if option.input else str(value)
            # what begins with a dash would be taken for another option
            words += [f"{option.flag}={text}"] if text.startswith("-") else [option.flag, text]
    return words


def _file_word(path: str | Path) -> str:
    """The name of a file or folder, so that it is not taken for an option."""
    name = Path(path).name or Path(os.path.realpath(path)).name
    return f"./{name}" if name.startswith("-") else name


def page_bytes(found: Dossier, units: str) -> bytes:
    """The page of a dossier, made of what its JSON holds and of nothing else."""
    from optimizer.model.saved import dossier_of

    problems: list[str] = []
    saved = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    back = dossier_of(saved, lambda place, what: problems.append(f"{place}: {what}"))
    if back is None:
        raise RuntimeError(f"a dossier cannot be read back: {'; '.join(problems)}")
    return api.page(back, units).encode("utf-8")
