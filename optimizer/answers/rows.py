"""Rows of the verdict: a set of options and joints, solved again in scalars and held against every limit."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from optimizer.answers.words import limit_words, missing_figure
from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.kinds import each_of, parts_of, window_m3s
from optimizer.loop.operating import element_head_m, operating_point
from optimizer.loop.standing import StandingLoop, elements, standing_loop
from optimizer.loop.terms import velocity_quadratic
from optimizer.model.limits import Limits
from optimizer.model.losses import Split
from optimizer.model.options import Chain, Option
from optimizer.model.parts import Device, Guard, Kind, Outlet, Pump, kind_of
from optimizer.model.results import Broken, Row
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said, flowing, metres_per_second
from optimizer.physics.water import Water
from optimizer.search.choices import broken_by_itself

HOURS_PER_YEAR = 8760.0
"""365 days and nights: the pump of a canister filter never rests, or its bacteria die."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A bundle as it stands in the loop, at its delivered flow.

    ``branch_flows`` has a line for every position with two branches: its name, the flow of each in m3/s, and which branch a
    throttle in it holds back (-1: none).
    """

    loop: StandingLoop
    options: tuple[Option, ...]
    joints: tuple[Chain, ...]
    elements: tuple[Element, ...]
    price: int
    own_m3s: float
    flow_m3s: float
    held_by: str
    heads_m: tuple[float, ...]
    inlet_head_m: float
    branch_flows: tuple[tuple[str, tuple[float, ...], int], ...] = ()

    @property
    def pump(self) -> Option:
        """What becomes of the pump."""
        return next(option for option, _ in each_of(self.options, Pump))

    @property
    def media(self) -> Option:
        """What becomes of the media."""
        return next(option for option in self.options if option.fills)


def standing(
    rig: Rig, water: Water, options: Sequence[Option], joints: Sequence[Chain], price: int, held: tuple[float, str] | None
) -> Standing:
    """Solve a bundle by the scalar path. ``held`` is the flow a throttle holds it to and the ceiling's name, or None."""
    loop = standing_loop(rig, options, joints)
    edges = tuple(elements(loop))
    nu = water.kinematic_m2s
    own = operating_point(loop_graph(edges), nu).flow_m3s
    delivered, held_by = (own, "") if held is None or held[0] >= own * (1 - 1e-9) else held
    heads = tuple(element_head_m(element, delivered, nu) for element in edges)
    flows = tuple(_branch_flows(loop, edges, delivered))
    pump = next(n for n, element in enumerate(edges) if element.curve is not None)
    speed_head = velocity_quadratic(edges[pump].inlet_bore_m) * delivered**2
    depth = rig.positions[rig.index("pump")].depth_m
    return Standing(
        loop=loop,
        options=tuple(options),
        joints=tuple(joints),
        elements=edges,
        price=price,
        own_m3s=own,
        flow_m3s=delivered,
        held_by=ceiling(held_by, options, delivered, flows),
        heads_m=heads,
        inlet_head_m=depth - sum(heads[:pump]) - speed_head,
        branch_flows=flows,
    )


SPEED_LIMITS = {Kind.GUARD: "guard_speed_ms", Kind.OUTLET: "jet_speed_ms"}
"""Kinds that have no window of their own: a limit on the speed of the water gives them one."""


BranchFlows = tuple[str, tuple[float, ...], int]
"""A place with branches side by side, the flow of each in m3/s, and the branch that a throttle holds (below nothing: none)."""


def ceiling(name: str, options: Sequence[Option], delivered_m3s: float, flows: Sequence[BranchFlows]) -> str:
    """What a throttle keeps to, by the name that the search has for it: the place of the part whose window it is, or the name of
    the limit where that part is a guard or an outlet, which has no window of its own.
    """
    option = next((option for option in options if option.place == name), None)
    if option is None:
        return name
    known = {place: each for place, each, _ in flows}
    while option.ways is not None:
        passing = known.get(option.place, (delivered_m3s,))
        pairs = zip(option.ways.branches, passing, strict=True)
        tight = [(inner, flow) for way, flow in pairs for inner in way.there if flow >= inner.flow_max_m3s * (1 - 1e-6)]
        if not tight:
            break
        option, delivered_m3s = min(tight, key=lambda each: each[0].flow_max_m3s)
    return option.place if option.part is None else SPEED_LIMITS.get(kind_of(option.part), option.place)


def _branch_flows(loop: StandingLoop, elements: Sequence[Element], delivered_m3s: float) -> Iterator[BranchFlows]:
    """How the flow divides at every place with branches, those within a branch behind the place that they are in."""
    splits = [element.split for element in elements if element.split is not None]
    for number, split in zip(loop.trunk_forks, splits, strict=True):
        yield from _within(loop, number, split, delivered_m3s)


def _within(loop: StandingLoop, number: int, split: Split, flow_m3s: float) -> Iterator[BranchFlows]:
    from optimizer.loop.split_point import split_flows  # a loop without branches starts quicker without it

    flows, _, held = split_flows(split, flow_m3s, loop.water.kinematic_m2s)
    yield loop.forks[number].place, flows, held
    for branch, (loss, flow) in enumerate(zip(split.branches, flows, strict=True)):
        inside = [n for n, fork in enumerate(loop.forks) if fork.within == (number, branch)]
        for inner, each in zip(inside, loss.inner, strict=True):
            yield from _within(loop, inner, each, flow)


