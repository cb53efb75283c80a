"""Files that change together: whatever ends the process, and whenever, what is read next is all of the old or all of the new."""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path
from typing import Any

import pytest

from optimizer.errors import InputError
from optimizer.files import together, whole_file
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.together import finish_moves, write_together

CLAMPS = "id,name,price,low_mm,high_mm\n{},clamp,1.50,20,24\n"
PUMPS = "id,name,price,power_w,noise_dba,inlet,outlet\n"


class Killed(BaseException):
    """Stands for the end of the process."""


def shop(folder: Path) -> Path:
    folder.mkdir()
    (folder / "pumps.csv").write_text(PUMPS)
    (folder / "clamps.csv").write_text(CLAMPS.format("OLD"))
    (folder / "seals.csv").write_text("id,name,price,closure\nGOES,washer,0.30,washer\n")
    return folder


NEW: dict[str, bytes | None] = {
    "clamps.csv": CLAMPS.format("NEW").encode(),
    "about.toml": b'currency = "EUR"\n',
    "seals.csv": None,
}
OLD_IDS, NEW_IDS = {"OLD", "GOES"}, {"NEW"}


def killing_after(calls: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every step that changes a folder count, and end the process in front of the next one after so many."""
    left = [calls]

    def counted(function: Any) -> Any:
        def step(*args: Any, **more: Any) -> Any:
            if left[0] == 0:
                raise Killed
            left[0] -= 1
            return function(*args, **more)

        return step

    monkeypatch.setattr(os, "replace", counted(os.replace))
    monkeypatch.setattr(Path, "unlink", counted(Path.unlink))


STEPS = tuple(range(14))


@pytest.mark.parametrize("calls", STEPS)
def test_a_kill_at_any_step_leaves_the_old_catalog_or_the_new_one(tmp_path: Path, calls: int) -> None:
    """The reader finishes what was decided, and knows nothing of what was not."""
    folder = shop(tmp_path / "shop")
    with pytest.MonkeyPatch.context() as monkeypatch:
        killing_after(calls, monkeypatch)
        try:
            write_together(folder, NEW)
            done = True
        except Killed:
            done = False
    catalog = read_catalog(folder)
    assert set(catalog.parts) in ((NEW_IDS,) if done else (OLD_IDS, NEW_IDS))
    assert catalog.currency == ("EUR" if set(catalog.parts) == NEW_IDS else "")


def test_some_kills_come_before_and_some_behind_the_decision(tmp_path: Path) -> None:
    """The test above would prove nothing if all kills fell on one side."""
    found = set()
    for calls in STEPS:
        folder = shop(tmp_path / f"shop{calls}")
        with pytest.MonkeyPatch.context() as monkeypatch, contextlib.suppress(Killed):
            killing_after(calls, monkeypatch)
            write_together(folder, NEW)
        found.add(frozenset(read_catalog(folder).parts))
    assert found == {frozenset(OLD_IDS), frozenset(NEW_IDS)}


def test_what_cannot_be_written_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk is an OSError on the way: the folder is as it was, without drafts."""
    folder = shop(tmp_path / "shop")
    before = {each.name: each.read_bytes() for each in folder.iterdir()}
    wrote = whole_file.write_whole

    def full(files: Any) -> None:
        listed = list(files)
        if any(path.name == together.LIST for path, _ in listed):
            raise OSError(28, "No space left on device")
        wrote(listed)

    monkeypatch.setattr(whole_file, "write_whole", full)
    with pytest.raises(OSError, match="No space"):
        write_together(folder, NEW)
    assert {each.name: each.read_bytes() for each in folder.iterdir()} == before


def test_a_list_of_somebody_else_moves_nothing_out_of_the_folder(tmp_path: Path) -> None:
    """Names with a folder in them are left alone."""
    folder = shop(tmp_path / "shop")
    (folder / together.LIST).write_text('[["clamps.csv", "../stolen"], ["../x", "clamps.csv"], 3, ["a"]]')
    finish_moves(folder)
    assert set(read_catalog(folder).parts) == OLD_IDS
    assert not (tmp_path / "stolen").exists()


def test_a_change_that_cannot_be_finished_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who may not write cannot finish it, and must not read a mixture."""
    folder = shop(tmp_path / "shop")
    shutil.copy(folder / "clamps.csv", folder / "draft")
    (folder / together.LIST).write_text('[["draft", "clamps.csv"]]')

    def refused(*_: Any) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "replace", refused)
    with pytest.raises(InputError, match="cut short"):
        read_catalog(folder)
