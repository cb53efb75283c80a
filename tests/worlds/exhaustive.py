"""Full enumeration of small problems: the plain answer that the search must equal. No bounds, no dominance, no arrays."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from jets import ceiling_m3s
from scipy.optimize import brentq

from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.operating import element_head_m, operating_point
from optimizer.loop.standing import elements, standing_loop
from optimizer.loop.terms import adapter_quadratic, change_quadratic, velocity_quadratic
from optimizer.model.ends import End, mating
from optimizer.model.items import Item, closure_item, part_item
from optimizer.model.options import REMOVE, Chain, Option, OrientedAdapter
from optimizer.model.parts import Fitting
from optimizer.search.choices import Choices
from optimizer.search.joints import MOST_PIECES


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One bundle, fully evaluated: true price, own and delivered flow, whether it has a throttle to hold it there, and whether
    every joint is closed in a way that no other beats."""

    options: tuple[Option, ...]
    joints: tuple[Chain, ...]
    price: int
    own_m3s: float
    flow_m3s: float
    throttled: bool
    noise_dba: float
    neat: bool


def all_bundles(choices: Choices, most: float = math.inf) -> Iterator[Listed]:
    """Every bundle whose joints close and whose items can be had for at most so much. For tests and tiny catalogs only."""
    chains: dict[tuple[End, End], list[_Way]] = {}
    for options in product(*choices.options):
        for joints in product(*_joints(choices, options, chains)):
            listed = _evaluated(choices, options, [chain for chain, _ in joints], all(neat for _, neat in joints), most)
            if listed is not None:
                yield listed


_Way = tuple[Chain, bool]
"""A way to close a joint, and whether no other beats it."""


def _joints(choices: Choices, options: Sequence[Option], chains: dict[tuple[End, End], list[_Way]]) -> list[list[_Way]]:
    """All ways to close the joint in front of each option."""
    free = (Chain((), (), 0.0, 0, (), (), True), True)
    ways: list[list[_Way]] = []
    last: Option | None = None
    left_out = False
    for option in options:
        if not option.is_there:
            left_out = left_out or option.change == REMOVE
            ways.append([free])
            continue
        if last is None:
            ways.append([free])
        elif last.outlet is None or option.inlet is None:
            ways.append([])
        elif last.keeps_outlet and option.keeps_inlet and not left_out:
            step = change_quadratic(last.outlet.bore_m, option.inlet.bore_m)
            ways.append([(Chain((), (), step, 0, (), (), True), True)])
        else:
            key = (last.outlet, option.inlet)
            if key not in chains:
                chains[key] = _judged(choices, list(_every_chain(choices, *key)))
            ways.append(chains[key])
        last, left_out = option, False
    return ways


def _judged(choices: Choices, chains: Sequence[Chain]) -> list[_Way]:
    """Chains with whether no other beats them: one that loses no more, costs no more in pieces of fixed price and needs no
    piece of a pack, kit or short stock that they do not need. Of equals the first counts."""
    shop = choices.shop
    ranks = []
    for chain in chains:
        plain = sum(shop.alone(item) or 0 for item in chain.items if shop.is_plain(item))
        ranks.append((chain.quadratic, plain, Counter(item for item in chain.items if not shop.is_plain(item))))

    def beats(n: int, m: int) -> bool:
        one, other = ranks[n], ranks[m]
        as_good = one[0] <= other[0] and one[1] <= other[1] and one[2] <= other[2]
        return as_good and (one != other or n < m)

    rows = range(len(chains))
    return [(chain, not any(n != m and beats(n, m) for n in rows)) for m, chain in enumerate(chains)]


