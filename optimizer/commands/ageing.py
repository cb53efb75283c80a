"""Follows the dirt of a rig day by day after a clean of everything, and as it is: what flows, when the wish, a
window or a limit is missed, what clogs first, when each stage is due, and whether bacteria have surface enough.

fullbore ageing tank.toml
fullbore ageing tank.toml --days 180 --law media=doubling
fullbore ageing tank.toml --renew
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, told_of
from optimizer.commands.options import flag, value
from optimizer.commands.reader import catalog_at_hand
from optimizer.errors import BadValue, quoted
from optimizer.files.cell_text import chosen

if TYPE_CHECKING:
    from optimizer.dirt.laws import Laws

USUAL_DAYS = 90
LONGEST_NUMBER = 9


def _days(text: str) -> int:
    from optimizer.answers.ageing import MOST_DAYS

    found = re.fullmatch(r"([0-9]+)( ?(d|days?|weeks?))?", text.strip(), re.ASCII)
    if found is not None and len(found[1]) <= LONGEST_NUMBER:
        days = int(found[1]) * (7 if (found[3] or "").startswith("week") else 1)
        if 1 <= days <= MOST_DAYS:
            return days
    raise BadValue(f"{quoted(text)} is no whole number of days from 1 to {MOST_DAYS}.", 'Write for example "90" or "8 weeks".')


def _laws(text: str) -> Laws:
    from optimizer.dirt.law_sources import FIELDS, SOURCES, with_law
    from optimizer.dirt.laws import USUAL

    laws = USUAL
    for each in text.split(","):
        about, equals, name = (word.strip() for word in each.partition("="))
        if not equals:
            about, name = _about(about, {kind: tuple(names) for kind, names in SOURCES.items()}), about
        about = chosen(tuple(FIELDS), about)
        laws = with_law(laws, about, chosen(tuple(SOURCES[about]), name))
    return laws


def _about(name: str, known: dict[str, tuple[str, ...]]) -> str:
    """What a law is about whose name stands alone."""
    found = [about for about, names in known.items() if name in names]
    if len(found) == 1:
        return found[0]
    if found:
        raise BadValue(f"{quoted(name)} is a law for {' and '.join(found)}.", f'Write for example "{found[0]}={name}".')
    listed = "; ".join(f"{about}: {', '.join(names)}" for about, names in known.items())
    raise BadValue(f"{quoted(name)} is no law.", f"There are, for {listed}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The rig, over how many days it is followed, by which laws (None: the usual)."""

    rig: str = options.rig()
    days: int | None = value("--days", "N", "90", "days since a clean of everything to look at; without it 90", _days)
    law: Laws | None = value(
        "--law",
        "LAWS",
        "media=doubling",
        "other laws of dirt than the usual, with commas: media, faces, guard, hoses, impeller or bacteria, =, and a name",
        _laws,
    )
    renew: bool = flag("--renew", "also say in what steps the biological media are renewed")
    unmeasured: bool = options.unmeasured()
    log: str | None = options.log()
    catalog: str | None = options.catalog(needed=False)


def _check(asked: Asked, reader: Reader) -> None:
    reader.fills_or_none(asked.unmeasured, asked.log)


def _answer(asked: Asked, _: Progress | None) -> Told:
    rig = api.read_rig(asked.rig, catalog_at_hand(asked.catalog))
    rig = rig if asked.log is None else api.with_log(rig, asked.log)
    days = asked.days or USUAL_DAYS
    found = api.ageing(rig, days=days, laws=asked.law, renew=asked.renew, measured=not asked.unmeasured)
    return told_of(found, "ageing_text")


COMMAND = Command(__doc__, Asked, _answer, _check)
