"""What the command `fullbore` understands: its commands and options, once, as data from which the parser is made."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NoReturn

from optimizer.errors import safe

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

__all__ = ["BAD_INPUT", "COMMAND_LINE", "DEMO_CATALOG", "Option", "build_parser"]

BAD_INPUT = 1
COMMAND_LINE = "command line"
DEMO_CATALOG = "parts_demo/catalog"


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One option or argument: how it is written, what it does, an example, and how argparse reads it."""

    flag: str
    does: str
    example: str = ""
    reads: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def help(self) -> str:
        """The text in --help.

        >>> Option(flag="--budget", does="money to spend", example="100").help
        'money to spend (example: 100)'
        """
        text = f"{self.does} (example: {self.example})" if self.example else self.does
        return text.replace("%", "%%")


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """One command: its line in the overview, what it does, examples, options (only one of those in an inner tuple)."""

    name: str
    line: str
    does: str
    options: tuple[Option | tuple[Option, ...], ...]
    examples: tuple[str, ...] = ()


def _flag(flag: str, does: str) -> Option:
    return Option(flag=flag, does=does, reads={"action": "store_true"})


def _value(flag: str, word: str, example: str, does: str) -> Option:
    return Option(flag=flag, does=does, example=example, reads={"metavar": word})


RIG = _value("rig", "RIG", "tank.toml", "file of the tank and its loop")
WHY = _value(
    "--why",
    "PARTS",
    "PUMP-2400MA,return_hose=HOSE-19-27",
    "instead of the answer, say why a part, or several together, are not the best bundle",
)
ALTERNATIVES = _value("--alternatives", "K", "5", "instead of the answer, list the best K bundles that truly differ")
ORDER = _flag("--order", "instead of the answer, say in which order to buy it when the money comes bit by bit")
BANDS = _flag("--bands", "instead of the answer, say how sure its flow and those of the next best bundles are: P10, P50, P90")
DRAWN = (
    _value("--robust", "QUANTILE", "P10", "bands, and the bundle that is best at a quantile, from P5 to P95"),
    _value("--candidates", "N", "20", "bundles that bands are drawn for; without it 5, with --robust 20"),
    _value("--draws", "N", "10000", "draws of what is not known exactly; without it 10000"),
    _value("--seed", "N", "1", "seed of the draws, the same for the same output; without it 1"),
    _flag("--unmeasured", "bands as if the fills in the rig file had not been made"),
)
FLOW = _value("--flow", "FLOW", '"800 l/h"', "delivered flow to reach")
TURNOVER = _value("--turnover", "RATE", '"4 per hour"', "turnover of the net volume to reach")

SHARED = (
    _value("--catalog", "DIR", "my_shop", f"folder of the catalog; without it {DEMO_CATALOG}, if that is there"),
    _value("--budget", "AMOUNT", "100", "money to spend at most; replaces the rig's budget"),
    _flag("--json", "print the answer as JSON and nothing else: SI units, prices in hundredths"),
    _flag("--prove", "also check the answer by an independent route; takes longer"),
    _value("--csv", "FILE", "bill.csv", "also write the bill to a CSV file; one that is there is replaced"),
    Option(
        flag="--units",
        does="units of the text: metric (l/h, m, mm) or us (US gallons per hour, ft, in)",
        reads={"choices": ("metric", "us"), "default": "metric"},
    ),
    _flag("--quiet", "print the verdict alone, on one line, and no progress"),
)

DRILL = (
    RIG,
    _value("--jet", "SPEED", '"1.2 m/s"', "slowest jet wanted: mean speed in every hole at least"),
    _value("--jet-most", "SPEED", '"0.5 m/s"', "fastest jet wanted: mean speed in every hole at most"),
    _value("--evenness", "SHARE", '"90 %"', "least flow of a hole over the greatest, at least"),
    Option(
        flag="--drills",
        does="sizes to drill with: tenths (0.1 mm steps), halves (0.5 mm steps), inch (fractions, numbers, letters)",
        reads={"choices": ("tenths", "halves", "inch"), "default": "tenths"},
    ),
    _flag("--new-bar", "take an undrilled bar of the same tube, so that holes may be fewer or smaller than now"),
    *(option for option in SHARED if option.flag in ("--catalog", "--json", "--units", "--quiet")),
)

FRONT = (
    RIG,
    *(option for option in SHARED if option.flag in ("--catalog", "--budget", "--json", "--units", "--quiet")),
    _value("--csv", "FILE", "front.csv", "also write the table to a CSV file; one that is there is replaced"),
)

