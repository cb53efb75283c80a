"""Lists the terms used here, each with its symbol, its unit and what it is in plain words.

fullbore glossary
fullbore glossary head
"""

from dataclasses import dataclass, replace

from optimizer.commands.command import Command, Progress, Told, plain
from optimizer.commands.options import flag, value
from optimizer.glossary import glossary_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A word, or None for all, and how they are laid out."""

    word: str | None = value("word", "WORD", "head", "a term, or part of one", reads={"nargs": "?"})
    markdown: bool = flag("--markdown", "as Markdown")


def _answer(asked: Asked, _: Progress | None) -> Told:
    style = "markdown" if asked.markdown else "text"
    found = plain(glossary_text(asked.word, style))
    return replace(found, text=lambda _, screen: glossary_text(asked.word, style, screen.width))


COMMAND = Command(__doc__, Asked, _answer, also=())
