"""Renders a saved answer as one HTML page that needs no network. Nothing is solved again.

fullbore report answer.json --out tank.html
fullbore report answer.json --units us
"""

from dataclasses import dataclass
from pathlib import Path

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told
from optimizer.commands.files_written import files_written
from optimizer.commands.options import value


def _place(reader: Reader) -> Path | None:
    given = reader.given("out")
    return reader.outputs.file("--out", f"{Path(reader.args.answer).stem}.html" if given is None else given, "tank.html")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The saved answer, and where its page goes, links followed."""

    answer: str = options.saved()
    out: Path = value(
        "--out", "FILE", "tank.html", "the page; one that is there is replaced; without it named as the answer", make=_place
    )
    units: str = options.units()


def _answer(asked: Asked, _: Progress | None) -> Told:
    found = api.read_answer(asked.answer)
    return files_written(found, [(asked.out, api.page(found, asked.units).encode("utf-8"))])


COMMAND = Command(__doc__, Asked, _answer, shown="out json units quiet", writes=("report",))
