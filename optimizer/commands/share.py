"""Shares one budget, spares and stock between the tanks of a household: who gets what, which freed part serves
which other tank, in which order to work, and one bill. A tank that reaches its target gets nothing. Several filters
on one tank count by the sum of their flows, and one that is not there yet is weighed against its price: two small
ones, or one large? One aim is answered, proved as far as the answer says; the others are answered when asked for.

fullbore share house.toml --budget 300
fullbore share house.toml --budget 300 --objective shortfall --csv bill.csv
fullbore share house.toml --budget 300 --all-aims --show aims
"""

from dataclasses import dataclass, replace
from pathlib import Path

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Told, status_of, told_of
from optimizer.commands.options import choice, flag, made, value
from optimizer.commands.outputs import file_of, table_of
from optimizer.commands.page_beside import typed_again
from optimizer.commands.reader import refused


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The household, its money and its aim, and where the answer goes besides."""

    household: str = value(
        "household",
        "HOUSEHOLD",
        "house.toml",
        "file of the tanks, each a rig file named or written in, and their rooms",
        input="the household file",
        rigs="a rig of the household",
    )
    objective: str = choice(
        "--objective",
        ("worst", "shortfall", "flow"),
        "whose bill to show: worst (the worst-off tank first, then the next), shortfall (least total below the targets) "
        "or flow (most total delivered flow)",
    )
    all_aims: bool = flag("--all-aims", "answer the other two aims as well, and show all three side by side")
    unmeasured: bool = options.unmeasured("the rig files and in logs")
    budget: int | None = options.budget()
    catalog: Path = options.catalog(needed=True)
    full: bool = options.full()
    show: tuple[str, ...] | None = options.show("share_text")
    typed: str = made(typed_again)
    csv: Path | None = options.csv("the bill", "bill.csv")
    report: Path | None = options.page("tanks.html")


def _answer(asked: Asked, progress: Progress | None) -> Told:
    """Raises InputError where neither the arguments nor the file set a budget."""
    catalog = api.read_catalog(asked.catalog)
    household = api.read_household(asked.household, catalog)
    household = household if asked.budget is None else replace(household, budget=asked.budget)
    if household.budget is None:
        cure = 'Add --budget 300, or budget = "300" to the file.'
        raise refused("budget", "no budget is set.", cure, asked.household)
    found = api.share(
        household,
        catalog,
        objective=asked.objective,
        measured=not asked.unmeasured,
        all_aims=asked.all_aims,
        progress=progress,
        between=None if progress is None else progress.between,
    )
    outputs = (
        *table_of("--csv", asked.csv if found.tanks else None, "bill_csv", found.bill, found.currency),
        *file_of("--report", asked.report, lambda units: api.page(found, units).encode("utf-8")),
    )
    return told_of(
        found, "share_text", status_of(found.status), outputs, full=asked.full, show=asked.show or (), typed=asked.typed
    )


COMMAND = Command(
    __doc__, Asked, _answer, shown="objective all_aims unmeasured catalog budget full show json csv units quiet report"
)
