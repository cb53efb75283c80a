"""The command ageing: flow against days since cleaning, and what clogs first."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from optimizer import api
from optimizer.commands.command import Command
from optimizer.commands.options import ANSWERED, RIG, UNMEASURED, flag, value
from optimizer.commands.reader import Reader, catalog_at_hand
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told, told_of
from optimizer.errors import BadValue, quoted
from optimizer.files.cell_text import chosen

if TYPE_CHECKING:
    from optimizer.dirt.laws import Laws

__all__ = ["COMMAND"]

USUAL_DAYS = 90
LONGEST_NUMBER = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The rig, over how many days it is followed, by which laws (None: the usual)."""

    rig: str
    catalog: str | None
    days: int
    laws: Laws | None
    renew: bool
    measured: bool


def read(reader: Reader) -> Asked:
    """Read the days and the laws."""
    args = reader.args
    return Asked(
        rig=args.rig,
        catalog=args.catalog,
        days=reader.value("days", _days) or USUAL_DAYS,
        laws=reader.value("law", _laws),
        renew=args.renew,
        measured=not args.unmeasured,
    )


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


def answer(asked: Asked, _: Progress | None) -> Told:
    """The rig over the days."""
    rig = api.read_rig(asked.rig, catalog_at_hand(asked.catalog))
    found = api.ageing(rig, days=asked.days, laws=asked.laws, renew=asked.renew, measured=asked.measured)
    return told_of(found, "ageing_text")


COMMAND = Command(
    does="Follows the dirt of a rig day by day after a clean of everything, and as it is: what flows, when the wish, a\n"
    "window or a limit is missed, what clogs first, when each stage is due, and whether bacteria have surface enough.",
    options=(
        RIG,
        value("--days", "N", "90", "days since a clean of everything to look at; without it 90"),
        value(
            "--law",
            "LAWS",
            "media=doubling",
            "other laws of dirt than the usual, with commas: media, guard, hoses, impeller or bacteria, =, and a name",
        ),
        flag("--renew", "also say in what steps the biological media are renewed"),
        UNMEASURED,
        *ANSWERED,
    ),
    examples=(
        "fullbore ageing tank.toml",
        "fullbore ageing tank.toml --days 180 --law media=doubling",
        "fullbore ageing tank.toml --renew",
    ),
    read=read,
    answer=answer,
)
