"""The command columns: the reference of catalog columns and rig keys."""

from __future__ import annotations

from optimizer.commands.command import Command
from optimizer.commands.options import flag
from optimizer.commands.reader import Reader
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told, plain

__all__ = ["COMMAND"]


def read(reader: Reader) -> str:
    """How the reference is laid out."""
    return "markdown" if reader.args.markdown else "text"


def answer(layout: str, _: Progress | None) -> Told:
    """The reference."""
    from optimizer.files.columns import column_reference

    return plain(column_reference(layout))


COMMAND = Command(
    does="Lists every column of a catalog and every key of a rig file, with units and examples.",
    options=(flag("--markdown", "as Markdown"),),
    examples=("fullbore columns", "fullbore columns --markdown > columns.md"),
    read=read,
    answer=answer,
)
