"""A desk as a process: how it begins and ends, and what is left where it is ended in the middle of something."""

import contextlib
import http.client
import os
import random
import re
import signal
import subprocess
import sys
import threading
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from desk_at_work import AtWork, Reply, at_work, with_demo
from how_many import some_of

from optimizer.desk.app import BUSY
from optimizer.desk.folder import ABSENT, Folder

RIG = "parts_demo/rigs/nano_60.toml"


@pytest.fixture
def alone(tmp_path: Path) -> Iterator[AtWork]:
    """A desk over the demo, to be ended."""
    with at_work(with_demo(tmp_path)) as found:
        yield found


def _workers(desk: AtWork) -> set[int]:
    """Numbers of all processes that a desk has begun, and that are there."""
    lines = subprocess.run(["ps", "-eo", "pid,ppid,stat"], capture_output=True, text=True, check=True).stdout.splitlines()[1:]
    rows = [(int(pid), int(parent)) for pid, parent, state in map(str.split, lines) if not state.startswith("Z")]
    found, before = {desk.process.pid}, set[int]()
    while found != before:
        before = set(found)
        found |= {pid for pid, parent in rows if parent in found}
    return found - {desk.process.pid}


def _until(holds: Callable[[], bool], within_s: float = 30.0) -> bool:
    until_s = time.monotonic() + within_s
    while not holds() and time.monotonic() < until_s:
        time.sleep(0.05)
    return holds()


def _is_there(process: int) -> bool:
    with contextlib.suppress(ProcessLookupError, FileNotFoundError):
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    return False


def _save(desk: AtWork, name: str, content: str, seen: str) -> Reply:
    return desk.post("/keep", {"name": name, "content": content, "seen": seen, "back": "/"})


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_press_ends_it_while_a_question_is_worked_out_and_a_page_listens(alone: AtWork, number: int) -> None:
    """With status 0, and no process left."""
    page = alone.get(f"/measure/{RIG}").text
    keys = re.findall(r"/asked/([0-9a-f.]+)/events", page)
    assert keys
    listens = threading.Thread(target=alone.get, args=(f"/asked/{keys[0]}/events",))
    listens.start()
    workers = _workers(alone)
    assert workers
    alone.process.send_signal(number)
    assert alone.process.wait(30) == 0
    listens.join(30)
    assert _until(lambda: not any(map(_is_there, workers)))


def test_a_port_that_is_taken_is_one_problem(desk: AtWork) -> None:
    """And no traceback."""
    port = urlsplit(desk.origin).port
    command = [sys.executable, "-m", "optimizer", "desk", str(desk.folder), "--no-browser", "--port", str(port)]
    ended = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert ended.returncode == 1 and "--port" in ended.stderr and "Traceback" not in ended.stderr


def test_both_texts_are_shown_to_whoever_saves_second(alone: AtWork) -> None:
    """Neither is lost; what is decided is saved, unless the file was changed once more."""
    path = alone.folder / "t.toml"
    files = Folder(alone.folder)
    assert _save(alone, "t.toml", "mine = 1\r\n", ABSENT).status == 303
    assert path.read_bytes() == b"mine = 1\n"
    seen = files.version("t.toml")
    path.write_text("theirs = '<b>\"&'\n")
    both = _save(alone, "t.toml", "mine = '</textarea><script>'\n", seen)
    assert both.status == 409 and path.read_text() == "theirs = '<b>\"&'\n"
    assert "theirs = &#39;&lt;b&gt;" in both.text and "mine = &#39;&lt;/textarea&gt;&lt;script&gt;" in both.text
    now = re.search(r'name="seen" value="([0-9a-f]+)"', both.text)
    assert now is not None and now[1] == files.version("t.toml")
    path.unlink()
    gone = _save(alone, "t.toml", "mine = 2\n", now[1])
    assert gone.status == 409 and 'name="seen" value="absent"' in gone.text
    assert _save(alone, "t.toml", "mine = 2\n", ABSENT).status == 303 and path.read_text() == "mine = 2\n"
    for name in ("../t.toml", "/etc/passwd", ".t.toml", ""):
        refused = _save(alone, name, "x", ABSENT)
        assert refused.status == 403 and "Nothing was saved" in refused.text
    os.chmod(alone.folder, 0o500)
    try:
        if os.geteuid():  # the system lets its keeper write everywhere
            assert "Nothing was saved" in _save(alone, "new.toml", "x", ABSENT).text
            assert alone.get("/").status == 200
    finally:
        os.chmod(alone.folder, 0o700)


