"""Lists every column of a catalog and every key of a rig file, with units and examples.

fullbore columns
fullbore columns --markdown > columns.md
"""

from dataclasses import dataclass, replace

from optimizer.commands.command import Command, Progress, Told, plain
from optimizer.commands.options import flag


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """How the reference is laid out."""

    markdown: bool = flag("--markdown", "as Markdown")


def _answer(asked: Asked, _: Progress | None) -> Told:
    from optimizer.files.columns import column_reference
    from optimizer.report.layout import folded

    told = plain(column_reference("markdown" if asked.markdown else "text"))
    return told if asked.markdown else replace(told, text=lambda _, screen: folded(column_reference("text"), screen))


COMMAND = Command(__doc__, Asked, _answer, also=())
