"""What the commands report and plot are asked, and what --report adds to the others: a page, made of a saved dossier."""

from __future__ import annotations

import argparse
import json
import os
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer import api
from optimizer.cli_options import COMMAND_LINE, options_of
from optimizer.cli_outputs import Outputs, inputs_of
from optimizer.cli_told import Told
from optimizer.errors import InputError, Problem, Problems, quoted, safe
from optimizer.files.answer_json import read_answer, read_saved
from optimizer.files.input_hashes import input_hashes
from optimizer.files.whole_file import write_whole
from optimizer.model.dossiers import Dossier, Made
from optimizer.model.kits import KitPlan
from optimizer.model.saved import Saved, dossier_of
from optimizer.report.figures.album import NAMES, album
from optimizer.version import version

if TYPE_CHECKING:
    from optimizer.model.catalog import Catalog
    from optimizer.model.rig import Rig

__all__ = ["dossier", "page_bytes", "told", "worded"]

SCHEMA = "fullbore-written/1"
NOT_ECHOED = frozenset({"catalog", "report", "csv", "xlsx", "json", "quiet"})
"""Options of a command that say where an answer goes or how it is printed, and the folder, which is named first. All others are
repeated: one that is new to a command is repeated too."""

FILES = frozenset({"log"})
"""Options that name an input file."""

Progress = Callable[[int, float | None], None]
Words = Callable[[Any, str], str]
"""Puts an answer into words in a system of units."""


def told(args: argparse.Namespace, _: Progress | None = None) -> Told:
    """Answer one of the two commands. Raises `InputError` with everything that is wrong with arguments or files."""
    return {"report": _report, "plot": _plot}[args.command](args)


def _report(args: argparse.Namespace) -> Told:
    problems = Problems()
    given = args.out if args.out is not None else f"{Path(args.answer).stem}.html"
    out = Outputs(problems, inputs_of(("the answer", args.answer))).file("--out", given, "tank.html")
    problems.raise_if_any(COMMAND_LINE)
    if out is None:
        raise RuntimeError("a place without problems was not taken")
    found = read_saved(args.answer)
    _write([(out, api.page(found, args.units).encode("utf-8"))])
    return _written(found, [out])


def _plot(args: argparse.Namespace) -> Told:
    wanted = _figures(args.figures)
    problems = Problems()
    names = (f"{name}.{args.format}" for name in wanted)
    folder = Outputs(problems, inputs_of(("the answer", args.answer))).folder("--out", args.out, names)
    problems.raise_if_any(COMMAND_LINE)
    if folder is None:
        raise RuntimeError("a folder without problems was not taken")
    found = read_answer(args.answer)
    pictures = {name: picture for name, picture in album(found, args.units).items() if name in wanted}
    if not pictures:
        what = f"holds no numbers for {', '.join(wanted)}."
        cure = 'Save it with --report and --json: "fullbore best tank.toml --report tank.html --json > answer.json".'
        raise InputError(Path(args.answer).name, [Problem(where="file", what=what, cure=cure)])
    from optimizer.report.figures import paper  # loads matplotlib

    made = [
        (folder / f"{name}.{args.format}", paper.png(each) if args.format == "png" else paper.svg(each).encode("utf-8"))
        for name, each in pictures.items()
    ]
    _write(made)
    return _written(found, [path for path, _ in made])


def _figures(text: str | None) -> tuple[str, ...]:
    if text is None:
        return NAMES
    words = tuple(word.strip() for word in text.split(","))
    unknown = [word for word in words if word not in NAMES]
    if unknown:
        what = f"{quoted(unknown[0])} is no figure."
        raise InputError(COMMAND_LINE, [Problem(where="--figures", what=what, cure=f"There are: {', '.join(NAMES)}.")])
    return words


def _write(files: list[tuple[Path, bytes]]) -> None:
    try:
        write_whole(files)
    except OSError as error:
        what = f"{safe(error.filename or '')} cannot be written: {safe(error.strerror or str(error))}."
        problems = Problems()
        problems.add(Problem(where="--out", what=what, cure="Free some room, or name another place."))
        problems.raise_if_any(COMMAND_LINE)


def _written(found: Saved, paths: list[Path]) -> Told:
    names = [path.name for path in paths]
    left_out = found.left_out if isinstance(found, Dossier) else ()
    whose = found.leading.rig if isinstance(found, Dossier) else found.shop if isinstance(found, KitPlan) else found.household
    line = f"{safe(whose)}: wrote {safe(', '.join(names))}.\n"
    left = "".join(f"  left out: {safe(each)}\n" for each in left_out)
    return Told(
        body={"schema": SCHEMA, "files": names, "left_out": list(left_out)},
        headline=lambda _: line,
        text=lambda _: line + left,
    )


# -- beside another answer -----------------------------------------------------------------------------------------


def dossier(
    args: argparse.Namespace,
    rig: Rig,
    catalog: Catalog,
    folder: Path,
    asked: dict[str, Any],
    progress: Progress | None,
    halted: Any,
) -> Dossier:
    """The dossier of what was asked; ``asked`` are arguments of `api.dossier`."""
    made = Made(version=version(), command=_command(args, folder), inputs=input_hashes(args.rig, folder, args.log))
    return api.dossier(rig, catalog, made=made, progress=progress, halted=halted, **asked)


def _command(args: argparse.Namespace, folder: Path) -> str:
    """The command again, without the folders of this computer, and with one name for every page."""
    words = ["fullbore", args.command, _file_word(args.rig), "--catalog", _file_word(folder)]
    for option in options_of(args.command):
        name = option.flag.lstrip("-")
        value = getattr(args, name.replace("-", "_"))
        if not option.flag.startswith("--") or name in NOT_ECHOED or value == option.reads.get("default"):
            continue
        if value is True:
            words.append(option.flag)
        elif value is not None and value is not False:
            text = _file_word(value) if name in FILES else str(value)
            # what begins with a dash would be taken for another option
            words += [f"{option.flag}={text}"] if text.startswith("-") else [option.flag, text]
    return shlex.join([*words, "--report", "report.html"])


def _file_word(path: str | Path) -> str:
    """The name of a file or folder, so that it is not taken for an option."""
    name = Path(path).name or Path(os.path.realpath(path)).name
    return f"./{name}" if name.startswith("-") else name


def page_bytes(found: Dossier, units: str) -> bytes:
    """The page of a dossier, made of what its JSON holds and of nothing else."""
    from optimizer.report.html.page import page  # loads matplotlib

    problems: list[str] = []
    saved = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    back = dossier_of(saved, lambda place, what: problems.append(f"{place}: {what}"))
    if back is None:
        raise RuntimeError(f"a dossier cannot be read back: {'; '.join(problems)}")
    return page(back, units).encode("utf-8")


def worded(args: argparse.Namespace, found: Dossier) -> tuple[str, Words, Words]:
    """Status, headline and text of the block that was asked for; of the result when that block was left out."""
    from optimizer.report import bands_text, front_text, order_text, text

    banded = getattr(args, "bands", False) or getattr(args, "robust", None) is not None
    block: Any = found.result
    words: Any = text
    for wanted, other, its_words in (
        (args.command == "front", found.front, front_text),
        (getattr(args, "order", False), found.order, order_text),
        (banded, found.bands, bands_text),
    ):
        if wanted and other is not None:
            block, words = other, its_words
    return block.status, lambda _, units: words.headline(block, units), lambda _, units: words.render(block, units)
