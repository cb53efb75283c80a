"""What a command does, its options, and examples; the same as --help behind its name.

fullbore help
fullbore help best
"""

from dataclasses import dataclass

from optimizer.commands.command import Command, Progress, Told, plain
from optimizer.commands.options import value


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A command, or None for the list of all."""

    about: str | None = value("about", "COMMAND", "best", "a command", reads={"nargs": "?"})


def _answer(asked: Asked, _: Progress | None) -> Told:
    from optimizer.commands.parser import help_text

    return plain(help_text(asked.about))


COMMAND = Command(__doc__, Asked, _answer, also=())
