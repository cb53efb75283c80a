"""The buying order of the best bundle, with the bill of every step and what a smaller budget would have bought instead."""

from optimizer.answers.bill import bill_lines, change_lines
from optimizer.answers.question import Progress, Question, dearest, found_standing, stands_now, tally
from optimizer.answers.rows import row, standing
from optimizer.model.orders import BuyingOrder, OrderStep, Stage
from optimizer.model.results import BillLine
from optimizer.search.best import RESOLUTION_M3S, Found, Outcome, Seeker
from optimizer.search.choices import choices
from optimizer.search.front import asked_alone
from optimizer.search.layers import build
from optimizer.search.options import CLEAN, KEEP
from optimizer.search.order import Loop, Order, Step, buying_order
from optimizer.search.pricing import Cover
from optimizer.search.things import Things, things


def order_answer(question: Question, progress: Progress | None = None) -> BuyingOrder:
    """In which order to buy what the best bundle for the question needs."""
    rig, limits = question.rig, question.limits
    seeker = Seeker(build(choices(rig, question.catalog, limits), dearest(limits)), tally(progress))
    outcome = seeker.least_price(question.target_m3s) if question.target_m3s else seeker.most_flow()
    found = outcome.found
    told = None if found is None else buying_order(seeker, found)
    return BuyingOrder(
        rig=rig.name,
        catalog=question.catalog.name,
        currency=question.catalog.currency,
        question=question.words,
        budget=limits.budget,
        now=row("now", rig, limits, stands_now(rig, question.catalog)),
        best=None if found is None else row("best", rig, limits, found_standing(rig, seeker, found)),
        cleaned_m3s=0.0 if told is None else told.start.flow_m3s,
        steps=() if told is None or found is None else _steps(question, seeker, outcome, found, told),
        thrown=0 if told is None else told.thrown,
        search=outcome.status,
        order="proved" if told is None else told.status,
    )


def _steps(question: Question, seeker: Seeker, outcome: Outcome, found: Found, told: Order) -> tuple[OrderStep, ...]:
    apart, paid, made = things(seeker.problem, found), 0, []
    for number, step in enumerate(told.steps, 1):
        paid += step.price
        last = number == len(told.steps) or outcome.status != "proved"
        stage = None if last else _stage(seeker, found, apart, step.loop, paid)
        made.append(_step(question, seeker, found, told, step, paid, stage))
    return tuple(made)


def _step(question: Question, seeker: Seeker, found: Found, told: Order, step: Step, paid: int, stage: Stage | None) -> OrderStep:
    rig = question.rig
    final = seeker.options_of(found.bundle)
    buys = _buys(question, seeker, found, step)
    return OrderStep(
        changes=tuple(c for c in change_lines([final[place] for place in step.places]) if c.change not in (KEEP, CLEAN)),
        buys=buys,
        extras=tuple(_named(seeker, item.label) for item in step.extras),
        extras_price=step.price - sum(line.price for line in buys),
        price=step.price,
        paid=paid,
        flow_m3s=step.loop.flow_m3s,
        turnover_per_hour=rig.turnover_per_hour(step.loop.flow_m3s),
        waits=tuple(rig.positions[place].name for place in step.waiting),
        breaks=_breaks(question, told, step.loop),
        stage=stage,
    )


def _named(seeker: Seeker, label: str) -> str:
    """A piece by the name of its part, where it is one."""
    part = seeker.problem.shop.parts.get(label)
    return label if part is None else f"{part.name} ({part.id})"


def _buys(question: Question, seeker: Seeker, found: Found, step: Step) -> tuple[BillLine, ...]:
    """The purchases of one step; the places they serve are told by the changes."""
    final = seeker.options_of(found.bundle)
    joints = [seeker.problem.joint(flat) for flat in found.bundle.path.joints]
    lines = bill_lines(seeker.problem.shop, final, joints, Cover(0, step.purchases))
    names = {question.rig.positions[place].name for place in step.places}
    return tuple(line for line in lines if line.product_id or names & set(line.places))


def _breaks(question: Question, told: Order, loop: Loop) -> tuple[str, ...]:
    """The limits that a loop does not meet; a wish for more flow is none while the money is not spent."""
    problem, path = told.problem, loop.found.bundle.path
    options = [problem.option(flat) for flat in path.options]
    joints = [problem.joint(flat) for flat in path.joints]
    delivered = loop.found.delivered
    held = (loop.flow_m3s, delivered.held_by) if delivered.held_by and loop.flow_m3s < delivered.own_m3s else None
    stands = standing(question.rig, problem.choices.water, options, joints, 0, held)
    return row("", question.rig, question.limits.without("flow_min_m3s"), stands).breaks


def _stage(seeker: Seeker, found: Found, apart: Things, loop: Loop, paid: int) -> Stage | None:
    """The best bundle for what is paid by then, if it delivers more and has things that the final one has not."""
    best = asked_alone(seeker.with_budget(paid)).found
    if best is None or best.flow_m3s <= loop.flow_m3s + RESOLUTION_M3S:
        return None
    final = apart.at(found.bundle.path.options)
    departures = apart.departures(best.bundle.path.options)
    options = seeker.options_of(best.bundle)
    lost = [options[place] for place, thing in departures.items() if thing != final[place]]
    if not lost:
        return None
    thrown = tuple(change for change in change_lines(lost) if change.change != KEEP)
    return Stage(price=best.bundle.price, flow_m3s=best.flow_m3s, thrown=thrown)
