"""What is asked of a tank on its page, as the address holds it, and the words of the command that answers it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from optimizer.commands.options import Option
from optimizer.commands.table import command_of
from optimizer.desk.folder import Folder
from optimizer.desk.forms import words_of

__all__ = ["Question", "ask_options"]

FIRST = ("budget", "flow", "turnover")
MORE = ("interval", "clean_flow", "mean", "most", "told_apart", "log", "unmeasured")
"""Options of `best` and `cheapest` that the form shows at once, and those behind a fold."""

OF_A_SUM = ("interval", "clean_flow", "mean", "log", "unmeasured")
"""What a chosen sum keeps of the question: the most that it buys is asked for, whatever the advice is."""


def ask_options() -> dict[str, Option]:
    """The options of the form by name."""
    found = {option.name: option for name in ("best", "cheapest") for option in command_of(name).options}
    return {name: found[name] for name in (*FIRST, *MORE)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A question about the tank of ``rig``; ``given`` are the texts of the form, ``sum`` the sum that was chosen on the slider
    (empty: the advised step)."""

    rig: str
    catalog: str
    given: Mapping[str, str]
    sum: str = ""

    @property
    def command(self) -> str:
        """A flow that is wanted asks for the least money, all else for the most flow."""
        wanted = not self.sum and (self.given.get("flow") or self.given.get("turnover"))
        return "cheapest" if wanted else "best"

    def words(self, **more: str) -> list[str]:
        """The words of the command, with ``more`` options."""
        given = dict(self.given)
        if self.sum:
            given = {name: text for name, text in given.items() if name in OF_A_SUM} | {"budget": self.sum, "most": "on"}
        given |= {"rig": self.rig, "catalog": self.catalog, **more}
        return words_of(self.command, command_of(self.command).options, given)

    @property
    def front(self) -> list[str]:
        """The words of the front that the slider runs over."""
        kept = {name: text for name, text in self.given.items() if name in ("budget", "log", "unmeasured")}
        return words_of("front", command_of("front").options, {"rig": self.rig, "catalog": self.catalog, **kept})

    def files(self, folder: Folder) -> tuple[str, ...]:
        """All files of a folder that the answer hangs on; of what is none of its files, the command says what is wrong."""
        return tuple(filter(folder.has_name, (self.rig, self.catalog, self.given.get("log", ""))))

    def address(self, part: str = "", **more: str) -> str:
        """The page of the question or of a part of its answer; ``more`` replaces what the address holds, empty drops it."""
        held = {**self.given, "sum": self.sum, **more}
        query = urlencode({name: text for name, text in held.items() if text})
        return f"/ask/{quote(self.rig)}{f'/part/{part}' if part else ''}?{query or 'ask=1'}"
