"""Two files that change places in one step, where the system can do that: what was in the place is in hand then, whoever put it
there in the meantime."""

from __future__ import annotations

import ctypes
import errno
import os
from functools import cache
from pathlib import Path
from typing import Any

__all__ = ["swap"]

CURRENT_FOLDER, EXCHANGE = -100, 2
"""As linux/fcntl.h (AT_FDCWD) and linux/fs.h (RENAME_EXCHANGE) have them, from memory; a test shows that they do what is said."""

CANNOT = (errno.EINVAL, errno.ENOSYS, errno.EPERM, errno.ENOTSUP)
"""What systems say whose kernel or file system knows no such step."""


def swap(first: Path, second: Path) -> bool:
    """Let two files change places; False where this system cannot. Raises OSError, FileNotFoundError where one is not there.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     one, two = Path(folder, "one"), Path(folder, "two")
    ...     _ = one.write_text("1"), two.write_text("2")
    ...     swapped = swap(one, two)
    ...     one.read_text() == ("2" if swapped else "1")
    True
    """
    renameat2 = _renameat2()
    if renameat2 is None:
        return False
    if not renameat2(CURRENT_FOLDER, os.fsencode(first), CURRENT_FOLDER, os.fsencode(second), EXCHANGE):
        return True
    number = ctypes.get_errno()
    if number in CANNOT:
        return False
    raise OSError(number, os.strerror(number), str(second))


@cache
def _renameat2() -> Any:
    """The step of the C library; None where it has none."""
    try:
        found = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError, TypeError):
        return None
    found.argtypes = (ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_uint)
    return found
