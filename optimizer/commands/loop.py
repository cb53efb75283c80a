"""Shows the loop as it stands, place by place in the order of the water: what flows now and once cleaned, which share of
the head each place takes, and the tightest spot.

fullbore loop tank.toml
fullbore loop tank.toml --catalog my_catalog --json
"""

from __future__ import annotations

from dataclasses import dataclass

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, told_of
from optimizer.commands.reader import catalog_at_hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The rig, and whether its fills count."""

    rig: str = options.rig()
    unmeasured: bool = options.unmeasured()
    log: str | None = options.log()
    catalog: str | None = options.catalog(needed=False)


def _check(asked: Asked, reader: Reader) -> None:
    reader.fills_or_none(asked.unmeasured, asked.log)


def _answer(asked: Asked, _: Progress | None) -> Told:
    catalog = catalog_at_hand(asked.catalog)
    rig = api.read_rig(asked.rig, catalog)
    rig = rig if asked.log is None else api.with_log(rig, asked.log)
    return told_of(api.standing_loop(rig, catalog, measured=not asked.unmeasured), "loop_text")


COMMAND = Command(__doc__, Asked, _answer, _check)
