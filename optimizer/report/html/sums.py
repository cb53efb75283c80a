"""What every sum of money buys, a row for each: all points of a front, and among them the step that is advised."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.model.fronts import Front, FrontPoint
from optimizer.model.results import Change, Result, Row
from optimizer.money import show_money
from optimizer.report.advice_text import are_of_all, step_name
from optimizer.report.first_screen import by_kind

__all__ = ["Sum", "aside", "sums"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sum:
    """One sum: its name on the ladder (empty: none), what it buys, and what is ``done`` for it, by kind. Price in minor
    units, ``share`` of the most of all sums; ``chosen``: it is the answer itself."""

    name: str
    price: int
    flow_m3s: float
    turnover_per_hour: float
    noise_dba: float
    power_w: float
    done: dict[str, list[str]]
    proved: bool
    chosen: bool
    share: float

    @property
    def amount(self) -> str:
        """The price as a keeper would type it."""
        return show_money(self.price)


def sums(front: Front, result: Result) -> tuple[Sum, ...]:
    """The sums of a front, cheapest first. The answer stands for the point of its price: it may keep what that one changes for
    less than can be told apart."""
    best, names = result.best, _names(result)
    most = max([point.flow_m3s for point in front.points] + ([] if best is None else [best.flow_m3s]), default=0.0)
    rows = [
        _sum(point, names.get(point.price, ""), point.done, most, proved=point.proved)
        for point in front.points
        if best is None or point.price != best.price
    ]
    if best is not None:
        name = names.get(best.price, "")
        rows.append(_sum(best, name, result.changes, most, proved=result.status == "proved", chosen=True))
    return tuple(sorted(rows, key=lambda row: (row.price, row.flow_m3s)))


def aside(result: Result) -> str:
    """Why sums and steps of one price may differ a little; empty where they do not."""
    advice = result.advice
    if advice is None or are_of_all(advice):
        return ""
    return "The steps of the advice keep all media; these sums may take some out, for a little more flow."


def _names(result: Result) -> dict[int, str]:
    """What the steps of the ladder are called, by their prices."""
    advice = result.advice
    if advice is None:
        return {}
    steps = (step for step in advice.steps if "now" not in step.roles)
    return {step.row.price: step_name(step, advice) for step in steps}


def _sum(row: FrontPoint | Row, name: str, changes: Sequence[Change], most: float, *, proved: bool, chosen: bool = False) -> Sum:
    return Sum(
        name=name,
        price=row.price,
        flow_m3s=row.flow_m3s,
        turnover_per_hour=row.turnover_per_hour,
        noise_dba=row.noise_dba,
        power_w=row.power_w,
        done=by_kind(changes),
        proved=proved,
        chosen=chosen,
        share=row.flow_m3s / most if most > 0.0 else 0.0,
    )
