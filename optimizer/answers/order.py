"""The buying order of the best bundle, with the bill of every step and what a smaller budget would have bought instead."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from optimizer.answers.advised import advised
from optimizer.answers.asked import question_of
from optimizer.answers.bill import bill_lines, change_lines, postage_line
from optimizer.answers.bundle_walk import each_option
from optimizer.answers.question import Progress, Question, found_standing, seek, stands_now
from optimizer.answers.rows import Standing, row, standing
from optimizer.halting import heard, held
from optimizer.model.catalog import Catalog
from optimizer.model.options import ADJUST, CLEAN, KEEP, Option
from optimizer.model.orders import BudgetStage, BuyingOrder, OrderStep
from optimizer.model.results import BillLine, Broken, Change
from optimizer.model.rig import Rig
from optimizer.search.best import RESOLUTION_M3S, Found, Outcome, Seeker
from optimizer.search.front import asked_alone
from optimizer.search.order import BuyingStep, Loop, Order
from optimizer.search.order import buying_order as in_order
from optimizer.search.part_identity import PartIdentities, part_identities
from optimizer.search.pricing import Cover

if TYPE_CHECKING:
    from optimizer.answers.interval import OverInterval

Halted = Callable[[], bool]
"""Says whether whoever asked wants no more answers."""


@dataclass(frozen=True, slots=True)
class _Known:
    """What is known of the order: the start, the steps, what is thrown away, what parting them costs, and how sure the order and
    the stages are."""

    start: Standing | None = None
    first: tuple[Change, ...] = ()
    cleaning: tuple[Change, ...] = ()
    steps: tuple[OrderStep, ...] = ()
    thrown: int = 0
    parted: int = 0
    order: str = "proved"
    stages: str = "proved"


def buying_order(
    rig: Rig,
    catalog: Catalog,
    *,
    flow_m3s: float = 0.0,
    budget: int | None = None,
    measured: bool = True,
    told_apart: float | None = None,
    most: bool = False,
    interval_days: float = 0.0,
    by: Literal["last", "mean"] = "last",
    clean_flow_m3s: float = 0.0,
    progress: Progress | None = None,
    halted: Halted = bool,
) -> BuyingOrder:
    """In which order to buy what the advised step needs (``most``: the bundle that delivers most for the budget), or with
    ``flow_m3s`` the cheapest that delivers as much. ``told_apart`` as in `advise`. With ``interval_days`` it is the bundle of the
    interval, as `best` takes them, while the order goes by flows of the clean day.

    ``halted`` is asked whether to hurry: the order is then a greedy one and says so.
    """
    over: dict[str, Any] = {"days": interval_days, "by": by, "clean_m3s": clean_flow_m3s}
    question, told = question_of(rig, catalog, budget, measured, flow_m3s=flow_m3s, **over)
    if most or flow_m3s or question.days:
        return replace(order_answer(question, progress, halted), by_fills=told)
    asked = advised(question, told, told_apart=told_apart, progress=progress).asked
    return replace(order_answer(asked, progress, halted), by_fills=told)


def order_answer(
    question: Question, progress: Progress | None = None, halted: Halted = bool, over: "OverInterval | None" = None
) -> BuyingOrder:
    """In which order to buy what the best bundle for the question needs. Ctrl-C gives what is known by then. ``over``: what was
    found of an interval, where that is known."""
    if question.days:
        return _over_interval(question, progress, halted, over)
    stands = stands_now(question.rig, question.catalog)
    seeker = seek(question, progress)
    outcome = seeker.least_price(question.target_m3s) if question.target_m3s else seeker.most_flow()
    found = outcome.found
    with held():
        known = _Known() if found is None else _known(question, seeker, outcome, found, halted)
        return _told(question, seeker, stands, outcome, known)


def _over_interval(question: Question, progress: Progress | None, halted: Halted, over: "OverInterval | None") -> BuyingOrder:
    """The order of the bundle of an interval, by flows of the clean day: the loops in between are not followed over it, nor is it
    asked what smaller sums buy by its last day."""
    from optimizer.answers.interval import over_interval  # the clean day starts quicker without the dirt

    over = over_interval(question, progress) if over is None else over
    done, found = over.done, over.done.outcome.found
    with held():
        known = _Known() if found is None else _known(over.question, done.seeker, done.outcome, found, halted, staged=False)
        told = _told(over.question, done.seeker, done.now, done.outcome, known)
        judged, status = over.judged_m3s(), over.status
        search = "proved" if over.by_clean_day and found is not None else status
        return replace(told, search=search, judged_m3s=judged, by_clean_day=over.by_clean_day)


def _told(question: Question, seeker: Seeker, stands: Standing, outcome: Outcome, known: _Known) -> BuyingOrder:
    rig, limits, found = question.rig, question.limits, outcome.found
    return BuyingOrder(
        **question.told,
        now=row("now", rig, limits, stands),
        best=None if found is None else row("best", rig, limits, found_standing(rig, seeker, found)),
        first=known.first,
        cleaning=known.cleaning,
        cleaned=None if known.start is None else row("cleaned", rig, limits.without("flow_min_m3s"), known.start),
        cleaned_m3s=0.0 if known.start is None else known.start.flow_m3s,
        steps=known.steps,
        thrown=known.thrown,
        parted=known.parted,
        search=outcome.status,
        order=known.order,
        stages=known.stages,
    )


def _known(question: Question, seeker: Seeker, outcome: Outcome, found: Found, halted: Halted, staged: bool = True) -> _Known:
    """The order of a bundle, or nothing of it when Ctrl-C came before there was one; ``staged``: with what smaller sums buy."""
    try:
        with heard():
            told = in_order(seeker, found, hurried=halted())
        start = _stands(question, told, told.start)
        before = change_lines(start.options)
        first, cleaning = (tuple(each for each in before if each.change == change) for change in (ADJUST, CLEAN))
        steps, stages = _steps(question, seeker, outcome, found, told, halted, staged)
    except KeyboardInterrupt:
        return _Known(order="interrupted", stages="stopped")
    more = {"thrown": told.thrown, "parted": told.parted}
    return _Known(start=start, first=first, cleaning=cleaning, steps=steps, order=told.status, stages=stages, **more)


def _steps(
    question: Question, seeker: Seeker, outcome: Outcome, found: Found, told: Order, halted: Halted, staged: bool
) -> tuple[tuple[OrderStep, ...], str]:
    """The steps, and whether what a smaller budget buys is known for all of them (proved), was cut short (stopped) or was not
    asked (none)."""
    apart, paid, made = part_identities(seeker.problem), 0, []
    stages = "proved" if outcome.status == "proved" and told.status != "interrupted" else "stopped"
    stages = stages if staged else "none"
    for number, step in enumerate(told.steps, 1):
        paid += step.price
        stage = None
        if stages == "proved" and number < len(told.steps):
            try:
                with heard():
                    stage, stages = _stage(seeker, found, apart, step.loop, paid)
            except KeyboardInterrupt:
                stages = "stopped"
            if halted():
                stages = "stopped"
        made.append(_step(question, seeker, found, told, step, paid, stage))
    return tuple(made), stages


def _step(
    question: Question, seeker: Seeker, found: Found, told: Order, step: BuyingStep, paid: int, stage: BudgetStage | None
) -> OrderStep:
    rig = question.rig
    final = seeker.options_of(found.bundle)
    buys = _buys(question, seeker, found, step)
    return OrderStep(
        changes=tuple(change for place in step.places for change in _done(final[place])),
        buys=buys,
        extras=tuple(name for index in step.extras if (name := _named(seeker, index))),
        extras_price=step.extras_price,
        price=step.price,
        paid=paid,
        flow_m3s=step.loop.flow_m3s,
        turnover_per_hour=rig.turnover_per_hour(step.loop.flow_m3s),
        waits=tuple(rig.positions[place].name for place in step.waiting),
        breaks=_breaks(question, told, step.loop),
        stage=stage,
    )


def _done(option: Option) -> Iterator[Change]:
    """What a step does at a place; a clean only where it waits for a tool that the step buys, since all others come first."""
    for each in each_option([option]):
        waits = each.change == CLEAN and bool(each.items)
        yield from (change for change in change_lines([each]) if waits or change.change not in (KEEP, CLEAN))


def _named(seeker: Seeker, index: int) -> str:
    """A product of the shop by its name and its id; nothing for what the keeper owns, which is neither bought nor thrown away."""
    shop = seeker.problem.shop
    product = shop.products[index]
    name = product.name or shop.parts[product.lines[0].part_id].name
    return "" if product.owned else f"{name} ({product.id})"


def _buys(question: Question, seeker: Seeker, found: Found, step: BuyingStep) -> tuple[BillLine, ...]:
    """The purchases of one step, and the postage of each supplier; the places they serve are told by the changes."""
    final = seeker.options_of(found.bundle)
    joints = [seeker.problem.joint(flat) for flat in found.bundle.path.joints]
    lines = bill_lines(seeker.problem.shop, final, joints, Cover(0, step.purchases))
    names = {question.rig.positions[place].name for place in step.places}
    suppliers = {supplier.id: supplier for supplier in question.catalog.suppliers}
    sent = (postage_line(suppliers[each.supplier], each.goods, each.postage) for each in step.parcels)
    return (*(line for line in lines if line.product_id or names & set(line.places)), *sent)


def _breaks(question: Question, told: Order, loop: Loop) -> tuple[Broken, ...]:
    """The limits that a loop does not meet; a wish for more flow is none while the money is not spent."""
    stands = _stands(question, told, loop)
    return row("", question.rig, question.limits.without("flow_min_m3s"), stands).breaks


def _stands(question: Question, told: Order, loop: Loop) -> Standing:
    """A loop between today's and the final one, solved again in scalars."""
    problem, path = told.problem, loop.found.bundle.path
    options = [problem.option(flat) for flat in path.options]
    joints = [problem.joint(flat) for flat in path.joints]
    delivered = loop.found.delivered
    held = (loop.flow_m3s, delivered.held_by) if delivered.held_by and loop.flow_m3s < delivered.own_m3s else None
    return standing(question.rig, problem.choices.water, options, joints, 0, held)


def _stage(seeker: Seeker, found: Found, apart: PartIdentities, loop: Loop, paid: int) -> tuple[BudgetStage | None, str]:
    """The best bundle for what is paid by then, if it delivers more and has things that the final one has not; and whether
    that is proved or was stopped."""
    outcome = asked_alone(seeker.with_budget(min(paid, seeker.budget)))  # with postage the steps may cost more than all at once
    best = outcome.found
    if best is None or best.flow_m3s <= loop.flow_m3s + RESOLUTION_M3S:
        return None, outcome.status
    seen, rows = apart.seen_from(best), best.bundle.path.options
    options = seeker.options_of(best.bundle)
    lost = [options[place] for place in apart.seen_from(found).differing(rows) if place in seen.departures]
    if not lost:
        return None, outcome.status
    thrown = tuple(change for change in change_lines(lost) if change.change != KEEP)
    return BudgetStage(price=best.bundle.price, flow_m3s=best.flow_m3s, thrown=thrown), outcome.status
