"""The text of one file the keeper names: capped in size, UTF-8, without NUL. Every fault is told, none escapes."""

from __future__ import annotations

from pathlib import Path

from optimizer.errors import BadValue

__all__ = ["file_text"]

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
    try:
        exists, plain = path.exists(), path.is_file()
        data = b""
        if plain:  # a pipe or a device would make the reader wait for ever
            with path.open("rb") as stream:
                data = stream.read(largest_bytes + 1)
    except (OSError, ValueError) as error:
        raise BadValue(f"the file cannot be opened ({_reason(error)}).", "Check its name and permissions.") from None
    if not plain:
        what = "this is not a file." if exists else "there is no such file."
        raise BadValue(what, "Check the name and the folder.")
    if len(data) > largest_bytes:
        raise BadValue(
            f"the file is larger than {largest_bytes >> 20} MiB.",
            "Split it, or check that it is the right one.",
        )
    return _decoded(data)


def _reason(error: Exception) -> str:
    return (error.strerror or "no reason given").lower() if isinstance(error, OSError) else "impossible name"


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
