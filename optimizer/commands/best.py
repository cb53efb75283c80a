"""Finds the bundle that delivers the most water within the budget and the limits of the rig.
For one tank most flow and most turnover are the same order, so there is nothing else to choose.

fullbore best tank.toml --budget 100
fullbore best tank.toml --budget 100 --full
fullbore best tank.toml --budget 100 --show joints,pressure
fullbore best tank.toml --budget 100 --csv bill.csv
fullbore best tank.toml --report tank.html --json > answer.json
fullbore best tank.toml --why HOSE-19-27
fullbore best tank.toml --why PUMP-2400MA,spray_bar=OPEN-G34
fullbore best tank.toml --alternatives 5
fullbore best tank.toml --order
fullbore best tank.toml --bands
fullbore best tank.toml --robust P10 --candidates 30
fullbore best tank.toml --interval 60d
fullbore best tank.toml --catalog my_shop --prove --json
"""

from dataclasses import dataclass
from typing import Any

from optimizer import api
from optimizer.commands.command import Command, Progress, Told, status_of, told_of
from optimizer.commands.options import flag, value
from optimizer.commands.reader import whole
from optimizer.commands.tank import FIRST, NOT_BESIDE, Bundle, bundle, check, opened
from optimizer.errors import BadValue, quoted, safe
from optimizer.exits import ANSWER
from optimizer.halting import pressed_since

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
    if asked.why:
        return _explained(api.why(rig, catalog, *asked.why, **more), asked.ending)
    if asked.alternatives is not None:
        listed = api.alternatives(rig, catalog, asked.alternatives, **more, progress=progress, halted=pressed_since())
        return told_of(listed, "alternatives_text", status_of(listed.status), ending=asked.ending)
    return bundle(asked, rig, catalog, progress, **({"by": "mean"} if asked.mean else {}))


def _explained(text: str, ending: str) -> Told:
    """What is said of a part, its quantities in either system of units."""

    def worded(units: str) -> str:
        from optimizer.report.measures import system  # loads the units

        return "".join(f"{safe(line)}\n" for line in system(units).words(text).split("\n")) + ending

    return Told(text=lambda units, _: worded(units), headline=worded, body=dict, status=ANSWER)


SHOWN = (
    "catalog budget full show json prove csv xlsx report units quiet interval mean why alternatives order bands robust "
    "candidates draws seed unmeasured log"
)
COMMAND = Command(__doc__, Asked, _answer, check, first=FIRST, shown=SHOWN, not_beside=NOT_BESIDE)
