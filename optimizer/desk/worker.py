"""In a process of its own: answers one question, and tells meanwhile how far it is.

A question is the words of a command, as they would be typed in the folder. It comes back as plain values: the exit status, the
text, the JSON, the files that it would write, and what is wrong with the input.
"""

from __future__ import annotations

import _thread
import contextlib
import gc
import io
import multiprocessing
import os
import signal
import threading
import time
import traceback
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import FrameType
from typing import Any

from optimizer.errors import InputError
from optimizer.exits import ANSWER, BAD_INPUT, NOTHING_KNOWN, STOPPED

__all__ = ["NEVER", "Answered", "answered", "work"]

LOOK_EACH_S = 0.05
TELL_EACH_S = 0.1
WIDTH = 80
NEVER = 0
"""Stands where the number of a question does, for none."""

Tell = Callable[[str, Mapping[str, object]], None]
"""Takes the name of a question and how far it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """What came of a question: ``body`` is the answer as JSON holds it, ``said`` what was told beside it, ``files`` are what it
    would write, by option, ``problems`` what is wrong with the input: where (file and place), file, place, what, cure.
    ``mistake`` is the trace of one of the program."""

    status: int
    text: str = ""
    said: str = ""
    body: Mapping[str, Any] = field(default_factory=dict)
    files: Mapping[str, bytes] = field(default_factory=dict)
    problems: tuple[Mapping[str, str], ...] = ()
    mistake: str = ""


_HERE: dict[str, Any] = {}
"""What a worker has for its life: its folder, its link, the number of the question that is to end, and that of the one at
hand."""


def work(folder: str, link: Any, ending: Any, catalog: str) -> None:
    """Answer questions that come over a ``link``, one after the other, until it is closed; the first word over it says that
    all is loaded. ``ending`` is the number of the question that is to be ended, ``catalog`` is read beforehand (empty: none).

    Ctrl-C at the terminal is left to the desk, which tells its workers when it ends.
    """
    from optimizer import api
    from optimizer.desk import warm
    from optimizer.desk.folder import Folder

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _press)
    gc.set_threshold(100_000, 50, 50)  # as a command has it: little of what is made here goes round
    os.chdir(folder)
    _HERE.update(link=link, ending=ending, number=NEVER, pressed=NEVER, folder=Folder(Path(folder)))
    for watch in (_end_with_parent, _end_when_told):
        threading.Thread(target=watch, daemon=True).start()
    api.read_catalog = catalogs = warm.KeptCatalogs(api.read_catalog)
    warm.load()
    if catalog:
        catalogs.ready(catalog)
    with contextlib.suppress(EOFError, OSError):  # the desk has ended
        link.send(os.getpid())
        while True:
            number, words = link.recv()
            link.send((number, answered(number, words)))


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _end_when_told() -> None:
    """Press Ctrl-C here once the question at hand is to end: it then answers with what it has."""
    while True:
        time.sleep(LOOK_EACH_S)
        number = _HERE["ending"].value
        if number not in (NEVER, _HERE["pressed"]) and number == _HERE["number"]:
            _HERE["pressed"] = number
            _thread.interrupt_main(signal.SIGTERM)


def _press(number: int, frame: FrameType | None) -> None:
    """In the main thread: a press is meant for the question that is to end, and is not to hit another, or none."""
    from optimizer import halting

    if NEVER != _HERE["pressed"] == _HERE["number"]:
        halting.press(number, frame)


@dataclass(slots=True)
class Progress:
    """Tells how far a command is, as `streams.Progress` does on a terminal."""

    number: int
    _next_s: float = 0.0
    _best_m3s: float = 0.0

    def __call__(self, nodes: int, flow_m3s: float | None, settled_m3s: float | None = None) -> None:
        """Take in how many nodes were looked at, the best flow so far, and the one above which everything is settled."""
        self._best_m3s = max(self._best_m3s, flow_m3s or 0.0)
        self._said(steps=nodes, best_m3s=self._best_m3s, settled_m3s=settled_m3s or 0.0)

    def between(self, best: str, most: str) -> None:
        """Take in what the best so far comes to and what nothing exceeds, in words."""
        self._said(best=best, most=most)

    def count(self, what: str, done: int, of: int) -> None:
        """Take in how many of many questions are answered, and what they are about."""
        self._said(what=what, done=done, of=of)

    def clear(self) -> None:
        """Nothing is to be taken away."""

    def _said(self, **how: object) -> None:
        now_s = time.monotonic()
        if now_s >= self._next_s:
            self._next_s = now_s + TELL_EACH_S
            _HERE["link"].send((self.number, how))


def answered(number: int, words: Sequence[str]) -> Answered:
    """Answer one question, the words of a command without its program's name."""
    said = io.StringIO()
    try:
        _HERE["number"] = number
        with contextlib.redirect_stderr(said), contextlib.redirect_stdout(said):
            return replace(_run(Progress(number), words), said=said.getvalue())
    except InputError as error:
        return Answered(status=BAD_INPUT, text=str(error), problems=tuple(_plain(error)))
    except KeyboardInterrupt:
        return Answered(status=STOPPED, text=NOTHING_KNOWN)
    except Exception:  # a mistake of the program in one question must not end the others
        return Answered(status=BAD_INPUT, mistake=traceback.format_exc())
    except SystemExit as end:  # argparse has told why: with a help text, or with what is wrong
        return Answered(status=ANSWER if end.code in (None, ANSWER) else BAD_INPUT, text=said.getvalue())
    finally:
        _HERE["number"] = NEVER


def _run(progress: Progress, words: Sequence[str]) -> Answered:
    from optimizer.commands.parser import build_parser
    from optimizer.commands.reader import Reader
    from optimizer.commands.table import command_of
    from optimizer.desk.words import check
    from optimizer.report.layout import Screen

    args = build_parser().parse_args(list(words))
    command = command_of(args.command)
    check(_HERE["folder"], command, args)
    reader = Reader(args, command.options)
    told = command.answer(command.read(reader), progress)  # type: ignore[arg-type]
    _HERE["number"] = NEVER  # an answer that is known is put into words, whoever presses
    units = reader.given("units") or "metric"
    files = {output.flag: content for output in told.outputs for _, content in output.make(units)}
    text = told.text(units, Screen(width=WIDTH, weighted=False))
    return Answered(status=told.status, text=text, body=told.body(), files=files)


def _plain(error: InputError) -> list[dict[str, str]]:
    names = ("where", "file", "place", "what", "cure")
    return [{name: str(getattr(each, name)) for name in names} for each in error.placed]
