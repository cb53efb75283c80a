"""The command measure: delivered flow from a container and a watch."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer import api
from optimizer.commands.command import Command
from optimizer.commands.options import ANSWERED, RIG, TIMED, day
from optimizer.commands.reader import Reader, catalog_at_hand
from optimizer.commands.streams import Progress
from optimizer.commands.timed import Given, fill_given, power_given
from optimizer.commands.told import Told, told_of
from optimizer.errors import InputError, Problem

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The rig, and what was measured of it."""

    rig: str
    catalog: str | None
    fill: Given | None
    power_w: float


def read(reader: Reader) -> Asked:
    """Read what was measured."""
    args = reader.args
    return Asked(rig=args.rig, catalog=args.catalog, fill=fill_given(reader), power_w=power_given(reader))


def answer(asked: Asked, _: Progress | None) -> Told:
    """The flow of every fill. Raises InputError where nothing was timed."""
    rig = api.read_rig(asked.rig, catalog_at_hand(asked.catalog))
    rig = rig if asked.fill is None else asked.fill.in_place(rig)
    if not rig.fills:
        cure = 'Add [[fill]] to the rig file, or --volume "10 l" --seconds 61,60.5,62.'
        raise InputError(asked.rig, [Problem(where="fill", what="nothing was timed.", cure=cure)])
    return told_of(api.measure(rig, power_w=asked.power_w), "measure_text")


COMMAND = Command(
    does="Works out the flow of timed fills with its uncertainty, and brings it to the loop as installed.\n"
    "The fills are those of the rig file, or the one given here in their place.",
    options=(RIG, *TIMED, day("day of the fill"), *ANSWERED),
    examples=(
        "fullbore measure tank.toml",
        'fullbore measure tank.toml --volume "10 l" --seconds 61,60.5,62 --above "3 cm" --state "guard off" --watts 18',
    ),
    read=read,
    answer=answer,
)
