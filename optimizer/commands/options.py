"""Options and arguments of a command as fields of what it is asked: each says what it does, and how its text is read.

>>> from dataclasses import dataclass
>>> @dataclass(frozen=True, kw_only=True)
... class Asked:
...     budget: int | None = value("--budget", "AMOUNT", "100", "money to spend", int)
>>> [option.help for option in options_of(Asked)]
['money to spend (example: 100)']
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from optimizer.errors import BadValue, quoted
from optimizer.money import parse_money

DEMO_CATALOG = "parts_demo/catalog"

NAME_FILES = ("FILE", "DIR", "RIG", "ANSWER", "BEFORE", "AFTER", "HOUSEHOLD", "SHOP", "PLACE")
"""Words that stand for names of files and folders in help texts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One option or argument: how it is written, what it does, an example, and how argparse reads it.

    ``parse`` reads its text, ``missing`` is asked where there is none. An option with a ``place`` (an example) names a file to
    write, one with ``input`` (what it is to the run) a file to read, which may name ``rigs`` (what these are). Of those with the
    same ``group`` only one may be given.
    """

    flag: str
    does: str
    example: str = ""
    reads: Mapping[str, Any]
    parse: Callable[[str], Any] = str
    missing: Callable[[], Any] = lambda: None
    place: str = ""
    input: str = ""
    rigs: str = ""
    group: str = ""

    @property
    def name(self) -> str:
        """The name among the arguments, and of the field."""
        return self.flag.lstrip("-").replace("-", "_")

    @property
    def names_files(self) -> bool:
        """Whether its values are names of files or folders."""
        return bool(self.place or self.input) or self.reads.get("metavar") in NAME_FILES

    @property
    def help(self) -> str:
        """The text in --help."""
        text = f"{self.does} (example: {self.example})" if self.example else self.does
        return text.replace("%", "%%")


def options_of(asked: type) -> tuple[Option, ...]:
    """The options that the fields of a class are, in their order."""
    return tuple(each.metadata["option"] for each in fields(asked) if "option" in each.metadata)


def flag(name: str, does: str, *, group: str = "") -> Any:
    """An option without a value."""
    return _field(Option(flag=name, does=does, reads={"action": "store_true"}, parse=bool, group=group))


def value(
    name: str,
    word: str,
    example: str,
    does: str,
    parse: Callable[[Any], Any] = str,
    *,
    reads: Mapping[str, Any] | None = None,
    make: Callable[[Any], Any] | None = None,
    **more: Any,
) -> Any:
    """An option or argument with a value, which ``word`` stands for in the help text; ``reads`` is more for argparse, ``more``
    are fields of `Option`, and ``make`` as in `made`."""
    also = {"metavar": word, **(reads or {})}
    option = Option(flag=name, does=does, example=example, reads=also, parse=parse, **more)
    return _field(option) if make is None else field(metadata={"option": option, "make": make})


def made(make: Callable[[Any], Any]) -> Any:
    """What is made of several options, by a function that is given the `Reader` in its turn."""
    return field(metadata={"make": make})


def choice(name: str, of: tuple[str, ...], does: str) -> Any:
    """An option with one of a few values; the first is taken where it is not given."""
    return _field(Option(flag=name, does=does, reads={"choices": of, "default": of[0]}))


def _field(option: Option) -> Any:
    return field(metadata={"option": option})


# -- options of several commands -----------------------------------------------------------------------------------


def rig() -> Any:
    """The file of a tank."""
    return value("rig", "RIG", "tank.toml", "file of the tank and its loop", input="the rig file")


def catalog(*, needed: bool) -> Any:
    """The folder of the catalog, which is to be named or at hand where it is ``needed``."""
    does = f"folder of the catalog; without it {DEMO_CATALOG}, if that is there"
    parse, missing = (Path, _demo) if needed else (str, _nothing)
    return value("--catalog", "DIR", "my_shop", does, parse, missing=missing)


def _nothing() -> None:
    return None


def _demo() -> Path:
    folder = Path(DEMO_CATALOG)
    if folder.is_dir():
        return folder
    what = f"is not given, and there is no folder {DEMO_CATALOG} here."
    raise BadValue(what, "Write --catalog and the folder that holds pumps.csv; fullbore demo writes one to try with.")


def budget(does: str = "money to spend at most; replaces the rig's budget") -> Any:
    """Money, in minor units."""
    return value("--budget", "AMOUNT", "100", does, parse_money)


def unmeasured(whose: str = "the rig file") -> Any:
    """The mark that fills do not count."""
    return flag("--unmeasured", f"as if the fills in {whose} had not been made")


def log(does: str = "fills of a log, since the last change and cleaning, beside those of the rig file") -> Any:
    """The file of a log that is read."""
    return value("--log", "FILE", "tank.log", does, input="the log")


def date(does: str, parse: Callable[[str], Any] = str) -> Any:
    """The day of what is told."""
    return value("--date", "DAY", "2026-03-01", does, parse)


def csv(what: str, example: str) -> Any:
    """The file that a table is written to as CSV."""
    return value("--csv", "FILE", example, f"also write {what} to a CSV file; one that is there is replaced", place=example)


def xlsx(what: str, example: str) -> Any:
    """The file that a table is written to as XLSX."""
    return value("--xlsx", "FILE", example, f"also write {what} to an XLSX file; one that is there is replaced", place=example)


def after() -> Any:
    """The file that the rig is written to as it will be."""
    does = "also write the rig file as it will be once the answer is fitted; one that is there is replaced"
    return value("--after", "FILE", "tank_after.toml", does, place="tank_after.toml")


def page(example: str, does: str = "also write it as one HTML page; one that is there is replaced") -> Any:
    """The file that an answer is written to as a page."""
    return value("--report", "FILE", example, does, place=example)


def saved() -> Any:
    """The file of a saved answer."""
    does = "an answer saved with --json, best together with --report"
    return value("answer", "ANSWER", "answer.json", does, input="the answer")


def full() -> Any:
    """The mark that the whole answer is printed, and not the first screen alone."""
    return flag("--full", "print the whole answer, not the first screen alone", group="part")


def show(words: str) -> Any:
    """The sections of an answer to print, by the names that the module ``words`` of `report` gives them."""

    def read(text: str) -> tuple[str, ...]:
        known: Iterable[str] = importlib.import_module(f"optimizer.report.{words}").SECTIONS
        names = tuple(dict.fromkeys(name.strip() for name in text.split(",")))
        unknown = [name for name in names if name not in known]
        if not unknown:
            return names
        what = f"no section is called {' or '.join(map(quoted, unknown))}."
        raise BadValue(what, f"Write some of these, with commas between them: {', '.join(known)}.")

    does = "print these sections of the answer and nothing else; an unknown name gives the list"
    return value("--show", "SECTIONS", "joints,head", does, read, group="part")


def units() -> Any:
    """The system of units of texts."""
    does = "units of the text: metric (l/h, m, mm) or us (US gallons per hour, ft, in)"
    return choice("--units", ("metric", "us"), does)


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """How an answer is printed: every command that has one can be asked for it."""

    json: bool = flag("--json", "print the answer as JSON and nothing else: SI units, prices in hundredths")
    units: str = units()
    quiet: bool = flag("--quiet", "print the verdict alone, on one line, and no progress")


PRINTED = options_of(Printed)
