"""How sure the flows of the best truly different bundles are, and which of them is best when things turn out badly.

All bundles, and the loop as it is, are drawn with the same random numbers: every part has the same factor wherever it stands.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from optimizer.answers.advised import advised
from optimizer.answers.alternatives import alternative
from optimizer.answers.asked import by_its_fills, limits_of
from optimizer.answers.question import Progress, Question, proof_of, seek, stands_now
from optimizer.answers.rows import row
from optimizer.answers.stated_loop import stated_loop
from optimizer.answers.words import money
from optimizer.bands import band
from optimizer.bands.candidates import Candidate, candidate
from optimizer.bands.draws import DRAWS, MOST_DRAWS, Factors, draw, unknowns_of
from optimizer.bands.installed import installed
from optimizer.bands.priors import PRIORS
from optimizer.bands.robust import quantile_of
from optimizer.halting import held
from optimizer.loop.standing import StandingLoop, dirtied
from optimizer.model.alternatives import Alternative
from optimizer.model.banded import Banded
from optimizer.model.bands import Band
from optimizer.model.catalog import Catalog
from optimizer.model.results import Proof
from optimizer.model.rig import Rig
from optimizer.search import alternatives as search
from optimizer.search.best import RESOLUTION_M3S, Found, Outcome, Seeker

if TYPE_CHECKING:
    from optimizer.answers.interval import OverInterval
    from optimizer.dirt.followed import Course

FEW, MANY = 5, 20
"""So many bundles are drawn, and so many where the most robust of them is chosen."""

Halted = Callable[[], bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class BandWish:
    """What is asked of the draws. ``robust`` is a quantile such as P10 (empty: nothing is chosen by it); not ``measured``: the
    rig's fills are left out.

    Raises ValueError for no bundles, a quantile outside P5 to P95, and numbers of draws and seeds that `draw` refuses.
    """

    most: int = FEW
    robust: str = ""
    seed: int = 1
    draws: int = DRAWS
    measured: bool = True

    def __post_init__(self) -> None:
        if self.most < 1:
            raise ValueError("at least one bundle must be asked for")
        if self.robust:
            quantile_of(self.robust)
        if self.seed < 0 or not 2 <= self.draws <= MOST_DRAWS:
            raise ValueError(f"bands take 2 to {MOST_DRAWS} draws and a seed that is not negative")

    @classmethod
    def of(cls, candidates: int | None, robust: str | None, seed: int, draws: int, measured: bool) -> "BandWish":
        """What is asked; without a number of candidates few, and more where one is chosen by a quantile."""
        most = (FEW if robust is None else MANY) if candidates is None else candidates
        return cls(most=most, robust=robust or "", seed=seed, draws=draws, measured=measured)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Listed:
    """The bundles that are drawn, where they come from, and in words how they were chosen; of an interval its one, followed."""

    seeker: Seeker
    found: tuple[Found, ...]
    lines: tuple[Alternative, ...]
    status: str
    made: str
    run: "Course | None" = None
    by_clean_day: bool = False


def bands(
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float = 0.0,
    budget: int | None = None,
    candidates: int | None = None,
    robust: str | None = None,
    seed: int = 1,
    draws: int = DRAWS,
    measured: bool = True,
    interval_days: float = 0.0,
    by: Literal["last", "mean"] = "last",
    clean_flow_m3s: float = 0.0,
    told_apart: float | None = None,
    most: bool = False,
    progress: Progress | None = None,
    halted: Halted = bool,
) -> Banded:
    """How sure the delivered flow is of the loop as it is, of the advised step (``most``: of the bundle that delivers most for
    the budget; with ``flow_m3s`` of the cheapest that delivers as much) and of the next best that truly differ: quantiles over
    ``draws``, wins, and the measurement worth making. ``told_apart`` as in `advise`.

    ``robust``, for example "P10", names the bundle that is best at that quantile, of those that deliver
    most for the budget. ``candidates`` says among how many (without it
    5, for a quantile 20). The fills in the rig file narrow what is drawn, unless ``measured`` is False. Raises
    ValueError for no candidates, for a quantile outside P5 to P95, for fewer than 2 or more than 200 000 draws and for a negative
    ``seed``, InputError for fills that no loop can explain.

    With ``interval_days`` the one bundle of the interval is drawn, as `best` finds it, on the clean day and on the last, with the
    dirt that the model has by then.
    """
    wish = BandWish.of(candidates, robust, seed, draws, measured)
    question = Question(
        rig=rig,
        catalog=catalog,
        limits=limits_of(rig, budget),
        target_m3s=flow_m3s,
        days=interval_days,
        by=by,
        clean_m3s=clean_flow_m3s,
    )
    if most or flow_m3s or interval_days or robust:
        return bands_answer(question, wish, progress, halted)
    fitted, told = by_its_fills(rig, measured)
    advice = advised(replace(question, rig=fitted), told, told_apart=told_apart, progress=progress)
    asked = replace(advice.asked, rig=replace(advice.asked.rig, fitted=None))
    return bands_answer(asked, wish, progress, halted)


def bands_answer(
    question: Question,
    wish: BandWish,
    progress: Progress | None = None,
    halted: Halted = bool,
    over: "OverInterval | None" = None,
) -> Banded:
    """Bands of the best bundles that differ where it matters. Ctrl-C gives what is known by then, at the least the best bundle
    that the search had found, without a band. ``over``: what was found of an interval, where that is known."""
    rig = _believed(question.rig, wish)
    blank = Banded(
        **question.told,
        asked=wish.most,
        now=None,
        now_band=None,
        candidates=(),
        band=None,
        beats_now_share=0.0,
        ask_m3s=0.0,
        proof=Proof(status="proved", combinations=0),
    )
    fitted, known, left_out = _by_fills(rig, wish)
    question = replace(question, rig=fitted)
    listed = _of_interval(question, progress, over) if question.days else _listed(question, wish, progress, halted)
    with held():
        stands = row("now", rig, question.limits, stands_now(fitted, question.catalog))
    told = replace(
        blank,
        now=stands,
        fills=0 if left_out else len(rig.fills),
        fills_left_out=left_out,
        candidates=listed.lines,
        proof=proof_of(listed.seeker, listed.status),
        by_clean_day=listed.by_clean_day,
    )
    if halted() and not listed.found:
        return told
    try:
        now = _wanted(installed(rig, "now"), _least(question))
        line = band.line_of(now, seed=wish.seed, draws=wish.draws, known=known)
        told = replace(told, now_band=replace(line, stated_m3s=stands.flow_m3s))
        drawn = [_candidate(question, listed, n) for n in range(len(listed.found))]
        told = _drawn(told, drawn, now, wish, listed.made, known)
        return told if listed.run is None else _on_last_day(told, question, listed, listed.run, wish, known)
    except KeyboardInterrupt:
        return replace(told, proof=replace(told.proof, status="stopped"))


def _believed(rig: Rig, wish: BandWish) -> Rig:
    """The rig without the fills that cannot be."""
    if not rig.fills or not wish.measured:
        return rig
    from optimizer.answers.measure import believed  # only a rig that was measured needs it

    return believed(rig)


def _by_fills(rig: Rig, wish: BandWish) -> tuple[Rig, band.Known, str]:
    """The rig to search with, what the fills of the rig make of the factors of draws, and why these do not count.

    Raises InputError for fills that no loop can explain.
    """
    if not rig.fills:
        return rig, band.nothing_more, ""
    if not wish.measured:
        return rig, band.nothing_more, "as asked"
    from optimizer.answers.by_fills import fitted_parts  # only a rig that was measured needs it
    from optimizer.answers.measure import calibrated

    posterior = calibrated(rig, rig.fills)
    return replace(rig, fitted=fitted_parts(posterior)), posterior.known(), ""


def _drawn(told: Banded, drawn: Sequence[Candidate], now: Candidate, wish: BandWish, made: str, known: band.Known) -> Banded:
    """The answer with what the draws say of the bundles."""
    if not drawn:
        return told
    percent = quantile_of(wish.robust) if wish.robust else None
    bands = _as_stated(band.of(drawn, seed=wish.seed, draws=wish.draws, percent=percent, made=made, known=known), told)
    chosen = next(each for each in drawn if each.name == bands.told)
    return replace(
        told,
        band=bands,
        beats_now_share=_beats_share(chosen, now, wish, known),
        ask_m3s=_ask_instead(bands, told.question.target_m3s),
    )


def _as_stated(bands: Band, told: Banded) -> Band:
    """The bands with the flows that the search states."""
    stated = {each.row.name: each.row.flow_m3s for each in told.candidates}
    return replace(bands, lines=tuple(replace(line, stated_m3s=stated[line.name]) for line in bands.lines))


def _beats_share(one: Candidate, now: Candidate, wish: BandWish, known: band.Known) -> float:
    """Share of the draws in which a bundle delivers more than the loop as it is."""
    pair = [one, now]
    factors = known(Factors(draw(unknowns_of(each.unknowns for each in pair), wish.draws, wish.seed), PRIORS))
    flows = band.delivered_flows(pair, factors)
    return float(np.mean(flows[0] > flows[1] + RESOLUTION_M3S))


def _ask_instead(bands: Band, target_m3s: float) -> float:
    """The flow to ask for so that P10 reaches the target, if P10 keeps its ratio to the stated flow; 0 where it does already."""
    line = next(line for line in bands.lines if line.name == bands.told)
    if line.p10_m3s >= target_m3s - RESOLUTION_M3S or line.p10_m3s <= 0.0:
        return 0.0
    return target_m3s * line.stated_m3s / line.p10_m3s


def _listed(question: Question, wish: BandWish, progress: Progress | None, halted: Halted) -> _Listed:
    """The best for the budget and those after it; of the cheapest way to a flow those that cost no more."""
    seeker = seek(question, progress, apart=True)
    if question.target_m3s:
        cheapest = seeker.least_price(question.target_m3s)
        if cheapest.found is None:
            return _nothing(seeker, cheapest)
        seeker = seeker.with_budget(cheapest.found.bundle.price)
    told = search.alternatives(seeker, wish.most, None, halted)
    with held():
        lines = tuple(alternative(question, seeker, told.things, n, told.found) for n in range(len(told.found)))
    made = _made(question, wish, lines, told.status)
    return _Listed(seeker=seeker, found=told.found, lines=lines, status=told.status, made=made)


def _nothing(seeker: Seeker, outcome: Outcome) -> _Listed:
    return _Listed(seeker=seeker, found=(), lines=(), status=outcome.status, made="")


def _made(question: Question, wish: BandWish, lines: Sequence[Alternative], status: str) -> str:
    """How the set of bundles came about, in words."""
    if question.target_m3s:
        most = f" that cost no more than the cheapest way to the wanted flow, {money(lines[0].row.price)}" if lines else ""
    else:
        most = "" if question.limits.budget is None else f" for at most {money(question.limits.budget)}"
    if status != "proved":
        return f"the {len(lines)} that were found before the search was stopped{most}"
    if len(lines) == 1:
        return f"the only one that there is{most}"
    figures = "stated" if question.rig.fitted is None else "fitted"
    which = (
        f"the {len(lines)} that deliver most by the {figures} figures"
        if len(lines) == wish.most
        else f"all {len(lines)} there are"
    )
    return f"{which}{most}, each truly different from better ones"


def _candidate(question: Question, listed: _Listed, rank: int) -> Candidate:
    """One bundle, ready to be drawn."""
    found = listed.found[rank]
    top = found.flow_m3s if found.delivered.held_by else math.inf
    loop, name = _stated_loop(question, listed, found), listed.lines[rank].row.name
    return _wanted(candidate(loop, question.rig.limits, name, top), _least(question))


def _stated_loop(question: Question, listed: _Listed, found: Found) -> StandingLoop:
    """A bundle as it stands, by stated figures: the draws know the fills themselves."""
    problem = listed.seeker.problem
    joints = tuple(problem.joint(flat) for flat in found.bundle.path.joints)
    return stated_loop(question.rig, problem.choices.water, listed.seeker.options_of(found.bundle), joints)


def _least(question: Question) -> float:
    """The flow that is wanted on the clean day (0: none)."""
    return question.clean_m3s if question.days else question.asked.target_m3s


def _wanted(one: Candidate, least_m3s: float) -> Candidate:
    """The candidate with a wanted flow among its limits, to the resolution within which the search calls it delivered."""
    return replace(one, least_m3s=max(one.least_m3s, least_m3s - RESOLUTION_M3S))


# -- over an interval ------------------------------------------------------------------------------------------------


def _of_interval(question: Question, progress: Progress | None, over: "OverInterval | None") -> _Listed:
    """The one bundle of an interval, with its course."""
    from optimizer.answers.interval import over_interval  # most bands are of the clean day

    over = over_interval(question, progress) if over is None else over
    seeker, best = over.done.seeker, over.done.outcome.found
    if best is None:
        return _Listed(seeker=seeker, found=(), lines=(), status=over.status, made="")
    with held():
        lines, run = (alternative(over.question, seeker, None, 0, (best,)),), over.course()
    return _Listed(
        seeker=seeker, found=(best,), lines=lines, status=over.status, made="", run=run, by_clean_day=over.by_clean_day
    )


def _on_last_day(told: Banded, question: Question, listed: _Listed, run: "Course", wish: BandWish, known: band.Known) -> Banded:
    """With the band of the last day: the same draws, and the dirt that the model has by then, of which nothing is drawn."""
    loop, limits = _stated_loop(question, listed, listed.found[0]), question.rig.limits
    aged = dirtied(loop, run.states(-1), run.tray_states(-1))
    last, own = float(run.flow_m3s[-1]), float(run.own_m3s[-1])
    one = candidate(aged, limits, f"best, day {question.days:g}", last if own > last * (1 + 1e-9) else math.inf)
    line = band.line_of(_wanted(one, question.target_m3s), seed=wish.seed, draws=wish.draws, known=known)
    line = replace(line, stated_m3s=last)
    short = 0.0 < line.p10_m3s < question.target_m3s - RESOLUTION_M3S
    return replace(told, last_band=line, ask_m3s=question.target_m3s * last / line.p10_m3s if short else 0.0)
