"""The parser of the command line, made from the table of commands; a command is loaded when it is asked for."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any, NoReturn

from optimizer.commands.table import COMMANDS, command_of
from optimizer.errors import COMMAND_LINE, InputError, Problem, near_sentence, quoted
from optimizer.exits import BAD_INPUT

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

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


FEW = 6
"""So many words that an argument takes are listed where none is near what was written."""

_UNRECOGNIZED = "unrecognized arguments: "
"""How argparse begins to say that words are left over."""

FIRST_STEPS = """\
fullbore finds the parts that let more water through a canister filter for a
set amount of money, and proves that no other affordable set does better.

Your own tank:
  fullbore new tank.toml                  asks about it and writes its file
  fullbore best tank.toml --budget 100    the most water for the money

A tank of the demo, which is invented:
  fullbore demo
  fullbore best parts_demo/rigs/community_180.toml --budget 100

To read:
  fullbore guide              the manual, by task
  fullbore guide questions    what keepers ask, each with its command
  fullbore help               all commands; "fullbore help best" about one
"""
"""What is said to whoever writes no command."""


class Parser(argparse.ArgumentParser):
    """A parser whose errors are one list and exit 1: status 2 says that no bundle meets the limits."""

    def __init__(self, **more: Any) -> None:
        super().__init__(formatter_class=argparse.RawDescriptionHelpFormatter, allow_abbrev=False, **more)
        self._typed: Sequence[str] = ()

    def print_help(self, file: SupportsWrite[str] | None = None) -> None:
        """Print the help text. Raises OSError when it cannot be written, which argparse itself keeps quiet about."""
        (sys.stdout if file is None else file).write(self.format_help())

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Parse as any parser does; what was typed is kept for what is said of it."""
        self._typed = sys.argv[1:] if args is None else args
        return super().parse_known_args(args, namespace)

    def error(self, message: str) -> NoReturn:
        """End the run with a list of what is wrong and where to look. Raises SystemExit."""
        unknown = list(self._unknown_options())
        if not (unknown and message.startswith(_UNRECOGNIZED)):
            unknown.append(_problem(message, f'See "{self.prog} --help".'))
        self.refuse(unknown)

    def refuse(self, problems: Iterable[Problem]) -> NoReturn:
        """End the run with a list of problems. Raises SystemExit."""
        self.exit(BAD_INPUT, f"{InputError(COMMAND_LINE, problems)}\n")

    def _unknown_options(self) -> Iterator[Problem]:
        """What is written like an option and is none, as far as the first word that ends options."""
        known = self._option_string_actions
        for word in dict.fromkeys(self._typed):
            name = word.partition("=")[0]
            if word == "--":
                return
            if re.fullmatch("--[^ ]+", name) and name not in known:
                near = near_sentence(name, known)
                yield Problem(where=name, what=f"is no option of {self.prog}.", cure=f'{near} See "{self.prog} --help".'.lstrip())

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        """Say of a word that is none of a few what they are, or which of them are near. Raises ArgumentError."""
        if action.choices is None or value in action.choices:
            return
        names = list(map(str, action.choices))
        cure = near_sentence(str(value), names)
        if not cure and len(names) <= FEW:
            cure = f"Write {' or '.join(names)}."
        raise argparse.ArgumentError(action, f"{quoted(value)} is not known. {cure}".rstrip())


class CommandParser(Parser):
    """The parser of one command, which gets its options when there is something to parse."""

    def __init__(self, *, command: str, **more: Any) -> None:
        super().__init__(**more)
        self._command = command

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Load the command, then parse; what is left over is refused here, where the options are known. Raises SystemExit."""
        self.fill()
        known, left = super().parse_known_args(args, namespace)
        if left:
            self.error(f"{_UNRECOGNIZED}{' '.join(left)}")
        return known, left

    def fill(self) -> None:
        """Take in what the command does and its options, once."""
        if self.description:
            return
        command = command_of(self._command)
        self.description = command.does
        self.epilog = "\n  ".join(("examples:", *command.examples))
        for group, options in groupby(command.options, key=lambda option: option.group):
            place: Any = self.add_mutually_exclusive_group() if group else self
            for option in options:
                place.add_argument(option.flag, help=option.help, **option.reads)


def build_parser() -> Parser:
    """Return the parser of the whole command; it reads text only and leaves numbers and units to the caller.

    >>> build_parser().parse_args(["best", "tank.toml", "--budget", "100"]).budget
    '100'
    """
    parser = Parser(prog="fullbore", description=ABOUT, epilog=STATUS)
    parser.add_argument("--version", action="store_true", help="print the version and end")
    _add_commands(parser)
    return parser


def help_text(about: str | None) -> str:
    """The help text of a command, or without one that of all. Raises InputError with near names for a name that is none.

    >>> help_text("columns").splitlines()[0][:23]
    'usage: fullbore columns'
    """
    parser = build_parser()
    if about is None:
        return parser.format_help()
    if about not in COMMANDS:
        from optimizer.guide import NAMES  # loads what reads files of a package

        page = f'It is a page of the manual: "fullbore guide {about}".' if about in NAMES else ""
        cure = page or near_sentence(about, COMMANDS) or 'See "fullbore help".'
        raise InputError(COMMAND_LINE, [Problem(where="COMMAND", what=f"{quoted(about)} is not known.", cure=cure)])
    command = _add_commands(Parser(prog=parser.prog))[about]
    command.fill()
    return command.format_help()


def _add_commands(parser: Parser) -> dict[str, CommandParser]:
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=CommandParser)
    return {name: commands.add_parser(name, help=line, command=name) for name, line in COMMANDS.items()}


def _problem(message: str, see: str) -> Problem:
    """What argparse says is wrong, as a problem with its place.

    >>> _problem("argument --budget: expected one argument", 'See "fullbore best --help".').where
    '--budget'
    """
    left = message.removeprefix(_UNRECOGNIZED)
    if left != message:
        return Problem(where=left.strip() or '""', what="is one word too many.", cure=see)
    missing = message.removeprefix("the following arguments are required: ")
    if missing != message:
        return Problem(where=missing, what="is required.", cure=see)
    about = re.fullmatch("argument ([^:]+): (.*)", message, flags=re.DOTALL)
    if about is None:
        return Problem(where="arguments", what=f"{message}.", cure=see)
    what = about[2] if about[2].endswith(".") else f"{about[2]}."
    return Problem(where=about[1], what=what, cure=see)
