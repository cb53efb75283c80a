"""Full enumeration of small problems: the plain answer that the search must equal. No bounds, no dominance, no arrays."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from scipy.optimize import brentq

from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.operating import element_head_m, operating_point
from optimizer.loop.terms import adapter_quadratic, change_quadratic, velocity_quadratic
from optimizer.model.ends import End, mating
from optimizer.model.parts import Fitting
from optimizer.search.choices import Choices
from optimizer.search.elements import elements_of
from optimizer.search.items import Item, closure_item, part_item
from optimizer.search.joints import MOST_PIECES, Chain, Turned
from optimizer.search.options import REMOVE, Option


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """One bundle, fully evaluated: true price, own and delivered flow, and whether its flow can be held there."""

    options: tuple[Option, ...]
    joints: tuple[Chain, ...]
    price: int
    own_m3s: float
    flow_m3s: float
    throttled: bool
    noise_dba: float


def all_bundles(choices: Choices) -> Iterator[Listed]:
    """Every bundle whose joints close and whose items can be had, whatever its price. For tests and tiny catalogs only."""
    chains: dict[tuple[End, End], list[Chain]] = {}
    for options in product(*choices.options):
        for joints in product(*_joints(choices, options, chains)):
            listed = _evaluated(choices, options, joints)
            if listed is not None:
                yield listed


def _joints(choices: Choices, options: Sequence[Option], chains: dict[tuple[End, End], list[Chain]]) -> list[list[Chain]]:
    """All ways to close the joint in front of each option."""
    free = Chain((), (), 0.0, 0, (), (), True)
    ways: list[list[Chain]] = []
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
            ways.append([Chain((), (), step, 0, (), (), True)])
        else:
            key = (last.outlet, option.inlet)
            if key not in chains:
                chains[key] = list(_every_chain(choices, *key))
            ways.append(chains[key])
        last, left_out = option, False
    return ways


def _every_chain(choices: Choices, start: End, goal: End) -> Iterator[Chain]:
    adapters = [p for p in choices.shop.parts.values() if isinstance(p, Fitting) and p.role == "adapter"]
    turned = [Turned(part, flipped) for part in adapters for flipped in (False, True)]
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


def _evaluated(choices: Choices, options: Sequence[Option], joints: Sequence[Chain]) -> Listed | None:
    items: list[Item] = [item for option in options for item in option.items]
    items += [item for joint in joints for item in joint.items]
    cover = choices.shop.cover(items)
    if cover is None:
        return None
    elements = elements_of(choices.rig, options, joints)
    own = operating_point(loop_graph(elements), choices.water.kinematic_m2s).flow_m3s
    ceiling = min([own, choices.limits.flow_max_m3s, *(option.flow_max_m3s for option in options)])
    flow = _suction_flow(choices, elements, ceiling)
    pump = choices.rig.index("pump")
    if any(option.flow_min_m3s > flow * (1 + 1e-12) for option in options):
        return None
    return Listed(
        options=tuple(options),
        joints=tuple(joints),
        price=cover.price + sum(option.own_price for option in options),
        own_m3s=own,
        flow_m3s=flow,
        throttled=any(o.throttles for o in options[pump + 1 :]) or any(joint.throttles for joint in joints[pump + 1 :]),
        noise_dba=options[pump].noise_dba,
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
    """The answer by enumeration, under the same preference order and throttle rule as the search."""
    limits = choices.limits
    budget = math.inf if limits.budget is None else limits.budget
    fitting = [
        listed
        for listed in all_bundles(choices)
        if listed.price <= budget and listed.flow_m3s >= max(limits.flow_min_m3s, 1e-9) * (1 - 1e-9)
    ]
    best = preferred(fitting, resolution_m3s, limits.flow_max_m3s)
    if best is None or _holds(best):
        return best
    throttled = [listed for listed in fitting if listed.throttled]
    free = [listed for listed in fitting if not listed.throttled and _holds(listed)]
    most = max((listed.flow_m3s for listed in throttled), default=0.0)
    better = [listed for listed in free if listed.flow_m3s > most + resolution_m3s]
    return preferred(free if better else throttled, resolution_m3s, limits.flow_max_m3s)


def preferred(listed: Sequence[Listed], resolution_m3s: float, ceiling_m3s: float) -> Listed | None:
    """Most flow to the resolution, then cheapest, quietest, and most flow again."""
    if not listed:
        return None
    top = max(each.flow_m3s for each in listed)
    floor = top * (1 - 1e-9) if top >= ceiling_m3s * (1 - 1e-12) else top - resolution_m3s
    near = [each for each in listed if each.flow_m3s >= floor]
    return min(near, key=lambda each: (each.price, each.noise_dba, -each.flow_m3s))


def _holds(listed: Listed) -> bool:
    return listed.throttled or listed.own_m3s <= listed.flow_m3s * (1 + 1e-9)
