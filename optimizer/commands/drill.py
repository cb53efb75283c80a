"""The command drill: which holes a spray bar should have."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands.command import Command
from optimizer.commands.options import ANSWERED, RIG, choice, flag, value
from optimizer.commands.reader import Reader, above_zero
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told, told_of
from optimizer.errors import quoted
from optimizer.exits import ANSWER, NO_BUNDLE
from optimizer.units import SHARE, SPEED, parse

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The bounds on jets and evenness that are asked for, and what may be drilled."""

    rig: str
    folder: Path
    jet_ms: float | None
    jet_most_ms: float | None
    evenness: float | None
    drills: str
    new_bar: bool


def read(reader: Reader) -> Asked:
    """Read the bounds; there must be one, and none may exclude another."""
    args = reader.args
    asked = Asked(
        rig=args.rig,
        folder=reader.folder(),
        jet_ms=reader.value("jet", _speed),
        jet_most_ms=reader.value("jet-most", _speed),
        evenness=reader.value("evenness", lambda text: above_zero(parse(text, SHARE), '"90 %"')),
        drills=args.drills,
        new_bar=args.new_bar,
    )
    if args.jet is None and args.jet_most is None and args.evenness is None:
        cure = 'Add --jet "1.2 m/s", --jet-most "0.5 m/s" or --evenness "90 %".'
        reader.wrong("drill", "neither a jet speed nor an evenness is asked for.", cure)
    if asked.jet_ms is not None and asked.jet_most_ms is not None and asked.jet_ms > asked.jet_most_ms:
        what = f"{quoted(args.jet)} is more than the {quoted(args.jet_most)} of --jet-most."
        reader.wrong("--jet", what, "Ask for a least speed below the greatest.")
    return asked


def _speed(text: str) -> float:
    return above_zero(parse(text, SPEED), '"1.2 m/s"')


def answer(asked: Asked, _: Progress | None) -> Told:
    """The holes that give the wanted jets."""
    result = api.drill(
        api.read_rig(asked.rig, api.read_catalog(asked.folder)),
        jet_ms=asked.jet_ms,
        jet_most_ms=asked.jet_most_ms,
        evenness=asked.evenness,
        drills=asked.drills,
        new_bar=asked.new_bar,
    )
    return told_of(result, "drill_text", NO_BUNDLE if result.status == "infeasible" else ANSWER)


COMMAND = Command(
    does="Tries every count of holes and standard drill that fits on the rig's spray bar, solves the loop again for each,\n"
    "and lists those that give the jets that are wanted, most delivered flow first.",
    options=(
        RIG,
        value("--jet", "SPEED", '"1.2 m/s"', "slowest jet wanted: mean speed in every hole at least"),
        value("--jet-most", "SPEED", '"0.5 m/s"', "fastest jet wanted: mean speed in every hole at most"),
        value("--evenness", "SHARE", '"90 %"', "least flow of a hole over the greatest, at least"),
        choice(
            "--drills",
            ("tenths", "halves", "inch"),
            "sizes to drill with: tenths (0.1 mm steps), halves (0.5 mm steps), inch (fractions, numbers, letters)",
        ),
        flag("--new-bar", "take an undrilled bar of the same tube, so that holes may be fewer or smaller than now"),
        *ANSWERED,
    ),
    examples=(
        'fullbore drill tank.toml --jet "1.2 m/s"',
        'fullbore drill tank.toml --jet-most "0.5 m/s" --evenness "90 %" --drills halves',
        'fullbore drill tank.toml --jet "4 ft/s" --drills inch --new-bar --units us',
    ),
    read=read,
    answer=answer,
)
