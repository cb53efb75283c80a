"""Files that are written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

__all__ = ["write_whole"]


def write_whole(files: Iterable[tuple[Path, bytes]]) -> None:
    """Write each content into a file beside its path, then put all of them into their places, so that no half of one is found.

    Raises OSError when one cannot be written; then none of them is there that was not there before, as long as the last step
    did not fail between two files.
    """
    ready: list[tuple[Path, Path]] = []
    try:
        for path, content in files:
            beside = path.with_name(f".{path.name}.{os.getpid()}.part")
            with open(beside, "xb") as file:
                ready.append((beside, path))
                file.write(content)
        for beside, path in ready:
            os.replace(beside, path)
    except BaseException:
        for beside, _ in ready:
            beside.unlink(missing_ok=True)
        raise
