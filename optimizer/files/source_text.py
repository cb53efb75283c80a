"""The text of one file the keeper names: capped in size, UTF-8, without NUL. Every fault is told, none escapes."""

from __future__ import annotations

import errno
from pathlib import Path

from optimizer.errors import BadValue
from optimizer.line_file import NO_NAME, NOT_PLAIN, plain_bytes

__all__ = ["file_bytes", "file_text"]

UTF8_CURE = 'Save the file as UTF-8 (in a spreadsheet: "CSV UTF-8").'


def file_text(path: Path, largest_bytes: int) -> str:
    """Return the text of the file, without a byte order mark.

    Raises `BadValue` when there is no such file, it is not a plain file, cannot be read, is larger than
    `largest_bytes`, is not UTF-8 or holds a NUL.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "tank.toml")
    ...     _ = path.write_bytes(b"\\xef\\xbb\\xbfname = 'Hall'")
    ...     file_text(path, 100)
    "name = 'Hall'"
    """
    return _decoded(file_bytes(path, largest_bytes))


def file_bytes(path: Path, largest_bytes: int) -> bytes:
    """Return what is in a file. Raises `BadValue` as `file_text` does where it cannot be had."""
    try:
        return plain_bytes(path, largest_bytes)
    except OSError as error:
        if error.errno in (errno.ENOENT, errno.ENOTDIR, errno.ELOOP, NO_NAME):
            raise BadValue("there is no such file.", "Check the name and the folder.") from None
        if error.errno == NOT_PLAIN:
            raise BadValue("this is not a file.", "Check the name and the folder.") from None
        if error.errno == errno.EFBIG:
            what = f"the file is larger than {largest_bytes >> 20} MiB."
            raise BadValue(what, "Split it, or check that it is the right one.") from None
        reason = (error.strerror or "no reason given").lower()
        raise BadValue(f"the file cannot be opened ({reason}).", "Check its name and permissions.") from None


def _decoded(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BadValue(f"the text is not UTF-8 (first bad byte in line {line}).", UTF8_CURE) from None
    nul = text.find("\0")
    if nul >= 0:
        line = text.count("\n", 0, nul) + 1
        raise BadValue(f"there is a NUL character in line {line}.", "Save the file again as plain text.")
    return text
