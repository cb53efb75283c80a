"""Memory beside time: the most that a command, or a piece of work, keeps in memory at once, and the processor time it takes.

Both are those of a process of their own, so that nothing an earlier one has left counts. A process that starts a program hands
its own peak on to it (Linux keeps the mark over ``exec``): commands are therefore started by a small Python, work in a fork.
"""

import gc
import os
import pickle
import resource
import subprocess
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
MEGABYTE = 1e6
MAXRSS_BYTES = 1 if sys.platform == "darwin" else 1024
"""What one unit of the peak of a process is: bytes on macOS, KiB elsewhere."""

_STARTER = """
import os, subprocess, sys
started = subprocess.Popen(sys.argv[2:])
_, status, used = os.wait4(started.pid, 0)
with open(sys.argv[1], "w") as file:
    print(os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime, used.ru_maxrss, file=file)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """What something took: processor seconds and the peak of resident memory in MB (1e6 bytes), and what came of it: what the
    work returned, or the text that the command printed. ``status`` is the exit status of a command."""

    processor_s: float
    megabytes: float
    result: Any
    status: int = 0


def of_command(*arguments: str, timeout_s: float = 600.0) -> Spent:
    """What a Python with these arguments takes in all, its start included, run from the root of the repository.

    >>> of_command("-c", "print(len(bytes(50_000_000)))").result
    '50000000\\n'
    """
    with TemporaryDirectory() as folder:
        noted = Path(folder, "used")
        command = [sys.executable, "-I", "-S", "-c", _STARTER, str(noted), sys.executable, *arguments]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True, timeout=timeout_s)
        status, processor_s, peak = noted.read_text().split()
    megabytes = int(peak) * MAXRSS_BYTES / MEGABYTE
    return Spent(processor_s=float(processor_s), megabytes=megabytes, result=done.stdout, status=int(status))


def of_work(work: Callable[[], object]) -> Spent:
    """What a piece of work takes beyond what is there already (libraries, what it works on), in a fork of this process.

    What it returns comes back pickled, and that is not counted. What this process has freed and not given back is used first, so
    ask before anything large has been made and dropped, or ask `of_command`. Raises RuntimeError with the traceback of work that
    fails.

    >>> spent = of_work(lambda: len(bytearray(range(250)) * 400_000))
    >>> spent.result, 90 < spent.megabytes < 150
    (100000000, True)
    """
    gc.collect()
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        _work_in_child(work, writer)
    os.close(writer)
    with os.fdopen(reader, "rb") as pipe:
        sent = pipe.read()
    os.waitpid(child, 0)
    fault, told = pickle.loads(sent) if sent else ("the process of the work died", None)
    if fault:
        raise RuntimeError(fault)
    return Spent(**told)


def _work_in_child(work: Callable[[], object], writer: int) -> None:
    """Do the work, send what it took, and end without running what the parent has to do at its own end."""
    try:
        before, start = _peak(), process_time()
        result = work()
        told = {"processor_s": process_time() - start, "megabytes": (_peak() - before) / MEGABYTE, "result": result}
        sent = pickle.dumps(("", told))
    except BaseException:  # whatever it is, the parent raises it and this process must end here
        sent = pickle.dumps((traceback.format_exc(), None))
    with os.fdopen(writer, "wb") as pipe:
        pipe.write(sent)
    os._exit(0)


def _peak() -> int:
    """The most bytes this process ever had in memory; a fork begins with what it was given."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * MAXRSS_BYTES
