"""The answer as a sound adviser gives it: a ladder of sums, each proved, and the step on it that is worth its money.

The rule. The most for the budget is a fact; the advice is the cheapest step from which on further money buys less than can be
told apart. What can be told apart is one share of a flow: as given (``told_apart``), else by the keeper's own fills (two of them
must differ by so much), else what a bucket and a watch can usually tell. A cheaper step is taken too where it is not sure that
the dearer one delivers more at all: in fewer than nine of ten draws of what is not known, the same for both. A step that reaches
what is wanted comes before these; where cleaning does, nothing is bought. Changes that cost nothing but gain less than can be
told apart are not made either. A loop that is known dirty, or whose fills are not explained, is cleaned and measured before any
of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from optimizer.answers.asked import question_of
from optimizer.answers.bill import change_lines
from optimizer.answers.question import Progress, Question, SolvedQuestion, found_standing, inside, result_of, solved
from optimizer.answers.rows import Standing, row
from optimizer.halting import heard, held
from optimizer.model.catalog import Catalog
from optimizer.model.fitted import ByFills
from optimizer.model.options import CLEAN, KEEP
from optimizer.model.parts import Kind
from optimizer.model.results import Advice, Certificate, First, Keep, Reason, RestsOn, Result, Step
from optimizer.model.rig import Position, Rig
from optimizer.search.best import RESOLUTION_M3S, Found, Outcome, Seeker, by_itself
from optimizer.search.fewest_changes import fewest_changes, is_left, left_alone

BUCKET = 0.03
"""What two timed fills can tell apart, as a share of the flow, where nothing better is known: a bucket whose mark is good to 2 %
and a watch held by hand, once before and once after (common practice, no published source)."""

LEAST_BY_FILLS = 0.01
"""However good the fills, a flow changes by as much from one day to the next (common practice, no published source)."""

BETWEEN = (1.0 / 3.0, 2.0 / 3.0)
"""Shares of what the most gains over cleaning that the steps between them reach at least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """A step before it is put into words: what stands then, and where it was found (None: nothing was searched for it)."""

    roles: tuple[str, ...]
    stands: Standing
    proved: bool
    seeker: Seeker | None = None
    found: Found | None = None
    least_m3s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Advised:
    """The advised step of a question: its result, and the question that it is the answer to, solved: the ``asked`` one with the
    places that are left alone staying, and with the flow that the step was looked for."""

    result: Result
    asked: Question
    done: SolvedQuestion


def advise(
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float = 0.0,
    budget: int | None = None,
    told_apart: float | None = None,
    most: bool = False,
    prove: bool | Keep = False,
    measured: bool = True,
    progress: Progress | None = None,
) -> Result:
    """The step that a sound adviser would take on the way to the most water for a budget, with the ladder that it stands on
    (`Result.advice`), or with ``flow_m3s`` the cheapest bundle that delivers as much.

    ``told_apart`` is the share of a flow below which two flows cannot be told apart (None: the rig's own, else by its fills, else
    3 %). ``most``: the most for the budget is the step to take, whatever it gains. ``prove`` may be a function that takes the
    text of the proof, for `check_proof`. The other arguments are those of `best`.
    Raises ValueError for a share outside 0 to 0.5, InputError for fills that no loop can explain.
    """
    question, told = question_of(rig, catalog, budget, measured, flow_m3s=flow_m3s, prove=prove)
    return advised(question, told, told_apart=told_apart, most=most, progress=progress).result


def advised(
    question: Question,
    by_fills: ByFills | None = None,
    *,
    told_apart: float | None = None,
    most: bool = False,
    progress: Progress | None = None,
) -> Advised:
    """The advised step of a question whose rig goes ``by_fills``; see `advise`."""
    share, rests_on = _told_apart(question.rig, by_fills, told_apart)
    done = solved(question, progress)
    with held():  # what was found is put into words, whatever is pressed
        return _Adviser(question, by_fills, done, share, rests_on, most, done.seeker).advised()


def _told_apart(rig: Rig, by_fills: ByFills | None, given: float | None) -> tuple[float, RestsOn]:
    """The share of a flow that can be told apart, and what it rests on."""
    share = given if given is not None else rig.told_apart or None
    if share is not None:
        if not 0.0 <= share <= 0.5:
            raise ValueError("what can be told apart is a share of the flow from 0 to 0.5")
        return share, "given"
    if by_fills is not None and by_fills.relative > 0.0:
        return max(math.sqrt(2.0) * by_fills.relative, LEAST_BY_FILLS), "fills"
    return BUCKET, "bucket"


