"""Answering one question about one rig: the most flow for a budget, or the least price for a flow."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from optimizer.answers.assumptions import basis_lines
from optimizer.answers.bill import bill_lines, bundle_parts, change_lines, joint_lines
from optimizer.answers.branches import branch_lines, window_lines
from optimizer.answers.bundle_walk import changes_bio_media
from optimizer.answers.care import care
from optimizer.answers.cautions import caution_lines
from optimizer.answers.conflict import conflict
from optimizer.answers.free_gains import free_gains
from optimizer.answers.head_shares import head_shares, tightest
from optimizer.answers.jets import jets
from optimizer.answers.law_span import law_lines
from optimizer.answers.media_plan import media_plan
from optimizer.answers.profile import profile
from optimizer.answers.route import route
from optimizer.answers.rows import Standing, row, standing
from optimizer.answers.shut_ends import shut_ends, shut_places
from optimizer.answers.validity import validity_warnings
from optimizer.answers.wish import wish
from optimizer.errors import InputError, Problem
from optimizer.halting import heard, held
from optimizer.loop.kinds import parts_of
from optimizer.model.answer import Asked
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.media_plan import MediaPlan
from optimizer.model.options import KEEP, Chain
from optimizer.model.parts import Part, Tool
from optimizer.model.results import BundleParts, Certificate, Keep, OneSupplier, Proof, Result, Wish
from optimizer.model.rig import Rig
from optimizer.search.best import RESOLUTION_M3S, Found, Outcome, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.exact import Tally
from optimizer.search.layers import Problem as Layers
from optimizer.search.layers import build
from optimizer.search.pricing import Shop

Progress = Callable[[int, float | None, float | None], None]
Masking = Callable[[Seeker], NDArray[np.bool_] | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked: most flow (``target_m3s`` 0), or the cheapest way to deliver ``target_m3s``. With ``days`` between cleanings
    that is asked ``by`` the "last" or the "mean" of them, of bundles that deliver at least ``clean_m3s`` on the first.
    ``starts_clean``: of bundles that leave nothing in the loop that a clean would take away. ``shown`` is the question that was
    asked where this one is only put to find its answer once more (None: it is this one). ``prove``: the answer is checked too, by
    routes of their own; a function is handed the text of the proof."""

    rig: Rig
    catalog: Catalog
    limits: Limits
    target_m3s: float = 0.0
    prove: bool | Keep = False
    starts_clean: bool = False
    days: float = 0.0
    by: Literal["last", "mean"] = "last"
    clean_m3s: float = 0.0
    shown: Asked | None = None

    @property
    def keep(self) -> Keep | None:
        """Who takes the text of the proof."""
        return None if isinstance(self.prove, bool) else self.prove

    @property
    def asked(self) -> Asked:
        """What an answer says of it."""
        if self.shown is not None:
            return self.shown
        asked = Asked(budget=self.limits.budget, target_m3s=self.target_m3s)
        return replace(asked, days=self.days, by=self.by, clean_m3s=self.clean_m3s) if self.days else asked

    @property
    def told(self) -> dict[str, Any]:
        """What every answer from a catalog says of its question, as its fields."""
        catalog = self.catalog
        return {"rig": self.rig.name, "catalog": catalog.name, "currency": catalog.currency, "question": self.asked}


def answer(question: Question, progress: Progress | None = None) -> Result:
    """The whole answer. Never raises for a question that has none: the result then says what cannot hold together."""
    done = solved(question, progress)
    with held():  # what was found is put into words, whatever is pressed
        return result_of(question, done)


@dataclass(frozen=True, slots=True, kw_only=True)
class ForNothing:
    """The best that can be had for nothing, whether it ``meets`` all limits, and the search that found it (None: nothing flows
    within any limits, and the loop stands as it is)."""

    stands: Standing
    meets: bool
    seeker: Seeker | None = None
    found: Found | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SolvedQuestion:
    """A question solved, before it is put into words: the loop as it is, with nothing spent, and what the search found."""

    now: Standing
    nothing: ForNothing
    seeker: Seeker
    outcome: Outcome

    @property
    def free(self) -> Standing:
        """The loop with nothing spent."""
        return self.nothing.stands