def _every_chain(choices: Choices, start: End, goal: End) -> Iterator[Chain]:
    adapters = [p for p in choices.shop.parts.values() if isinstance(p, Fitting) and p.role == "adapter"]
    turned = [OrientedAdapter(part, flipped) for part in adapters for flipped in (False, True)]
    for pieces in range(MOST_PIECES + 1):
        for sequence in product(turned, repeat=pieces):
            ends = [start, *(end for piece in sequence for end in (piece.entry, piece.exit)), goal]
            pairs = [mating(a, b) for a, b in zip(ends[::2], ends[1::2], strict=True)]
            if any(pair is None for pair in pairs):
                continue
            closures = [closure_item(pair) for pair in pairs if pair is not None]
            items = [item for item in closures if item is not None] + [part_item(piece.part.id) for piece in sequence]
            loss = sum(change_quadratic(a.bore_m, b.bore_m) for a, b in zip(ends[::2], ends[1::2], strict=True))
            loss += sum(adapter_quadratic(piece.part, piece.flipped) for piece in sequence)
            yield Chain(sequence, tuple(p for p in pairs if p is not None), loss, 0, (), tuple(items))


def _evaluated(choices: Choices, options: Sequence[Option], joints: Sequence[Chain], neat: bool, most: float) -> Listed | None:
    items: list[Item] = [item for option in options for item in option.items]
    items += [item for joint in joints for item in joint.items]
    cover = choices.shop.cover(items)
    price = math.inf if cover is None else cover.price + sum(option.own_price for option in options)
    if cover is None or price > most:
        return None
    edges = elements(standing_loop(choices.rig, options, joints))
    own = operating_point(loop_graph(edges), choices.water.kinematic_m2s).flow_m3s
    ceiling = min([own, choices.limits.flow_max_m3s, *(ceiling_m3s(choices.limits, option) for option in options)])
    flow = _suction_flow(choices, edges, ceiling)
    pump = choices.rig.index("pump")
    if any(option.flow_min_m3s > flow * (1 + 1e-12) for option in options):
        return None
    return Listed(
        options=tuple(options),
        joints=tuple(joints),
        price=price,
        own_m3s=own,
        flow_m3s=flow,
        throttled=any(o.throttles for o in options[pump + 1 :]) or any(joint.throttles for joint in joints[pump + 1 :]),
        noise_dba=options[pump].noise_dba,
        neat=neat,
    )


def _suction_flow(choices: Choices, elements: Sequence[Element], top: float) -> float:
    """Largest flow up to ``top`` that leaves the pump's inlet its pressure, from the elements one by one."""
    pump = next(n for n, element in enumerate(elements) if element.curve is not None)
    depth = choices.rig.positions[choices.rig.index("pump")].depth_m
    margin = choices.limits.inlet_head_m
    if math.isinf(margin):
        return top
    speed_head = velocity_quadratic(elements[pump].inlet_bore_m)

    def missing(flow: float) -> float:
        lost = sum(element_head_m(element, flow, choices.water.kinematic_m2s) for element in elements[:pump])
        return lost + speed_head * flow * flow + margin - depth

    if missing(top) <= 0.0:
        return top
    return float(brentq(missing, 0.0, top, xtol=1e-15)) if missing(0.0) < 0.0 else 0.0


def most_flow(choices: Choices, resolution_m3s: float) -> Listed | None:
    """The answer by enumeration, by the same rule as the search: of the bundles that can be held to what they deliver, those that
    deliver the most to the resolution, of these the cheapest, then the quietest, then the one that delivers most."""
    limits = choices.limits
    budget = math.inf if limits.budget is None else limits.budget
    least = max(limits.flow_min_m3s, 1e-9) * (1 - 1e-9)
    counted = [each for each in all_bundles(choices, budget) if each.flow_m3s >= least and holds(each)]
    most = max((each.flow_m3s for each in counted), default=0.0)
    near = [each for each in counted if each.flow_m3s >= most - resolution_m3s]
    return min(near, key=lambda each: (each.price, each.noise_dba, -each.flow_m3s), default=None)


def holds(listed: Listed) -> bool:
    """True when a bundle can be held to what it delivers: by a throttle, or under every ceiling by itself. Of the latter those do
    not count that have a joint which another beats: nobody fits a worse one to slow the water down."""
    return listed.throttled or (listed.neat and listed.own_m3s <= listed.flow_m3s * (1 + 1e-9))
