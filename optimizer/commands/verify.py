"""The command verify: was it the upgrade or the cleaning?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands.command import Command
from optimizer.commands.options import ANSWERED, value
from optimizer.commands.reader import Reader, catalog_at_hand
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told, told_of
from optimizer.errors import InputError, Problem, Problems

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Two rig files, and where more fills of both are."""

    before: str
    after: str
    catalog: str | None
    log: str | None


def read(reader: Reader) -> Asked:
    """Take the names of the files."""
    args = reader.args
    return Asked(before=args.before, after=args.after, catalog=args.catalog, log=args.log)


def answer(asked: Asked, _: Progress | None) -> Told:
    """The verdict. Raises InputError with the problems of both files in one list."""
    catalog = catalog_at_hand(asked.catalog)
    rigs, problems = [], Problems()
    for path in (asked.before, asked.after):
        try:
            rig = api.read_rig(path, catalog)
            rigs.append(rig)
            if not rig.fills and asked.log is None:
                cure = 'Write [[fill]] and below it volume = "10 l" and seconds = [61.2, 60.8, 61.5].'
                problems.add(Problem(where=f"{_named(path)}: fill", what="nothing was timed.", cure=cure))
        except InputError as error:
            problems.extend(error.placed)
    problems.raise_if_any(_named(asked.before))
    before, after = rigs
    if asked.log is not None:
        before, after = api.both_with_log(before, after, asked.log)
    return told_of(api.verify(before, after), "verify_text")


def _named(path: str) -> str:
    return Path(path).name or path


COMMAND = Command(
    does="Compares the fills of two rig files, before and after an upgrade, and says with which probability the parts\n"
    "made the difference, and with which the cleaning.",
    options=(
        value("before", "BEFORE", "tank.toml", "file of the tank as it was, with its fills"),
        value("after", "AFTER", "tank_new.toml", "file of the tank as the work left it, with fills of its own"),
        value(
            "--log",
            "FILE",
            "tank.log",
            "fills of a log beside theirs: the last before its last change, and the first after it",
        ),
        *ANSWERED,
    ),
    examples=("fullbore verify tank.toml tank_new.toml",),
    read=read,
    answer=answer,
)
