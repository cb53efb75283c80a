"""Holds the fills against what the rig file lets expect: where the head goes, what is probably dirty or worn,
what cleaning alone gives back, and which cheap test tells most next.

fullbore diagnose tank.toml
fullbore diagnose tank.toml --today
fullbore diagnose tank.toml --volume "10 l" --seconds 61,60.5,62 --budget 50
"""

from dataclasses import dataclass

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, told_of
from optimizer.commands.measure import Asked as Measured
from optimizer.commands.options import flag
from optimizer.commands.reader import catalog_at_hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(Measured):
    """What was measured of a rig, and what the next tests are ranked for."""

    budget: int | None = options.budget("money for the upgrade whose flow the next tests are ranked for")
    today: bool = flag("--today", "rank the next tests for the flow as it is, and look for no upgrade")


def _check(asked: Asked, reader: Reader) -> None:
    if asked.today and asked.budget is not None:
        reader.keep_one("today", "budget")


def _answer(asked: Asked, progress: Progress | None) -> Told:
    catalog = catalog_at_hand(asked.catalog)
    rig = api.read_rig(asked.rig, catalog)
    rig = rig if asked.fill is None else asked.fill.in_place(rig)
    rig = rig if asked.log is None else api.with_log(rig, asked.log)
    shop = None if asked.today or not catalog.products else catalog
    found = api.diagnose(rig, shop, power_w=asked.alone_w, budget=asked.budget, progress=progress)
    return told_of(found, "diagnose_text")


SHOWN = "volume seconds above below state mark container watts date catalog json units quiet"
COMMAND = Command(__doc__, Asked, _answer, _check, shown=SHOWN)
