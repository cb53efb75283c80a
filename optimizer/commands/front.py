"""Lists for every sum of money up to the budget the most flow that it buys, each line proved, and marks the knee.

fullbore front tank.toml --budget 150
fullbore front tank.toml --budget 150 --csv front.csv
"""

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Told, status_of, told_of
from optimizer.commands.reader import refused
from optimizer.commands.tank import FIRST, Tank, check, front_tables, opened, with_page
from optimizer.halting import pressed_since


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(Tank):
    """The question, and where the table goes besides."""

    csv: Path | None = options.csv("the table", "front.csv")
    xlsx: Path | None = options.xlsx("the table", "front.xlsx")


def _answer(asked: Asked, progress: Progress | None) -> Told:
    """Ctrl-C gives the points that are known by then. Raises InputError without a budget."""
    rig, catalog = opened(asked)
    if asked.budget is None and rig.limits.budget is None:
        cure = "Add --budget 150, or a budget to [limits] in the rig file."
        raise refused("limits.budget", "no budget is set, and a front must end.", cure, asked.rig)
    if asked.report is not None:
        return with_page(asked, asked.report, rig, catalog, progress, "front", {})
    halted = pressed_since()
    found = api.front(rig, catalog, budget=asked.budget, measured=not asked.unmeasured, progress=progress, halted=halted)
    return told_of(found, "front_text", status_of(found.status), front_tables(asked, found), ending=asked.ending)


SHOWN = "unmeasured log catalog budget json units quiet csv xlsx report"
COMMAND = Command(__doc__, Asked, _answer, check, first=FIRST, shown=SHOWN)
