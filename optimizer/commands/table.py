"""The table of commands: a new one is a line here and the module that it names."""

import importlib
from typing import Any

from optimizer.commands.command import Command

COMMANDS = {
    "best": "most water for the money",
    "cheapest": "least money for a flow",
    "front": "what every sum up to a budget buys",
    "drill": "holes of a spray bar for a jet speed or an evenness",
    "loop": "the loop as it stands, place by place in the order of the water",
    "measure": "delivered flow from a container and a watch",
    "diagnose": "what ails a loop, by its fills",
    "verify": "was it the upgrade or the cleaning?",
    "log": "fills, cleanings and changes, and when to clean next",
    "ageing": "flow against days since cleaning, and what clogs first",
    "new": "a rig file from a dozen and a half plain questions",
    "demo": "an invented catalog, tanks and a shop to try with",
    "guide": "the manual, by task",
    "glossary": "the words of answers and files, with symbol and unit",
    "report": "a saved answer as one HTML page",
    "plot": "the figures of a saved answer",
    "compare": "several rigs or answers side by side",
    "share": "one budget for several tanks, parts handed on among them",
    "kits": "a shop's kits that serve a population of tanks best",
    "stock": "a shop's own sheet into a catalog, and a catalog checked as a whole",
    "desk": "all of this in the browser, on this machine only",
    "columns": "reference of catalog columns and of the keys of rig, household and shop files",
    "help": "what a command does; the same as --help behind its name",
}
"""Every command with its line in the overview; its module has the same name, unless it is at home elsewhere."""

ELSEWHERE = {"desk": "optimizer.desk.command"}
"""Commands that stand on others: their rooms lie above this one."""


def command_of(name: str) -> Command[Any]:
    """The command of a name. Raises KeyError for none.

    >>> command_of("columns").does
    'Lists every column of a catalog and every key of a rig, household or shop file, with units and examples.'
    """
    if name not in COMMANDS:
        raise KeyError(name)
    found: Command[Any] = importlib.import_module(ELSEWHERE.get(name, f"optimizer.commands.{name}")).COMMAND
    return found
