"""Lists every column of a catalog and every key of a rig, household or shop file, with units and examples.

fullbore columns
fullbore columns pumps
fullbore columns household
fullbore columns bore_mm
fullbore columns --markdown > columns.md
"""

from dataclasses import dataclass, replace

from optimizer.commands.command import Command, Progress, Told, plain
from optimizer.commands.options import flag, value


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A word that says which part of the reference is wanted, or None for all of it, and how it is laid out."""

    about: str | None = value(
        "about", "ABOUT", "pumps", "only one file, table, kind of part, column or key", reads={"nargs": "?"}
    )
    markdown: bool = flag("--markdown", "as Markdown")


def _answer(asked: Asked, _: Progress | None) -> Told:
    from optimizer.files.columns import column_reference
    from optimizer.report.layout import folded

    told = plain(column_reference("markdown" if asked.markdown else "text", asked.about))
    return told if asked.markdown else replace(told, text=lambda _, screen: folded(column_reference("text", asked.about), screen))


COMMAND = Command(__doc__, Asked, _answer, also=())
