"""Compares the fills of two rig files, before and after an upgrade, and says with which probability the parts
made the difference, and with which the cleaning.

fullbore verify tank.toml tank_new.toml
"""

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Told, told_of
from optimizer.commands.options import value
from optimizer.commands.reader import catalog_at_hand
from optimizer.errors import InputError, Problem, Problems, Where


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Two rig files, and where more fills of both are."""

    before: str = value("before", "BEFORE", "tank.toml", "file of the tank as it was, with its fills")
    after: str = value("after", "AFTER", "tank_new.toml", "file of the tank as the work left it, with fills of its own")
    log: str | None = options.log("fills of a log beside theirs: the last before its last change, and the first after it")
    catalog: str | None = options.catalog(needed=False)


def _answer(asked: Asked, _: Progress | None) -> Told:
    """Raises InputError with the problems of both files in one list."""
    catalog = catalog_at_hand(asked.catalog)
    rigs, problems = [], Problems()
    for path in (asked.before, asked.after):
        try:
            rig = api.read_rig(path, catalog)
            rigs.append(rig)
            if not rig.fills and asked.log is None:
                cure = 'Write [[fill]] and below it volume = "10 l" and seconds = [61.2, 60.8, 61.5].'
                problems.add(Problem(where=Where(_named(path), "fill"), what="nothing was timed.", cure=cure))
        except InputError as error:
            problems.extend(error.placed)
    problems.raise_if_any(_named(asked.before))
    before, after = rigs
    if asked.log is not None:
        before, after = api.both_with_log(before, after, asked.log)
    return told_of(api.verify(before, after), "verify_text")


def _named(path: str) -> str:
    return Path(path).name or path


COMMAND = Command(__doc__, Asked, _answer)
