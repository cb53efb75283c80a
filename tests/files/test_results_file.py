"""The file that work is resumed from: a crash at any byte loses at most the line under way."""

from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.files.results_file import ResultsFile
from optimizer.measure.log import append
from optimizer.model.measuring import LogEntry

RESULTS = {"a": {"flow_m3s": 0.1}, "b": {"flow_m3s": 1e-300, "pieces": [["H", 2.5]]}, "c": {"meets": False}}


def written(path: Path) -> bytes:
    file = ResultsFile(path)
    for key, result in RESULTS.items():
        file.put(key, result)
    return path.read_bytes()


def test_what_is_put_is_there_again(tmp_path: Path) -> None:
    path = tmp_path / "x.results"
    written(path)
    again = ResultsFile(path)
    assert {key: again.get(key) for key in RESULTS} == RESULTS
    assert again.get("d") is None
    assert len(again) == 3


def test_cut_off_at_any_byte_it_holds_the_whole_lines_and_goes_on(tmp_path: Path) -> None:
    whole = written(tmp_path / "whole.results")
    ends = [n + 1 for n, byte in enumerate(whole) if byte == ord("\n")]
    path = tmp_path / "cut.results"
    for length in range(len(whole) + 1):
        path.write_bytes(whole[:length])
        # the last line is whole even without its end
        lines = sum(length >= end - 1 for end in ends)
        file = ResultsFile(path)
        assert len(file) == lines
        for key, result in RESULTS.items():
            if file.get(key) is None:
                file.put(key, result)
        again = ResultsFile(path)
        assert {key: again.get(key) for key in RESULTS} == RESULTS


def test_a_changed_line_is_solved_again(tmp_path: Path) -> None:
    path = tmp_path / "x.results"
    path.write_bytes(written(path).replace(b"0.1", b"0.2"))
    assert ResultsFile(path).get("a") is None
    assert ResultsFile(path).get("c") == RESULTS["c"]


def test_other_files_are_left_alone(tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("my notes\n")
    log = tmp_path / "tank.log"
    append(log, LogEntry(kind="cleaning", date="2026-03-01", data={"what": ["guard"]}))
    for path in (text, log, tmp_path):
        before = path.read_bytes() if path.is_file() else b""
        with pytest.raises(InputError, match=r"something else than results|cannot be read"):
            ResultsFile(path)
        assert not path.is_file() or path.read_bytes() == before


def test_a_file_that_cannot_be_written_is_bad_input(tmp_path: Path) -> None:
    file = ResultsFile(tmp_path / "gone" / "x.results")
    with pytest.raises(InputError, match="cannot be written"):
        file.put("a", {})
