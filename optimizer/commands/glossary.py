"""The command glossary: the words of answers and files."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.commands.command import Command
from optimizer.commands.options import flag, value
from optimizer.commands.reader import Reader
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told, plain
from optimizer.glossary import glossary_text

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A word, or None for all, and how they are laid out."""

    word: str | None
    layout: str


def read(reader: Reader) -> Asked:
    """Take the word."""
    return Asked(word=reader.args.word, layout="markdown" if reader.args.markdown else "text")


def answer(asked: Asked, _: Progress | None) -> Told:
    """The terms."""
    return plain(glossary_text(asked.word, asked.layout))


COMMAND = Command(
    does="Lists the terms used here, each with its symbol, its unit and what it is in plain words.",
    options=(value("word", "WORD", "head", "a term, or part of one", nargs="?"), flag("--markdown", "as Markdown")),
    examples=("fullbore glossary", "fullbore glossary head"),
    read=read,
    answer=answer,
)
