"""The command report: a saved answer as one HTML page."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands.command import Command
from optimizer.commands.files_written import files_written
from optimizer.commands.options import PRINTED, SAVED, value
from optimizer.commands.reader import Reader
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The saved answer, and where its page goes."""

    saved: str
    out: Path
    units: str


def read(reader: Reader) -> Asked:
    """Look at the place of the page."""
    args = reader.args
    given = args.out if args.out is not None else f"{Path(args.answer).stem}.html"
    out = reader.outputs(("the answer", args.answer)).file("--out", given, "tank.html")
    return Asked(saved=args.answer, out=out or Path(given), units=args.units)


def answer(asked: Asked, _: Progress | None) -> Told:
    """Write the page."""
    found = api.read_answer(asked.saved)
    return files_written(found, [(asked.out, api.page(found, asked.units).encode("utf-8"))])


COMMAND = Command(
    does="Renders a saved answer as one HTML page that needs no network. Nothing is solved again.",
    options=(
        SAVED,
        value("--out", "FILE", "tank.html", "the page; one that is there is replaced; without it named as the answer"),
        *PRINTED,
    ),
    examples=("fullbore report answer.json --out tank.html", "fullbore report answer.json --units us"),
    read=read,
    answer=answer,
)