@dataclass(slots=True)
class _Adviser:
    """Makes the ladder of one solved question, and takes the step. The steps are looked for by ``inner``, which is the whole
    search or the one that leaves all media alone, and the most that it finds is ``top_m3s``."""

    question: Question
    by_fills: ByFills | None
    done: SolvedQuestion
    share: float
    rests_on: RestsOn
    most: bool
    inner: Seeker
    top_m3s: float = 0.0

    def advised(self) -> Advised:
        found = self.done.outcome.found
        if found is None:
            result = replace(result_of(self.question, self.done), by_fills=self.by_fills)
            return Advised(result=result, asked=self.question, done=self.done)
        self._keep_media(found)
        rungs = self._rungs(found)
        lines = self._steps(rungs)
        chosen, reason = self._chosen(lines)
        advice = Advice(
            steps=tuple(lines),
            chosen=chosen,
            reason=reason,
            first=self._first(rungs),
            told_apart=self.share,
            rests_on=self.rests_on,
            wanted_m3s=self._wanted,
            wanted_per_hour=self.question.rig.turnover_per_hour(self._wanted),
            top_m3s=self.top_m3s,
        )
        return self._told(rungs, chosen, advice)

    @property
    def _wanted(self) -> float:
        """The flow that the keeper wants: the wish, or the least flow that the limits ask for."""
        if self.question.target_m3s:
            return self.question.target_m3s
        return max(self.question.rig.target_m3s, self.question.limits.flow_min_m3s)

    def _keep_media(self, most: Found) -> None:
        """Look for the steps among bundles that leave all media alone, where the most that these deliver cannot be told from the
        most of all, and they do so for less: no tray is emptied for what a bucket cannot tell."""
        self.top_m3s = most.flow_m3s
        seeker = self.done.seeker
        canister = self.question.rig.index(Kind.CANISTER)
        option = seeker.options_of(most.bundle)[canister]
        if self.question.target_m3s or self.done.outcome.status != "proved" or is_left(option):
            return
        try:
            with heard():
                alone = inside(seeker, lambda some: left_alone(some, canister))
        except KeyboardInterrupt:  # the ladder then stands among all bundles
            return
        if alone is None:
            return
        with heard():
            kept = alone.most_flow()
        if kept.found is None or kept.status != "proved" or kept.found.flow_m3s < most.flow_m3s * (1.0 - self.share):
            return
        enough = alone.least_price(kept.found.flow_m3s * (1.0 - self.share)).found
        if enough is not None and enough.bundle.price < most.bundle.price:
            self.inner, self.top_m3s = alone, kept.found.flow_m3s

    # -- the ladder ------------------------------------------------------------------------------------------------

    def _rungs(self, found: Found) -> list[Rung]:
        """Now, cleaned, then the sums that matter, each dearer and better than the one before."""
        now = Rung(roles=("now",), stands=self.done.now, proved=True)
        cleaned = self._cleaned()
        proved = self.done.outcome.status == "proved"
        if self.question.target_m3s:
            last = self._rung(("cheapest",), self.done.seeker, found, proved, self.question.target_m3s)
        else:
            last = self._rung(("most",), self.done.seeker, found, proved, found.flow_m3s - RESOLUTION_M3S)
        bought = [last] if self.question.target_m3s or not proved else [*self._between(cleaned, found), last]
        return [now, cleaned, *self._apart(bought, cleaned)]

    def _cleaned(self) -> Rung:
        """What cleaning and free adjustments give, those left out that gain less than can be told apart."""
        nothing = self.done.nothing
        if nothing.seeker is None or nothing.found is None:
            return Rung(roles=("cleaned",), stands=nothing.stands, proved=True)
        least = nothing.found.flow_m3s * (1.0 - self.share)
        found = fewest_changes(nothing.seeker, nothing.found, least)
        stands = found_standing(self.question.rig, nothing.seeker, found)
        return Rung(roles=("cleaned",), stands=stands, proved=True, seeker=nothing.seeker, found=found, least_m3s=least)

    def _between(self, cleaned: Rung, most: Found) -> Iterator[Rung]:
        """The cheapest bundles that reach some of the gain, what is wanted, and all that can be told apart from the most."""
        low = cleaned.stands.flow_m3s
        gain = self.top_m3s - low
        wanted = [("between", self.inner, low + part * gain) for part in BETWEEN if gain > 0.0]
        wish = self.question.rig.target_m3s
        if 0.0 < wish <= most.flow_m3s and not (self.done.nothing.meets and low >= wish):
            wanted.append(("wish", self.done.seeker, wish))
        wanted.append(("enough", self.inner, self.top_m3s * (1.0 - self.share)))
        for role, seeker, flow in wanted:
            with heard():  # Ctrl-C ends the ladder, which then is told as far as it goes
                outcome = by_itself(seeker, partial(seeker.least_price, flow))
            if outcome.found is not None and outcome.status == "proved":
                fewer = fewest_changes(seeker, outcome.found, flow)
                yield self._rung((role,), seeker, fewer, True, flow)

    def _rung(self, roles: tuple[str, ...], seeker: Seeker, found: Found, proved: bool, least_m3s: float) -> Rung:
        stands = found_standing(self.question.rig, seeker, found)
        return Rung(roles=roles, stands=stands, proved=proved, seeker=seeker, found=found, least_m3s=least_m3s)

    def _apart(self, bought: Sequence[Rung], cleaned: Rung) -> Iterator[Rung]:
        """The steps in order of their price. What costs the same is one step; one that only fills the ladder is left out where it
        cannot be told apart from its neighbours."""
        last: Rung | None = None
        lines = sorted(bought, key=lambda rung: (rung.stands.price, rung.stands.flow_m3s, "between" not in rung.roles))
        needed = [rung.stands.flow_m3s for rung in lines if "between" not in rung.roles]
        for rung in lines:
            if rung.stands.price == 0 and "most" not in rung.roles and "cheapest" not in rung.roles and self.done.nothing.meets:
                continue  # what costs nothing is the cleaned step
            flow = rung.stands.flow_m3s
            below = (cleaned if last is None else last).stands.flow_m3s
            near = self.share * flow
            if rung.roles == ("between",) and (flow - below < near or any(0.0 <= each - flow < near for each in needed)):
                continue
            if last is not None and last.stands.price == rung.stands.price:
                rung = replace(rung, roles=tuple(dict.fromkeys((*last.roles, *rung.roles))))
            elif last is not None:
                yield last
            last = rung
        if last is not None:
            yield last

    def _steps(self, rungs: Sequence[Rung]) -> list[Step]:
        """The steps in words, with their bands."""
        from optimizer.answers.ladder_bands import step_bands  # the draws are loaded when a ladder is told

        bands = step_bands(self.question, [rung.stands for rung in rungs])
        return [self._step(rung, *band) for rung, band in zip(rungs, bands, strict=True)]

    def _step(self, rung: Rung, p10: float, p90: float, lead: float) -> Step:
        name = rung.roles[-1]
        changes = tuple(change for change in change_lines(rung.stands.options) if change.change not in (KEEP, CLEAN))
        return Step(
            roles=rung.roles,
            row=row(name, self.question.rig, self.question.limits, rung.stands),
            changes=() if name == "now" else changes,
            proved=rung.proved,
            p10_m3s=p10,
            p90_m3s=p90,
            lead_p10_m3s=lead,
        )

    # -- the step to take ------------------------------------------------------------------------------------------

    def _chosen(self, steps: Sequence[Step]) -> tuple[int, Reason]:
        """Which step is advised, and why."""
        last = len(steps) - 1
        if self.question.target_m3s:
            return last, "cheapest"
        if self.most:
            return last, "asked"
        cleaned = steps[1].row
        if self.done.nothing.meets:
            if self._wanted and cleaned.flow_m3s >= self._wanted * (1.0 - 1e-9):
                return 1, "met"
            if cleaned.flow_m3s >= self.top_m3s * (1.0 - self.share):
                return 1, "cleaned"
        wish = next((n for n, step in enumerate(steps) if "wish" in step.roles), None)
        if wish is not None:
            return wish, "wish"
        enough = next((n for n, step in enumerate(steps) if "enough" in step.roles), last)
        first = 1 if self.done.nothing.meets else 2
        unsure = next((n for n in range(first, enough) if steps[n].lead_p10_m3s <= 0.0 < steps[n].p10_m3s), None)
        if unsure is not None:
            return unsure, "unsure"
        return (enough, "enough") if enough < last else (last, "most")

    def _first(self, rungs: Sequence[Rung]) -> First:
        """Why to clean and measure before anything is bought."""
        now, cleaned = rungs[0].stands.flow_m3s, rungs[1].stands.flow_m3s
        if self.by_fills is not None and self.by_fills.clean_first == "less":
            return "unexplained"
        gained = cleaned > now * (1.0 + max(self.share, BUCKET))
        return "dirty" if gained and _is_dirty(self.question.rig) else ""

    # -- the answer ------------------------------------------------------------------------------------------------

    def _told(self, rungs: Sequence[Rung], chosen: int, advice: Advice) -> Advised:
        """The advised step as a whole answer: its bill, joints, heads and all, with the proof of the most."""
        rung, cleaned = rungs[chosen], rungs[1]
        seeker, outcome = self._where(rung)
        nothing = replace(self.done.nothing, stands=cleaned.stands)
        done = replace(self.done, nothing=nothing, seeker=seeker, outcome=outcome)
        most = next((other for other in rungs if "most" in other.roles and other is not rung), None)
        also = {} if most is None else {"with the most": most.stands}
        result = result_of(replace(self.question, prove=False), done, also)
        proof = result.proof
        if self.question.prove:
            proof = replace(proof, certificates=self._certificates(rung, outcome))
        result = replace(result, proof=proof, by_fills=self.by_fills, advice=advice)
        asked = replace(self.question, rig=_left_alone(self.question.rig, rung.stands))
        if "most" not in rung.roles and not self.question.target_m3s:
            limits = replace(asked.limits, budget=rung.stands.price)
            shown = replace(asked.asked, advised=True)
            asked = replace(asked, target_m3s=rung.least_m3s, limits=limits, shown=shown)
        return Advised(result=result, asked=asked, done=done)

    def _where(self, rung: Rung) -> tuple[Seeker, Outcome]:
        """The search that the step stands in, and what it found; its bound is that of the most."""
        most = self.done.outcome
        if "cleaned" in rung.roles and rung.found is not None:
            inside = self.done.seeker.with_budget(0)
            found = inside.least_price(rung.least_m3s).found
            if found is not None:
                return self.done.seeker, replace(most, found=fewest_changes(inside, found, rung.least_m3s))
        return self.done.seeker, replace(most, found=rung.found or most.found)

    def _certificates(self, rung: Rung, outcome: Outcome) -> tuple[Certificate, ...]:
        from optimizer.answers.certificates import Proved, certificates  # an answer that is not checked starts quicker without

        target, most, seeker = self.question.target_m3s, self.done.outcome, self.done.seeker
        if most.found is None or outcome.found is None:
            return ()
        stands = found_standing(self.question.rig, seeker, most.found)
        says = "the bundle" if target else "the most for the money"
        bundles = [Proved(says=says, seeker=seeker, found=most.found, stands=stands, target_m3s=target)]
        if outcome.found is not most.found:
            where = seeker if rung.seeker is None or "cleaned" in rung.roles else rung.seeker
            says, found, least = "the step that is advised", outcome.found, rung.least_m3s
            bundles.append(Proved(says=says, seeker=where, found=found, stands=rung.stands, target_m3s=least))
        return certificates(most.status, bundles, self.question.keep)


def _is_dirty(rig: Rig) -> bool:
    """Whether anything in the rig file says that the loop is dirty now."""
    return not all(position.state.is_clean for position in rig.every_position) or not all(
        tray.state.is_clean for tray in rig.trays
    )


def _left_alone(rig: Rig, stands: Standing) -> Rig:
    """The rig with every place that a bundle leaves alone staying as it is."""
    positions = (
        _stays(position) if is_left(option) else position for position, option in zip(rig.positions, stands.options, strict=True)
    )
    return replace(rig, positions=tuple(positions))


def _stays(position: Position) -> Position:
    branches = tuple(
        replace(branch, positions=tuple(map(_stays, branch.positions))) for branch in position.branches if branch.installed
    )
    if len(branches) != len(position.branches) or any(not each.stays for branch in branches for each in branch.positions):
        return position  # what is not there yet cannot stay
    return replace(position, stays=True, may_go=False, adjusts=(), branches=branches)
