"""The command front: the most flow for every sum of money up to the budget."""

from optimizer import api
from optimizer.commands.command import Command
from optimizer.commands.options import BUDGET, BY_FILLS, CATALOG, PAGE, PRINTED, RIG, csv, xlsx
from optimizer.commands.streams import Progress
from optimizer.commands.tank import Asked, front_tables, opened, read, with_page, wrong_in_rig
from optimizer.commands.told import Told, status_of, told_of
from optimizer.halting import pressed_since

__all__ = ["COMMAND"]


def answer(asked: Asked, progress: Progress | None) -> Told:
    """The front. Ctrl-C gives the points that are known by then. Raises InputError without a budget."""
    rig, catalog = opened(asked)
    if asked.budget is None and rig.limits.budget is None:
        cure = "Add --budget 150, or a budget to [limits] in the rig file."
        raise wrong_in_rig(asked, "limits.budget", "no budget is set, and a front must end.", cure)
    if asked.page is not None:
        return with_page(asked, asked.page, rig, catalog, progress, block="front")
    halted = pressed_since()
    found = api.front(rig, catalog, budget=asked.budget, measured=asked.measured, progress=progress, halted=halted)
    return told_of(found, "front_text", status_of(found.status), front_tables(asked, found), ending=asked.ending)


COMMAND = Command(
    does="Lists for every sum of money up to the budget the most flow that it buys, each line proved, and marks the knee.",
    options=(RIG, *BY_FILLS, CATALOG, BUDGET, *PRINTED, csv("the table", "front.csv"), xlsx("the table", "front.xlsx"), PAGE),
    examples=(
        "fullbore front tank.toml --budget 150",
        "fullbore front tank.toml --budget 150 --csv front.csv",
    ),
    read=read,
    answer=answer,
)
