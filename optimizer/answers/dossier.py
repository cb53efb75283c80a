"""Everything a report shows of one question: the result, and around it what needs further searches or figures.

Each block stands for itself: one that cannot be made, or that Ctrl-C interrupts, is left out and the dossier says why.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from optimizer.answers.advised import Advised, advised
from optimizer.answers.asked import question_of
from optimizer.answers.bands import BandWish, bands_answer
from optimizer.answers.curves import curves
from optimizer.answers.falls import falls, walked
from optimizer.answers.flood_volume import spill
from optimizer.answers.front import front_answer
from optimizer.answers.order import order_answer
from optimizer.answers.question import Progress, Question, SolvedQuestion, found_standing
from optimizer.answers.rows import Standing
from optimizer.answers.shopping import shopping
from optimizer.bands.draws import DRAWS
from optimizer.dirt.course import Course
from optimizer.halting import heard, held
from optimizer.model.banded import Banded
from optimizer.model.catalog import Catalog
from optimizer.model.dossiers import Curves, Dossier, Made, ShopRow
from optimizer.model.fitted import ByFills
from optimizer.model.fronts import Front
from optimizer.model.orders import BuyingOrder
from optimizer.model.results import Keep
from optimizer.model.rig import Rig

if TYPE_CHECKING:
    from optimizer.answers.interval import OverInterval

Halted = Callable[[], bool]
T = TypeVar("T")


def dossier(
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float = 0.0,
    budget: int | None = None,
    prove: bool | Keep = False,
    candidates: int | None = None,
    robust: str | None = None,
    seed: int = 1,
    draws: int = DRAWS,
    measured: bool = True,
    told_apart: float | None = None,
    most: bool = False,
    made: Made | None = None,
    interval_days: float = 0.0,
    by: Literal["last", "mean"] = "last",
    clean_flow_m3s: float = 0.0,
    progress: Progress | None = None,
    halted: Halted = bool,
) -> Dossier:
    """All that a report shows: the advised step (with ``flow_m3s`` the cheapest bundle that delivers as much), what every sum
    buys, bands, the buying order, curves, and the shopping list. The arguments are those of `advise` and `bands`; ``made`` says
    with what. Over an interval, asked about as in `best`, it is the best of that, and what every sum buys is left out.

    ``halted`` is asked before every further search whether to leave it out.
    """
    wish = BandWish.of(candidates, robust, seed, draws, measured)
    over: dict[str, Any] = {"days": interval_days, "by": by, "clean_m3s": clean_flow_m3s}
    question, told = question_of(rig, catalog, budget, measured, flow_m3s=flow_m3s, prove=prove and not interval_days, **over)
    if question.days:
        return _over_interval(question, wish, rig, told, made, progress, halted)
    advice = advised(question, told, told_apart=told_apart, most=most, progress=progress)
    return dossier_answer(question, advice, wish, rig, told, made, progress, halted)


def _over_interval(
    question: Question,
    wish: BandWish,
    unfitted: Rig,
    by_fills: ByFills | None,
    made: Made | None,
    progress: Progress | None,
    halted: Halted,
) -> Dossier:
    """The dossier of the best bundle of an interval: all blocks but the front are of what one search over its days found."""
    from optimizer.answers.interval import over_interval  # most pages are of the clean day

    over = over_interval(question, progress)
    with held():
        found = Advised(result=replace(over.result(), by_fills=by_fills), asked=over.question, done=over.done)
        return _gathered(over.question, wish, unfitted, by_fills, made, progress, halted, found, over)


def dossier_answer(
    question: Question,
    advice: Advised,
    wish: BandWish,
    unfitted: Rig,
    by_fills: ByFills | None = None,
    made: Made | None = None,
    progress: Progress | None = None,
    halted: Halted = bool,
) -> Dossier:
    """The dossier of a question and the advised step that answers it, whose rig may go ``by_fills``; bands take the fills of the
    ``unfitted`` rig into account by themselves.

    ``halted`` is asked before every further search whether to leave it out.
    """
    with held():  # what was found is put into words, whatever is pressed; what takes long is left out then
        return _gathered(question, wish, unfitted, by_fills, made, progress, halted, advice)


def _gathered(
    question: Question,
    wish: BandWish,
    unfitted: Rig,
    by_fills: ByFills | None,
    made: Made | None,
    progress: Progress | None,
    halted: Halted,
    advice: Advised,
    over: "OverInterval | None" = None,
) -> Dossier:
    done = advice.done
    best = None if done.outcome.found is None else found_standing(question.rig, done.seeker, done.outcome.found)
    gathers = _Gathering(question, advice.asked, wish, done, best, progress, halted, [], over)
    courses = gathers.courses()
    return Dossier(
        made=made,
        result=advice.result,
        front=gathers.front(by_fills),
        bands=gathers.bands(unfitted),
        order=gathers.order(by_fills),
        curves=gathers.tried("pump and loop curves", lambda: gathers.curves(courses)),
        falls=falls(question, courses) if courses else None,
        shopping=gathers.shopping(),
        spill=spill(question.rig, (best or done.free).options),
        left_out=tuple(gathers.left_out),
    )


@dataclass(slots=True)
class _Gathering:
    """Makes block after block, and notes those that are left out. ``asked`` is the question that the advised step answers."""

    question: Question
    asked: Question
    wish: BandWish
    done: SolvedQuestion
    best: Standing | None
    progress: Progress | None
    halted: Halted
    left_out: list[str]
    over: "OverInterval | None"

    def tried(self, what: str, make: Callable[[], T]) -> T | None:
        if self.halted():
            self.left_out.append(f"{what}: stopped before it.")
            return None
        try:
            with heard():
                return make()
        except KeyboardInterrupt:
            self.left_out.append(f"{what}: stopped on the way.")
        return None

    def front(self, by_fills: ByFills | None) -> Front | None:
        what = "what every sum buys"
        if self.over is not None:
            self.left_out.append(f"{what}: it is known of the clean day only; ask for it without an interval.")
            return None
        if self.question.limits.budget is None:
            self.left_out.append(f"{what}: no budget is set, and a front must end.")
            return None
        asked, limits = replace(self.question, target_m3s=0.0), self.done.seeker.problem.choices.limits
        done = self.done if limits == asked.limits else None  # branches may have been filled within another budget
        found = self.tried(what, lambda: front_answer(asked, self.progress, self.halted, done))
        return None if found is None else replace(found, by_fills=by_fills)

    def bands(self, unfitted: Rig) -> Banded | None:
        if self.best is None:
            return None
        question = replace(self.asked, rig=replace(self.asked.rig, fitted=unfitted.fitted))
        return self.tried("how sure it is", lambda: bands_answer(question, self.wish, self.progress, self.halted, self.over))

    def order(self, by_fills: ByFills | None) -> BuyingOrder | None:
        if self.best is None:
            return None
        found = self.tried("order of buying", lambda: order_answer(self.asked, self.progress, self.halted, self.over))
        return None if found is None else replace(found, by_fills=by_fills)

    def courses(self) -> dict[str, Course]:
        rows = {"as it is": self.done.now} | ({"best": self.best} if self.best else {})
        return self.tried("flow over the days", lambda: walked(self.question, rows)) or {}

    def curves(self, courses: dict[str, Course]) -> Curves:
        rows = {"now": self.done.now, "cleaned": self.done.free} | ({"best": self.best} if self.best else {})
        dirty = None
        if "best" in courses:
            walk = courses["best"]
            day = float(walk.days[-1])
            dirty = (f"best, day {day:.0f}", walk.elements(-1), float(walk.flow_m3s[-1]), day)
        return curves(rows, dirty, self.done.seeker.problem.choices.water.kinematic_m2s)

    def shopping(self) -> tuple[ShopRow, ...]:
        best, found = self.best, self.done.outcome.found
        if best is None or found is None:
            return ()
        cover = found.bundle.cover
        return self.tried("shopping list", lambda: shopping(self.question, self.done.seeker, best, cover)) or ()
