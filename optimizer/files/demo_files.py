"""The demo that comes with the program, and where it is written out."""

from __future__ import annotations

import errno
import os
import secrets
import shutil
from pathlib import Path

from optimizer.files.whole_file import sync_folder, try_folder
from optimizer.halting import held

__all__ = ["DEMO", "demo_folder", "write_demo"]

DEMO = "parts_demo"
PARTS = ("catalog", "rigs", "households", "shops", "logs", "sheets")

_PACKAGE = Path(__file__).resolve().parent.parent


def demo_folder() -> Path:
    """Return where the demo lies: inside the installed package, or beside it in a clone. Raises FileNotFoundError for neither."""
    for folder in (_PACKAGE / DEMO, _PACKAGE.parent / DEMO):
        if (folder / "catalog" / "pumps.csv").is_file():
            return folder
    raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), DEMO)


def write_demo(place: Path) -> None:
    """Write the demo into a new or an empty folder, all of it or nothing. Raises OSError, FileExistsError where something is."""
    draft = place.with_name(f".fullbore.{secrets.token_hex(8)}.part")
    with held():
        try_folder(place.parent)
        try:
            for part in PARTS:
                shutil.copytree(demo_folder() / part, draft / part, copy_function=shutil.copyfile)
            if place.is_dir() and not any(place.iterdir()):
                for part in PARTS:  # the folder itself stays: somebody may stand in it
                    os.rename(draft / part, place / part)
            elif os.path.lexists(place):
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(place))
            else:
                os.rename(draft, place)
        finally:
            shutil.rmtree(draft, ignore_errors=True)
        sync_folder(place.parent)
