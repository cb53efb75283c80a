"""Opens the desk: a page in the browser, on this machine only, where everything that the commands do can be done over the files
of a folder. It ends with Ctrl-C, or a while after the last page was closed.

fullbore desk
fullbore desk my_tanks
fullbore desk my_tanks --no-browser --port 7468
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from optimizer.commands.command import Command, Progress, Told, plain
from optimizer.commands.options import flag, value
from optimizer.commands.reader import refused, whole
from optimizer.commands.streams import printed, reason
from optimizer.errors import safe


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The folder, and how it is shown."""

    folder: str = value(
        "folder", "DIR", "my_tanks", "folder of rigs, households, logs and catalogs; without it the current one",
        reads={"nargs": "?", "default": "."},
    )  # fmt: skip
    port: int | None = value(
        "--port", "N", "7468", "port of the address; without it 7468, or another that is free", whole(1, 65535, "7468")
    )
    no_browser: bool = flag("--no-browser", "print the address, and open no browser")
    stay: bool = flag("--stay", "do not end when no page is open any more")


def _answer(asked: Asked, _: Progress | None) -> Told:
    """Raises InputError where there is no such folder, or the port is taken."""
    from optimizer.desk.server import run

    folder = Path(os.path.realpath(asked.folder))
    if not folder.is_dir():
        raise refused("DIR", f"{safe(asked.folder)} is no folder.", "Name a folder that is there.")
    try:
        run(folder, asked.port, _open_at, opens=not asked.no_browser, stays=asked.stay)
    except OSError as error:
        cure = "Name another port, or none."
        raise refused("--port", f"the desk cannot be opened at that port: {reason(error)}.", cure) from None
    return plain("The desk is closed.\n")


def _open_at(address: str) -> None:
    printed(f"The desk is open at {address}\nThe address holds the key: whoever has it can change the files. Ctrl-C ends it.\n")


COMMAND = Command(__doc__, Asked, _answer, also=())
