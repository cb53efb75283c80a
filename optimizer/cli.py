"""The command `fullbore`: parses, finds the command, runs it, and gives what it hands back; exit status, signals and streams."""

from __future__ import annotations

import argparse
import contextlib
import gc
import json
import os
import sys
from collections.abc import Iterator, Sequence
from typing import NoReturn

from optimizer import halting
from optimizer.commands import streams
from optimizer.commands.command import Told
from optimizer.commands.outputs import written
from optimizer.commands.parser import FIRST_STEPS, build_parser
from optimizer.commands.reader import Reader
from optimizer.commands.table import command_of
from optimizer.errors import InputError
from optimizer.exits import ANSWER, BAD_INPUT, NOTHING_KNOWN, STOPPED
from optimizer.version import version

__all__ = ["entry", "main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command with the arguments `argv` (without it those of the process) and return its exit status.

    Raises SystemExit where argparse ends the run: for --help and for arguments it cannot read.

    >>> main(["--version"])  # doctest: +ELLIPSIS
    fullbore ...
    0
    """
    try:
        streams.ready()
        with halting.listening(), _collecting_seldom():
            return _run(argv)
    except (InputError, streams.StreamError) as error:
        streams.say(str(error))
        return BAD_INPUT
    except KeyboardInterrupt:
        streams.say(NOTHING_KNOWN)
        return STOPPED


def entry() -> NoReturn:
    """What the installed command runs: `main`, and then an end at once.

    Everything is written and closed by then; taking the loaded libraries apart would last a tenth of a short run.
    """
    try:
        halting.listen()
        _fill_gaps()
        status = main()
    except KeyboardInterrupt:
        streams.say(NOTHING_KNOWN)
        status = STOPPED
    except SystemExit as end:  # argparse has said why
        status = end.code if isinstance(end.code, int) else ANSWER
    with halting.held():
        streams.flush()
        os._exit(status)


def _fill_gaps() -> None:
    """Let standard streams that the caller closed lead nowhere: the next file that is opened would take the place of one of them,
    and be written into by whatever is meant for it."""
    while True:
        handle = os.open(os.devnull, os.O_RDWR)
        if handle > 2:
            os.close(handle)
            return
        os.set_inheritable(handle, True)


def _run(argv: Sequence[str] | None) -> int:
    parser = build_parser()
    with streams.printing():
        try:
            args = parser.parse_args(argv)
        finally:
            sys.stdout.flush()  # a help text that cannot be written is noticed here, not at the end of the process
    if args.version:
        streams.printed(f"fullbore {version()}\n")
        return ANSWER
    if args.command is None:
        streams.printed(FIRST_STEPS)
        return ANSWER
    return _answered(args)


def _answered(args: argparse.Namespace) -> int:
    command = command_of(args.command)
    reader = Reader(args, command.options)
    asked = command.read(reader)
    shown = sys.stderr.isatty() and not reader.given("quiet")
    progress = streams.Progress(sys.stderr, args.command, reader.given("units") or "metric") if shown else None
    try:
        told = command.answer(asked, progress)
    finally:
        if progress is not None:
            progress.clear()
    return _given(told, reader)


def _given(told: Told, reader: Reader) -> int:
    """Print an answer, then write what belongs to it, and return the exit status. Once an answer is known Ctrl-C takes nothing
    of it away: it is printed first, and only what is still to be drawn is left out."""
    units, json_wanted, quiet = (reader.given(name) for name in ("units", "json", "quiet"))
    with halting.held() as pressed:
        if json_wanted:
            streams.printed(json.dumps(told.body(), sort_keys=True, allow_nan=False, indent=2) + "\n")
        else:
            streams.printed(told.headline(units) if quiet else streams.with_weight(told.text(units, streams.screen())))
    status = written(told.outputs, units, pressed, tell=not (json_wanted or quiet))
    return told.status if status == ANSWER else status


@contextlib.contextmanager
def _collecting_seldom() -> Iterator[None]:
    """Look for unreachable objects less often: hardly any are made while libraries load and arrays are built, and looking
    takes a tenth of a short run."""
    before = gc.get_threshold()
    gc.set_threshold(100_000, 50, 50)
    try:
        yield
    finally:
        gc.set_threshold(*before)


if __name__ == "__main__":
    entry()
