"""One process that answers questions, one after the other, and can be made anew without any other being disturbed."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from optimizer.desk import worker
from optimizer.desk.worker import NEVER, Answered

__all__ = ["Hand"]

READY_WITHIN_S = 120
"""So long a process may take to load what it needs, on a machine that has much to do."""

ENDED = getattr(signal, "SIGKILL", signal.SIGTERM)

Heard = Callable[[int, Mapping[str, Any]], None]
"""Takes the number of a question and how far it is, in a thread of its own."""


def context() -> Any:
    """How processes are begun: from a small one that has loaded what they need, where the system has that."""
    there = multiprocessing.get_all_start_methods()
    found = multiprocessing.get_context("forkserver" if "forkserver" in there else "spawn")
    found.set_forkserver_preload(["optimizer.desk.warm"])
    return found


class Hand:
    """A worker process. `begin` and `renew` wait until it is at work, so they are called in a thread."""

    def __init__(self, made_by: Any, folder: Path, heard: Heard) -> None:
        self._made_by = made_by
        self._folder = folder
        self._heard = heard
        self._ending = made_by.RawValue("q", NEVER)
        self._pool: ProcessPoolExecutor | None = None
        self._process = 0

    def begin(self, catalog: str) -> None:
        """Begin a process and have it read a catalog (empty: none). Raises OSError, TimeoutError, BrokenExecutor where none comes
        up."""
        hears, tells = self._made_by.Pipe(duplex=False)
        begun = (str(self._folder), tells, self._ending)
        self._pool = ProcessPoolExecutor(1, mp_context=self._made_by, initializer=worker.begin, initargs=begun)
        self._process = self._pool.submit(worker.ready, catalog).result(READY_WITHIN_S)
        tells.close()  # by now the process has it, and the pipe ends with the process
        threading.Thread(target=self._listen, args=(hears,), daemon=True).start()

    def ask(self, number: int, words: Sequence[str]) -> Future[Answered]:
        """Ask a question. Its future raises BrokenExecutor where the process is lost."""
        assert self._pool is not None
        return self._pool.submit(worker.answered, number, tuple(words))

    def stop(self, number: int) -> None:
        """Have the process end a question with what it has, as Ctrl-C does at a terminal."""
        self._ending.value = number

    def end(self) -> None:
        """End the process now, whatever it is doing."""
        if self._process:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self._process, ENDED)
        self._process = 0
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)

    def _listen(self, hears: Connection) -> None:
        with contextlib.suppress(EOFError, OSError), hears:
            while True:
                self._heard(*hears.recv())
