"""The public Python interface: read a rig and a catalog, ask for the best bundle, the cheapest, or why not another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.answers.question import Progress, Question, answer, stands_now
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.loop.operating import OperatingPoint
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.results import Result
from optimizer.model.rig import Rig
from optimizer.model.shown import shown_by

# what only some answers need is loaded inside them: a plain answer lasts little longer than its libraries take to load
if TYPE_CHECKING:
    import pandas as pd

    from optimizer.dirt.laws import Laws
    from optimizer.model.ageing import Ageing
    from optimizer.model.alternatives import Alternatives
    from optimizer.model.banded import Banded
    from optimizer.model.compared import Compared
    from optimizer.model.diagnosis import Diagnosis
    from optimizer.model.dossiers import Dossier, Made
    from optimizer.model.drilling import DrillResult
    from optimizer.model.fill import TimedFill
    from optimizer.model.fitted import ByFills
    from optimizer.model.fronts import Front
    from optimizer.model.household import Household
    from optimizer.model.kits import KitPlan
    from optimizer.model.logbook import Logbook
    from optimizer.model.measured import Measured
    from optimizer.model.measuring import LogEntry
    from optimizer.model.orders import BuyingOrder
    from optimizer.model.saved import Saved
    from optimizer.model.shared import SharedResult
    from optimizer.model.shop import Store
    from optimizer.model.verified import Verified

__all__ = [
    "ageing",
    "alternatives",
    "bands",
    "best",
    "both_with_log",
    "buying_order",
    "cheapest",
    "compare",
    "diagnose",
    "dossier",
    "drill",
    "front",
    "kits",
    "log",
    "measure",
    "operating_point",
    "page",
    "read_answer",
    "read_catalog",
    "read_household",
    "read_rig",
    "read_shop",
    "share",
    "to_frame",
    "verify",
    "why",
    "with_log",
]


def best(
    rig: Rig,
    catalog: Catalog,
    *,
    budget: int | None = None,
    prove: bool = False,
    measured: bool = True,
    interval_days: float = 0.0,
    by: str = "last",
    progress: Progress | None = None,
) -> Result:
    """The bundle that delivers the most water within the rig's limits.

    With ``interval_days`` between cleanings it is the one that delivers most on the last of them, or ``by`` the "mean" of them,
    within the limits on the clean and on the last day; then ``prove`` is not looked at, and of a rig with branches it is the best
    of the clean day, followed over the others and not proved.

    ``budget`` in minor units of money replaces the rig's own; ``prove`` adds checks by an independent route; the fills in the rig
    file say what the installed parts lose, unless ``measured`` is False; ``progress`` is called with the number of nodes and the
    best flow so far (m3/s). Raises InputError for fills that no loop can explain.
    """
    rig, told = _by_fills(rig, measured)
    question = Question(rig=rig, catalog=catalog, limits=_limits(rig, budget), prove=prove and not interval_days)
    found = _lasting(question, interval_days, by, progress) if interval_days else answer(question, progress)
    return replace(found, by_fills=told) if told is not None else found


def cheapest(
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float,
    budget: int | None = None,
    prove: bool = False,
    measured: bool = True,
    interval_days: float = 0.0,
    progress: Progress | None = None,
) -> Result:
    """The cheapest bundle that delivers at least ``flow_m3s`` (with ``interval_days``: still on the last of them) within the
    rig's limits; else as `best`. Raises ValueError for no flow."""
    if not flow_m3s > 0.0:
        raise ValueError("the flow to deliver must be above zero")
    rig, told = _by_fills(rig, measured)
    proving = prove and not interval_days
    question = Question(rig=rig, catalog=catalog, limits=_limits(rig, budget), target_m3s=flow_m3s, prove=proving)
    found = _lasting(question, interval_days, "last", progress) if interval_days else answer(question, progress)
    return replace(found, by_fills=told) if told is not None else found


def _lasting(question: Question, days: float, by: str, progress: Progress | None) -> Result:
    from optimizer.answers.lasting import lasting_answer  # only an interval needs the dirt

    return lasting_answer(question, days, by, progress)


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
    from optimizer.answers.front import front_answer

    rig, told = _by_fills(rig, measured)
    found = front_answer(Question(rig=rig, catalog=catalog, limits=_limits(rig, budget)), progress, halted)
    return replace(found, by_fills=told) if told is not None else found


