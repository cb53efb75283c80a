"""The command compare: several rigs or answers side by side."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands.command import Command
from optimizer.commands.options import ANSWERED, value
from optimizer.commands.reader import Reader
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told, status_of, told_of

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is compared, and for how much money rigs are answered."""

    files: tuple[str, ...]
    folder: Path
    budget: int | None


def read(reader: Reader) -> Asked:
    """Read the budget; there must be two files."""
    files, folder, budget = tuple(reader.args.files), reader.folder(), reader.budget()
    if len(files) < 2:
        reader.wrong("FILE", "there is only one.", "Name at least two rig files or saved answers.")
    return Asked(files=files, folder=folder, budget=budget)


def answer(asked: Asked, progress: Progress | None) -> Told:
    """The table."""
    found = api.compare(api.read_catalog(asked.folder), *asked.files, budget=asked.budget, progress=progress)
    return told_of(found, "compare_text", status_of(found.status))


COMMAND = Command(
    does="Answers several rigs, or reads answers that were saved, and shows them side by side in one table.",
    options=(
        value(
            "files",
            "FILE",
            "tank.toml other.toml saved.json",
            'rig files, or answers saved with "fullbore best --json" (named .json)',
            nargs="+",
        ),
        value("--budget", "AMOUNT", "100", "money to spend at most for each rig; replaces the rigs' budgets"),
        *ANSWERED,
    ),
    examples=(
        "fullbore compare tank.toml other.toml --budget 80",
        "fullbore compare before.json after.json",
    ),
    read=read,
    answer=answer,
)
