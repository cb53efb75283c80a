"""Finds the bundle that delivers the most water within the budget and the limits of the rig.
For one tank most flow and most turnover are the same order, so there is nothing else to choose.

fullbore best tank.toml --budget 100
fullbore best tank.toml --budget 100 --full
fullbore best tank.toml --budget 100 --show joints,pressure
fullbore best tank.toml --budget 100 --csv bill.csv
fullbore best tank.toml --budget 100 --after tank_after.toml
fullbore best tank.toml --report tank.html --json > answer.json
fullbore best tank.toml --why HOSE-19-27
fullbore best tank.toml --why PUMP-2400MA,spray_bar=OPEN-G34
fullbore best tank.toml --alternatives 5
fullbore best tank.toml --order
fullbore best tank.toml --bands
fullbore best tank.toml --robust P10 --candidates 30
fullbore best tank.toml --interval 60d
fullbore best tank.toml --interval 60d --clean-flow "900 l/h" --report tank.html
fullbore best tank.toml --catalog my_shop --prove --json
"""

from dataclasses import dataclass
from typing import Any

from optimizer import api
from optimizer.commands.command import Command, Progress, Told, status_of, told_of
from optimizer.commands.options import flag, value
from optimizer.commands.reader import whole
from optimizer.commands.tank import FIRST, NOT_BESIDE, Bundle, bundle, check, opened, over_days
from optimizer.errors import BadValue, quoted, safe
from optimizer.exits import ANSWER
from optimizer.halting import pressed_since
from optimizer.model.part_names import in_words
from optimizer.report.layout import folded

MOST_ALTERNATIVES = 100


def _parts(text: str) -> tuple[str, ...]:
    words = tuple(word.strip() for word in text.split(","))
    if all(word.strip("= ") for word in words):
        return words
    raise BadValue(f"{quoted(text)} has a gap.", 'Write ids with commas between them, for example "PUMP-2400MA,OPEN-G34".')


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked(Bundle):
    """What is asked of the best bundle."""

    mean: bool = flag("--mean", "with --interval, decide by the mean and not by the last day")
    why: tuple[str, ...] | None = value(
        "--why",
        "PARTS",
        "PUMP-2400MA,return_hose=HOSE-19-27",
        "instead of the answer, say why a part, or several together, are not the best bundle",
        _parts,
        group="answer",
    )
    alternatives: int | None = value(
        "--alternatives",
        "K",
        "5",
        "instead of the answer, list the best K bundles that truly differ",
        whole(1, MOST_ALTERNATIVES, "5"),
        group="answer",
    )


def _answer(asked: Asked, progress: Progress | None) -> Told:
    rig, catalog = opened(asked)
    more: dict[str, Any] = {"budget": asked.budget, "measured": not asked.unmeasured}
    by: dict[str, Any] = {"by": "mean"} if asked.mean else {}
    if asked.why:
        told = api.why(rig, catalog, *asked.why, **more, **over_days(asked), **by)
        return _explained(told, {each.name for each in rig.every_position}, asked.ending)
    if asked.alternatives is not None:
        listed = api.alternatives(rig, catalog, asked.alternatives, **more, progress=progress, halted=pressed_since())
        return told_of(listed, "alternatives_text", status_of(listed.status), ending=asked.ending)
    return bundle(asked, rig, catalog, progress, **by)


def _explained(text: str, places: set[str], ending: str) -> Told:
    """What is said of a part, its quantities in either system of units and the ``places`` of the rig in words."""

    def worded(units: str) -> str:
        from optimizer.report.measures import system  # loads the units

        said = in_words(system(units).words(text), places)
        return "".join(f"{safe(line)}\n" for line in said.split("\n")) + ending

    return Told(text=lambda units, screen: folded(worded(units), screen), headline=worded, body=dict, status=ANSWER)


SHOWN = (
    "catalog budget full show json prove proof csv xlsx after report units quiet interval clean_flow mean why alternatives order "
    "bands robust candidates draws seed unmeasured log"
)
COMMAND = Command(__doc__, Asked, _answer, check, first=FIRST, shown=SHOWN, not_beside=NOT_BESIDE)
