"""HiGHS behind PuLP: it says nothing on the standard output, and Ctrl-C ends it."""

import os
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pulp

LISTEN_S = 0.1
"""So often it is looked whether a solver is done."""


@contextmanager
def silence() -> Iterator[None]:
    """Send what the solver's library writes to the process's standard output nowhere: it greets whatever it is told."""
    sys.stdout.flush()
    saved = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(saved, 1)
        os.close(nowhere)
        os.close(saved)


class Haltable(pulp.HiGHS):  # type: ignore[misc]
    """HiGHS in a thread of its own, so that Ctrl-C ends it: by itself it hears nothing until it is done."""

    def callSolver(self, lp: pulp.LpProblem) -> None:  # noqa: N802 -- PuLP calls it by this name
        """Run the solver on a program. Raises KeyboardInterrupt once it has come to a halt after Ctrl-C."""
        model = lp.solverModel
        model.HandleUserInterrupt = True
        thread = threading.Thread(target=_run, args=(model,), daemon=True)
        try:
            thread.start()
            while thread.is_alive():
                thread.join(LISTEN_S)
        except KeyboardInterrupt:
            model.cancelSolve()
            while thread in threading.enumerate():  # also when Ctrl-C came while it was started
                time.sleep(LISTEN_S)
            raise


def _run(model: Any) -> None:
    """Solve, then end the threads that HiGHS keeps for the next solve: left alone they end the whole process with an abort."""
    try:
        model.run()
    finally:
        model.resetGlobalScheduler(True)
