"""A file has its old content or its new one, whatever ends the one who writes it."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from optimizer.files import whole_file
from optimizer.files.whole_file import beside, put_in_place, write_whole

ROOT = Path(__file__).parents[2]

WRITER = """
import itertools, sys
from pathlib import Path
from optimizer.files.whole_file import write_whole
path = Path(sys.argv[1])
for n in itertools.count():
    write_whole([(path, b"%d\\n" % (n % 10) * 200_000)])
    print(n, flush=True)
"""
FULL = """
import resource, signal, sys
from pathlib import Path
from optimizer.files.whole_file import write_whole
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
folder = Path(sys.argv[1])
try:
    write_whole([(folder / "small", b"new"), (folder / "large", b"x" * 5000)])
except OSError as error:
    print(error.strerror)
"""


def started(code: str, *arguments: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-c", code, *arguments]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, env=os.environ | {"PYTHONPATH": str(ROOT)})


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a way to kill")
def test_killed_at_any_moment_the_file_is_whole(tmp_path: Path) -> None:
    """Ten kills at random moments among writes of 400 kB; what the killed one left behind stops nobody."""
    path, moments = tmp_path / "page.html", random.Random(5)
    for _ in range(10):
        writer = started(WRITER, str(path))
        assert writer.stdout is not None
        writer.stdout.readline()  # one is written
        time.sleep(moments.uniform(0.0, 0.03))
        writer.kill()
        writer.communicate(timeout=60)
        found = path.read_bytes()
        assert len(found) == 400_000
        assert found == found[:2] * 200_000
    write_whole([(path, b"whole")])
    assert path.read_bytes() == b"whole"


@pytest.mark.skipif(not hasattr(signal, "SIGXFSZ"), reason="needs a bound on the size of files")
def test_where_no_room_is_left_nothing_is_changed(tmp_path: Path) -> None:
    """A bound on the size of files fails as a full disk does: in the middle of a file."""
    (tmp_path / "small").write_text("old")
    writer = started(FULL, str(tmp_path))
    told, _ = writer.communicate(timeout=60)
    assert told.decode().strip() == "File too large"
    assert [(each.name, each.read_text()) for each in tmp_path.iterdir()] == [("small", "old")]


def test_what_a_killed_process_of_the_same_number_left_blocks_nobody(tmp_path: Path) -> None:
    """In a container every process may have the number 1."""
    (tmp_path / f".page.html.{os.getpid()}.part").write_bytes(b"half")
    write_whole([(tmp_path / "page.html", b"whole")])
    assert (tmp_path / "page.html").read_bytes() == b"whole"


def test_a_folder_in_the_place_of_one_file_leaves_all_as_they_were(tmp_path: Path) -> None:
    (tmp_path / "kit_1.txt").mkdir()
    with pytest.raises(IsADirectoryError):
        write_whole([(tmp_path / "kit_1.html", b"new"), (tmp_path / "kit_1.txt", b"new")])
    assert [each.name for each in tmp_path.iterdir()] == ["kit_1.txt"]


def test_a_name_of_the_greatest_length_is_written(tmp_path: Path) -> None:
    """255 bytes (NAME_MAX of Linux, <limits.h>): the file beside it must not have a longer name."""
    path = tmp_path / ("n" * 255)
    write_whole([(path, b"whole")])
    assert path.read_bytes() == b"whole"


def test_all_is_forced_to_the_disk_before_it_takes_the_place_of_the_old(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Content first, then the move, then the folder: a loss of power leaves the old file or the new one."""
    done: list[str] = []
    real_sync, real_move = os.fsync, os.replace
    monkeypatch.setattr(os, "fsync", lambda handle: (done.append("fsync"), real_sync(handle))[1])
    monkeypatch.setattr(os, "replace", lambda old, new: (done.append(Path(new).name), real_move(old, new))[1])
    monkeypatch.setattr(whole_file, "sync_folder", lambda folder: done.append(f"folder {folder.name}"))
    write_whole([(tmp_path / "a", b"1"), (tmp_path / "b", b"2")])
    assert done == ["fsync", "fsync", "a", "b", f"folder {tmp_path.name}"]
    done.clear()
    with beside(tmp_path / "c") as draft:
        draft.write_bytes(b"3")
        put_in_place(draft, tmp_path / "c", replaces=True)
    assert done == ["fsync", "c", f"folder {tmp_path.name}"]


def test_who_may_read_the_old_file_may_read_the_new_one_and_nobody_else(tmp_path: Path) -> None:
    (tmp_path / "bill.csv").write_text("old")
    (tmp_path / "bill.csv").chmod(0o600)
    write_whole([(tmp_path / "bill.csv", b"new")])
    assert (tmp_path / "bill.csv").stat().st_mode & 0o777 == 0o600


def test_what_came_there_meanwhile_is_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With second names of files, and on a file system that has none."""
    (tmp_path / "tank.toml").write_text("mine")
    for _ in range(2):
        with beside(tmp_path / "tank.toml") as draft:
            draft.write_text("new")
            with pytest.raises(FileExistsError):
                put_in_place(draft, tmp_path / "tank.toml", replaces=False)

        def none(*_: object) -> None:
            raise PermissionError

        monkeypatch.setattr(os, "link", none)
    assert [(each.name, each.read_text()) for each in tmp_path.iterdir()] == [("tank.toml", "mine")]
