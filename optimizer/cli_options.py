"""What the command `fullbore` understands: its commands and options, once, as data from which the parser is made."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NoReturn

from optimizer.errors import COMMAND_LINE, safe

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

__all__ = ["BAD_INPUT", "COMMAND_LINE", "DEMO_CATALOG", "Option", "build_parser", "options_of"]

BAD_INPUT = 1
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
BY_FILLS = (
    _flag("--unmeasured", "as if the fills in the rig file had not been made"),
    _value("--log", "FILE", "tank.log", "fills of a log, since the last change and cleaning, beside those of the rig file"),
)
DRAWN = (
    _value("--robust", "QUANTILE", "P10", "bands, and the bundle that is best at a quantile, from P5 to P95"),
    _value("--candidates", "N", "20", "bundles that bands are drawn for; without it 5, with --robust 20"),
    _value("--draws", "N", "10000", "draws of what is not known exactly; without it 10000"),
    _value("--seed", "N", "1", "seed of the draws, the same for the same output; without it 1"),
    *BY_FILLS,
)
INTERVAL = _value("--interval", "TIME", "60d", "time between cleanings: decide by its last day, limits kept on all days")
MEAN = _flag("--mean", "with --interval, decide by the mean and not by the last day")
FLOW = _value("--flow", "FLOW", '"800 l/h"', "delivered flow to reach")
TURNOVER = _value("--turnover", "RATE", '"4 per hour"', "turnover of the net volume to reach")

REPORT = _value(
    "--report",
    "FILE",
    "tank.html",
    "also write it as one HTML page with figures, bands, front and buying order; each of these is one more search",
)

SHARED = (
    _value("--catalog", "DIR", "my_shop", f"folder of the catalog; without it {DEMO_CATALOG}, if that is there"),
    _value("--budget", "AMOUNT", "100", "money to spend at most; replaces the rig's budget"),
    _flag("--json", "print the answer as JSON and nothing else: SI units, prices in hundredths"),
    _flag("--prove", "also check the answer by an independent route; takes longer"),
    _value("--csv", "FILE", "bill.csv", "also write the bill to a CSV file; one that is there is replaced"),
    _value("--xlsx", "FILE", "bill.xlsx", "also write the bill to an XLSX file; one that is there is replaced"),
    REPORT,
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
    *BY_FILLS,
    *(option for option in SHARED if option.flag in ("--catalog", "--budget", "--json", "--units", "--quiet")),
    _value("--csv", "FILE", "front.csv", "also write the table to a CSV file; one that is there is replaced"),
    _value("--xlsx", "FILE", "front.xlsx", "also write the table to an XLSX file; one that is there is replaced"),
    REPORT,
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
    BY_FILLS[1],
    _value("--budget", "AMOUNT", "100", "money for the upgrade whose flow the next tests are ranked for"),
    _flag("--today", "rank the next tests for the flow as it is, and look for no upgrade"),
)
VERIFY = (
    _value("before", "BEFORE", "tank.toml", "file of the tank as it was, with its fills"),
    _value("after", "AFTER", "tank_new.toml", "file of the tank as the work left it, with fills of its own"),
    _value("--log", "FILE", "tank.log", "fills of a log beside theirs: the last before its last change, and the first after it"),
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

AGEING = (
    RIG,
    _value("--days", "N", "90", "days since a clean of everything to look at; without it 90"),
    _value(
        "--law",
        "LAWS",
        "media=doubling",
        "other laws of dirt than the usual, with commas: media, guard, hoses, impeller or bacteria, =, and a name",
    ),
    _flag("--renew", "also say in what steps the biological media are renewed"),
    BY_FILLS[0],
    *ANSWERED,
)

NEW = (
    Option(
        flag="file",
        does="file to write; without it tank.toml",
        example="tank.toml",
        reads={"metavar": "FILE", "nargs": "?", "default": "tank.toml"},
    ),
    *(option for option in SHARED if option.flag == "--catalog"),
    _flag("--force", "replace a file that is there already"),
)
GLOSSARY = (
    Option(flag="word", does="a term, or part of one", example="head", reads={"metavar": "WORD", "nargs": "?"}),
    _flag("--markdown", "as Markdown"),
)

SAVED = _value("answer", "ANSWER", "answer.json", "an answer saved with --json, best together with --report")
SHOWN = tuple(option for option in SHARED if option.flag in ("--json", "--units", "--quiet"))
PAGE = (
    SAVED,
    _value("--out", "FILE", "tank.html", "the page; one that is there is replaced; without it named as the answer"),
    *SHOWN,
)
PLOT = (
    SAVED,
    Option(flag="--out", does="folder for the figures", example="figures", reads={"metavar": "DIR", "default": "."}),
    _value("--figures", "NAMES", "curves,front", "only these: curves, heads, front, fall, pressure, jets"),
    Option(flag="--format", does="kind of file", reads={"choices": ("svg", "png"), "default": "svg"}),
    *SHOWN,
)

SHARE = (
    _value("household", "HOUSEHOLD", "house.toml", "file of the tanks, each a rig file named or written in, and their rooms"),
    Option(
        flag="--objective",
        does="whose bill to show: worst (the worst-off tank first, then the next), shortfall (least total below the targets) "
        "or flow (most total delivered flow); all three are shown side by side",
        reads={"choices": ("worst", "shortfall", "flow"), "default": "worst"},
    ),
    _flag("--unmeasured", "as if the fills in the rig files and in logs had not been made"),
    *(option for option in SHARED if option.flag in ("--catalog", "--budget", "--json", "--units", "--quiet", "--csv")),
    _value("--report", "FILE", "tanks.html", "also write it as one HTML page; one that is there is replaced"),
)

KITS = (
    _value("shop", "SHOP", "shop.toml", "file of the shop: stock, shelf prices, and the tanks of its customers in bands"),
    _value("--kits", "N", "3", "most kits to offer; replaces the number in the shop file"),
    Option(
        flag="--by",
        does="what the choice is best by: gain (weighted, in delivered flow) or coverage (weight of the tanks that a kit fits)",
        reads={"choices": ("gain", "coverage"), "default": "gain"},
    ),
    _value("--workers", "N", "2", "processes that solve; without it one"),
    _value("--scheduler", "ADDRESS", "tcp://127.0.0.1:8786", "a Dask scheduler whose workers solve (extra: cluster)"),
    _value("--results", "FILE", "shop.results", "keep answers in a file and take them from it, so that stopped work goes on"),
    _value("--cards", "DIR", "cards", "also write a card to hand out for each kit, as HTML and text, into a folder"),
    _value("--csv", "FILE", "kits.csv", "also write the pieces of the kits to a CSV file; one that is there is replaced"),
    _value("--report", "FILE", "kits.html", "also write it as one HTML page; one that is there is replaced"),
    *ANSWERED,
)
COMPARE = (
    Option(
        flag="files",
        does='rig files, or answers saved with "fullbore best --json" (named .json)',
        example="tank.toml other.toml saved.json",
        reads={"metavar": "FILE", "nargs": "+"},
    ),
    _value("--budget", "AMOUNT", "100", "money to spend at most for each rig; replaces the rigs' budgets"),
    *ANSWERED,
)

COMMANDS = (
    Command(
        name="best",
        line="most water for the money",
        does="Finds the bundle that delivers the most water within the budget and the limits of the rig.\n"
        "For one tank most flow and most turnover are the same order, so there is nothing else to choose.",
        options=(RIG, *SHARED, INTERVAL, MEAN, (WHY, ALTERNATIVES, ORDER, BANDS), *DRAWN),
        examples=(
            "fullbore best tank.toml --budget 100",
            "fullbore best tank.toml --budget 100 --csv bill.csv",
            "fullbore best tank.toml --report tank.html --json > answer.json",
            "fullbore best tank.toml --why HOSE-19-27",
            "fullbore best tank.toml --why PUMP-2400MA,spray_bar=OPEN-G34",
            "fullbore best tank.toml --alternatives 5",
            "fullbore best tank.toml --order",
            "fullbore best tank.toml --bands",
            "fullbore best tank.toml --robust P10 --candidates 30",
            "fullbore best tank.toml --interval 60d",
            "fullbore best tank.toml --catalog my_shop --prove --json",
        ),
    ),
    Command(
        name="cheapest",
        line="least money for a flow",
        does="Finds the bundle with the least price that delivers a flow within the limits of the rig.\n"
        "Without --flow and --turnover that is the wish in the rig file.",
        options=(RIG, (FLOW, TURNOVER), *SHARED, INTERVAL, (ORDER, BANDS), *DRAWN),
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
        name="ageing",
        line="flow against days since cleaning, and what clogs first",
        does="Follows the dirt of a rig day by day after a clean of everything, and as it is: what flows, when the wish, a\n"
        "window or a limit is missed, what clogs first, when each stage is due, and whether bacteria have surface enough.",
        options=AGEING,
        examples=(
            "fullbore ageing tank.toml",
            "fullbore ageing tank.toml --days 180 --law media=doubling",
            "fullbore ageing tank.toml --renew",
        ),
    ),
    Command(
        name="new",
        line="a rig file from a dozen and a half plain questions",
        does="Asks about the tank, its canister and its hoses, and writes a commented rig file. Enter takes a usual value for\n"
        "what is not known; what was assumed stands in the file and is listed. Answers may come from a file, one a line.",
        options=NEW,
        examples=("fullbore new tank.toml", "fullbore new tank.toml --force"),
    ),
    Command(
        name="glossary",
        line="the words of answers and files, with symbol and unit",
        does="Lists the terms used here, each with its symbol, its unit and what it is in plain words.",
        options=GLOSSARY,
        examples=("fullbore glossary", "fullbore glossary head"),
    ),
    Command(
        name="report",
        line="a saved answer as one HTML page",
        does="Renders a saved answer as one HTML page that needs no network. Nothing is solved again.",
        options=PAGE,
        examples=(
            "fullbore report answer.json --out tank.html",
            "fullbore report answer.json --units us",
        ),
    ),
    Command(
        name="plot",
        line="the figures of a saved answer",
        does="Writes the figures of a saved answer, one file each. Nothing is solved again.",
        options=PLOT,
        examples=(
            "fullbore plot answer.json --out figures",
            "fullbore plot answer.json --out figures --figures curves,front --format png",
        ),
    ),
    Command(
        name="compare",
        line="several rigs or answers side by side",
        does="Answers several rigs, or reads answers that were saved, and shows them side by side in one table.",
        options=COMPARE,
        examples=(
            "fullbore compare tank.toml other.toml --budget 80",
            "fullbore compare before.json after.json",
        ),
    ),
    Command(
        name="share",
        line="one budget for several tanks, parts handed on among them",
        does="Shares one budget, spares and stock between the tanks of a household: who gets what, which freed part serves\n"
        "which other tank, in which order to work, and one bill. A tank that reaches its target gets nothing. Each aim is\n"
        "answered, and proved as far as the answer says.",
        options=SHARE,
        examples=(
            "fullbore share house.toml --budget 300",
            "fullbore share house.toml --budget 300 --objective shortfall --csv bill.csv",
        ),
    ),
    Command(
        name="kits",
        line="a shop's kits that serve a population of tanks best",
        does="Chooses at most N kits, each closing from stock, that serve a shop's customers best; says what each does not fit\n"
        "and why, what every part in stock earns, and which stock is dead.",
        options=KITS,
        examples=(
            "fullbore kits shop.toml",
            "fullbore kits shop.toml --kits 2 --by coverage --workers 2",
            "fullbore kits shop.toml --results shop.results --cards cards",
            "fullbore kits shop.toml --scheduler tcp://127.0.0.1:8786",
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


def options_of(command: str) -> tuple[Option, ...]:
    """All options and arguments of a command, in the order of its help. Raises StopIteration for none of that name.

    >>> [option.flag for option in options_of("plot")][:2]
    ['answer', '--out']
    """
    found = next(each for each in COMMANDS if each.name == command)
    return tuple(option for some in found.options for option in ((some,) if isinstance(some, Option) else some))


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
