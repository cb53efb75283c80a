"""The public Python interface: read a rig and a catalog, ask for the best bundle, the cheapest, or why not another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.answers.question import Progress, Question, answer, stands_now
from optimizer.errors import InputError, Problem
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.loop.operating import OperatingPoint
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.results import Result
from optimizer.model.rig import Rig

# what only some answers need is loaded inside them: a plain answer lasts little longer than its libraries take to load
if TYPE_CHECKING:
    from optimizer.model.alternatives import Alternatives
    from optimizer.model.banded import Banded
    from optimizer.model.diagnosis import Diagnosis
    from optimizer.model.drilling import DrillResult
    from optimizer.model.fill import TimedFill
    from optimizer.model.fronts import Front
    from optimizer.model.logbook import Logbook
    from optimizer.model.measured import Measured
    from optimizer.model.measuring import LogEntry
    from optimizer.model.orders import BuyingOrder
    from optimizer.model.verified import Verified

__all__ = [
    "alternatives",
    "bands",
    "best",
    "buying_order",
    "cheapest",
    "diagnose",
    "drill",
    "front",
    "log",
    "measure",
    "operating_point",
    "read_catalog",
    "read_rig",
    "verify",
    "why",
]


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


def front(
    rig: Rig,
    catalog: Catalog,
    *,
    budget: int | None = None,
    progress: Progress | None = None,
    halted: Callable[[], bool] = bool,
) -> Front:
    """What every sum of money up to the budget buys at most, each point proved, and the knee among them.

    ``halted`` is asked after each point whether to stop there. Raises ValueError when neither the rig nor ``budget`` sets an end.
    """
    from optimizer.answers.front import front_answer

    return front_answer(Question(rig=rig, catalog=catalog, limits=_limits(rig, budget)), progress, halted)


def alternatives(
    rig: Rig,
    catalog: Catalog,
    most: int = 5,
    *,
    budget: int | None = None,
    progress: Progress | None = None,
    halted: Callable[[], bool] = bool,
) -> Alternatives:
    """The ``most`` best bundles that differ in at least one position that matters. Raises ValueError for ``most`` below 1."""
    from optimizer.answers.alternatives import alternatives_answer

    question = Question(rig=rig, catalog=catalog, limits=_limits(rig, budget))
    return alternatives_answer(question, most, progress, halted)


def bands(
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float = 0.0,
    budget: int | None = None,
    candidates: int | None = None,
    robust: str | None = None,
    seed: int = 1,
    draws: int = 10_000,
    measured: bool = True,
    progress: Progress | None = None,
    halted: Callable[[], bool] = bool,
) -> Banded:
    """How sure the delivered flow is of the loop as it is, of the best bundle (with ``flow_m3s`` the cheapest that delivers as
    much) and of the next best that truly differ: quantiles over ``draws``, wins, and the measurement worth making.

    ``robust``, for example "P10", names the bundle that is best at that quantile. ``candidates`` says among how many (without it
    5, for a quantile 20). The fills in the rig file narrow what is drawn, unless ``measured`` is False. Raises
    ValueError for no candidates, for a quantile outside P5 to P95, for fewer than 2 or more than 200 000 draws and for a negative
    ``seed``, InputError for fills that no loop can explain.
    """
    from optimizer.answers.bands import FEW, MANY, Wish, bands_answer

    most = (FEW if robust is None else MANY) if candidates is None else candidates
    wish = Wish(most=most, robust=robust or "", seed=seed, draws=draws, measured=measured)
    question = Question(rig=rig, catalog=catalog, limits=_limits(rig, budget), target_m3s=flow_m3s)
    return bands_answer(question, wish, progress, halted)


def buying_order(
    rig: Rig, catalog: Catalog, *, flow_m3s: float = 0.0, budget: int | None = None, progress: Progress | None = None
) -> BuyingOrder:
    """In which order to buy the best bundle, or with ``flow_m3s`` the cheapest that delivers as much.

    Raises InputError for a rig with branches: what a joint inside one frees for another is not followed.
    """
    from optimizer.answers.order import order_answer

    if any(position.branches for position in rig.positions):
        what = "a buying order is offered for loops in series only, and this rig has branches."
        raise InputError(rig.name, [Problem(where="--order", what=what, cure="Leave --order out.")])

    return order_answer(Question(rig=rig, catalog=catalog, limits=_limits(rig, budget), target_m3s=flow_m3s), progress)


def why(rig: Rig, catalog: Catalog, *parts: str, budget: int | None = None) -> str:
    """Why a part, or several taken together, are not the best bundle: which limit they break, which joint does not close, what
    beats them. A part is an id, or a position, "=" and an id. Raises ValueError for none, InputError for unknown ones."""
    if not parts:
        raise ValueError("at least one part must be named")
    question = Question(rig=rig, catalog=catalog, limits=_limits(rig, budget))
    if len(parts) == 1 and "=" not in parts[0]:
        from optimizer.answers.why import explain

        return explain(question, parts[0])
    from optimizer.answers.why_bundle import explain_bundle

    return explain_bundle(question, parts)


def drill(
    rig: Rig,
    *,
    jet_ms: float | None = None,
    jet_most_ms: float | None = None,
    evenness: float | None = None,
    drills: str = "tenths",
    new_bar: bool = False,
) -> DrillResult:
    """Which count of holes and which standard drill give the rig's spray bar the jets that are wanted.

    ``jet_ms`` and ``jet_most_ms`` in m/s bound the mean speed in every hole, ``evenness`` the least flow of a hole over the
    greatest; ``drills`` names a set of `DRILL_SETS`; ``new_bar`` takes an undrilled bar of the same tube. Raises ValueError when
    nothing is asked, KeyError for an unknown set, InputError for a rig whose outlet is no spray bar.
    """
    from optimizer.answers.drill import drill_answer
    from optimizer.model.drilling import Wish

    return drill_answer(rig, Wish(jet_ms=jet_ms, jet_most_ms=jet_most_ms, evenness=evenness), drills, new_bar)


def measure(rig: Rig, fills: Sequence[TimedFill] | None = None, *, power_w: float = 0.0) -> Measured:
    """Flow of every timed fill with its uncertainty, brought to the loop as installed, and the delivered flow by all of them.

    Without ``fills`` those of the rig file; ``power_w`` is what a meter at the socket shows (0: not read). Raises InputError
    without a fill, for a loop with branches, and for fills that no loop can explain.
    """
    from optimizer.answers.measure import measure_answer

    return measure_answer(rig, rig.fills if fills is None else fills, power_w)


def diagnose(
    rig: Rig,
    catalog: Catalog | None = None,
    fills: Sequence[TimedFill] | None = None,
    *,
    power_w: float = 0.0,
    budget: int | None = None,
    progress: Progress | None = None,
) -> Diagnosis:
    """What ails a rig by its fills: expected against measured, where the head goes, what is probably dirty or worn, what a clean
    gives back, what the data cannot tell apart, and the next tests.

    The tests are ranked by what they would tell about the flow of the best bundle of ``catalog`` for ``budget`` (without it the
    rig's own); without a catalog, or when no bundle meets the limits, about today's. Raises InputError as `measure`, but does
    without fills.
    """
    from optimizer.answers.diagnose import diagnose_answer

    upgrade = None if catalog is None else Question(rig=rig, catalog=catalog, limits=_limits(rig, budget))
    return diagnose_answer(rig, rig.fills if fills is None else fills, power_w, upgrade, progress)


def verify(before: Rig, after: Rig) -> Verified:
    """Was it the upgrade or the cleaning? By the fills of a rig before and after. Raises InputError as `measure`."""
    from optimizer.answers.verify import verify_answer

    return verify_answer(before, after)


def log(path: str | Path, *new: LogEntry, rig: Rig | None = None, flow_m3s: float = 0.0) -> Logbook:
    """Write the new entries (see `optimizer.measure.log`) into a log, then say what it tells: flow since each cleaning and, for a
    wanted flow, the next cleaning.

    A ``rig`` brings its fills to the loop as installed and has the wanted flow where ``flow_m3s`` is 0. Raises InputError for a
    file that is no log or cannot be read or written, ValueError for an entry of an unknown kind.
    """
    from optimizer.answers.logbook import logbook_answer

    return logbook_answer(path, new, rig, flow_m3s)


def operating_point(rig: Rig) -> OperatingPoint:
    """Flow and head of a rig as it is today."""
    stands = stands_now(rig, Catalog(parts={}, products=()))
    pumped = -sum(head for element, head in zip(stands.elements, stands.heads_m, strict=True) if element.curve is not None)
    status = "flows" if stands.flow_m3s > 0.0 else "no flow"
    return OperatingPoint(flow_m3s=stands.flow_m3s, head_m=pumped, status=status)


def _limits(rig: Rig, budget: int | None) -> Limits:
    return rig.limits if budget is None else replace(rig.limits, budget=budget)