def solved(question: Question, progress: Progress | None = None) -> SolvedQuestion:
    """What the question comes to, for `result_of`."""
    now = stands_now(question.rig, question.catalog)
    nothing = for_nothing(question)
    most = nothing.stands.flow_m3s if nothing.meets else 0.0
    seeker = seek(question, progress)
    outcome = seeker.least_price(question.target_m3s) if question.target_m3s else seeker.most_flow(most)
    return SolvedQuestion(now=now, nothing=nothing, seeker=seeker, outcome=outcome)


def seek(question: Question, progress: Progress | None = None, limits: Limits | None = None, **flags: Any) -> Seeker:
    """A search for the question, under its own or other ``limits``, among the choices that the ``flags`` of `choices` make. Of
    the ways to fill branches only those are listed that the best bundle for some sum could hold (`branch_bounds`), unless flags
    ask for more than that."""
    bounds = question.limits if limits is None else limits
    pairs = bool(flags) or sum(bool(position.branches) for position in question.rig.positions) != 1 or question.catalog.charges
    menu = choices(question.rig, question.catalog, bounds, starts_clean=question.starts_clean, **flags, pairs=pairs)
    if pairs:
        return Seeker(build(menu, dearest(bounds)), tally(progress))
    from optimizer.search.branch_bounds import paired  # a loop without branches starts quicker without it

    return paired(menu, dearest(bounds), tally(progress), question.target_m3s)


def inside(seeker: Seeker, masking: Masking) -> Seeker | None:
    """The same search among the options of a mask (None: there is no mask). Where only some ways to fill branches are listed
    these are others then: those that could be best among the options that the mask allows. Raises KeyboardInterrupt."""
    whole = seeker.problem.choices.whole
    if whole is not None and masking(seeker) is not None:
        from optimizer.search.branch_bounds import paired

        return paired(whole, dearest(seeker.limits), seeker.tally, masking=masking)
    mask = masking(seeker)
    return None if mask is None else seeker.inside(mask)


def result_of(question: Question, done: SolvedQuestion, also: Mapping[str, Standing] = MappingProxyType({})) -> Result:
    """A solved question as a result. ``also`` are further loops that it tells of, by their names."""
    return _result(question, done.now, done.free, done.seeker, done.outcome, also)


def dearest(limits: Limits) -> float:
    """The most that anything may cost, in minor units."""
    return float("inf") if limits.budget is None else float(limits.budget)


def tally(progress: Progress | None) -> Tally:
    """A tally that reports progress."""
    return Tally() if progress is None else Tally(tick=progress)


MEDIA_LIMITS = ("bio_area_m2", "mechanical_stage", "mature_media")
"""Limits on what the trays hold."""

UNSTEADY = "as they are now the jet in a tee rules how the flow divides between the branches, which is not covered."
STEADIER = "Look whether bores and holes are the real ones; else describe the branch that takes most of the water alone."


def stands_now(rig: Rig, catalog: Catalog) -> Standing:
    """The loop as it is today, limits or no limits. Raises InputError for branches between which the flow divides unsteadily,
    KeyboardInterrupt when it is stopped."""
    kept = _as_it_is(choices(replace(rig, spares=()), _nothing(catalog), Limits().without(*Limits().binding)))
    unsteady = [rig.positions[place].name for place, options in enumerate(kept.options) if not options]
    if unsteady:
        raise InputError(rig.told_as, [Problem(where=f"loop.{name}", what=UNSTEADY, cure=STEADIER) for name in unsteady])
    seeker = Seeker(build(kept))
    outcome = seeker.most_flow()
    unless_stopped(seeker)
    if outcome.found is None:
        return _still(rig, kept)
    return found_standing(rig, seeker, outcome.found, held=False)


def unless_stopped(seeker: Seeker) -> None:
    """Raise KeyboardInterrupt where Ctrl-C ended a search on the way to an answer: the best it had by then is not what the answer
    is to rest on, and whoever pressed waits for no other search."""
    if seeker.tally.interrupted:
        raise KeyboardInterrupt


def _still(rig: Rig, kept: Choices) -> Standing:
    """A loop that does not flow at all: its pump cannot lift the water."""
    options = [options[0] for options in kept.options]
    blank = Chain((), (), 0.0, 0, (), (), True)
    return standing(rig, kept.water, options, [blank] * len(options), 0, None)


def _nothing(catalog: Catalog) -> Catalog:
    return Catalog(parts={}, products=(), name=catalog.name, currency=catalog.currency)