ANSWERED = tuple(option for option in SHARED if option.flag in ("--catalog", "--json", "--units", "--quiet"))

TIMED = (
    _value("--volume", "VOLUME", '"10 l"', "a fill: what the container holds up to its mark"),
    _value("--seconds", "TIMES", "61,60.5,62", "a fill: how long it took, each repeat"),
    _value("--above", "HEIGHT", '"3 cm"', "a fill: mouth of the water above the tank's water line; without it at the line"),
    _value("--below", "DEPTH", '"40 cm"', "a fill: mouth of the water below the tank's water line"),
    _value("--state", "WORDS", '"guard off"', "a fill: how the loop differed from what the rig file describes, with commas"),
    _value("--mark", "VOLUME", '"0.1 l"', "a fill: how far the mark may be off; without it 2 % of the volume"),
    _value("--container", "NAME", '"blue bucket"', "a fill: which container; without it those of one volume count as one"),
    _value("--watts", "POWER", "18", "what a meter at the socket shows for the pump"),
)

MEASURE = (RIG, *TIMED, _value("--date", "DAY", "2026-03-01", "day of the fill"), *ANSWERED)
DIAGNOSE = (
    *MEASURE,
    _value("--budget", "AMOUNT", "100", "money for the upgrade whose flow the next tests are ranked for"),
    _flag("--today", "rank the next tests for the flow as it is, and look for no upgrade"),
)
VERIFY = (
    _value("before", "BEFORE", "tank.toml", "file of the tank as it was, with its fills"),
    _value("after", "AFTER", "tank_new.toml", "file of the tank as it is now, with fills of its own"),
    *ANSWERED,
)
LOG = (
    _value("file", "FILE", "tank.log", "the log; one that is not there is begun with the first entry"),
    *TIMED,
    _value("--cleaned", "WHAT", '"guard, media"', "a cleaning: everything, or some of guard, media, hoses, pump"),
    _value("--changed", "TEXT", '"bar re-drilled to 3 mm"', "a change of parts, in your words"),
    _value("--date", "DAY", "2026-03-01", "day of the entry; without it today"),
    _value("--flow", "FLOW", '"800 l/h"', "flow that must not be missed; without it the wish or the least flow of --rig"),
    _value("--rig", "RIG", "tank.toml", "file of the tank: fills are brought to its loop, and its dirt is modelled"),
    *ANSWERED,
)

