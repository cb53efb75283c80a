"""Many questions of the same sort solved by whoever is at hand: this process, a pool of processes, or a cluster.

Every solver of questions is used through the interface of `concurrent.futures`. Answers are sorted by the key of their
question and hang on nothing but the question, so the bytes that come out are the same whoever solved them, in whatever order.
What a lost worker had in hand is asked again in a fresh pool: once everything else is answered, first all that was in flight
together, then, should that pool die as well, one question at a time, so that the one question that ends its worker is found
and named.
"""

import contextlib
import logging
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Executor, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from typing import Any, Protocol

from optimizer.halting import listening, pressed_since
from optimizer.tanks.fingerprint import fingerprint

Payload = Mapping[str, object]
Answer = Mapping[str, object]
Work = Callable[[bytes, Payload], Answer]
"""A question's answer, from what all questions share (packed) and the question itself; a function of a module, so that it can
be sent."""

MOST_TRIES = 3
"""So often a question is asked whose worker was lost while it had it alone."""

ANSWERS_WITHIN_S = 10
"""So long a scheduler may take to answer at first."""

WORKERS_WITHIN_S = 60
"""So long a scheduler without any worker is waited at."""

LOOK_EACH_S = 2.0

EACH_IN_HAND, CLUSTER_IN_HAND = 3, 64
"""Questions handed out at once, to each process and to a cluster: few enough that little is asked again after a loss, enough
to keep workers busy."""


class Results(Protocol):
    """Where answers are kept between runs."""

    def get(self, key: str) -> Answer | None:
        """The answer of a key; None when it is not known."""

    def put(self, key: str, result: Answer) -> None:
        """Keep an answer."""


class Crew(Protocol):
    """Workers behind the interface of `concurrent.futures`, while they are at work. ``broken``: some of them were lost."""

    broken: bool

    @property
    def window(self) -> int:
        """How many questions may be handed out at once."""

    @property
    def lost(self) -> tuple[type[BaseException], ...]:
        """What a future raises when its worker was lost."""

    def submit(self, payload: Payload) -> "Future[Answer]":
        """Hand out a question."""

    def look(self) -> None:
        """Look after the workers, now and then while nothing comes back. Raises WorkerLostError when nothing will."""


Hire = Callable[[Work, bytes], contextlib.AbstractContextManager[Crew]]
"""Makes a crew for a sort of question and what all such questions share."""

Usable = Callable[[Payload, Answer], bool]
"""Tells whether an earlier result is an answer to a question."""

Said = Callable[[str], None]
"""Is told a line for whoever waits."""

Counted = Callable[[int, int], None]
"""Is told how many questions are answered, of how many."""


