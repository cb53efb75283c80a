"""The ladder of a page: what it brings to spend nothing, a little, and more, a row for each step, and which step is chosen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from optimizer.model.dossiers import Dossier
from optimizer.model.fronts import FrontPoint
from optimizer.model.results import Advice, Change, Result, Row
from optimizer.report.advice_text import step_name
from optimizer.report.figures.front import chosen_point

__all__ = ["LadderRow", "ladder"]

MOST_NAMED = 3
"""So many places are named of what is done in a step; of more it is said how many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderRow:
    """One step: what it is called, what is ``done`` for it in a few words, and what it brings. Price in minor units,
    ``share`` of the most of all steps."""

    name: str
    done: str
    price: int
    flow_m3s: float
    turnover_per_hour: float
    noise_dba: float
    power_w: float
    chosen: bool = False
    share: float = 0.0


def ladder(dossier: Dossier) -> tuple[LadderRow, ...]:
    """The steps, cheapest first; none without a result."""
    result = dossier.result
    if result is None:
        return ()
    rows = _found(dossier, result) if result.advice is None else _advised(result.advice)
    most = max(row.flow_m3s for row in rows)
    return tuple(replace(row, share=row.flow_m3s / most if most > 0.0 else 0.0) for row in rows)


def _advised(advice: Advice) -> list[LadderRow]:
    """The steps of an adviser, the one that is advised marked."""
    names = [step_name(step, advice) or "between" for step in advice.steps]
    return [
        _row(name, _places(step.changes, step.row.price), step.row, chosen=n == advice.chosen)
        for n, (name, step) in enumerate(zip(names, advice.steps, strict=True))
    ]


def _found(dossier: Dossier, result: Result) -> list[LadderRow]:
    """The rows of an answer that advises nothing, with the knee of the front."""
    rows = [_row("now", "", result.now, chosen=_is_left(result))]
    free, best = result.spend_nothing, result.best
    if free is not None and not (best is not None and best.price == 0):
        rows.append(_row("cleaned and adjusted", "", free, chosen=False))
    rows += [_point("knee", point) for point in _knee(dossier)]
    if best is not None and not _is_left(result):
        name = "most for the money" if best.price else "cleaned and adjusted"
        rows.append(_row(name, _places(result.changes, best.price), best, chosen=True))
    return rows


def _is_left(result: Result) -> bool:
    """True where the answer is to leave everything as it is."""
    best = result.best
    return best is not None and best.price == 0 and all(change.change == "keep" for change in result.changes)


def _knee(dossier: Dossier) -> Iterable[FrontPoint]:
    """The point of the front from which on money buys less, where that is not the chosen one or one that costs nothing."""
    front = dossier.front
    if front is None or front.knee is None or front.knee.point >= len(front.points):
        return ()
    point = front.points[front.knee.point]
    return () if front.knee.point == chosen_point(dossier) or point.price == 0 else (point,)


def _row(name: str, done: str, row: Row, chosen: bool) -> LadderRow:
    return LadderRow(
        name=name,
        done=done,
        price=row.price,
        flow_m3s=row.flow_m3s,
        turnover_per_hour=row.turnover_per_hour,
        noise_dba=row.noise_dba,
        power_w=row.power_w,
        chosen=chosen,
    )


def _point(name: str, point: FrontPoint) -> LadderRow:
    return LadderRow(
        name=name,
        done="",
        price=point.price,
        flow_m3s=point.flow_m3s,
        turnover_per_hour=point.turnover_per_hour,
        noise_dba=point.noise_dba,
        power_w=point.power_w,
    )


def _places(changes: Iterable[Change], price: int) -> str:
    """What is done, in a few words: where something is bought the places of that, else those that are cleaned or adjusted."""
    done = [change for change in changes if (change.change in ("swap", "add")) == bool(price) and change.change != "keep"]
    named = list(dict.fromkeys(change.position for change in done))
    more = len(named) - MOST_NAMED
    return ", ".join(named[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
