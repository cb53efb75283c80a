"""Independent checks of an answer: a mixed-integer program at the winning flow, and the scalar solve of the winner."""

from importlib import import_module
from types import ModuleType

from optimizer.answers.rows import Standing
from optimizer.answers.words import money
from optimizer.halting import heard
from optimizer.model.results import Certificate
from optimizer.model.said import Said, bare_flow, flowing, length
from optimizer.search.best import RESOLUTION_M3S, WITHIN, Found, Outcome, Seeker

PROGRAM = "mixed-integer program (PuLP, HiGHS)"

HEAD_TOLERANCE_M = 1e-6
"""Surplus that a mixed-integer solver's own tolerances can leave; at hose flows this is below 0.01 l/h."""

FLOW_TOLERANCE = 1e-6
"""Relative agreement asked of the two operating points."""


def certificates(seeker: Seeker, outcome: Outcome, best: Standing, target_m3s: float) -> tuple[Certificate, ...]:
    """All checks that apply to the answer, each with what it found. Ctrl-C ends the checking, and the last of them says so."""
    if outcome.found is None:
        return ()
    checks = [_scalar(outcome.found.flow_m3s, best.flow_m3s)]
    if outcome.status != "proved":
        return (*checks, _not_done("left out, since the search was stopped and there is no proof to check"))
    try:
        with heard():
            by_loss = outcome.tally.by_loss
            if not target_m3s and not outcome.found.delivered.held_by and not by_loss:
                checks.append(_no_more(seeker, outcome.found.flow_m3s))
            checks.append(_no_cheaper(seeker, outcome.found, target_m3s or outcome.found.flow_m3s * (1 - 1e-9), by_loss))
    except KeyboardInterrupt:
        checks.append(_not_done("interrupted before it was done; the answer stands by the search alone"))
    return tuple(checks)


def _not_done(why: str) -> Certificate:
    return Certificate(route=PROGRAM, finding=why, agrees=False, done=False)


def _proof() -> ModuleType:
    """The module of mixed-integer programs, loaded with PuLP and HiGHS when a proof is asked for and not before."""
    return import_module("optimizer.search.proof")


def _scalar(searched: float, solved: float) -> Certificate:
    agrees = abs(searched - solved) <= FLOW_TOLERANCE * max(solved, 1e-9)
    return Certificate(
        route="operating point bracketed in scalars",
        finding=Said(flowing(solved, 3), " against ", bare_flow(searched, 3), " in the search"),
        agrees=agrees,
    )


def _no_more(seeker: Seeker, won_m3s: float) -> Certificate:
    """At the winning flow plus the resolution no affordable bundle may have head left."""
    above = won_m3s + RESOLUTION_M3S
    problem = seeker.problem
    allowed = seeker.all & (problem.high > above) & (problem.low <= above)
    checked = _proof().greatest_surplus(problem, above, float(seeker.budget), allowed)
    if checked.value is None:
        finding = Said("no bundle at all can run at ", flowing(above, 1), " within the limits")
        return Certificate(route=PROGRAM, finding=finding, agrees=True)
    return Certificate(
        route=PROGRAM,
        finding=Said(
            *("at ", flowing(above, 1), " the best affordable bundle has "),
            *(length(checked.value, f"{checked.value * 1e3:.3f} mm"), " of head left over"),
        ),
        agrees=checked.value <= HEAD_TOLERANCE_M,
    )


def _no_cheaper(seeker: Seeker, found: Found, at_m3s: float, by_loss: bool) -> Certificate:
    """No bundle that delivers as much may be cheaper; where a throttle holds it, or others would need one (``by_loss``), none of
    those that have a throttle. The program does not know which bundles stay under a ceiling by themselves."""
    problem, price = seeker.problem, found.bundle.price
    throttles = problem.throttles[list(found.bundle.path.options[problem.pump + 1 :])]
    held = by_loss or (bool(throttles.any()) and found.delivered.own_m3s > found.flow_m3s * (1 + 1e-9))
    allowed = seeker.all & (problem.high >= at_m3s * (1 - WITHIN)) & (problem.low <= at_m3s * (1 + 1e-9))
    checked = _proof().least_price(problem, at_m3s, allowed, throttled=held)
    least = "nothing" if checked.value is None else money(round(checked.value))
    return Certificate(
        route=PROGRAM,
        finding=Said(
            *("the least price that delivers ", flowing(at_m3s)),
            f"{' with a throttle' * by_loss} is {least}, against {money(price)}",
        ),
        agrees=_agrees(checked.value, price, by_loss and not any(throttles)),
    )


def _agrees(least: float | None, price: int, other: bool) -> bool:
    """Whether a least price bears out the price of an answer; ``other``: the answer is none of the bundles it is the least of."""
    if other:
        return least is None or least > price - 0.5
    return least is not None and abs(least - price) < 0.5
