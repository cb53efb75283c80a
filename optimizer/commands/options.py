"""Options and arguments as data, from which the parser is made; those of several commands stand here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

__all__ = [
    "ANSWERED", "BUDGET", "BY_FILLS", "CATALOG", "DEMO_CATALOG", "JSON", "LOG", "PAGE", "PRINTED", "QUIET", "RIG", "SAVED",
    "TIMED", "UNITS", "UNMEASURED", "Option", "choice", "csv", "day", "flag", "flat", "page", "value", "xlsx",
]  # fmt: skip

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


def flag(name: str, does: str) -> Option:
    """An option without a value."""
    return Option(flag=name, does=does, reads={"action": "store_true"})


def value(name: str, word: str, example: str, does: str, **reads: Any) -> Option:
    """An option or argument with a value, which ``word`` stands for in the help text."""
    return Option(flag=name, does=does, example=example, reads={"metavar": word, **reads})


def choice(name: str, of: tuple[str, ...], does: str) -> Option:
    """An option with one of a few values; the first is taken where it is not given."""
    return Option(flag=name, does=does, reads={"choices": of, "default": of[0]})


def flat(options: tuple[Option | tuple[Option, ...], ...]) -> tuple[Option, ...]:
    """All options, those of inner tuples too, in the order of the help text.

    >>> [each.flag for each in flat((RIG, (JSON, QUIET)))]
    ['rig', '--json', '--quiet']
    """
    return tuple(option for some in options for option in ((some,) if isinstance(some, Option) else some))


def csv(what: str, example: str) -> Option:
    """The option that writes a table as CSV."""
    return value("--csv", "FILE", example, f"also write {what} to a CSV file; one that is there is replaced")


def xlsx(what: str, example: str) -> Option:
    """The option that writes a table as XLSX."""
    return value("--xlsx", "FILE", example, f"also write {what} to an XLSX file; one that is there is replaced")


def page(example: str) -> Option:
    """The option that writes an answer as a page, without another search."""
    return value("--report", "FILE", example, "also write it as one HTML page; one that is there is replaced")


def day(does: str) -> Option:
    """The option that dates what is told."""
    return value("--date", "DAY", "2026-03-01", does)


RIG = value("rig", "RIG", "tank.toml", "file of the tank and its loop")
SAVED = value("answer", "ANSWER", "answer.json", "an answer saved with --json, best together with --report")
CATALOG = value("--catalog", "DIR", "my_shop", f"folder of the catalog; without it {DEMO_CATALOG}, if that is there")
BUDGET = value("--budget", "AMOUNT", "100", "money to spend at most; replaces the rig's budget")
JSON = flag("--json", "print the answer as JSON and nothing else: SI units, prices in hundredths")
UNITS = choice("--units", ("metric", "us"), "units of the text: metric (l/h, m, mm) or us (US gallons per hour, ft, in)")
QUIET = flag("--quiet", "print the verdict alone, on one line, and no progress")
PRINTED = (JSON, UNITS, QUIET)
ANSWERED = (CATALOG, *PRINTED)

UNMEASURED = flag("--unmeasured", "as if the fills in the rig file had not been made")
LOG = value("--log", "FILE", "tank.log", "fills of a log, since the last change and cleaning, beside those of the rig file")
BY_FILLS = (UNMEASURED, LOG)

PAGE = value(
    "--report",
    "FILE",
    "tank.html",
    "also write it as one HTML page with figures, bands, front and buying order; each of these is one more search",
)

TIMED = (
    value("--volume", "VOLUME", '"10 l"', "a fill: what the container holds up to its mark"),
    value("--seconds", "TIMES", "61,60.5,62", "a fill: how long it took, each repeat"),
    value("--above", "HEIGHT", '"3 cm"', "a fill: mouth of the water above the tank's water line; without it at the line"),
    value("--below", "DEPTH", '"40 cm"', "a fill: mouth of the water below the tank's water line"),
    value("--state", "WORDS", '"guard off"', "a fill: how the loop differed from what the rig file describes, with commas"),
    value("--mark", "VOLUME", '"0.1 l"', "a fill: how far the mark may be off; without it 2 % of the volume"),
    value("--container", "NAME", '"blue bucket"', "a fill: which container; without it those of one volume count as one"),
    value("--watts", "POWER", "18", "what a meter at the socket shows for the pump"),
)
