"""What each thing that costs nothing gives by itself: sinking the outlet, cleaning stage by stage, leaving out a tray.

The steps lead from the loop as it is to the best that can be had for nothing. A tray that is left out is cleaned before it goes:
of a clogged floss the dirt is the cleaning's, and leaving it out has the rest, as in a verdict on an upgrade.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.answers.rows import Standing
from optimizer.loop.graph import loop_graph
from optimizer.loop.kinds import parts_of
from optimizer.loop.operating import operating_point
from optimizer.loop.standing import elements, standing_loop
from optimizer.loop.terms import canister_loss, tray_loss
from optimizer.model.options import ADJUST, CLEAN, Chain, Fill, Option
from optimizer.model.part_names import tray_place
from optimizer.model.parts import Canister, Kind, Medium
from optimizer.model.results import FreeGain
from optimizer.model.rig import Rig
from optimizer.physics.water import Water

STAGES = (("guard", (Kind.GUARD,)), ("hoses and fittings", (Kind.HOSE, Kind.FITTING)), ("pump", (Kind.PUMP,)))
"""What is cleaned together, by the kinds of its parts; media and outlet have stages of their own."""

MEDIA, OUTLET, BRANCHES = "media", "outlet", "branches"
LEAVE_OUT, FIT = "leave out", "fit"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """Something to do: the options that it puts in place of others, by position, of which ``joints`` are closed anew. ``alone``
    are those of the loop as it is with nothing else done, where they are others."""

    change: str
    what: str
    places: tuple[str, ...]
    options: dict[int, Option]
    joints: bool = False
    alone: dict[int, Option] | None = None


def free_gains(rig: Rig, water: Water, now: Standing, free: Standing) -> tuple[FreeGain, ...]:
    """What leads from the loop as it is to the best for nothing, step by step, each with the flow that it gives alone and that
    after all before it; all throttles stand open. Nothing where the two are the same."""
    steps = list(_steps(rig, water, now, free))
    options, gains = list(now.options), []
    for step in steps:
        options = [step.options.get(n, option) for n, option in enumerate(options)]
        only_these = step.options if step.alone is None else step.alone
        alone = [only_these.get(n, option) for n, option in enumerate(now.options)]
        flow = free.own_m3s if step.joints else _flow_m3s(rig, water, options, now.joints)
        only = _alone_m3s(rig, water, step, alone, now)
        gains.append(FreeGain(change=step.change, what=step.what, places=step.places, alone_m3s=only, then_m3s=flow))
    return tuple(gains)


def _alone_m3s(rig: Rig, water: Water, step: _Step, options: Sequence[Option], now: Standing) -> float | None:
    """Flow of the loop as it is with one step alone; None where it closes joints anew, which other steps may lead to."""
    return None if step.joints else _flow_m3s(rig, water, options, now.joints)


def _flow_m3s(rig: Rig, water: Water, options: Sequence[Option], joints: Sequence[Chain]) -> float:
    return operating_point(loop_graph(elements(standing_loop(rig, options, joints))), water.kinematic_m2s).flow_m3s


def _steps(rig: Rig, water: Water, now: Standing, free: Standing) -> Iterator[_Step]:
    """In the order in which a keeper would go about it: what takes a minute first, what is emptied last."""
    stays = {n: option for n, option in enumerate(free.options) if option.is_installed and option.ways is None}
    yield from _adjusted(stays)
    for what, kinds in STAGES:
        yield from _cleaned(rig, stays, what, kinds)
    media = next(n for n, option in enumerate(free.options) if option.fills)
    yield from _media(rig, water, media, now.options[media], free.options[media])
    yield from _cleaned(rig, stays, OUTLET, (Kind.OUTLET,))
    others = {n: option for n, option in enumerate(free.options) if n not in stays and _differs(now.options[n], option)}
    for n, option in list(others.items()):
        if option.change == CLEAN:
            yield _Step(change=CLEAN, what=BRANCHES, places=(option.place,), options={n: others.pop(n)})
    if others:
        change = FIT if any(option.is_there for option in others.values()) else LEAVE_OUT
        places = tuple(option.place for option in others.values())
        yield _Step(change=change, what="", places=places, options=others, joints=True)


def _differs(one: Option, other: Option) -> bool:
    return (one.change, one.part, one.ways) != (other.change, other.part, other.ways)


def _adjusted(stays: dict[int, Option]) -> Iterator[_Step]:
    for n, option in stays.items():
        if option.change == ADJUST:
            yield _Step(change=ADJUST, what=option.note, places=(option.place,), options={n: option})


def _cleaned(rig: Rig, stays: dict[int, Option], what: str, kinds: Sequence[str]) -> Iterator[_Step]:
    made = {n: option for n, option in stays.items() if option.change == CLEAN and rig.positions[n].kind in kinds}
    if made:
        yield _Step(change=CLEAN, what=what, places=tuple(option.place for option in made.values()), options=made)


def _media(rig: Rig, water: Water, place: int, now: Option, free: Option) -> Iterator[_Step]:
    """All media cleaned where any is in the end or goes, then what is left out or changes its tray."""
    dirty = [fill for fill, then in zip(now.fills, free.fills, strict=True) if not fill.state.is_clean and _is_done(fill, then)]
    if dirty:
        fills = [replace(fill, change=CLEAN, state=fill.state.cleaned()) if fill in dirty else fill for fill in now.fills]
        places = tuple(tray_place(now.place, fill.tray + 1) for fill in dirty)
        yield _Step(change=CLEAN, what=MEDIA, places=places, options={place: _filled(rig, water, place, now, fills)})
    moved = [fill for fill, then in zip(now.fills, free.fills, strict=True) if fill.medium != then.medium]
    if moved:
        emptied = all(then.medium is None for then in free.fills if now.fills[then.tray] in moved)
        places = tuple(tray_place(now.place, fill.tray + 1) for fill in moved)
        fills = [then if fill in moved else fill for fill, then in zip(now.fills, free.fills, strict=True)]
        alone = {place: _filled(rig, water, place, now, fills)}
        change = LEAVE_OUT if emptied else FIT
        yield _Step(change=change, what=MEDIA, places=places, options={place: free}, alone=alone)


def _is_done(fill: Fill, then: Fill) -> bool:
    return then.medium != fill.medium or then.state.is_clean


def _filled(rig: Rig, water: Water, place: int, now: Option, fills: Sequence[Fill]) -> Option:
    """The canister as it is with other fills, by what is known of its media."""
    (body,) = parts_of([now.part], Canister)
    fitted, position = rig.fitted, rig.positions[place]
    loss = canister_loss(body, rig.laws) if fitted is None else fitted.part(body, position.state, position, water)[1]
    for fill in fills:
        for medium in parts_of([fill.medium], Medium):
            held = tray_loss if fitted is None else fitted.tray
            loss = loss.add(held(replace(medium, id=fill.like or medium.id), fill.state, body, water))
    return replace(now, fills=tuple(fills), loss=loss, change=CLEAN)