def _free_of_charge(catalog: Catalog) -> Catalog:
    """What a catalog gives away: with nothing to spend, the rest need not be looked at."""
    charging = {supplier.id for supplier in catalog.suppliers if supplier.charges}
    products = tuple(product for product in catalog.products if product.price == 0 and product.supplier not in charging)
    parts = {line.part_id: catalog.parts[line.part_id] for product in products for line in product.lines}
    parts |= {tool.id: tool for tool in parts_of(catalog.parts.values(), Tool)}  # what needs one does so with nothing to spend
    return replace(catalog, parts=parts, products=products)


def _as_it_is(menu: Choices) -> Choices:
    kept = tuple(tuple(option for option in options if option.change == KEEP) for options in menu.options)
    return replace(menu, options=kept)


def for_nothing(question: Question) -> ForNothing:
    """The best that can be had for nothing, within the limits where that is possible: what a budget of 0
    gives, with cleaning, free adjustments, what the keeper owns and what may be left out or emptied. Where nothing meets all
    limits, those on media are kept if that can be, or emptying trays would look like a gain. Raises KeyboardInterrupt when it is
    stopped."""
    for number, asked in enumerate(asked_for_nothing(question)):
        seeker = seek(asked)
        found = seeker.most_flow().found
        unless_stopped(seeker)
        if found is not None:
            stands = found_standing(question.rig, seeker, found)
            return ForNothing(stands=stands, meets=number == 0, seeker=seeker, found=found)
    return ForNothing(stands=stands_now(question.rig, question.catalog), meets=False)


def asked_for_nothing(question: Question) -> Iterator[Question]:
    """The questions for the most that can be had for nothing, one after the other as those before have no answer: within all
    limits, within those on media, within none."""
    limits = question.limits
    media_only = limits.without(*(name for name in limits.binding if name not in MEDIA_LIMITS))
    free = replace(question, catalog=_free_of_charge(question.catalog), target_m3s=0.0)
    for some in (limits, media_only, limits.without(*limits.binding)):
        yield replace(free, limits=replace(some, budget=0))


def found_standing(rig: Rig, seeker: Seeker, found: Found, held: bool = True) -> Standing:
    """A bundle that a search found, solved again in scalars; not ``held``: as it flows with no throttle."""
    options = seeker.options_of(found.bundle)
    joints = [seeker.problem.joint(flat) for flat in found.bundle.path.joints]
    ceiling = (found.flow_m3s, found.delivered.held_by) if held and found.delivered.held_by else None
    return standing(rig, seeker.problem.choices.water, options, joints, found.bundle.price, ceiling)


def _made_for(question: Question, problem: Layers) -> Layers | None:
    """The problem of a question, unless it was made for other limits (without a price, at a larger budget)."""
    return problem if problem.choices.limits == question.limits else None


def _media(rig: Rig, best: Standing | None) -> MediaPlan | None:
    if best is None or not changes_bio_media(rig, best.options):
        return None
    return media_plan(rig, best)


def _wish(question: Question, best_m3s: float) -> Wish | None:
    """What becomes of the wish; nothing of it when Ctrl-C ends the looking."""
    try:
        with heard():
            return wish(question.rig, question.catalog, question.limits, best_m3s)
    except KeyboardInterrupt:
        return None


def proof_of(seeker: Seeker, status: str) -> Proof:
    """What a search took, as the proof of its answer."""
    problem, tally = seeker.problem, seeker.tally
    return Proof(
        status=status,
        combinations=problem.combinations(),
        left_out=problem.choices.left_out,
        by_loss=tally.by_loss,
        rounds=tally.rounds,
        nodes=tally.nodes,
        paths=tally.paths,
    )


def _made_of(problem: Layers, best: Standing, found: Found) -> BundleParts:
    return bundle_parts(problem.shop, best.options, best.joints, found.bundle.cover)


def _in_loop(stands: Standing) -> list[Part]:
    """The parts of a loop as it stands, what is in its trays among them."""
    media = (tray.medium for tray in stands.loop.trays if tray.medium is not None)
    adapters = (turned.part for joint in stands.joints for turned in joint.adapters)
    return [*(each.part for each in stands.loop.stands), *media, *adapters]


