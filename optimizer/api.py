"""The public Python interface: read a rig and a catalog, ask for the best bundle, the cheapest, or why not another."""

from dataclasses import replace

from optimizer.answers.question import Progress, Question, answer, stands_now
from optimizer.answers.why import explain
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.loop.operating import OperatingPoint
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.results import Result
from optimizer.model.rig import Rig

__all__ = ["best", "cheapest", "operating_point", "read_catalog", "read_rig", "why"]


def best(
    rig: Rig, catalog: Catalog, *, budget: int | None = None, prove: bool = False, progress: Progress | None = None
) -> Result:
    """The bundle that delivers the most water within the rig's limits.

    ``budget`` in minor units of money replaces the rig's own; ``prove`` adds checks by an independent route;
    ``progress`` is called with
    the number of nodes and the best flow so far (m3/s).
    """
    limits = _limits(rig, budget)
    return answer(Question(rig=rig, catalog=catalog, limits=limits, prove=prove), progress)


def cheapest(
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float,
    budget: int | None = None,
    prove: bool = False,
    progress: Progress | None = None,
) -> Result:
    """The cheapest bundle that delivers at least ``flow_m3s`` within the rig's limits. Raises ValueError for no flow."""
    if not flow_m3s > 0.0:
        raise ValueError("the flow to deliver must be above zero")
    limits = _limits(rig, budget)
    return answer(Question(rig=rig, catalog=catalog, limits=limits, target_m3s=flow_m3s, prove=prove), progress)


def why(rig: Rig, catalog: Catalog, part_id: str, *, budget: int | None = None) -> str:
    """Why a part is not in the best bundle: which limit it breaks, which joint does not close, or what beats it."""
    return explain(Question(rig=rig, catalog=catalog, limits=_limits(rig, budget)), part_id)


def operating_point(rig: Rig) -> OperatingPoint:
    """Flow and head of a rig as it is today."""
    stands = stands_now(rig, Catalog(parts={}, products=()))
    pumped = -sum(head for element, head in zip(stands.elements, stands.heads_m, strict=True) if element.curve is not None)
    status = "flows" if stands.flow_m3s > 0.0 else "no flow"
    return OperatingPoint(flow_m3s=stands.flow_m3s, head_m=pumped, status=status)


def _limits(rig: Rig, budget: int | None) -> Limits:
    return rig.limits if budget is None else replace(rig.limits, budget=budget)
