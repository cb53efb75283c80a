"""Questions that are being answered: two at once in processes of their own, each asked once however many wait for it."""

from __future__ import annotations

import asyncio
import hashlib
import json
import multiprocessing
import threading
from collections.abc import AsyncIterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from optimizer.desk import worker
from optimizer.desk.worker import Answered

__all__ = ["Job", "Jobs"]

AT_ONCE = 2
MOST_KEPT = 400
MOST_ENDINGS = 64


@dataclass(slots=True, kw_only=True, eq=False)
class Job:
    """One question: the words of a command, and what is known of its answer by now."""

    key: str
    number: int
    words: tuple[str, ...]
    state: Literal["waiting", "done", "lost"] = "waiting"
    far: Mapping[str, Any] = field(default_factory=dict)
    answer: Answered | None = None
    changed: asyncio.Event = field(default_factory=asyncio.Event)

    @property
    def command(self) -> str:
        """The command that says the same at a terminal."""
        import shlex

        return shlex.join(["fullbore", *self.words])


class Jobs:
    """All questions of a desk. Made and used in its event loop only."""

    def __init__(self, folder: Path, at_once: int = AT_ONCE) -> None:
        context = multiprocessing.get_context(
            "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
        )
        self._loop = asyncio.get_running_loop()
        self._telling = context.Queue()
        self._endings = context.Array("q", MOST_ENDINGS)
        self._pool = ProcessPoolExecutor(
            at_once, mp_context=context, initializer=worker.begin, initargs=(str(folder), self._telling, self._endings)
        )
        self._jobs: dict[str, Job] = {}
        self._count = 0
        threading.Thread(target=self._listen, daemon=True).start()

    def ask(self, words: Sequence[str], basis: str) -> Job:
        """The question of a command, asked now unless it was before. ``basis`` is a fingerprint of the files it hangs on."""
        key = hashlib.blake2b(json.dumps([basis, *words]).encode(), digest_size=16).hexdigest()
        known = self._jobs.get(key)
        if known is not None and known.state != "lost":
            return known
        self._count += 1
        job = Job(key=key, number=self._count, words=tuple(words))
        self._jobs[key] = job
        for old in list(self._jobs)[: max(len(self._jobs) - MOST_KEPT, 0)]:
            if self._jobs[old].state == "done":
                del self._jobs[old]
        future = self._pool.submit(worker.answered, job.number, job.words)
        future.add_done_callback(lambda done: self._loop.call_soon_threadsafe(self._take, job, done))
        return job

    def get(self, key: str) -> Job | None:
        """A question by its key; None for one that is not known (any more)."""
        return self._jobs.get(key)

    def stop(self, job: Job) -> None:
        """End a question with what it has: as Ctrl-C does at a terminal."""
        self._endings[job.number % MOST_ENDINGS] = job.number

    async def until_known(self, job: Job, within_s: float) -> Answered | None:
        """The answer, waited for so long at most; None while it is not known."""
        try:
            async with asyncio.timeout(within_s):
                async for _ in self.follow(job):
                    pass
        except TimeoutError:
            return None
        return job.answer

    async def follow(self, job: Job) -> AsyncIterator[Job]:
        """The question each time that something new is known of it; the last time it is done."""
        while job.state == "waiting":
            event = job.changed
            yield job
            await event.wait()
        yield job

    def close(self) -> None:
        """End all work."""
        for job in self._jobs.values():
            if job.state == "waiting":
                self.stop(job)
        self._pool.shutdown(wait=False, cancel_futures=True)
        self._telling.put(None)

    def _take(self, job: Job, done: Future[Answered]) -> None:
        if done.cancelled() or done.exception() is not None:
            job.state = "lost"
        else:
            job.answer, job.state = done.result(), "done"
        self._tell(job)

    @staticmethod
    def _tell(job: Job) -> None:
        event, job.changed = job.changed, asyncio.Event()
        event.set()

    def _listen(self) -> None:
        """In a thread: hand over what workers tell."""
        while (told := self._telling.get()) is not None:
            self._loop.call_soon_threadsafe(self._heard, *told)

    def _heard(self, number: int, how: Mapping[str, Any]) -> None:
        for job in self._jobs.values():
            if job.number == number:
                job.far = how
                self._tell(job)
