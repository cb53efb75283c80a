"""The money-flow front of a rig: every point solved again in scalars, with what it does otherwise than the one before."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from optimizer.answers.asked import question_of
from optimizer.answers.bill import change_lines
from optimizer.answers.question import Progress, Question, SolvedQuestion, found_standing, proof_of, seek, stands_now, tally
from optimizer.answers.rows import Standing, row
from optimizer.halting import held
from optimizer.model.catalog import Catalog
from optimizer.model.fronts import Front, FrontPoint, Knee
from optimizer.model.options import KEEP
from optimizer.model.results import Change, Row
from optimizer.model.rig import Rig
from optimizer.search import front as points_of
from optimizer.search.best import Seeker


def front(
    rig: Rig,
    catalog: Catalog,
    *,
    budget: int | None = None,
    measured: bool = True,
    progress: Progress | None = None,
    halted: Callable[[], bool] = bool,
) -> Front:
    """What every sum of money up to the budget buys at most, each point proved, and the knee among them.

    ``halted`` is asked after each point whether to stop there. Raises ValueError when neither the rig nor ``budget`` sets an end.
    """
    question, told = question_of(rig, catalog, budget, measured)
    return replace(front_answer(question, progress, halted), by_fills=told)


def front_answer(
    question: Question,
    progress: Progress | None = None,
    halted: Callable[[], bool] = bool,
    done: SolvedQuestion | None = None,
) -> Front:
    """All points up to the question's budget; of a question that is ``done`` the problem need not be made again. Raises
    ValueError when it has no budget."""
    limits = question.limits
    if limits.budget is None:
        raise ValueError("a front needs a budget to end at")
    seeker = seek(question, progress) if done is None else Seeker(done.seeker.problem, tally(progress))
    found = points_of.money_flow_front(seeker, limits.budget, None, halted)
    complete = not halted() and (bool(found) or not seeker.tally.stopped)
    with held():
        now = stands_now(question.rig, question.catalog) if done is None else done.now
        return _told(question, seeker, found, complete, now)


def _told(question: Question, seeker: Seeker, found: Sequence[points_of.FrontPoint], complete: bool, stands: Standing) -> Front:
    rig, limits = question.rig, question.limits
    now = row("now", rig, limits, stands)
    points = _points(rig, seeker, question, found, now)
    return Front(
        **question.told,
        now=now,
        points=points,
        knee=_knee(found) if complete else None,
        complete=complete,
        proof=proof_of(seeker, "proved" if complete else "stopped"),
    )


def _points(
    rig: Rig, seeker: Seeker, question: Question, found: Sequence[points_of.FrontPoint], now: Row
) -> tuple[FrontPoint, ...]:
    made: list[FrontPoint] = []
    before: dict[str, Change] = {}
    flow = now.flow_m3s
    for point in found:
        stands = found_standing(rig, seeker, point.found)
        line = row("", rig, question.limits, stands)
        done = {change.place: change for change in change_lines(stands.options)}
        made.append(
            FrontPoint(
                price=line.price,
                flow_m3s=line.flow_m3s,
                turnover_per_hour=line.turnover_per_hour,
                noise_dba=line.noise_dba,
                power_w=line.power_w,
                gained_m3s=line.flow_m3s - flow,
                proved=point.proved,
                changes=tuple(c for place, c in done.items() if _differs(before.get(place), c)),
                done=tuple(c for c in done.values() if c.change != KEEP),
            )
        )
        before, flow = done, line.flow_m3s
    return tuple(made)


def _differs(before: Change | None, after: Change) -> bool:
    """Whether a position is treated otherwise than before; at first, otherwise than left as it is."""
    return after.change != KEEP if before is None else after != before


def _knee(found: Sequence[points_of.FrontPoint]) -> Knee | None:
    chosen = points_of.knee(found)
    if chosen is None:
        return None
    first, last = found[0], found[-1]
    return Knee(point=found.index(chosen), before_m3s=_rate(first, chosen), after_m3s=_rate(chosen, last))


def _rate(one: points_of.FrontPoint, other: points_of.FrontPoint) -> float:
    return (other.flow_m3s - one.flow_m3s) / max(other.price - one.price, 1)
