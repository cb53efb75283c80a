"""The best and the cheapest bundle, on the clean day or over an interval between cleanings, and the loop as it is."""

from dataclasses import replace
from typing import Any, Literal

from optimizer.answers.asked import question_of
from optimizer.answers.question import Progress, Question, answer, stands_now
from optimizer.loop.operating import OperatingPoint
from optimizer.model.catalog import Catalog
from optimizer.model.results import Keep, Result
from optimizer.model.rig import Rig


def best(
    rig: Rig,
    catalog: Catalog,
    *,
    budget: int | None = None,
    prove: bool | Keep = False,
    measured: bool = True,
    interval_days: float = 0.0,
    by: Literal["last", "mean"] = "last",
    clean_flow_m3s: float = 0.0,
    progress: Progress | None = None,
) -> Result:
    """The bundle that delivers the most water within the rig's limits.

    With ``interval_days`` between cleanings it is the one that delivers most on the last of them, or ``by`` the "mean" of them,
    within the limits on all of them and with at least ``clean_flow_m3s`` on the first; then ``prove`` is not looked at, and of a
    rig with branches it is the best of the clean day, followed over the others and not proved.

    ``budget`` in minor units of money replaces the rig's own; ``prove`` adds checks by routes of their own, and may be a
    function that takes the text of the proof, for `check_proof`; the fills in the rig file say what the
    installed parts lose, unless ``measured`` is False; ``progress`` is called with the number of nodes and the
    best flow so far (m3/s). Raises InputError for fills that no loop can explain.
    """
    over: dict[str, Any] = {"days": interval_days, "by": by, "clean_m3s": clean_flow_m3s}
    question, told = question_of(rig, catalog, budget, measured, prove=prove and not interval_days, **over)
    return replace(_answered(question, progress), by_fills=told)


def cheapest(
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float,
    budget: int | None = None,
    prove: bool | Keep = False,
    measured: bool = True,
    interval_days: float = 0.0,
    clean_flow_m3s: float = 0.0,
    progress: Progress | None = None,
) -> Result:
    """The cheapest bundle that delivers at least ``flow_m3s`` (with ``interval_days``: still on the last of them) within the
    rig's limits; else as `best`. Raises ValueError for no flow."""
    if not flow_m3s > 0.0:
        raise ValueError("the flow to deliver must be above zero")
    over: dict[str, Any] = {"days": interval_days, "clean_m3s": clean_flow_m3s}
    question, told = question_of(rig, catalog, budget, measured, flow_m3s=flow_m3s, prove=prove and not interval_days, **over)
    return replace(_answered(question, progress), by_fills=told)


def _answered(question: Question, progress: Progress | None) -> Result:
    if not question.days:
        return answer(question, progress)
    from optimizer.answers.interval import interval_answer  # the clean day starts quicker without the dirt

    return interval_answer(question, progress)


def operating_point(rig: Rig) -> OperatingPoint:
    """Flow and head of a rig as it is today."""
    stands = stands_now(rig, Catalog(parts={}, products=()))
    pumped = -sum(head for element, head in zip(stands.elements, stands.heads_m, strict=True) if element.curve is not None)
    status = "flows" if stands.flow_m3s > 0.0 else "no flow"
    return OperatingPoint(flow_m3s=stands.flow_m3s, head_m=pumped, status=status)
