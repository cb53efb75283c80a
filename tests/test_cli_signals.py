"""Ctrl-C and SIGTERM at every stage: one line before anything is known, the known answer after it, never a traceback."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimizer import halting
from optimizer.cli import main
from optimizer.exits import NOTHING_KNOWN

ROOT = Path(__file__).parents[1]
NANO = "parts_demo/rigs/nano_60.toml"

Capture = pytest.CaptureFixture[str]

PRESSED = """
import os, signal, sys

number, at = getattr(signal, sys.argv[1]), sys.argv[2]

class Presses:
    # pressed when a module begins to load, or when a function is called for the n-th time
    def find_spec(self, name, path=None, target=None):
        global at
        if name == at:
            at = ""
            os.kill(os.getpid(), number)

def pressing(holder, name, times):
    real, left = getattr(holder, name), [times]
    def presses(*args, **more):
        left[0] -= 1
        if left[0] == 0:
            os.kill(os.getpid(), number)
        return real(*args, **more)
    setattr(holder, name, presses)

sys.meta_path.insert(0, Presses())
if at.startswith("call "):
    import importlib
    _, module, names, times = at.split()
    holder = importlib.import_module(module)
    *inner, last = names.split(".")
    for each in inner:
        holder = getattr(holder, each)
    pressing(holder, last, int(times))
