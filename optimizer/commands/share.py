"""The command share: one budget for several tanks, parts handed on among them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from optimizer import api
from optimizer.commands.command import Command
from optimizer.commands.options import BUDGET, CATALOG, JSON, QUIET, UNITS, choice, csv, flag, page, value
from optimizer.commands.outputs import file_of, table_of
from optimizer.commands.reader import Reader
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told, status_of, told_of
from optimizer.errors import InputError, Problem

__all__ = ["COMMAND"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The household, its money and its aim, and where the answer goes besides."""

    household: str
    folder: Path
    budget: int | None
    objective: str
    measured: bool
    csv: Path | None
    page: Path | None
    units: str


def read(reader: Reader) -> Asked:
    """Read the budget and the places."""
    from optimizer.files.named_files import rigs_named

    args, budget, folder = reader.args, reader.budget(), reader.folder()
    rigs = (("a rig of the household", rig) for rig in rigs_named(args.household))
    outputs = reader.outputs(("the household file", args.household), *rigs, catalog=folder)
    return Asked(
        household=args.household,
        folder=folder,
        budget=budget,
        objective=args.objective,
        measured=not args.unmeasured,
        csv=outputs.file("--csv", args.csv, "bill.csv"),
        page=outputs.file("--report", args.report, "tanks.html"),
        units=args.units,
    )


def answer(asked: Asked, progress: Progress | None) -> Told:
    """Who gets what. Raises InputError where neither the arguments nor the file set a budget."""
    catalog = api.read_catalog(asked.folder)
    household = api.read_household(asked.household, catalog)
    household = household if asked.budget is None else replace(household, budget=asked.budget)
    if household.budget is None:
        cure = 'Add --budget 300, or budget = "300" to the file.'
        raise InputError(asked.household, [Problem(where="budget", what="no budget is set.", cure=cure)])
    found = api.share(household, catalog, objective=asked.objective, measured=asked.measured, progress=progress)
    outputs = (
        *table_of("--csv", asked.csv if found.tanks else None, "bill_csv", found.bill, found.currency),
        *file_of("--report", asked.page, lambda: api.page(found, asked.units).encode("utf-8")),
    )
    return told_of(found, "share_text", status_of(found.status), outputs)


COMMAND = Command(
    does="Shares one budget, spares and stock between the tanks of a household: who gets what, which freed part serves\n"
    "which other tank, in which order to work, and one bill. A tank that reaches its target gets nothing. Each aim is\n"
    "answered, and proved as far as the answer says.",
    options=(
        value("household", "HOUSEHOLD", "house.toml", "file of the tanks, each a rig file named or written in, and their rooms"),
        choice(
            "--objective",
            ("worst", "shortfall", "flow"),
            "whose bill to show: worst (the worst-off tank first, then the next), shortfall (least total below the targets) "
            "or flow (most total delivered flow); all three are shown side by side",
        ),
        flag("--unmeasured", "as if the fills in the rig files and in logs had not been made"),
        CATALOG,
        BUDGET,
        JSON,
        csv("the bill", "bill.csv"),
        UNITS,
        QUIET,
        page("tanks.html"),
    ),
    examples=(
        "fullbore share house.toml --budget 300",
        "fullbore share house.toml --budget 300 --objective shortfall --csv bill.csv",
    ),
    read=read,
    answer=answer,
)
