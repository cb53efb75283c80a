"""The parser of the command line, made from the table of commands; a command is loaded when it is asked for."""

from __future__ import annotations

import argparse
import sys
from itertools import groupby
from typing import TYPE_CHECKING, Any, NoReturn

from optimizer.commands.table import COMMANDS, command_of
from optimizer.errors import COMMAND_LINE, safe
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


class CommandParser(Parser):
    """The parser of one command, which gets its options when there is something to parse."""

    def __init__(self, *, command: str, **more: Any) -> None:
        super().__init__(**more)
        self._command = command

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Load the command, then parse as any parser does."""
        if not self.description:
            self._fill()
        return super().parse_known_args(args, namespace)

    def _fill(self) -> None:
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
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=CommandParser)
    for name, line in COMMANDS.items():
        commands.add_parser(name, help=line, command=name)
    return parser
