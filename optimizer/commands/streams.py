"""The one place that prints: answers and questions on standard output, remarks and progress on standard error."""

from __future__ import annotations

import contextlib
import io
import os
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TextIO

from optimizer.errors import safe
from optimizer.report.layout import BOLD, DIM, END, GLUE, WIDTH, Screen

FIRST_PROGRESS_S = 1.0
NEXT_PROGRESS_S = 0.2
PROGRESS_WIDTH = 79
BAR_WIDTH = 20

LONGEST_LINE = 1 << 20

NARROWEST, WIDEST = 50, 100
"""A text is never broken into shorter lines, which would tear tables apart, nor into longer ones, which are hard to read."""

CODES = {ord(BOLD): "\x1b[1m", ord(DIM): "\x1b[2m", ord(END): "\x1b[0m"}
"""Weight as terminals understand it (ECMA-48, select graphic rendition)."""


class StreamError(Exception):
    """What is to be printed or read cannot be; the text says so in a sentence."""


def ready() -> None:
    """Make the standard streams fit to be used; letters of names that an encoding lacks come out as escapes. Raises StreamError
    where there is no standard output."""
    if sys.stderr is None:  # Python has none when the caller closed it
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  for as long as the process lasts
    if sys.stdout is None:
        raise StreamError("The output cannot be written: it is closed.")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def flush() -> None:
    """Let out what the streams still hold, as far as anybody takes it."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError, AttributeError):
            stream.flush()


def printed(text: str) -> None:
    """Print the text, all of it. Raises StreamError where that fails."""
    with printing():
        sys.stdout.write(text)
        sys.stdout.flush()


def screen() -> Screen:
    """Return how wide a text may be on standard output, and whether its lines can have weight.

    The width is that of COLUMNS, else of the terminal, else `layout.WIDTH`, within what can be read. Weight needs a terminal
    that is not called dumb; NO_COLOR, if it says anything, asks for none.
    """
    terminal = _is_terminal(sys.stdout)
    told = os.environ.get("COLUMNS", "")
    width = int(told) if told.isascii() and told.isdecimal() and len(told) < 10 else 0
    if not width and terminal:
        with contextlib.suppress(OSError, ValueError):
            width = os.get_terminal_size(sys.stdout.fileno()).columns
    kind = os.environ.get("TERM", "")
    weighted = terminal and kind not in ("", "dumb") and not os.environ.get("NO_COLOR")
    return Screen(width=min(max(width or WIDTH, NARROWEST), WIDEST), weighted=weighted)


def can_be_asked() -> bool:
    """Whether somebody sits at the input."""
    return sys.stdin is not None and _is_terminal(sys.stdin)


def _is_terminal(stream: TextIO) -> bool:
    try:
        return stream.isatty()
    except (AttributeError, ValueError):
        return False


def with_weight(text: str) -> str:
    """Return a text with the weight of its lines as a terminal understands it.

    >>> with_weight(f"{BOLD}Bill{END}")
    '\\x1b[1mBill\\x1b[0m'
    """
    return text.translate(CODES)


@contextlib.contextmanager
def printing() -> Iterator[None]:
    """Turn a failure to print into StreamError."""
    try:
        yield
    except OSError as error:
        # what is still in the output's buffer goes nowhere: it must not raise again when the process ends
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        why = "it was closed before the end" if isinstance(error, BrokenPipeError) else reason(error)
        raise StreamError(f"The output cannot be written: {why}.") from error


def say(line: str) -> None:
    """Say a line beside the answer, on standard error; where nobody hears it nothing is lost but the line."""
    with contextlib.suppress(OSError, AttributeError):
        sys.stderr.write(f"{line}\n")
        sys.stderr.flush()


def reason(error: OSError) -> str:
    """Why a file or stream failed, in the system's words.

    >>> reason(OSError(28, "No space left on device"))
    'No space left on device'
    """
    return safe(error.strerror or str(error))


DOING = {"best": "Most water", "cheapest": "Least money", "front": "What each sum buys", "share": "Sharing the money"}
"""What a command is looking for while it searches."""

ONE_BEST = ("best", "front")
"""Commands whose searches are all about one loop at no more than one sum, so that the most flow so far says how far they are."""


@dataclass(slots=True)
class Progress:
    """Says on a terminal what a command is doing, how far it is and for how long, once it has lasted a second; one line that is
    written over. The flow is shown in the system of ``units``."""

    stream: TextIO
    command: str = "best"
    units: str = "metric"
    clock: Callable[[], float] = time.monotonic
    _began_s: float = field(init=False)
    _next_s: float = field(init=False)
    _best_m3s: float = field(init=False, default=0.0)
    _between: tuple[str, ...] = field(init=False, default=())
    _shown: bool = field(init=False, default=False)

    def __post_init__(self) -> None:
        self._began_s = self.clock()
        self._next_s = self._began_s + FIRST_PROGRESS_S

    def __call__(self, nodes: int, flow_m3s: float | None, settled_m3s: float | None = None) -> None:
        """Take in how many nodes were looked at, the best flow so far (m3/s, None: no bundle found yet) and the one above which
        everything is settled (None: not told). A search within the search begins anew; what is known of the whole never falls."""
        self._best_m3s = max(self._best_m3s, flow_m3s or 0.0)
        now_s = self.clock()
        if self._is_due(now_s):
            best = f", best so far {self._flow(self._best_m3s)}" if self._best_m3s and self.command in ONE_BEST else self._known()
            best += f", settled above {self._flow(settled_m3s)}" if settled_m3s and self.command == "front" else ""
            self._show(f"{DOING.get(self.command, 'Searching')}: {nodes} steps{best}", now_s)

    def between(self, best: str, most: str) -> None:
        """Take in what the best so far comes to and what nothing exceeds, in words."""
        self._between = (best, most)

    def _known(self) -> str:
        from optimizer.report.measures import system  # only who waits needs it

        said = [system(self.units).words(each).replace(GLUE, " ") for each in self._between]
        return "".join(f", {how}{each}" for how, each in zip(("", "bound "), said, strict=False))

    def count(self, what: str, done: int, of: int) -> None:
        """Take in how many of many questions are answered, and what they are about."""
        now_s = self.clock()
        if self._is_due(now_s):
            full = BAR_WIDTH * done // max(of, 1)
            self._show(f"[{'#' * full}{'.' * (BAR_WIDTH - full)}] {done} of {of} {what}", now_s)

    def clear(self) -> None:
        """Take the line away, if there is one."""
        if self._shown:
            self._write(" " * PROGRESS_WIDTH + "\r")
            self._shown = False

    def _flow(self, flow_m3s: float) -> str:
        from optimizer.report.measures import system  # only who waits needs it

        return system(self.units).flow_text(flow_m3s).replace(GLUE, " ")

    def _is_due(self, now_s: float) -> bool:
        if now_s < self._next_s:
            return False
        self._next_s = now_s + NEXT_PROGRESS_S
        return True

    def _show(self, line: str, now_s: float) -> None:
        told = f"{line}, {now_s - self._began_s:.0f} s (Ctrl-C: stop here)"
        self._write(told[:PROGRESS_WIDTH].ljust(PROGRESS_WIDTH))
        self._shown = True

    def _write(self, line: str) -> None:
        with contextlib.suppress(OSError):
            self.stream.write(f"\r{line}")
            self.stream.flush()


class Terminal:
    """Asks on the output and reads answers, a line each, from the input; those nobody typed are shown behind the question.

    Raises StreamError where there is no standard input.
    """

    def __init__(self) -> None:
        if sys.stdin is None:  # Python has none when the caller closed it
            raise StreamError("The answers cannot be read: the input is closed.")
        if isinstance(sys.stdin, io.TextIOWrapper):
            sys.stdin.reconfigure(errors="surrogateescape")  # bytes that are no text become a bad answer, not an end

    @property
    def is_terminal(self) -> bool:
        """True when somebody sits at the input."""
        return sys.stdin.isatty()

    def ask(self, prompt: str) -> str | None:
        """Return the next line without its end, None at the end of the input."""
        printed(prompt)
        try:
            line = sys.stdin.readline(LONGEST_LINE)
        except OSError:
            return None
        if not self.is_terminal:
            printed(f"{safe(line.rstrip(chr(10)))}\n")
        return line.rstrip("\r\n") if line else None

    def say(self, text: str) -> None:
        """Print the text."""
        printed(text)