COMMANDS = (
    Command(
        name="best",
        line="most water for the money",
        does="Finds the bundle that delivers the most water within the budget and the limits of the rig.\n"
        "For one tank most flow and most turnover are the same order, so there is nothing else to choose.",
        options=(RIG, *SHARED, (WHY, ALTERNATIVES, ORDER, BANDS), *DRAWN),
        examples=(
            "fullbore best tank.toml --budget 100",
            "fullbore best tank.toml --budget 100 --csv bill.csv",
            "fullbore best tank.toml --why HOSE-19-27",
            "fullbore best tank.toml --why PUMP-2400MA,spray_bar=OPEN-G34",
            "fullbore best tank.toml --alternatives 5",
            "fullbore best tank.toml --order",
            "fullbore best tank.toml --bands",
            "fullbore best tank.toml --robust P10 --candidates 30",
            "fullbore best tank.toml --catalog my_shop --prove --json",
        ),
    ),
    Command(
        name="cheapest",
        line="least money for a flow",
        does="Finds the bundle with the least price that delivers a flow within the limits of the rig.\n"
        "Without --flow and --turnover that is the wish in the rig file.",
        options=(RIG, (FLOW, TURNOVER), *SHARED, (ORDER, BANDS), *DRAWN),
        examples=(
            'fullbore cheapest tank.toml --flow "800 l/h"',
            'fullbore cheapest tank.toml --flow "800 l/h" --order',
            'fullbore cheapest tank.toml --flow "800 l/h" --bands',
            'fullbore cheapest tank.toml --turnover "4 per hour" --budget 150',
        ),
    ),
    Command(
        name="front",
        line="what every sum up to a budget buys",
        does="Lists for every sum of money up to the budget the most flow that it buys, each line proved, and marks the knee.",
        options=FRONT,
        examples=(
            "fullbore front tank.toml --budget 150",
            "fullbore front tank.toml --budget 150 --csv front.csv",
        ),
    ),
    Command(
        name="drill",
        line="holes of a spray bar for a jet speed or an evenness",
        does="Tries every count of holes and standard drill that fits on the rig's spray bar, solves the loop again for each,\n"
        "and lists those that give the jets that are wanted, most delivered flow first.",
        options=DRILL,
        examples=(
            'fullbore drill tank.toml --jet "1.2 m/s"',
            'fullbore drill tank.toml --jet-most "0.5 m/s" --evenness "90 %" --drills halves',
            'fullbore drill tank.toml --jet "4 ft/s" --drills inch --new-bar --units us',
        ),
    ),
    Command(
        name="measure",
        line="delivered flow from a container and a watch",
        does="Works out the flow of timed fills with its uncertainty, and brings it to the loop as installed.\n"
        "The fills are those of the rig file, or the one given here in their place.",
        options=MEASURE,
        examples=(
            "fullbore measure tank.toml",
            'fullbore measure tank.toml --volume "10 l" --seconds 61,60.5,62 --above "3 cm" --state "guard off" --watts 18',
        ),
    ),
    Command(
        name="diagnose",
        line="what ails a loop, by its fills",
        does="Holds the fills against what the rig file lets expect: where the head goes, what is probably dirty or worn,\n"
        "what cleaning alone gives back, and which cheap test tells most next.",
        options=DIAGNOSE,
        examples=(
            "fullbore diagnose tank.toml",
            "fullbore diagnose tank.toml --today",
            'fullbore diagnose tank.toml --volume "10 l" --seconds 61,60.5,62 --budget 50',
        ),
    ),
    Command(
        name="verify",
        line="was it the upgrade or the cleaning?",
        does="Compares the fills of two rig files, before and after an upgrade, and says with which probability the parts\n"
        "made the difference, and with which the cleaning.",
        options=VERIFY,
        examples=("fullbore verify tank.toml tank_new.toml",),
    ),
    Command(
        name="log",
        line="fills, cleanings and changes, and when to clean next",
        does="Writes a fill, a cleaning or a change into a log that is only ever added to, and shows the log, the trend of the\n"
        "flow since each cleaning, and the next cleaning for a wanted flow.",
        options=LOG,
        examples=(
            'fullbore log tank.log --volume "10 l" --seconds 61,60.5,62 --date 2026-03-01',
            "fullbore log tank.log --cleaned everything",
            'fullbore log tank.log --changed "bar re-drilled to 3 mm"',
            'fullbore log tank.log --flow "400 l/h" --rig tank.toml',
        ),
    ),
    Command(
        name="columns",
        line="reference of catalog columns and rig keys",
        does="Lists every column of a catalog and every key of a rig file, with units and examples.",
        options=(_flag("--markdown", "as Markdown"),),
        examples=("fullbore columns", "fullbore columns --markdown > columns.md"),
    ),
)

ABOUT = (
    "Finds the parts that let more water through the canister filter of an aquarium for a set amount\n"
    "of money, and proves that no other affordable set does better."
)

STATUS = (
    "exit status:\n"
    "  0  an answer\n"
    "  1  bad input or output: every problem is listed\n"
    "  2  no bundle meets the limits\n"
    "  3  stopped before it was proved"
)


class Parser(argparse.ArgumentParser):
    """A parser whose errors take one line and exit 1: status 2 says that no bundle meets the limits."""

    def __init__(self, **more: Any) -> None:
        super().__init__(formatter_class=argparse.RawDescriptionHelpFormatter, allow_abbrev=False, **more)

    def print_help(self, file: SupportsWrite[str] | None = None) -> None:
        """Print the help text. Raises OSError when it cannot be written, which argparse itself keeps quiet about."""
        (sys.stdout if file is None else file).write(self.format_help())

    def error(self, message: str) -> NoReturn:
        """End the run with the message and where to look. Raises SystemExit."""
        self.exit(BAD_INPUT, f'{COMMAND_LINE}: {safe(message)}. See "{self.prog} --help".\n')


def build_parser() -> Parser:
    """Return the parser of the whole command; it reads text only and leaves numbers and units to the caller.

    >>> build_parser().parse_args(["best", "tank.toml", "--budget", "100"]).budget
    '100'
    """
    parser = Parser(prog="fullbore", description=ABOUT, epilog=STATUS)
    parser.add_argument("--version", action="store_true", help="print the version and end")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for command in COMMANDS:
        epilog = "\n  ".join(("examples:", *command.examples))
        own = commands.add_parser(command.name, help=command.line, description=command.does, epilog=epilog)
        for option in command.options:
            if isinstance(option, Option):
                _add(own, (option,))
            else:
                _add(own.add_mutually_exclusive_group(), option)
    return parser


def _add(place: Any, options: Iterable[Option]) -> None:
    # argparse gives parsers and groups no common public type
    for option in options:
        place.add_argument(option.flag, help=option.help, **option.reads)
