"""The version of the program."""

import hashlib
from functools import cache
from pathlib import Path

__all__ = ["source_sum", "version"]

DIGEST_BYTES = 8


def version() -> str:
    """The version that is installed, or words that say that none is."""
    from importlib import metadata  # slow to load

    try:
        return metadata.version("fullbore")
    except metadata.PackageNotFoundError:
        return "(run from its source, not installed)"


@cache
def source_sum() -> str:
    """Hexadecimal BLAKE2b of the program's own source: answers that are kept are those of the code that gave them, and a version
    that is worked on keeps its number.

    >>> len(source_sum()), source_sum() == source_sum()
    (16, True)
    """
    return sum_of(Path(__file__).parent)


def sum_of(folder: Path) -> str:
    """The same of all modules in a folder: of their names and of what stands in them."""
    digest = hashlib.blake2b(digest_size=DIGEST_BYTES)
    for path in sorted(folder.rglob("*.py")):
        content = path.read_bytes()
        digest.update(f"{path.relative_to(folder).as_posix()} {len(content)}\n".encode())
        digest.update(content)
    return digest.hexdigest()
