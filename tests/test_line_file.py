"""Files of lines are read only where they are files."""

import os
from pathlib import Path

import pytest

from optimizer import line_file
from optimizer.cli import main
from optimizer.line_file import may_be_lines, plain_bytes

LOG = Path(__file__).parents[1] / "parts_demo" / "logs" / "reading_corner_130.log"


@pytest.mark.skipif(not Path("/dev/fd").is_dir(), reason="no names for open pipes here")
def test_a_log_on_a_pipe_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """It was read once to look at it and once more for its entries, of which there were none by then; or it never ended."""
    reader, writer = os.pipe()
    os.write(writer, LOG.read_bytes())
    os.close(writer)
    try:
        assert main(["log", f"/dev/fd/{reader}"]) == 1
    finally:
        os.close(reader)
    assert capsys.readouterr().err.endswith(
        "  file: cannot be read: it is no plain file. Name a file in a folder of yours, for example tank.log.\n"
    )


def test_what_is_no_plain_file_cannot_be_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", tmp_path):
        with pytest.raises(OSError, match="it is no plain file"):
            may_be_lines(path)


def test_a_file_of_lines_ends_somewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(line_file, "LARGEST_BYTES", 1 << 20)
    path = tmp_path / "tank.log"
    path.write_bytes(b"x" * ((1 << 20) + 1))
    with pytest.raises(OSError, match="it is larger than 1 MiB"):
        plain_bytes(path)


@pytest.mark.parametrize("name", ["\ud800", "a\0b"])
def test_what_no_file_can_be_called_cannot_be_read(name: str) -> None:
    with pytest.raises(OSError, match="no file has such a name"):
        may_be_lines(name)