def alternatives(
    rig: Rig,
    catalog: Catalog,
    most: int = 5,
    *,
    budget: int | None = None,
    measured: bool = True,
    progress: Progress | None = None,
    halted: Callable[[], bool] = bool,
) -> Alternatives:
    """The ``most`` best bundles that differ in at least one position that matters. Raises ValueError for ``most`` below 1."""
    from optimizer.answers.alternatives import alternatives_answer

    rig, told = _by_fills(rig, measured)
    question = Question(rig=rig, catalog=catalog, limits=_limits(rig, budget))
    found = alternatives_answer(question, most, progress, halted)
    return replace(found, by_fills=told) if told is not None else found


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
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float = 0.0,
    budget: int | None = None,
    measured: bool = True,
    progress: Progress | None = None,
    halted: Callable[[], bool] = bool,
) -> BuyingOrder:
    """In which order to buy the best bundle, or with ``flow_m3s`` the cheapest that delivers as much.

    ``halted`` is asked whether to hurry: the order is then a greedy one and says so.
    """
    from optimizer.answers.order import order_answer

    rig, told = _by_fills(rig, measured)
    question = Question(rig=rig, catalog=catalog, limits=_limits(rig, budget), target_m3s=flow_m3s)
    found = order_answer(question, progress, halted)
    return replace(found, by_fills=told) if told is not None else found


def why(rig: Rig, catalog: Catalog, *parts: str, budget: int | None = None, measured: bool = True) -> str:
    """Why a part, or several taken together, are not the best bundle: which limit they break, which joint does not close, what
    beats them. A part is an id, or a position, "=" and an id. Raises ValueError for none, InputError for unknown ones."""
    if not parts:
        raise ValueError("at least one part must be named")
    rig, told = _by_fills(rig, measured)
    question = Question(rig=rig, catalog=catalog, limits=_limits(rig, budget))
    if len(parts) == 1 and "=" not in parts[0]:
        from optimizer.answers.why import explain

        text = explain(question, parts[0])
    else:
        from optimizer.answers.why_bundle import explain_bundle

        text = explain_bundle(question, parts)
    if told is None:
        return text
    from optimizer.report.fitted_lines import by_fills_text

    return f"{text}\n{by_fills_text(told)}"


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


def both_with_log(before: Rig, after: Rig, path: str | Path) -> tuple[Rig, Rig]:
    """Two rigs, before and after some work, with the fills of a log: the last before its last change (or where it has none, its
    last cleaning), and the first after it. Raises InputError as `with_log`, and for a log without either."""
    from optimizer.answers.logged import both_with_log as joined

    return joined(before, after, path)


def log(path: str | Path, *new: LogEntry, rig: Rig | None = None, flow_m3s: float = 0.0) -> Logbook:
    """Write the new entries (see `optimizer.measure.log`) into a log, then say what it tells: flow since each cleaning and, for a
    wanted flow, the next cleaning.

    A ``rig`` brings its fills to the loop as installed and has the wanted flow where ``flow_m3s`` is 0. Raises InputError for a
    file that is no log or cannot be read or written, ValueError for an entry of an unknown kind.
    """
    from optimizer.answers.logbook import logbook_answer

    return logbook_answer(path, new, rig, flow_m3s)


def ageing(rig: Rig, *, days: int = 90, laws: Laws | None = None, renew: bool = False, measured: bool = True) -> Ageing:
    """A rig over so many days since a clean of everything, and as it is: flow, what is missed when, what clogs first, when each
    stage is due, and whether bacteria have surface enough.

    ``laws`` are those of dirt (see `optimizer.dirt.laws.Laws`; without them the usual); ``renew`` adds the steps in which
    biological media are renewed; the fills in the rig file say what its parts lose, unless ``measured`` is False. Raises
    ValueError for fewer than 1 or more than 730 days, InputError for a rig that does not flow and for fills that no loop can
    explain.
    """
    from optimizer.answers.ageing import ageing_answer
    from optimizer.dirt.laws import USUAL

    rig, told = _by_fills(rig, measured)
    found = ageing_answer(rig, days, laws or USUAL, renew)
    return replace(found, by_fills=told) if told is not None else found