sys.argv = ["fullbore", *sys.argv[3:]]
from optimizer.cli_start import entry
entry()
"""


def pressed(number: str, at: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    """What becomes of a command that is pressed when it loads a module, or calls a function."""
    command = [sys.executable, "-c", PRESSED, number, at, *arguments]
    return subprocess.run(
        command, cwd=ROOT, capture_output=True, text=True, timeout=300, check=False, env=os.environ | {"PYTHONPATH": str(ROOT)}
    )


@pytest.mark.parametrize(
    ("number", "module"),
    [
        ("SIGINT", "argparse"),
        ("SIGINT", "optimizer.commands.drawn"),
        ("SIGINT", "numpy.linalg._umath_linalg"),
        ("SIGINT", "numpy._core._multiarray_umath"),
        ("SIGTERM", "argparse"),
        ("SIGTERM", "numpy.linalg._umath_linalg"),
    ],
)
def test_while_a_library_loads_one_line_is_said(module: str, number: str) -> None:
    """From the very first module on, and in the middle of those that are written in C."""
    done = pressed(number, module, "best", NANO)
    assert (done.returncode, done.stdout, done.stderr) == (3, "", f"{NOTHING_KNOWN}\n")


@pytest.mark.parametrize("times", [1, 3])
@pytest.mark.parametrize("more", [(), ("--interval", "30d")])
def test_the_loop_as_it_is_and_the_best_for_nothing_are_not_told_by_half(times: int, more: tuple[str, ...]) -> None:
    """Their searches come first. Stopped in one of them, the answer was told as whole and proved, with 164 l/h for now where
    158 flow; a press that comes late, since a library was loading, lands there too."""
    done = pressed("SIGTERM", f"call optimizer.search.exact Exact.least_loss {times}", "best", NANO, *more)
    assert (done.returncode, done.stdout, done.stderr) == (3, "", f"{NOTHING_KNOWN}\n")


@pytest.mark.parametrize("number", ["SIGINT", "SIGTERM"])
def test_a_search_that_is_stopped_answers_with_its_best(number: str) -> None:
    """The eighth question of the search: by then it has found bundles."""
    done = pressed(number, "call optimizer.search.exact Exact.least_loss 8", "best", NANO, "--json")
    assert (done.returncode, done.stderr) == (3, "")
    told = json.loads(done.stdout)
    assert told["status"] == "stopped" and told["best"]["flow_m3s"] > 0.0


@pytest.mark.parametrize(
    ("at", "more"),
    [
        ("optimizer.report.text", ()),
        ("call optimizer.answers.question head_shares 1", ()),
        ("call optimizer.answers.question head_shares 1", ("--interval", "30d")),
    ],
)
def test_an_answer_that_is_known_is_given(at: str, more: tuple[str, ...]) -> None:
    """Pressed while it is put into words; nothing is left to do then, so it is as good as ever."""
    done = pressed("SIGTERM", at, "best", NANO, "--quiet", *more)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Proved: none of" in done.stdout


def test_a_page_that_is_not_drawn_leaves_the_answer(tmp_path: Path) -> None:
    page, bill = tmp_path / "tank.html", tmp_path / "bill.csv"
    done = pressed("SIGINT", "matplotlib", "best", NANO, "--quiet", "--report", str(page), "--csv", str(bill))
    assert done.returncode == 3
    assert "Proved: none of" in done.stdout
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith(f"--report: {page} is not written: stopped before it was drawn.\n")
    assert list(tmp_path.iterdir()) in ([], [bill])


def at_home(monkeypatch: pytest.MonkeyPatch, holder: str, name: str, when: Callable[..., bool] = lambda *_, **__: True) -> None:
    """Press once when a function is called."""
    monkeypatch.chdir(ROOT)
    module = __import__(holder, fromlist=[name])
    real, left = getattr(module, name), [1]

    def presses(*args: Any, **more: Any) -> Any:
        if left[0] and when(*args, **more):
            left[0] = 0
            signal.raise_signal(signal.SIGINT)
        return real(*args, **more)

    monkeypatch.setattr(module, name, presses)


def test_bundles_are_known_without_the_bands_that_were_being_drawn(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    at_home(monkeypatch, "optimizer.bands.band", "draw")
    assert main(["best", NANO, "--bands", "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    assert told["band"] is None and told["candidates"] and told["status"] == "stopped"


@pytest.mark.parametrize(
    ("holder", "name", "more"),
    [
        ("optimizer.answers.alternatives", "alternative", ["--alternatives", "2"]),
        ("optimizer.answers.bands", "alternative", ["--bands"]),
        ("optimizer.answers.order", "change_lines", ["--order"]),
        ("optimizer.answers.question", "bill_lines", []),
    ],
)
def test_what_was_found_is_put_into_words(
    holder: str, name: str, more: list[str], monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """Pressed after the search and before a word of the answer: what was searched for is told, whole or as stopped."""
    at_home(monkeypatch, holder, name)
    status = main(["best", NANO, *more, "--json"])
    out, err = capsys.readouterr()
    assert status in (0, 3) and err == ""
    told = json.loads(out)
    assert told.get("best") or told.get("alternatives") or told.get("candidates")


def test_a_front_that_is_known_is_told_whole(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    at_home(monkeypatch, "optimizer.answers.front", "row")
    assert main(["front", NANO, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["complete"] is True


def test_a_second_press_ends_what_is_held() -> None:
    with halting.listening():
        with halting.held() as known:
            assert not known()
            signal.raise_signal(signal.SIGINT)
            assert known()
            with pytest.raises(KeyboardInterrupt), halting.heard():
                raise AssertionError("begun though it was pressed before")
            with pytest.raises(KeyboardInterrupt):
                signal.raise_signal(signal.SIGINT)
        with halting.held(), halting.heard(), pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_what_another_thread_holds_holds_nothing() -> None:
    """Signals come to the main thread only; a program may ask for answers in others."""
    inside, leave = threading.Event(), threading.Event()

    def holds() -> None:
        with halting.held(), halting.heard(), halting.held():
            inside.set()
            leave.wait(60)

    other = threading.Thread(target=holds)
    other.start()
    try:
        assert inside.wait(60)
        with halting.listening(), pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    finally:
        leave.set()
        other.join(60)


def test_an_entry_that_is_in_the_log_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    """Pressed while it is on its way to the disk: whoever were told of no answer would enter it twice."""
    at_home(monkeypatch, "optimizer.measure.log", "append_line")
    assert main(["log", str(tmp_path / "tank.log"), "--cleaned", "everything", "--date", "2026-03-01"]) == 0
    assert "2026-03-01" in capsys.readouterr().out
    assert (tmp_path / "tank.log").read_bytes().count(b"\n") == 1


def closed(command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["sh", "-c", command], cwd=ROOT, capture_output=True, text=True, timeout=300, check=False)


def test_with_standard_error_closed_the_answer_is_given(tmp_path: Path) -> None:
    """`fullbore ... 2>&-`: Python then has no standard error at all, and the next file that is opened would take its place."""
    run = f"{sys.executable} -m optimizer best {NANO} --quiet --csv {tmp_path / 'bill.csv'} 2>&-"
    done = closed(run)
    assert done.returncode == 0
    assert "Proved: none of" in done.stdout
    assert (tmp_path / "bill.csv").read_bytes().startswith(b"\xef\xbb\xbfproduct,")
    assert closed(f"{sys.executable} -m optimizer best no_such_tank.toml 2>&-").returncode == 1
    assert closed(f"{sys.executable} -m optimizer worst 2>&-").returncode == 1
