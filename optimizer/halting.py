"""What Ctrl-C and SIGTERM do, wherever the program is at that moment.

A press raises KeyboardInterrupt, which a search takes for its end: it answers with the best so far. Two places are spared.
While a library loads nothing is thrown into it, since code that is half set up can fail in any way; the press comes again a
moment later. And what is `held`, an answer that is known and on its way out, is finished first; pressing once more ends that too.
"""

from __future__ import annotations

import _thread
import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from types import FrameType

__all__ = ["heard", "held", "listen", "listening", "press", "pressed_since"]

IMPORTING = "<frozen importlib._bootstrap>"
AGAIN_S = 0.05
MOST_PUT_OFF = 400
"""So often a press is put off: some 20 s, longer than any library loads. A program that runs inside an import of its own would
otherwise never be stopped."""


@dataclass(slots=True)
class _Presses:
    """How often was pressed, how often since something was first held, and how often the last press was put off."""

    count: int = 0
    holding: int = 0
    while_held: int = 0
    put_off: int = 0


_PRESSES = _Presses()


def listen() -> None:
    """Take in Ctrl-C, unless it is ignored (a job in the background), and SIGTERM, until the process ends."""
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, press)
    signal.signal(signal.SIGTERM, press)


@contextlib.contextmanager
def listening() -> Iterator[None]:
    """Take in Ctrl-C for the time being; outside the main thread, where no signal is heard, this does nothing."""
    if not _hears() or signal.getsignal(signal.SIGINT) in (press, signal.SIG_IGN):
        yield
        return
    before = signal.signal(signal.SIGINT, press)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def pressed_since() -> Callable[[], bool]:
    """What tells whether something was pressed from now on, whatever became of it.

    >>> pressed_since()()
    False
    """
    before = _PRESSES.count
    return lambda: _PRESSES.count > before


@contextlib.contextmanager
def held() -> Iterator[Callable[[], bool]]:
    """Finish what is done here even when it is pressed; yields what tells whether it was. A second press ends it all the same."""
    pressed = pressed_since()
    if not _hears():
        yield pressed
        return
    _PRESSES.while_held = _PRESSES.while_held if _PRESSES.holding else 0
    _PRESSES.holding += 1
    try:
        yield pressed
    finally:
        _PRESSES.holding -= 1


@contextlib.contextmanager
def heard() -> Iterator[None]:
    """Inside of what is held, something long that may be left out: here a press acts at once. Raises KeyboardInterrupt when it
    was pressed before, so that it is not even begun."""
    if not _hears():
        yield
        return
    if _PRESSES.holding and _PRESSES.while_held:
        raise KeyboardInterrupt
    before, _PRESSES.holding = _PRESSES.holding, 0
    try:
        yield
    finally:
        _PRESSES.holding = before


def press(number: int, frame: FrameType | None) -> None:
    """What is done where it is pressed: the handler of both signals. Raises KeyboardInterrupt, unless it is put off."""
    again, _PRESSES.put_off = _PRESSES.put_off, 0
    if not again:
        _PRESSES.count += 1
    if _PRESSES.holding:
        _PRESSES.while_held += 1
        if _PRESSES.while_held == 1:
            return
    if again < MOST_PUT_OFF and _inside_import(frame):
        _PRESSES.put_off = again + 1
        later = threading.Timer(AGAIN_S, _thread.interrupt_main, (number,))
        later.daemon = True
        later.start()
        return
    raise KeyboardInterrupt


def _hears() -> bool:
    """Whether this is the thread that signals come to: what other threads do neither holds a press nor feels one."""
    return threading.current_thread() is threading.main_thread()


def _inside_import(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code.co_filename == IMPORTING:
            return True
        frame = frame.f_back
    return False