def with_log(rig: Rig, path: str | Path) -> Rig:
    """The rig with the fills of a log beside its own, as far as they were made with the parts and the dirt of now.

    Raises InputError for a file that is not there, cannot be read, is no log or that of another tank.
    """
    from optimizer.answers.logged import with_log as joined

    return joined(rig, path)


def read_shop(path: str | Path, catalog: Catalog) -> Store:
    """The shop in a TOML file: stock, shelf prices and the tanks of its customers. Raises InputError with all problems found."""
    from optimizer.files.shop_toml import read_shop as read

    return read(path, catalog)


def read_household(path: str | Path, catalog: Catalog) -> Household:
    """The household in a file, with all its rigs. Raises InputError with all problems in all of its files."""
    from optimizer.files.household_toml import read_household as read

    return read(path, catalog)


def share(
    household: Household,
    catalog: Catalog,
    *,
    budget: int | None = None,
    objective: str = "worst",
    measured: bool = True,
    progress: Progress | None = None,
) -> SharedResult:
    """One budget shared between the tanks of a household: who gets what, what is handed on, the order of work and one bill.

    ``objective`` names the aim that the bill is for: ``worst``, ``shortfall`` or ``flow``; all are answered. ``budget`` in minor
    units replaces the household's own; the fills of its rigs count as in `best`, unless ``measured`` is False. Raises ValueError
    when there is no budget, and for an unknown objective, InputError for fills that no loop can explain.
    """
    from optimizer.tanks.share import AIMS
    from optimizer.tanks.shared_result import shared_answer

    names = dict(zip(("worst", "shortfall", "flow"), AIMS, strict=True))
    if objective not in names:
        raise ValueError(f"no objective is called {objective}")
    asked = household if budget is None else replace(household, budget=budget)
    return shared_answer(asked, catalog, names[objective], progress, measured)


def kits(
    store: Store,
    *,
    by: str = "gain",
    most: int | None = None,
    workers: int = 1,
    scheduler: str | None = None,
    results: str | Path | None = None,
    progress: Callable[[str, int, int], None] | None = None,
    remark: Callable[[str], None] | None = None,
) -> KitPlan:
    """At most ``most`` kits (without it as many as the shop says) that serve a shop's tanks best, and what its stock is worth.

    ``by`` is "gain" or "coverage". ``workers`` processes solve, or with ``scheduler`` ("tcp://...") a Dask cluster; the answer is
    the same whoever does. ``results`` is a file that answers are kept in and taken from, so that stopped work goes on.
    ``progress`` is called with what is solved, how many are done, and of how many, ``remark`` with a line about what else
    there is to say: that lines of ``results`` are of no use, that a cluster has no worker. Ctrl-C gives what is known by then, or
    raises KeyboardInterrupt. Raises ValueError for an unknown ``by``, no kits, no workers, or both workers and a scheduler,
    InputError for a file that is none of results, OSError for a scheduler that does not answer.
    """
    from optimizer.files.results_file import ResultsFile, passed_over
    from optimizer.model.kits import BY
    from optimizer.tanks.asking import Asker
    from optimizer.tanks.plan import kits_answer
    from optimizer.tanks.pool import cluster, in_this_process, processes
    from optimizer.version import source_sum, version

    if by not in BY:
        raise ValueError(f"kits are chosen by {' or '.join(BY)}, not {by!r}")
    if scheduler is not None and workers != 1:
        raise ValueError("either processes of this machine or a cluster solve, not both")
    asked = store if most is None else replace(store, most_kits=most)
    here = in_this_process if workers == 1 else processes(workers)
    hire = here if scheduler is None else cluster(scheduler, remark or (lambda _: None))
    if results is None:
        return kits_answer(Asker(store=asked, hire=hire, told=progress), by)
    kept = ResultsFile(results)
    asker = Asker(store=asked, hire=hire, results=kept, told=progress, version=f"{version()} {source_sum()}")
    plan = kits_answer(asker, by)
    if remark is not None and (lines := kept.damaged + asker.refused):
        remark(passed_over(results, lines))
    return plan


