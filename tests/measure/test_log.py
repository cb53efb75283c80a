"""The log: whatever byte a crash stops at, at most the line under way is lost, and nothing that was changed passes for whole."""

import math
import os
from pathlib import Path

import pytest

from optimizer.measure.log import append, fill_entry, fills_of, line_of, read, watts_entry
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import LogEntry, WattsRead

ENTRIES = (
    LogEntry(kind="cleaning", date="2026-03-01", data={"what": ["guard", "hoses"], "note": "Gehäuse, 3 \u00bd l\n\u2028"}),
    fill_entry(
        TimedFill(volume_m3=0.01, seconds=(61.2, 60.8, 1e-3 / 3.0), height_m=-0.4, state=("guard off",), date="2026-03-02")
    ),
    watts_entry(WattsRead(power_w=17.25, date="2026-03-02")),
    LogEntry(kind="change", date="2026-04-01", data={"place": "outlet", "part": "BAR-16", "nested": {"a": [1, None, True]}}),
)
LATER = LogEntry(kind="cleaning", date="2026-05-01", data={"what": ["everything"]})


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "hall.log"
    for entry in ENTRIES:
        append(path, entry)
    return path


def test_what_was_written_is_read(log: Path) -> None:
    found = read(log)
    assert found.entries == ENTRIES
    assert found.problems == ()
    assert log.read_bytes() == b"".join(map(line_of, ENTRIES))


def test_a_log_that_is_not_there_is_empty(tmp_path: Path) -> None:
    assert read(tmp_path / "none.log").entries == read(tmp_path / "none.log").problems == ()


def test_cut_at_every_byte(log: Path) -> None:
    """All lines that ended before the cut are read; a torn one is reported and ignored; the next entry is whole, and so is all
    that was whole before it."""
    raw = log.read_bytes()
    ends = [n + 1 for n, byte in enumerate(raw) if byte == 0x0A]
    for cut in range(len(raw) + 1):
        log.write_bytes(raw[:cut])
        whole = sum(end - 1 <= cut for end in ends)  # all but its newline is enough
        torn = cut not in (0, *ends) and cut + 1 not in ends
        found = read(log)
        assert found.entries == ENTRIES[:whole]
        assert [problem.startswith(f"line {whole + 1}: the last entry was torn") for problem in found.problems] == [True] * torn
        append(log, LATER)
        after = read(log)
        assert after.entries == (*ENTRIES[:whole], LATER)
        assert [problem.startswith(f"line {whole + 1}: torn or changed") for problem in after.problems] == [True] * torn
        assert log.read_bytes().startswith(raw[:cut])


def test_every_changed_byte_is_noticed(log: Path) -> None:
    """A flipped bit in any byte costs at most the lines it touches, and never gives an entry that was not written."""
    raw = log.read_bytes()
    for at in range(len(raw)):
        log.write_bytes(raw[:at] + bytes([raw[at] ^ 0x04]) + raw[at + 1 :])
        found = read(log)
        assert set(map(line_of, found.entries)) <= set(map(line_of, ENTRIES))
        lost = len(ENTRIES) - len(found.entries)
        assert lost in (0, 1, 2) and bool(found.problems) == (lost > 0)


def test_a_block_of_nothing_left_by_a_crash(log: Path) -> None:
    """Some file systems leave zeros where data had no time to arrive."""
    log.write_bytes(log.read_bytes() + bytes(512))
    append(log, LATER)
    found = read(log)
    assert found.entries == (*ENTRIES, LATER) and len(found.problems) == 1


def test_it_is_forced_to_the_disk_before_append_returns(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The file after its bytes, and the folder once, when the file is new."""
    happened: list[str] = []
    write, sync = os.write, os.fsync
    monkeypatch.setattr(os, "write", lambda handle, data: happened.append("write") or write(handle, data))
    monkeypatch.setattr(os, "fsync", lambda handle: happened.append("sync") or sync(handle))
    append(tmp_path / "a.log", ENTRIES[0])
    assert happened == ["write", "sync", "sync"]
    append(tmp_path / "a.log", ENTRIES[1])
    assert happened == ["write", "sync", "sync", "write", "sync"]


def test_a_system_that_writes_byte_by_byte(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write = os.write
    monkeypatch.setattr(os, "write", lambda handle, data: write(handle, data[:1]))
    append(tmp_path / "a.log", ENTRIES[0])
    assert read(tmp_path / "a.log").entries == ENTRIES[:1]


def test_a_full_disk_half_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The error is told, what was whole stays, and a later entry is whole again."""
    path, write = tmp_path / "a.log", os.write
    append(path, ENTRIES[0])
    calls = iter([20])

    def full(handle: int, data: bytes) -> int:
        for most in calls:
            return write(handle, data[:most])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(OSError, match="No space"):
        append(path, ENTRIES[1])
    monkeypatch.undo()
    assert read(path).entries == ENTRIES[:1] and len(read(path).problems) == 1
    append(path, ENTRIES[2])
    assert read(path).entries == (ENTRIES[0], ENTRIES[2])


@pytest.mark.parametrize(
    "entry",
    [
        LogEntry(kind="feeding", date="", data={}),
        LogEntry(kind="change", date="", data={"x": math.nan}),
        LogEntry(kind="change", date="", data={"x": object()}),
        LogEntry(kind="change", date="", data={"x": "y" * 70_000}),
    ],
)
def test_entries_that_cannot_be_written_leave_no_trace(entry: LogEntry, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"kind of entry|JSON|too long"):
        append(tmp_path / "a.log", entry)
    assert not (tmp_path / "a.log").exists()


@pytest.mark.parametrize(
    "line", [b"[]", b"3", b'{"sum": 1, "entry": []}', b"[" * 100_000, b'{"entry": {"kind": "change"}}', b"\xff"]
)
def test_lines_that_are_no_entries(line: bytes, log: Path) -> None:
    log.write_bytes(line + b"\n" + log.read_bytes())
    found = read(log)
    assert found.entries == ENTRIES and found.problems[0].startswith("line 1: torn or changed")


def test_fills_come_back_from_the_log(log: Path) -> None:
    fill = TimedFill(volume_m3=0.01, seconds=(61.2, 60.8, 1e-3 / 3.0), height_m=-0.4, state=("guard off",), date="2026-03-02")
    assert fills_of(read(log).entries) == (fill,)


@pytest.mark.parametrize(
    "data", [{}, {"seconds": 3.0}, {"seconds": ["a"], "volume_m3": 0.01}, {"seconds": [1.0], "volume_m3": True}]
)
def test_a_fill_of_the_log_that_is_none(data: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"log|needs"):
        fills_of([LogEntry(kind="fill", date="", data=data)])
