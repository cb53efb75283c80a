"""What is said where something fails, when a desk ends by itself, and what is loaded before its first page."""

import asyncio
import importlib
import pkgutil
import subprocess
import sys

import pytest
from starlette.requests import Request

from optimizer.commands.options import NAME_FILES
from optimizer.commands.table import COMMANDS, command_of
from optimizer.desk import app, pages
from optimizer.desk.guards import Pulse


def test_a_mistake_of_the_program_is_told_where_the_desk_was_opened(capsys: pytest.CaptureFixture[str]) -> None:
    """The page says that nothing was saved, and nothing of what it was."""

    async def fail() -> bytes:
        try:
            raise RuntimeError("the cause")
        except RuntimeError as error:
            return bytes((await app._failed(Request({"type": "http"}), error)).body)

    said = asyncio.run(fail()).decode()
    assert "nothing was saved" in said and "the cause" not in said and "Traceback" not in said
    assert "RuntimeError: the cause" in capsys.readouterr().err


@pytest.mark.parametrize(("under_way", "stays", "ends"), [(0, False, True), (1, False, False), (0, True, False)])
def test_a_desk_that_nobody_asks_ends(monkeypatch: pytest.MonkeyPatch, under_way: int, stays: bool, ends: bool) -> None:
    """Not while a page listens, and not where it is to stay."""
    monkeypatch.setattr(app, "QUIET_S", 0.02)
    monkeypatch.setattr(app, "LOOK_EACH_S", 0.01)
    ended: list[bool] = []

    async def wait() -> None:
        over = None if stays else lambda: ended.append(True)
        try:
            await asyncio.wait_for(app._end_when_quiet(Pulse(under_way=under_way), over), 0.3)
        except TimeoutError:
            return

    asyncio.run(wait())
    assert bool(ended) is ends


def test_the_first_page_waits_for_no_numeric_library() -> None:
    """A process of its own loads what serves it."""
    heavy = {"numpy", "scipy", "networkx", "matplotlib", "pandas"}
    code = f"import sys, optimizer.desk.server; print({heavy!r} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout == "set()\n"


def test_every_page_is_found_by_itself_and_has_a_way_to_it() -> None:
    """A module of the room with its routes, no two of them alike."""
    names = [each.name for each in pkgutil.iter_modules(pages.__path__)]
    routes = [route for name in names for route in importlib.import_module(f"{pages.__name__}.{name}").ROUTES]
    ways = [(route.path, method) for route in routes for method in route.methods]
    assert len(ways) == len(set(ways)) and len(routes) > len(names)


def test_every_option_that_names_a_file_is_known_as_one() -> None:
    """What stands for other values in help texts is listed here, so that a new word has to be put on one side."""
    words = "AMOUNT N FLOW DAY TEXT SECTIONS TIME PARTS K QUANTILE PERCENT RATE SPEED SHARE VOLUME TIMES HEIGHT DEPTH WORDS NAME"
    words += " POWER LAWS WHAT NAMES ADDRESS ACTION KEY=VALUE PAGE WORD ABOUT COMMAND SIZES"
    found = {option.reads.get("metavar") for name in COMMANDS for option in command_of(name).options} - {None}
    assert found <= {*words.split(), *NAME_FILES}, found - {*words.split(), *NAME_FILES}
