"""Work for pools of the tests: in a module of its own, so that worker processes can load it."""

import os
import time
from collections.abc import Mapping
from pathlib import Path


def squared(shared: bytes, payload: Mapping[str, object]) -> Mapping[str, object]:
    """The square of a number and what all share.

    ``ends_once``: a file that is not there yet is made and the process ends at once; ``ends_always``: it ends whenever it is
    asked; ``fails``: a ValueError; ``waits``: it writes its number into that folder and waits for ever.
    """
    once = payload.get("ends_once")
    if once and not Path(str(once)).exists():
        Path(str(once)).touch()
        os._exit(3)
    if payload.get("ends_always"):
        os._exit(3)
    if payload.get("fails"):
        raise ValueError("asked to fail")
    if payload.get("waits"):
        Path(str(payload["waits"]), str(os.getpid())).touch()
        while True:
            time.sleep(1.0)
    number = payload["number"]
    assert isinstance(number, int)
    return {"square": number * number, "shared": shared.decode()}
