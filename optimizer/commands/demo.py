"""Writes the demo into a new folder, to try every command with: an invented catalog, tanks, a household, a shop, a log and a
price list. Nothing that is there is ever replaced.

fullbore demo
fullbore demo my_demo
"""

import os
import shlex
from dataclasses import dataclass
from pathlib import Path

from optimizer.commands.command import Command, Progress, Told, plain
from optimizer.commands.options import value
from optimizer.commands.reader import refused
from optimizer.commands.streams import reason
from optimizer.errors import safe
from optimizer.files.demo_files import DEMO, write_demo


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The folder as it is named."""

    folder: str = value(
        "folder",
        "DIR",
        "my_demo",
        f"new folder to write; without it {DEMO}, where other commands look for a catalog",
        reads={"nargs": "?", "default": DEMO},
    )


def _answer(asked: Asked, _: Progress | None) -> Told:
    """Raises InputError where something is there already, or nothing can be written."""
    written(asked.folder, Path(os.path.realpath(asked.folder)))
    return plain(_told(asked.folder))


def written(folder: str, place: Path) -> None:
    """Write the demo into ``place``, which whoever asked calls ``folder``. Raises InputError, as the command does."""
    name = safe(folder)
    try:
        write_demo(place)
    except FileExistsError:
        raise refused("DIR", f"{name} is there already.", "Name a new folder.") from None
    except (OSError, ValueError) as error:
        why = reason(error) if isinstance(error, OSError) else str(error)
        raise refused("DIR", f"{name} cannot be written: {why}.", "Name a new folder in one of yours.") from None


def _told(folder: str) -> str:
    """What was written, and what to type next."""
    shop = "" if Path(folder) == Path(DEMO) else f" --catalog {_word(f'{folder}/catalog')}"
    lines = [
        f"{safe(folder)} is written: a catalog, rigs, a household, a shop, a log and a price list. All of it is invented.",
        "",
        "Next",
        f"  fullbore best {_word(f'{folder}/rigs/nano_60.toml')}{shop}",
        f"  fullbore new tank.toml{shop}",
    ]
    return "\n".join(lines) + "\n"


def _word(path: str) -> str:
    return shlex.quote(safe(path))


COMMAND = Command(__doc__, Asked, _answer, also=(), writes=("demo",))
