"""Work that no worker process lives to load: whoever takes it in elsewhere than in the test itself ends at once."""

import multiprocessing
import os
from collections.abc import Mapping

if multiprocessing.current_process().name != "MainProcess":
    os._exit(9)


def never(shared: bytes, payload: Mapping[str, object]) -> Mapping[str, object]:
    """What no worker ever does."""
    raise AssertionError("a worker lived")
