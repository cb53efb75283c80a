"""Tries every count of holes and standard drill that fits on the rig's spray bar, solves the loop again for each,
and lists those that give the jets that are wanted, most delivered flow first.

fullbore drill tank.toml --jet "1.2 m/s"
fullbore drill tank.toml --jet-most "0.5 m/s" --evenness "90 %" --drills halves
fullbore drill tank.toml --jet "4 ft/s" --drills inch --new-bar --units us
"""

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, told_of
from optimizer.commands.options import choice, flag, value
from optimizer.commands.reader import above_zero
from optimizer.errors import quoted
from optimizer.exits import ANSWER, NO_BUNDLE
from optimizer.unit_table import SHARE, SPEED
from optimizer.units import parse


def _speed(text: str) -> float:
    return above_zero(parse(text, SPEED), '"1.2 m/s"')


def _share(text: str) -> float:
    return above_zero(parse(text, SHARE), '"90 %"')


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The bounds on jets and evenness that are asked for, and what may be drilled."""

    rig: str = options.rig()
    jet: float | None = value("--jet", "SPEED", '"1.2 m/s"', "slowest jet wanted: mean speed in every hole at least", _speed)
    jet_most: float | None = value(
        "--jet-most", "SPEED", '"0.5 m/s"', "fastest jet wanted: mean speed in every hole at most", _speed
    )
    evenness: float | None = value("--evenness", "SHARE", '"90 %"', "least flow of a hole over the greatest, at least", _share)
    drills: str = choice(
        "--drills",
        ("tenths", "halves", "inch"),
        "sizes to drill with: tenths (0.1 mm steps), halves (0.5 mm steps), inch (fractions, numbers, letters)",
    )
    new_bar: bool = flag("--new-bar", "take an undrilled bar of the same tube, so that holes may be fewer or smaller than now")
    catalog: Path = options.catalog(needed=True)
    unmeasured: bool = options.unmeasured()
    log: str | None = options.log()


def _check(asked: Asked, reader: Reader) -> None:
    args = reader.args
    reader.fills_or_none(asked.unmeasured, asked.log)
    if args.jet is None and args.jet_most is None and args.evenness is None:
        cure = 'Add --jet "1.2 m/s", --jet-most "0.5 m/s" or --evenness "90 %".'
        reader.wrong("drill", "neither a jet speed nor an evenness is asked for.", cure)
    if asked.jet is not None and asked.jet_most is not None and asked.jet > asked.jet_most:
        what = f"{quoted(args.jet)} is more than the {quoted(args.jet_most)} of --jet-most."
        reader.wrong("--jet", what, "Ask for a least speed below the greatest.")


def _answer(asked: Asked, _: Progress | None) -> Told:
    rig = api.read_rig(asked.rig, api.read_catalog(asked.catalog))
    rig = rig if asked.log is None else api.with_log(rig, asked.log)
    bounds = {"jet_ms": asked.jet, "jet_most_ms": asked.jet_most, "evenness": asked.evenness}
    result = api.drill(rig, **bounds, drills=asked.drills, new_bar=asked.new_bar, measured=not asked.unmeasured)
    return told_of(result, "drill_text", NO_BUNDLE if result.status == "infeasible" else ANSWER)


COMMAND = Command(__doc__, Asked, _answer, _check, first="catalog")
