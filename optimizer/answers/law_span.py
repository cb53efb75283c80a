"""How much the choice between published laws of fittings matters: the same loops solved once more, with the law that loses most
at every fitting, and with the one that loses least.

What was measured stays as the fills say, whichever law it was reckoned by.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from optimizer.answers.bundle_walk import closings, each_option
from optimizer.answers.restated import Restating
from optimizer.answers.rows import Standing
from optimizer.loop.graph import loop_graph
from optimizer.loop.kinds import part_loss, parts_of
from optimizer.loop.operating import operating_point
from optimizer.loop.standing import elements, standing_loop
from optimizer.loop.terms import chained_quadratic
from optimizer.model.ends import End
from optimizer.model.options import Chain, Option
from optimizer.model.parts import Fitting, Hose
from optimizer.model.rig import Position, Rig
from optimizer.model.said import Quantity, Said, bare_flow, flowing
from optimizer.physics.fitting_laws import BODIES, HIGHEST, LOWEST, FittingLaws, all_by
from optimizer.physics.water import Water

WORDS = {
    "contraction": "narrower bores",
    "expansion": "wider bores",
    "entrance": "entrances",
    "bend": "bends of hoses",
    "elbow": "elbows",
    "swept": "swept elbows",
    "threaded": "threaded elbows",
    "valve": "open valves",
}
"""What a law is of, in the words of an answer, by the fields of `FittingLaws`."""

RELATIVE = 1e-5
"""How sure the flows are: a span is read to whole litres."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LawSpan:
    """What a loop delivers by its own laws, and the least and the most that it does by the published ones, in m3/s."""

    flow_m3s: float
    least_m3s: float
    most_m3s: float


def law_span(rig: Rig, water: Water, stands: Standing) -> LawSpan:
    """The span of one loop: losses rise with each K, so the highest of all laws gives the least flow and the lowest the most."""
    least, most = (_flow_m3s(rig, water, stands, all_by(name)) for name in (HIGHEST, LOWEST))
    return LawSpan(flow_m3s=stands.flow_m3s, least_m3s=least, most_m3s=most)


def by_laws(rig: Rig, water: Water, stands: Standing, laws: FittingLaws) -> tuple[tuple[Option, ...], tuple[Chain, ...]]:
    """The bundle of a loop with its losses by other laws; what fills say of fittings as a kind stays."""
    kind = 1.0 if rig.fitted is None else rig.fitted.new_joints

    def option(position: Position, one: Option) -> Option:
        if one.part is None or (rig.fitted is not None and one.is_known):
            return one
        here = replace(position, height_m=one.height_m)
        other, own = (part_loss(one.part, one.state, place, water) for place in (replace(here, laws=laws), here))
        # the canister's media are no matter of these laws, so only what its body loses changes
        return replace(one, loss=replace(one.loss, quadratic=one.loss.quadratic + kind * (other.quadratic - own.quadratic)))

    def joint(chain: Chain, before: End, after: End) -> Chain:
        if rig.fitted is not None and (chain.as_is or chain.between_like):
            return chain
        return replace(chain, quadratic=kind * chained_quadratic(before.bore_m, chain.adapters, after.bore_m, laws))

    return Restating(option=option, joint=joint, laws=laws, fitted=rig.fitted).bundle(
        rig.positions, stands.options, stands.joints
    )


def _flow_m3s(rig: Rig, water: Water, stands: Standing, laws: FittingLaws) -> float:
    """What the bundle delivers by other laws; a throttle holds it to no more than by its own."""
    loop = standing_loop(rig, *by_laws(rig, water, stands, laws))
    own = operating_point(loop_graph(elements(loop)), water.kinematic_m2s, RELATIVE).flow_m3s
    return min(own, stands.flow_m3s) if stands.held_by else own


def law_lines(rig: Rig, water: Water, now: Standing, best: Standing | None) -> tuple[str, ...]:
    """Which laws the fittings of the loop as it is and of the best one go by, and what these deliver by the others; nothing of a
    loop in which nothing flows."""
    same = best is None or best.elements == now.elements
    told = [("as it is", now)] if same or best is None else [("as it is", now), ("after the change", best)]
    spans = [piece for name, each in told if each.flow_m3s > 0.0 for piece in _told(name, law_span(rig, water, each))]
    if not spans:
        return ()
    used = _used([each for _, each in told])
    laws = ", ".join(f"{words} {getattr(rig.laws, name)}" for name, words in WORDS.items() if name in used)
    kept = " What is installed stays as the fills say." if rig.fitted is not None else ""
    which = "With the published law that loses most at every fitting, and with the one that loses least, it delivers"
    return (Said(f"Laws of fittings: {laws}. {which}", *spans[1:], f".{kept}"),)


def _told(name: str, span: LawSpan) -> Iterator[str | Quantity]:
    """The span of one loop in words, a comma in front."""
    moved = [round(end / span.flow_m3s - 1.0, 3) + 0.0 for end in (span.least_m3s, span.most_m3s)]  # never "-0.0 %"
    shares = " to ".join(f"{share:+.1%}" for share in moved).replace("%", " %")
    yield ","
    yield from (f" {name} ", bare_flow(span.least_m3s), " to ", flowing(span.most_m3s), f" ({shares})")


def _used(loops: Iterable[Standing]) -> set[str]:
    """The fields of the laws that some part or joint of a loop goes by; steps of bore and entrances are in all of them."""
    found = {"contraction", "expansion", "entrance"}
    for stands in loops:
        parts = [option.part for option in each_option(stands.options)]
        parts += [turned.part for closing in closings(stands.options, stands.joints) for turned in closing.chain.adapters]
        found |= {BODIES[each.shape][0] for each in parts_of(parts, Fitting) if each.shape in BODIES}
        if any(one.position.bends for one in stands.loop.stands if isinstance(one.part, Hose)):
            found.add("bend")
    return found
