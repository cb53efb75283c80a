"""Property tests draw the same examples in every run, also on a busy machine; Ctrl-C can be pressed on what tests start; and the
tests themselves, which stay to the end, are not looked through for garbage again and again."""

import gc
import os
import signal

import pytest
from answered_once import answer_once
from hypothesis import settings

EXAMPLES = 100 if os.environ.get("FULLBORE_ALL_WORLDS") else 50
"""Of a property that does not say how many it wants; all where the environment asks for all worlds."""

settings.register_profile("same every time", derandomize=True, deadline=None, max_examples=EXAMPLES)
settings.load_profile("same every time")

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    # run as a job in the background, which hears no Ctrl-C, nor would the commands that tests start and press it on
    signal.signal(signal.SIGINT, signal.default_int_handler)

gc.disable()


def pytest_collection_finish() -> None:
    """Whatever is there once all tests are known stays there: a third of the time to collect them, and some of every test."""
    gc.freeze()
    gc.enable()


@pytest.fixture
def answered_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is asked of the interface is answered once a process, see `tests/worlds/answered_once.py`."""
    answer_once(monkeypatch)
