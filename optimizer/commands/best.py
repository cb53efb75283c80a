"""The command best: the bundle that delivers the most water for the money, or what is asked of it instead."""

from optimizer import api
from optimizer.commands.command import Command
from optimizer.commands.options import RIG, flag, value
from optimizer.commands.streams import Progress
from optimizer.commands.tank import BANDS, DRAWN, INTERVAL, NOT_BESIDE, ORDER, SHARED, Asked, bundle, opened, read
from optimizer.commands.told import Told, plain
from optimizer.errors import safe

__all__ = ["COMMAND"]

WHY = value(
    "--why",
    "PARTS",
    "PUMP-2400MA,return_hose=HOSE-19-27",
    "instead of the answer, say why a part, or several together, are not the best bundle",
)
ALTERNATIVES = value("--alternatives", "K", "5", "instead of the answer, list the best K bundles that truly differ")
MEAN = flag("--mean", "with --interval, decide by the mean and not by the last day")


def answer(asked: Asked, progress: Progress | None) -> Told:
    """The best bundle, or why another one is not."""
    rig, catalog = opened(asked)
    if asked.why:
        text = api.why(rig, catalog, *asked.why, budget=asked.budget, measured=asked.measured)
        return plain("".join(f"{safe(line)}\n" for line in text.splitlines()) + asked.ending)
    return bundle(asked, rig, catalog, progress)


COMMAND = Command(
    does="Finds the bundle that delivers the most water within the budget and the limits of the rig.\n"
    "For one tank most flow and most turnover are the same order, so there is nothing else to choose.",
    options=(RIG, *SHARED, INTERVAL, MEAN, (WHY, ALTERNATIVES, ORDER, BANDS), *DRAWN),
    examples=(
        "fullbore best tank.toml --budget 100",
        "fullbore best tank.toml --budget 100 --csv bill.csv",
        "fullbore best tank.toml --report tank.html --json > answer.json",
        "fullbore best tank.toml --why HOSE-19-27",
        "fullbore best tank.toml --why PUMP-2400MA,spray_bar=OPEN-G34",
        "fullbore best tank.toml --alternatives 5",
        "fullbore best tank.toml --order",
        "fullbore best tank.toml --bands",
        "fullbore best tank.toml --robust P10 --candidates 30",
        "fullbore best tank.toml --interval 60d",
        "fullbore best tank.toml --catalog my_shop --prove --json",
    ),
    read=read,
    answer=answer,
    not_beside=NOT_BESIDE,
)
