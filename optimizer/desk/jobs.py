"""Questions that are being answered: two at once in processes of their own, each asked once however many wait for it.

A question lasts as long as somebody waits for it, and no longer than `MOST_S`: then it is stopped, which keeps the best so far. A
process that does not stop within `HARD_S`, or is lost, is made anew, and what it had in hand is asked once more, unless that
changes files. An answer for which files changed while it was worked out is asked for again.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import secrets
from collections import deque
from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, Literal

from optimizer.commands.streams import say
from optimizer.desk.folder import Forbidden
from optimizer.desk.hand import Hand, LostError, context
from optimizer.desk.words import writes
from optimizer.desk.worker import Answered
from optimizer.exits import BAD_INPUT, NOTHING_KNOWN, STOPPED

__all__ = ["Busy", "Job", "Jobs"]

AT_ONCE = 2
MOST_KEPT = 400
MOST_WAITING = 60
MOST_TRIES = 2
MOST_CHANGES = 3
"""So often a question is asked again since its files change while it is worked out."""

MOST_S = 900.0
HARD_S = 10.0
UNWAITED_S = 60.0
LOST_S = 30.0
"""So long it is not tried again to answer what has ended a process every time."""

LOOK_EACH_S = 0.5

Basis = Callable[[], str]
"""Gives the fingerprint of the files that a question hangs on."""


class Busy(Exception):
    """So many questions wait that no more are taken."""


@dataclass(slots=True, kw_only=True, eq=False)
class Job:
    """One question: the words of a command, and what is known of its answer by now. Its times are those of the event loop."""

    key: str
    number: int
    words: tuple[str, ...]
    basis: str
    fresh: Basis
    writes: bool
    state: Literal["waiting", "done", "lost"] = "waiting"
    far: Mapping[str, Any] = field(default_factory=dict)
    answer: Answered | None = None
    changed: asyncio.Event = field(default_factory=asyncio.Event)
    hand: Hand | None = None
    followers: int = 0
    seen_s: float = 0.0
    begun_s: float = 0.0
    stopped_s: float = 0.0
    done_s: float = 0.0
    tries: int = 0
    changes: int = 0
    abandoned: bool = False

    @property
    def command(self) -> str:
        """The command that says the same at a terminal."""
        import shlex

        return shlex.join(["fullbore", *self.words])

    @property
    def stopped(self) -> bool:
        """Whether it was ended before it was answered to the end."""
        return self.stopped_s > 0.0 and self.answer is not None and self.answer.status == STOPPED


class Jobs:
    """All questions of a desk. Made and used in its event loop only."""

    def __init__(self, folder: Path, catalog: str = "", at_once: int = AT_ONCE) -> None:
        self._loop = asyncio.get_running_loop()
        self._catalog = catalog
        self._made_by = context()
        self._idle: list[Hand] = []
        self._jobs: dict[str, Job] = {}
        self._waiting: deque[Job] = deque()
        self._count = 0
        self.closing = False
        self._tasks = {self._loop.create_task(self._watch())}
        self._hands = [Hand(self._made_by, folder, self._heard_in_thread) for _ in range(at_once)]
        for hand in self._hands:
            self._hire(hand)

    def ask(self, words: Sequence[str], basis: Basis) -> Job:
        """The question of a command, asked now unless it was before. ``basis`` is a fingerprint of the files it hangs on. What
        changes files is asked each time, and once. Raises Busy."""
        now, acts = basis(), writes(words)
        key = secrets.token_hex(16) if acts else hashlib.blake2b(json.dumps([now, *words]).encode(), digest_size=16).hexdigest()
        known = self._jobs.get(key)
        if known is not None and known.basis == now and not self._is_over(known):
            self._see(known)
            return known
        if self.closing or len(self._waiting) >= MOST_WAITING:
            raise Busy
        self._count += 1
        job = Job(key=key, number=self._count, words=tuple(words), basis=now, fresh=basis, writes=acts)
        self._jobs.pop(key, None)
        self._jobs[key] = job
        self._see(job)
        self._forget_old()
        self._waiting.append(job)
        self._hand_out()
        return job

    def get(self, key: str) -> Job | None:
        """A question by its key; None for one that is not known (any more)."""
        job = self._jobs.get(key)
        if job is not None:
            self._see(job)
        return job

    def stop(self, job: Job) -> None:
        """End a question with what it has: as Ctrl-C does at a terminal."""
        if job.state != "waiting" or job.stopped_s:
            return
        job.stopped_s = self._loop.time()
        if job.hand is not None:
            job.hand.stop(job.number)
        else:
            self._waiting.remove(job)
            self._done(job, Answered(status=STOPPED, text=NOTHING_KNOWN))

    def forget(self, job: Job) -> None:
        """Do not keep an answer: whoever asks next has it worked out anew."""
        if job.state != "waiting" and self._jobs.get(job.key) is job:
            del self._jobs[job.key]

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
        """The question each time that something new is known of it; the last time it is done, or the desk closes."""
        job.followers += 1
        try:
            while job.state == "waiting" and not self.closing:
                event = job.changed
                yield job
                await event.wait()
        finally:
            job.followers -= 1
            self._see(job)
        yield job

    async def anything(self, following: Sequence[Job], within_s: float) -> None:
        """Wait until something new is known of one of these questions, or so long."""
        news = [asyncio.ensure_future(job.changed.wait()) for job in following if job.state == "waiting"]
        try:
            await asyncio.wait(news, timeout=within_s, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for each in news:
                each.cancel()

    def end(self) -> None:
        """Take nothing more, and let go whoever waits."""
        self.closing = True
        for job in list(self._jobs.values()):
            if job.state == "waiting" and not job.writes:
                self.stop(job)
            self._tell(job)

    async def close(self, within_s: float = 1.0) -> None:
        """End all work; what changes files is waited for, since it takes no time."""
        self.end()
        writing = [job for job in self._jobs.values() if job.state == "waiting" and job.writes and job.hand is not None]
        until_s = self._loop.time() + within_s
        while any(job.state == "waiting" for job in writing) and self._loop.time() < until_s:
            await asyncio.sleep(0.02)
        for task in self._tasks:
            task.cancel()
        for hand in self._hands:
            hand.end()

    # -- processes ---------------------------------------------------------------------------------------------------

    def _hire(self, hand: Hand) -> None:
        task = self._loop.create_task(self._hired(hand))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _hired(self, hand: Hand) -> None:
        """Begin a process, again and again where none comes up: what waits is then ended by its time."""
        wait_s = 0.1
        while not self.closing:
            try:
                await asyncio.to_thread(hand.begin, self._catalog)
            except (OSError, EOFError):
                hand.end()
                await asyncio.sleep(wait_s)
                wait_s = min(2.0 * wait_s, 10.0)
            else:
                break
        if self.closing:
            hand.end()
            return
        self._idle.append(hand)
        self._hand_out()

    def _hand_out(self) -> None:
        while self._idle and self._waiting and not self.closing:
            job, hand = self._waiting.popleft(), self._idle.pop()
            job.hand, job.begun_s, job.tries = hand, self._loop.time(), job.tries + 1
            hand.ask(job.number, job.words).add_done_callback(partial(self._in_loop, self._take, job, hand))

    def _take(self, job: Job, hand: Hand, done: Future[Answered]) -> None:
        """Take in what came of a question, and give its process the next, or begin another in its place."""
        job.hand = None
        try:
            answer = done.result()
        except LostError:
            hand.end()
            self._hire(hand)
            self._lost(job)
        else:
            self._idle.append(hand)
            self._known(job, answer)
        self._hand_out()

    def _lost(self, job: Job) -> None:
        if job.stopped_s:
            self._done(job, Answered(status=STOPPED, text=NOTHING_KNOWN))
        elif job.writes:
            what = "The process that was to write was lost."
            self._done(job, _not_answered(what, "Look whether it is written before you do it again."), "lost")
        elif job.tries < MOST_TRIES:
            self._waiting.appendleft(job)
        else:
            what = "The process that worked on it was lost each time."
            self._done(job, _not_answered(what, "Ask for less, or ask at a terminal."), "lost")

    def _known(self, job: Job, answer: Answered) -> None:
        """Take in an answer; where files changed meanwhile it may be about both, so it is asked again."""
        if answer.mistake:
            say(f"{job.command}\n{answer.mistake}")
            answer = _not_answered("The program has made a mistake there.", "What it was is told where the desk was opened.")
        now = job.basis if job.writes else _now(job)
        if now != job.basis and job.changes < MOST_CHANGES and not job.stopped_s:
            job.basis, job.changes, job.tries = now, job.changes + 1, 0
            self._waiting.appendleft(job)
        else:
            job.basis = now
            self._done(job, answer)

    def _done(self, job: Job, answer: Answered, state: Literal["done", "lost"] = "done") -> None:
        job.answer, job.state, job.done_s = answer, state, self._loop.time()
        if job.abandoned:
            self.forget(job)
        self._tell(job)

    # -- times -------------------------------------------------------------------------------------------------------

    async def _watch(self) -> None:
        while True:
            await asyncio.sleep(LOOK_EACH_S)
            for job in list(self._jobs.values()):
                if job.state == "waiting":
                    self._look_at(job, self._loop.time())

    def _look_at(self, job: Job, now_s: float) -> None:
        if not (job.followers or job.writes or now_s - job.seen_s < UNWAITED_S):
            job.abandoned = True
            self.stop(job)
        elif job.hand is not None and now_s - job.begun_s > MOST_S:
            self.stop(job)
        if job.hand is not None and job.stopped_s and now_s - max(job.stopped_s, job.begun_s) > HARD_S:
            job.hand.end()

    def _see(self, job: Job) -> None:
        job.seen_s = self._loop.time()

    def _is_over(self, job: Job) -> bool:
        """Whether what is known of a question is no answer for whoever asks now."""
        return job.abandoned or (job.state == "lost" and self._loop.time() - job.done_s > LOST_S)

    def _forget_old(self) -> None:
        for old in list(self._jobs)[: max(len(self._jobs) - MOST_KEPT, 0)]:
            self.forget(self._jobs[old])

    # -- what is told ------------------------------------------------------------------------------------------------

    @staticmethod
    def _tell(job: Job) -> None:
        event, job.changed = job.changed, asyncio.Event()
        event.set()

    def _heard_in_thread(self, number: int, how: Mapping[str, Any]) -> None:
        self._in_loop(self._heard, number, how)

    def _in_loop(self, do: Callable[..., None], *what: object) -> None:
        try:
            self._loop.call_soon_threadsafe(do, *what)
        except RuntimeError:  # the desk is closed
            return

    def _heard(self, number: int, how: Mapping[str, Any]) -> None:
        for job in self._jobs.values():
            if job.number == number:
                job.far = how
                self._tell(job)


def _now(job: Job) -> str:
    """The fingerprint of the files of a question now; that of none where they cannot be read any more."""
    try:
        return job.fresh()
    except (OSError, Forbidden):
        return ""


def _not_answered(what: str, cure: str) -> Answered:
    problem = {"where": "desk", "file": "", "place": "desk", "what": what, "cure": cure}
    return Answered(status=BAD_INPUT, text=f"{what} {cure}", problems=(problem,))
