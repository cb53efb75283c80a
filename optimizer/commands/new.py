"""Asks about the tank, its canister and its hoses, and writes a commented rig file. Enter takes a usual value for
what is not known; what was assumed stands in the file and is listed. Answers may come from a file, one a line; those
of an interview that ended too early are kept, and the same command goes on from there.

fullbore new tank.toml
fullbore new tank.toml --force
"""

from dataclasses import dataclass
from pathlib import Path

from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, plain
from optimizer.commands.options import flag, made, value
from optimizer.commands.streams import Terminal


def _place(reader: Reader) -> Path | None:
    return reader.outputs.file("FILE", reader.args.file, "tank.toml")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The file as it is named, its place with links followed, whether it may be replaced, and the catalog."""

    file: str = value(
        "file", "FILE", "tank.toml", "file to write; without it tank.toml", reads={"nargs": "?", "default": "tank.toml"}
    )
    place: Path = made(_place)
    catalog: str | None = options.catalog(needed=False)
    force: bool = flag("--force", "replace a file that is there already")


def _answer(asked: Asked, _: Progress | None) -> Told:
    """All that there is to say is said on the way. Raises StreamError where nobody can answer."""
    from optimizer.commands.interview import interviewed

    return plain("", interviewed(asked.file, asked.place, asked.catalog, asked.force, Terminal()))


COMMAND = Command(__doc__, Asked, _answer, also=(), writes=("new",))
