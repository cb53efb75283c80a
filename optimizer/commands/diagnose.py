"""Holds the fills against what the rig file lets expect: where the head goes, what is probably dirty or worn,
what cleaning alone gives back, and which cheap test tells most next. With watts or signs: whether dirt, the pump or
air in it is likelier to be the cause.

fullbore diagnose tank.toml
fullbore diagnose tank.toml --today
fullbore diagnose tank.toml --volume "10 l" --seconds 61,60.5,62 --budget 50
fullbore diagnose tank.toml --today --volume "10 l" --seconds 90,91 --watts 7 --signs "rattle, bubbles"
"""

from dataclasses import dataclass, replace

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, told_of
from optimizer.commands.measure import Asked as Measured
from optimizer.commands.options import flag
from optimizer.commands.reader import catalog_at_hand
from optimizer.files.cell_text import chosen
from optimizer.model.signs import SIGNS


def _signs(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(chosen(SIGNS, word.strip()) for word in text.split(",")))


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(Measured):
    """What was measured of a rig, and what the next tests are ranked for."""

    budget: int | None = options.budget("money for the upgrade whose flow the next tests are ranked for")
    signs: tuple[str, ...] | None = options.value(
        "--signs",
        "WORDS",
        '"rattle, bubbles"',
        f"what is heard and seen, in place of the rig file's: some of {', '.join(SIGNS)}",
        _signs,
    )
    today: bool = flag("--today", "rank the next tests for the flow as it is, and look for no upgrade")


def _check(asked: Asked, reader: Reader) -> None:
    if asked.today and asked.budget is not None:
        reader.keep_one("today", "budget")


def _answer(asked: Asked, progress: Progress | None) -> Told:
    catalog = catalog_at_hand(asked.catalog)
    rig = api.read_rig(asked.rig, catalog)
    rig = rig if asked.fill is None else asked.fill.in_place(rig)
    rig = rig if asked.log is None else api.with_log(rig, asked.log)
    rig = rig if asked.signs is None else replace(rig, signs=asked.signs)
    shop = None if asked.today or not catalog.products else catalog
    found = api.diagnose(rig, shop, power_w=asked.alone_w, budget=asked.budget, progress=progress)
    return told_of(found, "diagnose_text")


SHOWN = "volume seconds above below state mark container watts signs date catalog json units quiet"
COMMAND = Command(__doc__, Asked, _answer, _check, shown=SHOWN)
