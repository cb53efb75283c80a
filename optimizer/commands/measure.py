"""Works out the flow of timed fills with its uncertainty, and brings it to the loop as installed.
The fills are those of the rig file, or the one given here in their place.

fullbore measure tank.toml
fullbore measure tank.toml --volume "10 l" --seconds 61,60.5,62 --above "3 cm" --state "guard off" --watts 18
"""

from dataclasses import dataclass

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Told, told_of
from optimizer.commands.reader import catalog_at_hand, refused
from optimizer.commands.timed import Timed


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(Timed):
    """The rig, and what was measured of it."""

    rig: str = options.rig()
    date: str | None = options.date("day of the fill")
    catalog: str | None = options.catalog(needed=False)
    log: str | None = options.log()


def _answer(asked: Asked, _: Progress | None) -> Told:
    rig = api.read_rig(asked.rig, catalog_at_hand(asked.catalog))
    rig = rig if asked.fill is None else asked.fill.in_place(rig)
    rig = rig if asked.log is None else api.with_log(rig, asked.log)
    if not rig.fills:
        cure = 'Add [[fill]] to the rig file, or --volume "10 l" --seconds 61,60.5,62.'
        raise refused("fill", "nothing was timed.", cure, asked.rig)
    return told_of(api.measure(rig, power_w=asked.alone_w), "measure_text")


COMMAND = Command(__doc__, Asked, _answer)
