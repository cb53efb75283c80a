"""One process that answers questions, one after the other, and can be made anew without any other being disturbed."""

from __future__ import annotations

import contextlib
import multiprocessing
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future, InvalidStateError
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from optimizer.desk import worker
from optimizer.desk.worker import NEVER, Answered

__all__ = ["Hand", "LostError", "context"]

READY_WITHIN_S = 120
"""So long a process may take to load what it needs, on a machine that has much to do."""

Heard = Callable[[int, Mapping[str, Any]], None]
"""Takes the number of a question and how far it is, in a thread of its own."""


class LostError(Exception):
    """The process that had a question in hand is gone."""


def context() -> Any:
    """How processes are begun: from a small one that has loaded what they need, where the system has that."""
    there = multiprocessing.get_all_start_methods()
    found = multiprocessing.get_context("forkserver" if "forkserver" in there else "spawn")
    found.set_forkserver_preload(["optimizer.desk.warm"])
    return found


class Hand:
    """A worker process, behind the interface of `concurrent.futures`. One pipe leads to it, which ends with it: no lock is
    shared, that a process which is ended could keep."""

    def __init__(self, made_by: Any, folder: Path, heard: Heard) -> None:
        self._made_by = made_by
        self._folder = folder
        self._heard = heard
        self._ending = made_by.RawValue("q", NEVER)
        self._process: BaseProcess | None = None
        self._link: Connection | None = None
        self._asked: Future[Answered] | None = None

    def begin(self, catalog: str) -> None:
        """Begin a process, have it read a catalog (empty: none), and wait until it has; called in a thread. Raises OSError or
        EOFError where none comes up."""
        self._link, theirs = self._made_by.Pipe()
        begun = (str(self._folder), theirs, self._ending, catalog)
        process = self._made_by.Process(target=worker.work, args=begun)
        process.start()
        self._process = process  # only what has begun can be ended
        theirs.close()  # by now the process has it
        if not self._link.poll(READY_WITHIN_S):
            raise TimeoutError
        self._link.recv()
        threading.Thread(target=self._listen, args=(self._link,), daemon=True).start()

    def ask(self, number: int, words: Sequence[str]) -> Future[Answered]:
        """Ask a question. Its future raises LostError where the process is lost."""
        asked: Future[Answered] = Future()
        self._asked = asked
        try:
            assert self._link is not None
            self._link.send((number, tuple(words)))
        except (OSError, ValueError):  # it was lost while it had nothing to do; whoever listens may have noticed first
            self._lose()
        return asked

    def stop(self, number: int) -> None:
        """Have the process end a question with what it has, as Ctrl-C does at a terminal."""
        self._ending.value = number

    def end(self) -> None:
        """End the process now, whatever it is doing."""
        if self._process is not None:
            with contextlib.suppress(OSError, ValueError):
                self._process.kill()

    def _listen(self, link: Connection) -> None:
        """In a thread: take in what the process tells, until it is gone."""
        with contextlib.suppress(EOFError, OSError), link:
            while True:
                number, told = link.recv()
                if isinstance(told, Answered):
                    asked, self._asked = self._asked, None
                    if asked is not None:
                        asked.set_result(told)
                else:
                    self._heard(number, told)
        if link is self._link:
            self._lose()

    def _lose(self) -> None:
        asked, self._asked = self._asked, None
        if asked is not None:
            with contextlib.suppress(InvalidStateError):  # noticed twice
                asked.set_exception(LostError())
