"""The command plot: the figures of a saved answer."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer.commands.command import Command
from optimizer.commands.files_written import files_written
from optimizer.commands.options import PRINTED, SAVED, choice, value
from optimizer.commands.reader import Reader, refused
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told
from optimizer.errors import InputError, Problem, quoted

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The saved answer, which of its figures, of which kind, and the folder they go to."""

    saved: str
    folder: Path
    figures: tuple[str, ...]
    ending: str
    units: str


def read(reader: Reader) -> Asked:
    """Look at the figures that are wanted, then at their places. Raises InputError for a figure that there is not."""
    args = reader.args
    wanted = _figures(args.figures)
    names = (f"{name}.{args.format}" for name in wanted)
    folder = reader.outputs(("the answer", args.answer)).folder("--out", args.out, names)
    return Asked(saved=args.answer, folder=folder or Path(args.out), figures=wanted, ending=args.format, units=args.units)


def _figures(text: str | None) -> tuple[str, ...]:
    from optimizer.report.figures.album import NAMES

    if text is None:
        return NAMES
    words = tuple(word.strip() for word in text.split(","))
    unknown = [word for word in words if word not in NAMES]
    if unknown:
        raise refused("--figures", f"{quoted(unknown[0])} is no figure.", f"There are: {', '.join(NAMES)}.")
    return words


def answer(asked: Asked, _: Progress | None) -> Told:
    """Draw and write the figures. Raises InputError for an answer that holds no numbers for any of them."""
    from optimizer.files.answer_json import read_dossier
    from optimizer.report.figures.album import album

    found = read_dossier(asked.saved)
    pictures = {name: picture for name, picture in album(found, asked.units).items() if name in asked.figures}
    if not pictures:
        what = f"holds no numbers for {', '.join(asked.figures)}."
        cure = 'Save it with --report and --json: "fullbore best tank.toml --report tank.html --json > answer.json".'
        raise InputError(Path(asked.saved).name, [Problem(where="file", what=what, cure=cure)])
    from optimizer.report.figures import paper  # loads matplotlib

    drawn = {
        name: paper.png(each) if asked.ending == "png" else paper.svg(each).encode("utf-8") for name, each in pictures.items()
    }
    return files_written(found, [(asked.folder / f"{name}.{asked.ending}", content) for name, content in drawn.items()])


COMMAND = Command(
    does="Writes the figures of a saved answer, one file each. Nothing is solved again.",
    options=(
        SAVED,
        value("--out", "DIR", "figures", "folder for the figures", default="."),
        value("--figures", "NAMES", "curves,front", "only these: curves, heads, front, fall, pressure, jets"),
        choice("--format", ("svg", "png"), "kind of file"),
        *PRINTED,
    ),
    examples=(
        "fullbore plot answer.json --out figures",
        "fullbore plot answer.json --out figures --figures curves,front --format png",
    ),
    read=read,
    answer=answer,
)