class WorkerLostError(RuntimeError):
    """Questions whose worker was lost every time they were asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SolvedTask:
    """Answers by the key of their question, in the order of the keys. Not ``complete``: it was stopped before all were known.

    ``asked`` counts the questions that were solved now and not taken from earlier results, ``refused`` those of them for which
    there was an earlier result of no use.
    """

    answers: Mapping[str, Answer]
    complete: bool
    asked: int
    refused: int = 0


def solve_all(
    work: Work,
    shared: bytes,
    questions: Mapping[str, Payload],
    hire: Hire,
    *,
    basis: str,
    results: Results | None = None,
    usable: Usable | None = None,
    counted: Counted | None = None,
) -> SolvedTask:
    """Answer all questions. ``basis`` is a fingerprint of ``shared``: with the question it makes the key of an earlier result,
    which is asked again where it is not ``usable``.

    Ctrl-C ends it with what is known by then. Raises WorkerLostError, once all others are answered, for questions that end
    every worker, and whatever ``work`` raises.
    """
    earlier = {} if results is None else _known(questions, basis, results)
    answers = {key: answer for key, answer in earlier.items() if usable is None or usable(questions[key], answer)}
    known = len(answers)

    def keep(key: str, answer: Answer) -> None:
        answers[key] = answer
        if results is not None:
            results.put(_stored(basis, questions[key]), answer)
        if counted is not None:
            counted(len(answers), len(questions))

    complete = True
    try:
        _ask(work, shared, {key: questions[key] for key in sorted(questions) if key not in answers}, hire, keep)
    except KeyboardInterrupt:
        complete = False
    return SolvedTask(
        answers={key: answers[key] for key in sorted(answers)},
        complete=complete,
        asked=len(answers) - known,
        refused=len(earlier) - known,
    )


def _stored(basis: str, payload: Payload) -> str:
    return fingerprint(basis, payload)


def _known(questions: Mapping[str, Payload], basis: str, results: Results) -> dict[str, Answer]:
    found = {key: results.get(_stored(basis, payload)) for key, payload in questions.items()}
    return {key: answer for key, answer in found.items() if answer is not None}


def _ask(work: Work, shared: bytes, todo: Mapping[str, Payload], hire: Hire, keep: Callable[[str, Answer], None]) -> None:
    """Ask everything. What was in flight when a worker was lost is put aside, asked again together, and then one by one."""
    suspects: dict[str, Payload] = {}
    barren = 0
    while todo:
        with hire(work, shared) as crew:
            lost, waiting = _lot(crew, todo, keep)
        suspects |= lost
        barren = barren + 1 if len(lost) + len(waiting) == len(todo) else 0
        if barren == MOST_TRIES:
            raise WorkerLostError(f"the workers were lost {MOST_TRIES} times in a row before they answered anything")
        todo = waiting
    if suspects:
        with hire(work, shared) as crew:
            lost, waiting = _lot(crew, suspects, keep)
        suspects = {**lost, **waiting}
    deadly = []
    for key, payload in sorted(suspects.items()):
        for _ in range(MOST_TRIES):
            with hire(work, shared) as crew:
                lost, waiting = _lot(crew, {key: payload}, keep)
            if not lost and not waiting:
                break
        else:
            deadly.append(key)
    if deadly:
        raise WorkerLostError(f"the worker was lost each of {MOST_TRIES} times that it was asked {'; '.join(deadly)}")


def _lot(
    crew: Crew, todo: Mapping[str, Payload], keep: Callable[[str, Answer], None]
) -> tuple[dict[str, Payload], dict[str, Payload]]:
    """Hand out questions, a window of them at a time, and take in answers; once a worker is lost nothing more is handed out.

    Returns the questions that were lost with it, and those that were still waiting.
    """
    waiting = dict(todo)
    lost: dict[str, Payload] = {}
    flying: dict[Future[Answer], str] = {}
    try:
        while flying or (waiting and not lost):
            while waiting and len(flying) < crew.window and not lost:
                key = next(iter(waiting))
                try:
                    flying[crew.submit(waiting[key])] = key
                    del waiting[key]
                except crew.lost:
                    lost[key] = waiting.pop(key)
            done = wait(flying, LOOK_EACH_S, FIRST_COMPLETED).done if flying else set()
            if flying and not done:
                crew.look()
            for future in sorted(done, key=flying.__getitem__):
                key = flying.pop(future)
                try:
                    keep(key, future.result())
                except crew.lost:
                    lost[key] = todo[key]
    except BaseException:
        for future in flying:
            future.cancel()
        raise
    crew.broken = crew.broken or bool(lost)
    return lost, waiting


@contextlib.contextmanager
def kept_on(hire: Hire) -> Iterator[Hire]:
    """The same crew for one lot of questions after the other, as long as they share work and all that is shared, until a
    worker is lost: starting workers lasts as long as many a question."""
    with contextlib.ExitStack() as stack:
        there: list[Crew] = []

        @contextlib.contextmanager
        def same(work: Work, shared: bytes) -> Iterator[Crew]:
            if not there:
                there.append(stack.enter_context(hire(work, shared)))
            yield there[0]
            if there[0].broken:
                there.clear()
                stack.close()

        yield same


# -- crews ---------------------------------------------------------------------------------------------------------


class _Here(Executor):
    """An executor that does the work when it is handed out. A search ends with what it has at Ctrl-C: that is no answer, so what
    was pressed meanwhile is asked about."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> "Future[Any]":
        done: Future[Any] = Future()
        pressed = pressed_since()
        try:
            done.set_result(fn(*args, **kwargs))
        except Exception as error:
            done.set_exception(error)
        if pressed():
            raise KeyboardInterrupt
        return done


@dataclass(slots=True, kw_only=True)
class _Hands:
    """A crew that hands a function of the question to an executor."""

    executor: Executor
    ask: Callable[..., Answer]
    first: tuple[object, ...] = ()
    window: int = 1
    lost: tuple[type[BaseException], ...] = (BrokenExecutor, CancelledError)
    broken: bool = False

    def submit(self, payload: Payload) -> "Future[Answer]":
        """Hand out a question."""
        try:
            return self.executor.submit(self.ask, *self.first, payload)
        except (OSError, EOFError) as error:
            # a process that was killed while it was born: what it should have read finds nobody
            raise BrokenExecutor(f"a worker could not be started: {error}") from error

    def look(self) -> None:
        """A lost process is heard from what it had in hand."""