def compare(
    catalog: Catalog, *sources: str | Path | Rig | Result, budget: int | None = None, progress: Progress | None = None
) -> Compared:
    """Several rigs, rig files, answers, or saved answers (files that end in .json) side by side; rigs are answered with `best`.

    Raises ValueError for none, InputError with the problems of all files.
    """
    from optimizer.files.comparable import read_all
    from optimizer.model.compared import Compared, column_of

    if not sources:
        raise ValueError("at least one answer must be given")
    made = []
    for name, each in read_all(sources, catalog):
        answered = best(each, catalog, budget=budget, progress=progress) if isinstance(each, Rig) else each
        made.append(column_of(name, answered))
    return Compared(columns=tuple(made))


def dossier(
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float = 0.0,
    budget: int | None = None,
    prove: bool = False,
    candidates: int | None = None,
    robust: str | None = None,
    seed: int = 1,
    draws: int = 10_000,
    measured: bool = True,
    made: Made | None = None,
    progress: Progress | None = None,
    halted: Callable[[], bool] = bool,
) -> Dossier:
    """All that a report shows: the best bundle (with ``flow_m3s`` the cheapest that delivers as much), what every sum buys,
    bands, the buying order, curves, and the shopping list. The arguments are those of `best` and `bands`; ``made`` says with
    what.

    ``halted`` is asked before every further search whether to leave it out.
    """
    from optimizer.answers.bands import FEW, MANY, Wish
    from optimizer.answers.dossier import dossier_answer

    most = (FEW if robust is None else MANY) if candidates is None else candidates
    wish = Wish(most=most, robust=robust or "", seed=seed, draws=draws, measured=measured)
    fitted, told = _by_fills(rig, measured)
    question = Question(rig=fitted, catalog=catalog, limits=_limits(rig, budget), target_m3s=flow_m3s, prove=prove)
    return dossier_answer(question, wish, rig, told, made, progress, halted)


def read_answer(path: str | Path) -> Saved:
    """A saved answer read back from its JSON file. Raises InputError for a file that is none."""
    from optimizer.files.answer_json import read_saved

    return read_saved(path)


def page(answer: object, units: str = "metric") -> str:
    """An answer (a dossier, one of the answers it is made of, kits, or a household) as one HTML page. Raises ValueError for other
    answers and other units."""
    from optimizer.model.dossiers import Dossier, as_dossier
    from optimizer.model.kits import KitPlan
    from optimizer.model.shared import SharedResult

    if isinstance(answer, KitPlan):
        from optimizer.report.html.kits_page import kits_page

        return kits_page(answer, units)
    if isinstance(answer, SharedResult):
        from optimizer.report.html.household_page import household_page

        return household_page(answer, units)
    from optimizer.report.html.page import page as rendered

    return rendered(answer if isinstance(answer, Dossier) else as_dossier(answer), units)


shown_by(page)


def to_frame(answer: Front | Result | SharedResult) -> pd.DataFrame:
    """A front, or the bill of an answer or of a household, as a pandas table with the columns of its CSV."""
    from optimizer.model.fronts import Front
    from optimizer.report.frames import bill_frame, front_frame  # only who wants tables needs it

    return front_frame(answer) if isinstance(answer, Front) else bill_frame(answer.bill, answer.currency)


def operating_point(rig: Rig) -> OperatingPoint:
    """Flow and head of a rig as it is today."""
    stands = stands_now(rig, Catalog(parts={}, products=()))
    pumped = -sum(head for element, head in zip(stands.elements, stands.heads_m, strict=True) if element.curve is not None)
    status = "flows" if stands.flow_m3s > 0.0 else "no flow"
    return OperatingPoint(flow_m3s=stands.flow_m3s, head_m=pumped, status=status)


def _by_fills(rig: Rig, measured: bool = True) -> tuple[Rig, ByFills | None]:
    """The rig to search with, by its fills where it has any, and what to say of them."""
    if not rig.fills:
        return rig, None
    from optimizer.answers.by_fills import by_fills  # only a rig that was measured needs it

    return by_fills(rig, measured)


def _limits(rig: Rig, budget: int | None) -> Limits:
    return rig.limits if budget is None else replace(rig.limits, budget=budget)