def test_a_conflict_is_settled_by_mouse_and_by_keyboard(
    desk: AtWork, opened: Callable[..., Any], grave_faults: Callable[[Any], list[str]]
) -> None:
    """At every width, without scripts, and by everybody."""
    path = desk.folder / "conflict.toml"
    for width, scripts in ((390, True), (800, False), (1400, True)):
        path.write_text("theirs = 1\n")
        tab = opened(desk, "/", width, scripts=scripts)
        tab.set_content(
            f'<form method="post" action="/keep"><input name="token" value="{desk.token}">'
            '<input name="name" value="conflict.toml"><input name="seen" value="absent">'
            '<input name="back" value="/"><textarea name="content">mine = 1</textarea>'
            "<button>Save</button></form>"
        )
        tab.locator("button").click()
        assert tab.locator("h1").inner_text() == "Changed meanwhile"
        assert tab.evaluate("document.documentElement.scrollWidth") <= width
        if scripts:
            assert grave_faults(tab) == []
            tab.locator("textarea[name=content]").fill("mine = 1\ntheirs = 1\n")
            tab.get_by_role("button", name="Keep mine").click()
        else:
            tab.locator("textarea[name=content]").focus()
            for key in ("Control+End", "Enter", "t", "Tab", "Enter"):
                tab.keyboard.press(key)
        tab.wait_for_url(desk.origin + "/")
        assert path.read_text() == ("mine = 1\ntheirs = 1\n" if scripts else "mine = 1\nt")
    path.unlink()


def test_requests_while_files_change_underneath(alone: AtWork) -> None:
    """No traceback, no mistake of the program, and every text that was confirmed was seen by whoever saved next."""
    rigs = alone.folder / "parts_demo" / "rigs"
    texts = [(rigs / name).read_text() for name in ("nano_60.toml", "barbs_96.toml")]
    stop = threading.Event()

    def edit() -> None:
        draw = random.Random(1)
        while not stop.is_set():
            name = rigs / f"changing_{draw.randrange(3)}.toml"
            does = draw.randrange(4)
            with contextlib.suppress(FileNotFoundError):
                if does == 0:
                    name.unlink()
                elif does == 1:
                    name.write_text(draw.choice(texts)[: draw.randrange(2000)])
                else:
                    other = name.with_suffix(".tmp")
                    other.write_text(draw.choice(texts))
                    os.replace(other, name)
            time.sleep(0.002)

    editor = threading.Thread(target=edit)
    editor.start()
    token, draw = alone.token, random.Random(2)
    try:
        for _ in some_of(range(1000), 25):
            name = f"parts_demo/rigs/changing_{draw.randrange(3)}.toml"
            does = draw.randrange(4)
            if does == 0:
                fields = {"token": token, "name": name, "content": draw.choice(texts), "seen": draw.choice(["absent", "0" * 32])}
                reply = alone.post("/keep", fields)
            elif does == 1:
                reply = alone.get(f"/measure/{name}")
            else:
                reply = alone.get("/")
            # as many questions at once as nobody asks are told that they are too many
            assert reply.status in (200, 303, 404, 409, 422) or (reply.status == 503 and BUSY in reply.text), reply.text
            assert "Traceback" not in reply.text
    finally:
        stop.set()
        editor.join()


def test_a_desk_that_is_killed_loses_nothing_that_was_confirmed(tmp_path: Path) -> None:
    """At a random moment while it saves and enters: every text is whole, what was confirmed is there, and its workers end."""
    folder, draw = with_demo(tmp_path), random.Random(3)
    confirmed = -1
    for _ in some_of(range(100), 34):
        with at_work(folder) as desk:
            confirmed = _until_killed(desk, confirmed, draw)
            whole = tomllib.loads((folder / "count.toml").read_text()) if (folder / "count.toml").exists() else {"n": -1}
            assert whole["n"] in (confirmed, confirmed + 1)
            assert whole["n"] < 0 or len(whole["more"]) == 50_000
            confirmed = whole["n"]


def _until_killed(desk: AtWork, confirmed: int, draw: random.Random) -> int:
    """The last number that was confirmed by a desk which is killed while numbers are saved, a question is worked out, and a page
    listens; all of its processes are gone then."""
    workers: set[int] = set()
    timer = threading.Timer(draw.uniform(0.0, 0.6), lambda: (workers.update(_workers(desk)), desk.process.kill()))
    token, files = desk.token, Folder(desk.folder)
    with contextlib.suppress(OSError, http.client.HTTPException):
        desk.get(f"/measure/{RIG}")
    timer.start()
    try:
        while True:
            n = confirmed + 1
            content = f'n = {n}\nmore = "{str(n % 10) * 50_000}"\n'
            fields = {"token": token, "name": "count.toml", "content": content, "seen": files.version("count.toml")}
            reply = desk.post("/keep", fields)
            assert reply.status == 303, reply.text
            confirmed = n
    except (OSError, http.client.HTTPException):
        pass
    timer.join()
    desk.process.wait(30)
    assert _until(lambda: not any(map(_is_there, workers)))
    return confirmed