@contextlib.contextmanager
def in_this_process(work: Work, shared: bytes) -> Iterator[Crew]:
    """A crew of one: this process."""
    with listening():
        yield _Hands(executor=_Here(), ask=work, first=(shared,))


def processes(workers: int) -> Hire:
    """A pool of so many processes on this machine; each takes in what the questions share once. Raises ValueError for none."""
    if workers < 1:
        raise ValueError("there must be at least one worker")

    @contextlib.contextmanager
    def hire(work: Work, shared: bytes) -> Iterator[Crew]:
        how = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
        context = multiprocessing.get_context(how)
        with ProcessPoolExecutor(workers, mp_context=context, initializer=_begin, initargs=(work, shared)) as pool:
            try:
                yield _Hands(executor=pool, ask=_answered, window=EACH_IN_HAND * workers)
            except BaseException:
                # what is under way is soon done; nothing else is begun
                pool.shutdown(wait=True, cancel_futures=True)
                raise

    return hire


_SHARED: list[tuple[Work, bytes]] = []
"""In a worker process: what it is there for."""


def _begin(work: Work, shared: bytes) -> None:
    # Ctrl-C goes to all processes of a terminal: the one that hands out the work decides what becomes of it
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _SHARED[:] = [(work, shared)]


def _end_with_parent() -> None:
    """Wait until the process that hands out the work is gone, killed perhaps, and then end: nobody would ever tell this one."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _answered(payload: Payload) -> Answer:
    ((work, shared),) = _SHARED
    return work(shared, payload)


@dataclass(slots=True, kw_only=True)
class _ClusterHands(_Hands):
    """A crew at a scheduler. ``alone_since_s`` is when it was first found without any worker (None: it has some)."""

    workers: Callable[[], int]
    said: Said
    alone_since_s: float | None = None

    def look(self) -> None:
        """Wait for workers with a word, and for no longer than `WORKERS_WITHIN_S`. Raises WorkerLostError."""
        now = time.monotonic()
        if self.workers():
            self.alone_since_s = None
        elif self.alone_since_s is None:
            self.alone_since_s = now
            self.said(f"The scheduler has no worker left: waiting up to {WORKERS_WITHIN_S} s for one.")
        elif now - self.alone_since_s >= WORKERS_WITHIN_S:
            raise WorkerLostError(f"the scheduler has had no worker for {WORKERS_WITHIN_S} s")


def cluster(address: str, said: Said = lambda _: None) -> Hire:
    """The workers of a Dask cluster, through the `concurrent.futures` interface of its client (extra ``cluster``). ``said`` is
    told in a line what is waited for.

    Raises ModuleNotFoundError when the library is not installed, OSError when nothing answers at the address, WorkerLostError
    when no worker comes.
    """

    @contextlib.contextmanager
    def hire(work: Work, shared: bytes) -> Iterator[Crew]:
        from distributed import Client, KilledWorker  # an optional extra

        made = Client(address, timeout=ANSWERS_WITHIN_S, set_as_default=False)  # type: ignore[no-untyped-call]
        with _library_quiet(), made as client:

            def workers() -> int:
                try:
                    return len(client.scheduler_info()["workers"])
                except OSError:
                    return 1  # that the scheduler is lost is heard from what was handed out

            if not workers():
                said(f"No worker is at the scheduler: waiting up to {WORKERS_WITHIN_S} s for one.")
                _awaited(client)
            packed = client.scatter(shared, broadcast=True, hash=False)
            yield _ClusterHands(
                executor=client.get_executor(pure=False),
                ask=work,
                first=(packed,),
                window=CLUSTER_IN_HAND,
                lost=(KilledWorker, BrokenExecutor, CancelledError),
                workers=workers,
                said=said,
            )

    return hire


def _awaited(client: Any) -> None:
    """Wait until one worker is there. Raises WorkerLostError."""
    try:
        client.wait_for_workers(1, timeout=WORKERS_WITHIN_S)
    except TimeoutError as error:
        raise WorkerLostError(f"no worker came to the scheduler within {WORKERS_WITHIN_S} s") from error


@contextlib.contextmanager
def _library_quiet() -> Iterator[None]:
    """Keep what the library logs of a lost scheduler or worker to itself: whoever is to know is told in a line of ours."""
    handlers = [handler for name in ("distributed", "tornado") for handler in logging.getLogger(name).handlers]
    before = [handler.level for handler in handlers]
    for handler in handlers:
        handler.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for handler, level in zip(handlers, before, strict=True):
            handler.setLevel(level)
