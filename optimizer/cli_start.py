"""Where the installed command begins: Ctrl-C and SIGTERM are heard before anything is loaded that takes time."""

from __future__ import annotations

import os
import signal

from optimizer.exits import NOTHING_KNOWN, STOPPED

TYPE_CHECKING = False
if TYPE_CHECKING:  # as typing has it, which takes time to load
    from types import FrameType
    from typing import NoReturn

__all__ = ["entry"]


def entry() -> NoReturn:
    """Load the command and run it; its exit status is that of the process."""
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:  # a job in the background is not to hear it
        signal.signal(signal.SIGINT, _end)
    signal.signal(signal.SIGTERM, _end)
    from optimizer import cli

    cli.entry()


def _end(_number: int, _frame: FrameType | None) -> NoReturn:
    """End at once: nothing is known, and nothing is begun that would have to be put away."""
    try:  # noqa: SIM105  contextlib takes time to load
        os.write(2, f"{NOTHING_KNOWN}\n".encode())
    except OSError:
        pass
    os._exit(STOPPED)