def row(name: str, rig: Rig, limits: Limits, stands: Standing) -> Row:
    """A line of the verdict, with the limits that it breaks, those first that somebody asked for."""
    pump, media = stands.pump, stands.media
    energy = pump.power_w * HOURS_PER_YEAR / 1000.0
    return Row(
        name=name,
        flow_m3s=stands.flow_m3s,
        own_m3s=stands.own_m3s,
        held_by=stands.held_by,
        turnover_per_hour=rig.turnover_per_hour(stands.flow_m3s),
        price=stands.price,
        noise_dba=pump.noise_dba,
        power_w=pump.power_w,
        bio_area_m2=media.bio_area_m2,
        inlet_head_m=stands.inlet_head_m,
        breaks=tuple(sorted(_breaks(rig, limits, stands, pump, media), key=lambda each: not each.asked)),
        energy_kwh_per_year=energy,
        energy_cost_per_year=None if rig.energy_price is None else round(energy * rig.energy_price),
    )


def _breaks(rig: Rig, limits: Limits, stands: Standing, pump: Option, media: Option) -> Iterator[Broken]:
    delivered = stands.flow_m3s
    tests = {
        "budget": limits.budget is not None and stands.price > limits.budget,
        "noise_dba": pump.noise_dba > limits.noise_dba + 1e-9,
        "power_w": pump.power_w > limits.power_w + 1e-9,
        "flow_min_m3s": delivered < limits.flow_min_m3s * (1 - 1e-9),
        "flow_max_m3s": delivered > limits.flow_max_m3s * (1 + 1e-9),
        "bio_area_m2": media.bio_area_m2 < limits.bio_area_m2 - 1e-9,
        "mechanical_stage": limits.mechanical_stage and not _has_mechanical(media),
        "canister_rating": "canister_rating" in dict(broken_by_itself(rig, limits, pump)),
    }
    yield from (broken(name, limits, rig) for name, is_broken in tests.items() if is_broken)
    if stands.inlet_head_m < limits.inlet_head_m - 1e-6:
        yield _of_inlet(rig, limits, limits.inlet_head_m - stands.inlet_head_m)
    for option, passing in with_flows(stands):
        yield from _breaks_of_part(rig, limits, option, passing)


def _of_inlet(rig: Rig, limits: Limits, short_m: float) -> Broken:
    """The limit on the pressure at the pump's inlet, by how much it is missed; where the pump's depth is not known, from what
    depth on it would hold: every centimetre deeper is a centimetre more."""
    missing = missing_figure("inlet_head_m", rig)
    whole_m = math.ceil(100.0 * short_m) / 100.0 if missing else short_m
    short = Quantity(whole_m, "height", f"{whole_m:.2f} m")
    why = (missing, "; from ", short, " below it on this would hold") if missing else ("short by ", short)
    return broken("inlet_head_m", limits, rig, Said(" (", *why, ")"))


def with_flows(stands: Standing) -> Iterator[tuple[Option, float]]:
    """Every option with the flow that passes it, those in branches with that of their branch."""
    return ((option, flow) for option, flow in each_with_flow(stands) if option.ways is None)


def each_with_flow(stands: Standing) -> Iterator[tuple[Option, float]]:
    """The same, and the places with branches, those in a branch too, each in front of what is in its branches."""
    known = {place: each for place, each, _ in stands.branch_flows}
    for option in stands.options:
        yield from _passed(option, stands.flow_m3s, known)


def _passed(option: Option, flow_m3s: float, known: Mapping[str, Sequence[float]]) -> Iterator[tuple[Option, float]]:
    yield option, flow_m3s
    if option.ways is None:
        return
    for way, flow in zip(option.ways.branches, known.get(option.place, (flow_m3s,)), strict=True):
        for inner in way.options:
            yield from _passed(inner, flow, known)


def _breaks_of_part(rig: Rig, limits: Limits, option: Option, delivered: float) -> Iterator[Broken]:
    low, high = window_m3s(option.part, option.state, limits)
    for guard in parts_of([option.part], Guard):
        if guard.opening_m > limits.opening_m + 1e-9:
            yield broken("opening_m", limits, rig)
        if delivered > high * (1 + 1e-9):
            yield broken("guard_speed_ms", limits, rig)
    for _ in parts_of([option.part], Outlet) if delivered > high * (1 + 1e-9) else ():
        speed = limits.jet_speed_ms * delivered / high
        yield broken("jet_speed_ms", limits, rig, Said(f" ({option.place}: ", metres_per_second(speed), ")"))
    for part in parts_of([option.part], Device) if limits.device_windows else ():
        if delivered < low * (1 - 1e-9):
            yield _of_window(rig, Said(f"{option.place} ({part.name}) needs at least ", flowing(part.flow_min_m3s)))
        if delivered > high * (1 + 1e-9):
            yield _of_window(rig, Said(f"{option.place} ({part.name}) takes at most ", flowing(part.flow_max_m3s)))


def broken(name: str, limits: Limits, rig: Rig, more: str = "") -> Broken:
    """A limit that is not met, with ``more`` to say of it."""
    words = limit_words(name, limits, rig)
    return Broken(limit=name, words=Said(words, more) if more else words, asked=rig.asks_for(name))


def _of_window(rig: Rig, words: str) -> Broken:
    return Broken(limit="device_windows", words=words, asked=rig.asks_for("device_windows"))


def _has_mechanical(media: Option) -> bool:
    return any(fill.medium is not None and fill.medium.mechanical for fill in media.fills)
