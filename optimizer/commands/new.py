"""The command new: a rig file from a dozen and a half plain questions."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer.commands.command import Command
from optimizer.commands.options import CATALOG, DEMO_CATALOG, flag, value
from optimizer.commands.reader import Reader
from optimizer.commands.streams import Progress, Terminal
from optimizer.commands.told import Told, plain

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The file as it is named, its place with links followed, whether it may be replaced, and the catalog."""

    file: str
    place: Path
    force: bool
    catalog: str | None


def read(reader: Reader) -> Asked:
    """Look at where the file goes: what is sure to fail is told before the first question."""
    args = reader.args
    catalog = Path(DEMO_CATALOG if args.catalog is None else args.catalog)
    place = reader.outputs(catalog=catalog).file("FILE", args.file, "tank.toml")
    return Asked(file=args.file, place=place or Path(args.file), force=args.force, catalog=args.catalog)


def answer(asked: Asked, _: Progress | None) -> Told:
    """Ask for a tank and write its rig file; all that there is to say is said on the way. Raises StreamError where nobody can
    answer."""
    from optimizer.commands.interview import interviewed

    return plain("", interviewed(asked.file, asked.place, asked.catalog, asked.force, Terminal()))


COMMAND = Command(
    does="Asks about the tank, its canister and its hoses, and writes a commented rig file. Enter takes a usual value for\n"
    "what is not known; what was assumed stands in the file and is listed. Answers may come from a file, one a line.",
    options=(
        value("file", "FILE", "tank.toml", "file to write; without it tank.toml", nargs="?", default="tank.toml"),
        CATALOG,
        flag("--force", "replace a file that is there already"),
    ),
    examples=("fullbore new tank.toml", "fullbore new tank.toml --force"),
    read=read,
    answer=answer,
)