def _bought(shop: Shop, found: Found | None) -> list[Part]:
    """The parts that a bundle takes from the shop or the drawer."""
    bought = () if found is None else found.bundle.cover.purchases
    return [shop.parts[line.part_id] for purchase in bought for line in shop.products[purchase.product].lines]


def _checks(question: Question, seeker: Seeker, outcome: Outcome, found: Found, best: Standing) -> tuple[Certificate, ...]:
    from optimizer.answers.certificates import Proved, certificates  # an answer that is not checked starts quicker without

    bundle = Proved(says="the bundle", seeker=seeker, found=found, stands=best, target_m3s=question.target_m3s)
    return certificates(outcome.status, [bundle], question.keep)


def _one_supplier(question: Question, problem: Layers, found: Found) -> tuple[OneSupplier, ...]:
    """What each supplier alone would ask for as much flow, where the bundle is of several and at least one charges."""
    catalog = question.catalog
    bought = [problem.shop.products[purchase.product] for purchase in found.bundle.cover.purchases]
    if not catalog.charges or len({product.supplier for product in bought if not product.owned}) < 2:
        return ()
    names = {"": "the shop itself"} if any(not product.supplier for product in catalog.products) else {}
    told = []
    for supplier, name in (names | {each.id: each.name for each in catalog.suppliers}).items():
        alone = replace(question, catalog=catalog.only(supplier), limits=replace(question.limits, budget=None))
        with heard():
            outcome = seek(alone).least_price(found.flow_m3s - RESOLUTION_M3S)
        if outcome.status == "proved":
            told.append(OneSupplier(supplier=name, price=None if outcome.found is None else outcome.found.bundle.price))
    return tuple(told)


def _result(
    question: Question, now: Standing, free: Standing, seeker: Seeker, outcome: Outcome, also: Mapping[str, Standing]
) -> Result:
    rig, limits, found = question.rig, question.limits, outcome.found
    best = None if found is None else found_standing(rig, seeker, found)
    checks = () if best is None or found is None or not question.prove else _checks(question, seeker, outcome, found, best)
    water = seeker.problem.choices.water
    problem = seeker.problem
    rows = {"now": now, "spend nothing": free} | ({} if best is None else {"best": best})
    loops = {"as it is now": now, "cleaned": free} | ({} if best is None else {"as chosen": best}) | dict(also)
    profiles = {name: profile(name, rig, water, stands) for name, stands in rows.items()}
    told = [each for name in ("now", "spend nothing" if best is None else "best") if (each := profiles[name]) is not None]
    bought = _bought(problem.shop, found)
    return Result(
        **question.told,
        now=row("now", rig, limits, now),
        spend_nothing=row("spend nothing", rig, limits, free),
        best=None if best is None else row("best", rig, limits, best),
        changes=() if best is None else change_lines(best.options),
        bill=() if best is None or found is None else bill_lines(problem.shop, best.options, best.joints, found.bundle.cover),
        joints=() if best is None else joint_lines(best.options, best.joints),
        heads=head_shares(rig, now, best or free),
        route=route(rig, now, best or free),
        one_supplier=() if found is None else _one_supplier(question, problem, found),
        tightest=tightest(best or free),
        tightest_before=tightest(now),
        cautions=caution_lines(rig, best or free, limits),
        basis=basis_lines(rig, limits, question.catalog, law_lines(rig, water, now, best), bought),
        assumed=tuple(dict.fromkeys(part.name for part in (*_in_loop(now), *bought) if part.assumed)),
        warnings=validity_warnings(rig, loops),
        proof=replace(proof_of(seeker, outcome.status), bound_m3s=outcome.bound_m3s, certificates=checks),
        conflict=conflict(question, _made_for(question, problem)) if found is None and outcome.status == "proved" else None,
        profile=tuple(each for each in profiles.values() if each is not None),
        jets=tuple(bar for name, stands in rows.items() for bar in jets(name, stands)),
        branches=tuple(line for name, stands in rows.items() for line in branch_lines(name, stands)),
        windows=tuple(line for name, stands in rows.items() for line in window_lines(name, stands)),
        shut=shut_places(shut_ends(problem)),
        wish=None if question.target_m3s else _wish(question, 0.0 if best is None else best.flow_m3s),
        free_gains=free_gains(rig, water, now, free),
        media=_media(rig, best),
        bundle=None if best is None or found is None else _made_of(problem, best, found),
        care=care(rig, best or free, told),
    )
