"""The command diagnose: what ails a loop, by its fills."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer import api
from optimizer.commands import measure
from optimizer.commands.command import Command
from optimizer.commands.options import LOG, flag, value
from optimizer.commands.reader import Reader, catalog_at_hand
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told, told_of

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was measured of a rig, and what the next tests are ranked for."""

    measured: measure.Asked
    log: str | None
    budget: int | None
    today: bool


def read(reader: Reader) -> Asked:
    """Read what was measured, and what for."""
    args = reader.args
    asked = Asked(measured=measure.read(reader), log=args.log, budget=reader.budget(), today=args.today)
    if asked.today and asked.budget is not None:
        reader.keep_one("today", "budget")
    return asked


def answer(asked: Asked, progress: Progress | None) -> Told:
    """The diagnosis, with the next tests ranked for the upgrade that the catalog allows."""
    measured = asked.measured
    catalog = catalog_at_hand(measured.catalog)
    rig = api.read_rig(measured.rig, catalog)
    rig = rig if measured.fill is None else measured.fill.in_place(rig)
    rig = rig if asked.log is None else api.with_log(rig, asked.log)
    shop = None if asked.today or not catalog.products else catalog
    found = api.diagnose(rig, shop, power_w=measured.power_w, budget=asked.budget, progress=progress)
    return told_of(found, "diagnose_text")


COMMAND = Command(
    does="Holds the fills against what the rig file lets expect: where the head goes, what is probably dirty or worn,\n"
    "what cleaning alone gives back, and which cheap test tells most next.",
    options=(
        *measure.COMMAND.options,
        LOG,
        value("--budget", "AMOUNT", "100", "money for the upgrade whose flow the next tests are ranked for"),
        flag("--today", "rank the next tests for the flow as it is, and look for no upgrade"),
    ),
    examples=(
        "fullbore diagnose tank.toml",
        "fullbore diagnose tank.toml --today",
        'fullbore diagnose tank.toml --volume "10 l" --seconds 61,60.5,62 --budget 50',
    ),
    read=read,
    answer=answer,
)
