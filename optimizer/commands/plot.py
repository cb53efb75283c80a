"""Writes the figures of a saved answer, one file each. Nothing is solved again.

fullbore plot answer.json --out figures
fullbore plot answer.json --out figures --figures curves,front --format png
"""

from dataclasses import dataclass
from pathlib import Path

from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told
from optimizer.commands.files_written import files_written
from optimizer.commands.options import choice, value
from optimizer.commands.reader import refused
from optimizer.errors import quoted


def _figures(reader: Reader) -> tuple[str, ...]:
    from optimizer.report.figures.album import NAMES

    if reader.args.figures is None:
        return NAMES
    words = tuple(word.strip() for word in reader.args.figures.split(","))
    unknown = [word for word in words if word not in NAMES]
    if unknown:
        raise refused("--figures", f"{quoted(unknown[0])} is no figure.", f"There are: {', '.join(NAMES)}.")
    return words


def _folder(reader: Reader) -> Path | None:
    names = (f"{name}.{reader.args.format}" for name in _figures(reader))
    return reader.outputs.folder("--out", reader.args.out, names)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The saved answer, which of its figures, of which kind, and the folder they go to."""

    answer: str = options.saved()
    out: Path = value("--out", "DIR", "figures", "folder for the figures", reads={"default": "."}, make=_folder)
    figures: tuple[str, ...] = value(
        "--figures", "NAMES", "curves,front", "only these: loop, curves, heads, front, fall, pressure, jets", make=_figures
    )
    format: str = choice("--format", ("svg", "png"), "kind of file")
    units: str = options.units()


def _answer(asked: Asked, _: Progress | None) -> Told:
    """Raises InputError for an answer that holds no numbers for any of the figures."""
    from optimizer.files.answer_json import read_dossier
    from optimizer.report.figures.album import album
    from optimizer.report.spoken import spoken

    found = read_dossier(asked.answer)
    pictures = {name: picture for name, picture in album(spoken(found), asked.units).items() if name in asked.figures}
    if not pictures:
        what = f"holds no numbers for {', '.join(asked.figures)}."
        cure = 'Save it with --report and --json: "fullbore best tank.toml --report tank.html --json > answer.json".'
        raise refused("file", what, cure, Path(asked.answer).name)
    from optimizer.report.figures import paper  # loads matplotlib

    made = []
    for name, picture in pictures.items():
        content = paper.png(picture) if asked.format == "png" else paper.svg(picture).encode("utf-8")
        made.append((asked.out / f"{name}.{asked.format}", content))
    return files_written(found, made)


COMMAND = Command(__doc__, Asked, _answer, shown="out figures format json units quiet", writes=("plot",))
