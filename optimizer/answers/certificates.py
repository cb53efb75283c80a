"""Checks of an answer apart from its search: the scalar solve of the bundle, its losses again in scalars, and a written proof.

The proof (`search/proof_file.py`) is written out as numbers and checked by `check_proof`, which knows nothing of the search.
That the numbers are those of the rig is looked at here: for whatever any place may hold, the head that it loses at the flow in
question is evaluated again by the scalar functions that the operating point comes from.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.answers.rows import Standing
from optimizer.answers.words import money
from optimizer.check_proof import Refused, checked
from optimizer.halting import heard
from optimizer.loop.graph import Element
from optimizer.loop.kinds import curve_of
from optimizer.loop.operating import element_head_m
from optimizer.model.losses import Loss
from optimizer.model.results import Certificate, Keep
from optimizer.model.said import Quantity, Said, bare_flow, flowing
from optimizer.search.best import NO_BUDGET, RESOLUTION_M3S, Found, Seeker
from optimizer.search.proof_file import Asked, ProofFile, TooLong, Untrue

PROOF = "written proof, checked apart from the search"
LOSSES = "losses evaluated again in scalars"

FLOW_TOLERANCE = 1e-6
"""Relative agreement asked of the two operating points."""

HEAD_TOLERANCE_M = 1e-9
"""Agreement asked of two evaluations of one loss: a hundredth of the head that a flow of 0.01 l/h more or less makes."""

MOST_WAYS = 200
"""So many ways to fill branches, evenly spread, are evaluated again: each is solved for its division of the flow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """A bundle to be checked, as ``says`` calls it: the search that it was found by, what it comes to in scalars, and the
    ``target`` that it is the cheapest for (0: it delivers the most)."""

    says: str
    seeker: Seeker
    found: Found
    stands: Standing
    target_m3s: float = 0.0


def certificates(status: str, bundles: Sequence[Proved], keep: Keep | None = None) -> tuple[Certificate, ...]:
    """All checks of the bundles of one answer, each with what it found; ``keep`` is handed the proof once it is checked. Ctrl-C
    ends the checking, and the last of the checks says so."""
    checks = [_scalar(bundle.found.flow_m3s, bundle.stands.flow_m3s) for bundle in bundles]
    if status != "proved":
        return (*checks, _not_done("left out, since the search was stopped and there is no proof to check"))
    try:
        with heard():
            checks += [_losses(bundle) for bundle in bundles[:1]]
            checks.append(_proof(bundles, keep))
    except KeyboardInterrupt:
        checks.append(_not_done("interrupted before it was done; the answer stands by the search alone"))
    return tuple(checks)


def _not_done(why: str) -> Certificate:
    return Certificate(route=PROOF, finding=why, agrees=False, done=False)


def _scalar(searched: float, solved: float) -> Certificate:
    agrees = abs(searched - solved) <= FLOW_TOLERANCE * max(solved, 1e-9)
    return Certificate(
        route="operating point bracketed in scalars",
        finding=Said(flowing(solved, 3), " against ", bare_flow(searched, 3), " in the search"),
        agrees=agrees,
    )


def _losses(bundle: Proved) -> Certificate:
    """Every option at every place again, at the flow of the bundle; of ways to fill branches some."""
    problem, flow = bundle.seeker.problem, bundle.found.flow_m3s
    rows = [row for row in range(len(problem.option_plain)) if problem.option(row).ways is None]
    ways = [row for row in range(len(problem.option_plain)) if problem.option(row).ways is not None]
    rows += ways[:: max(1, -(-len(ways) // MOST_WAYS))]
    heads = problem.heads.at(flow)
    nu = problem.choices.water.kinematic_m2s
    furthest = max(abs(float(heads[row]) - element_head_m(_element(bundle, row), flow, nu)) for row in rows)
    agrees = furthest <= HEAD_TOLERANCE_M * max(1.0, float(abs(heads[rows]).max()))
    of = f"{len(rows)} of {len(problem.option_plain)} options at {len(problem.layers)} places {'' if agrees else 'do not '}lose "
    return Certificate(route=LOSSES, finding=Said(of, "the same to nine digits at ", flowing(flow)), agrees=agrees)


def _element(bundle: Proved, row: int) -> Element:
    option = bundle.seeker.problem.option(row)
    split = None if option.ways is None else option.ways.split
    loss = Loss() if split is not None else option.loss
    return Element(
        place=option.place, label=option.place, loss=loss, curve=curve_of(option.part), speed=option.speed, split=split
    )


def _proof(bundles: Sequence[Proved], keep: Keep | None) -> Certificate:
    """The proof of all bundles, written, checked and kept."""
    asked_of = [(bundle, list(claims(bundle))) for bundle in bundles]
    try:
        file = ProofFile(bundles[0].seeker)
        for bundle, asked in asked_of:
            file.answer(bundle.says, bundle.found, asked)
        written = file.written()
        checked(written)
    except TooLong:
        return _not_done("too long to be written out; the answer stands by the search alone")
    except (Refused, Untrue) as error:
        return Certificate(route=PROOF, finding=str(error), agrees=False)
    if keep is not None:
        keep(json.dumps(written, separators=(",", ":"), ensure_ascii=False) + "\n")
    words = [word for bundle, some in asked_of for asked in some if asked.most >= 0 for word in ("; ", *_words(bundle, asked))]
    return Certificate(route=PROOF, finding=Said(*(words[1:] or ["nothing costs less than nothing"])), agrees=True)


def claims(bundle: Proved) -> Iterator[Asked]:
    """What is claimed of a bundle: nothing cheaper has head left at its flow, and of the one that delivers the most that nothing
    has at all, a resolution above. Where the bundle is held by a throttle, or others would need one, both are claimed of those
    that have one: which stay under a ceiling by themselves is not said by head at one flow."""
    seeker, found = bundle.seeker, bundle.found
    problem, won, by_loss = seeker.problem, found.flow_m3s, seeker.tally.by_loss
    throttles = bool(problem.throttles[list(found.bundle.path.options[problem.pump + 1 :])].any())
    held = by_loss or (throttles and found.delivered.own_m3s > won * (1 + 1e-9))
    at, price = bundle.target_m3s or won * (1 - 1e-9), found.bundle.price
    cheaper = Asked(kind="cheaper", flow_m3s=at, most=price - 1, allowed=seeker.all, throttled=held)
    above = won + RESOLUTION_M3S
    more = Asked(kind="more", flow_m3s=above, most=seeker.budget, allowed=seeker.all, throttled=by_loss)
    yield cheaper
    if not bundle.target_m3s and above < seeker.limits.flow_max_m3s:
        yield more


def _words(bundle: Proved, asked: Asked) -> Iterator[str | Quantity]:
    """A claim in words."""
    yield f"nothing{' with a throttle' if asked.throttled else ''}"
    if asked.kind == "cheaper":
        yield f" for less than {money(bundle.found.bundle.price)}"
    elif asked.most < NO_BUDGET:
        yield f" for {money(asked.most)} or less"
    yield " has head left at "
    yield flowing(asked.flow_m3s, 1)
