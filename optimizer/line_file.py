"""Files of JSON lines that are only ever appended to and survive a crash at any byte: logs and results.

    {"sum": "<16 hex digits>", "entry": ...}

The checksum (BLAKE2b of the entry's own text) tells a line that was torn by a crash, or changed later, from a whole one.
A line counts as written once `append_line` has returned: by then it has been forced to the disk. Whatever byte a crash stops
at, at most the line under way is lost; the next one begins on a line of its own.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import stat
from pathlib import Path

__all__ = [
    "FIRST_BYTES",
    "NOT_PLAIN",
    "NO_NAME",
    "append_line",
    "entry_of",
    "line_of",
    "may_be_lines",
    "plain_bytes",
    "sync_folder",
]

DIGEST_BYTES = 8
LARGEST_BYTES = 256 << 20
FIRST_BYTES = b'{"sum": "'
"""What every line begins with."""

NO_NAME, NOT_PLAIN = errno.EBADF, errno.EISDIR
"""How `plain_bytes` tells a name that no file can have, and what is there but no plain file."""

NO_SYNC = (errno.EINVAL, errno.ENOTSUP, errno.EBADF)
"""What file systems say that cannot force a folder to the disk: nothing was lost."""


def line_of(entry: object) -> bytes:
    """One entry as a line, with its end. Raises ValueError for what JSON cannot hold.

    >>> line_of({"a": 1})[28:]
    b'"entry": {"a": 1}}\\n'
    """
    try:
        text = _text(entry)
    except TypeError as error:
        raise ValueError(f"an entry holds what JSON cannot: {error}") from error
    return f'{{"sum": "{_sum(text)}", "entry": {text}}}\n'.encode("ascii")


def entry_of(line: bytes) -> object | None:
    """The entry of a whole line; None for any other.

    >>> entry_of(line_of({"a": 1})), entry_of(line_of({"a": 1})[:-3])
    ({'a': 1}, None)
    """
    try:
        found = json.loads(line.decode("ascii"))
        entry: object = found["entry"]
        return entry if found.get("sum") == _sum(_text(entry)) else None
    except (ValueError, KeyError, TypeError, RecursionError, AttributeError):
        return None


def append_line(path: str | Path, line: bytes) -> None:
    """Write one line and force it to the disk; the file is made if it is not there. Raises OSError when it cannot be written."""
    path = Path(path)
    new = not path.exists()
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o644)
    try:
        if _torn(handle):
            line = b"\n" + line
        while line:
            line = line[os.write(handle, line) :]
        os.fsync(handle)
    finally:
        os.close(handle)
    if new:
        sync_folder(path.parent)


def plain_bytes(path: str | Path, largest: int | None = None) -> bytes:
    """All that stands in a plain file. Raises OSError for one that cannot be read, is larger than `largest` bytes (left out:
    `LARGEST_BYTES`), or is a pipe, a device or a folder: that of a pipe can be read only once, and perhaps never ends."""
    largest = LARGEST_BYTES if largest is None else largest
    try:
        mode = os.stat(path).st_mode
    except ValueError:  # a zero byte, or what no name of a file can hold
        raise OSError(NO_NAME, "no file has such a name") from None
    if not stat.S_ISREG(mode):
        raise OSError(NOT_PLAIN, "it is no plain file")
    with open(path, "rb") as stream:
        raw = stream.read(largest + 1)
    if len(raw) > largest:
        raise OSError(errno.EFBIG, f"it is larger than {largest >> 20} MiB")
    return raw


def may_be_lines(path: str | Path) -> bool:
    """Whether lines may be written to a file: it is not there, empty, or has a line that begins as they do, or but one line that
    was torn before it got so far. Raises OSError for a file that cannot be read."""
    try:
        raw = plain_bytes(path)
    except FileNotFoundError:
        return True
    lines = raw.split(b"\n")
    return any(line.startswith(FIRST_BYTES) for line in lines) or (len(lines) == 1 and FIRST_BYTES.startswith(raw))


def sync_folder(folder: Path) -> None:
    """Force the names in a folder to the disk, where the system lets folders be opened and forced. Raises OSError when the disk
    refuses."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in NO_SYNC:
            raise
    finally:
        os.close(handle)


def _text(entry: object) -> str:
    return json.dumps(entry, sort_keys=True, allow_nan=False, ensure_ascii=True)


def _sum(text: str) -> str:
    return hashlib.blake2b(text.encode("ascii"), digest_size=DIGEST_BYTES).hexdigest()


def _torn(handle: int) -> bool:
    """True when the file does not end with a whole line."""
    size = os.fstat(handle).st_size
    if not size:
        return False
    os.lseek(handle, size - 1, os.SEEK_SET)
    return os.read(handle, 1) != b"\n"
