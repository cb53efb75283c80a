"""Looks after a catalog. check: finds in a catalog as a whole what no row shows by itself: parts that go on nothing, hoses
without a clamp or a tail, threads without a seal or a change-over, prices and bores out of line, rows that stand twice, kits
dearer than their contents, what is sold out; each with file, line and cure, the most serious first.

fullbore stock check
fullbore stock check my_shop
fullbore stock check my_shop --full
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, told_of
from optimizer.commands.options import DEMO_CATALOG, value

ACTIONS = ("check",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is done, and with which folder or file."""

    action: str = value("action", "ACTION", "check", "what to do: check", reads={"choices": ACTIONS})
    place: str | None = value(
        "place", "PLACE", "my_shop", f"check: folder of the catalog; without it {DEMO_CATALOG}, if that is there",
        reads={"nargs": "?"},
    )  # fmt: skip
    full: bool = options.full()


def _check(asked: Asked, reader: Reader) -> None:
    if asked.place is None and not Path(DEMO_CATALOG).is_dir():
        what = f"no folder is named, and there is no folder {DEMO_CATALOG} here."
        reader.wrong("PLACE", what, "Write the folder that holds pumps.csv; fullbore demo writes one to try with.")


def _answer(asked: Asked, _: Progress | None) -> Told:
    return told_of(api.check_stock(asked.place or DEMO_CATALOG), "stock_check_text", full=asked.full)


COMMAND = Command(__doc__, Asked, _answer, _check)
