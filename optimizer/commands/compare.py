"""Answers several rigs, or reads answers that were saved, and shows them side by side in one table.

fullbore compare tank.toml other.toml --budget 80
fullbore compare before.json after.json
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, status_of, told_of
from optimizer.commands.options import value


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is compared, and for how much money rigs are answered."""

    files: list[str] = value(
        "files",
        "FILE",
        "tank.toml other.toml saved.json",
        'rig files, or answers saved with "fullbore best --json" (named .json)',
        list,
        reads={"nargs": "+"},
    )
    budget: int | None = options.budget("money to spend at most for each rig; replaces the rigs' budgets")
    catalog: Path = options.catalog(needed=True)
    unmeasured: bool = options.unmeasured("the rig files")
    log: str | None = options.log("fills of a log beside those of its tank's rig files, since the last change and cleaning")


def _check(asked: Asked, reader: Reader) -> None:
    reader.fills_or_none(asked.unmeasured, asked.log)
    if len(asked.files) < 2:
        reader.wrong("FILE", "there is only one.", "Name at least two rig files or saved answers.")


def _answer(asked: Asked, progress: Progress | None) -> Told:
    how: dict[str, Any] = {"budget": asked.budget, "measured": not asked.unmeasured, "log": asked.log, "progress": progress}
    found = api.compare(api.read_catalog(asked.catalog), *asked.files, **how)
    return told_of(found, "compare_text", status_of(found.status))


COMMAND = Command(__doc__, Asked, _answer, _check)
