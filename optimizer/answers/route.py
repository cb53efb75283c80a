"""The way of the water, place by place, before and after: what a drawing of the loop shows."""

from collections.abc import Iterator
from dataclasses import replace

from optimizer.answers.bundle_walk import each_fork, each_option
from optimizer.answers.rows import Standing, each_with_flow
from optimizer.loop.loss_head import loss_head_m
from optimizer.model.options import KEEP, Option
from optimizer.model.rig import MEETING, PARTING, Position, Rig, tee_place
from optimizer.model.route import FORK, RoutePlace, Spent

TEE = "tee"


def route(rig: Rig, before: Standing, after: Standing) -> tuple[RoutePlace, ...]:
    """Every place that holds something before or after, in the order of the water, branches one after the other."""
    old, new = _spent(before), _spent(after)
    done = {option.place: _changes(option) for option in each_option(after.options)}
    places = [
        replace(place, now=old.get(place.place, Spent()), then=new.get(place.place, Spent()), changes=done.get(place.place, ()))
        for position in rig.positions
        for place in _places(position)
    ]
    return tuple(place for place in places if place.kind == FORK or place.now.part or place.then.part)


def _places(position: Position) -> Iterator[RoutePlace]:
    nothing = Spent()
    if not position.branches:
        yield RoutePlace(place=position.name, kind=position.kind, now=nothing, then=nothing)
        return
    yield RoutePlace(place=position.name, kind=FORK, now=nothing, then=nothing)
    yield _tee(position, PARTING)
    for branch in position.branches:
        for inner in branch.positions:
            yield from (each if each.fork else replace(each, fork=position.name, branch=branch.name) for each in _places(inner))
    yield _tee(position, MEETING)


def _tee(position: Position, where: str) -> RoutePlace:
    return RoutePlace(place=tee_place(position, where), kind=TEE, now=Spent(), then=Spent(), fork=position.name)


def _changes(option: Option) -> tuple[str, ...]:
    done = [fill.change for fill in option.fills] or ([option.change] if option.part is not None or option.change != KEEP else [])
    return tuple(dict.fromkeys(change for change in done if change != KEEP))


def _spent(stands: Standing) -> dict[str, Spent]:
    """What the water finds at every place of a loop."""
    found = _on_the_way(stands)
    parts = {option.place: option.part.name for option in each_option(stands.options) if option.part is not None}
    nu = stands.loop.water.kinematic_m2s
    inside = {inner.place for option in stands.options if option.ways is not None for inner in option.ways.options}
    nested = {each.place for each in each_fork(stands.options)} - {option.place for option in stands.options}
    for option, flow in each_with_flow(stands):
        if option.place in nested:
            found[option.place] = Spent(flow_m3s=flow)
        elif option.part is not None and option.place in inside:
            found[option.place] = Spent(flow_m3s=flow, head_m=loss_head_m(option.loss, flow, nu))
    return {place: replace(found.get(place, Spent()), part=parts.get(place, "")) for place in {*found, *parts}}


def _on_the_way(stands: Standing) -> dict[str, Spent]:
    """The elements that all the water passes, by the place that they belong to; a joint by the place behind it."""
    found: dict[str, Spent] = {}
    joint = Spent()
    for element, head in zip(stands.elements, stands.heads_m, strict=True):
        if not element.at:
            joint = replace(joint, joint_m=joint.joint_m + head, joint_bore_m=_narrower(joint.joint_bore_m, element.bore_m))
            continue
        here = found.get(element.at, replace(joint, flow_m3s=stands.flow_m3s))
        head = -head if element.curve is not None else head
        found[element.at] = replace(here, head_m=here.head_m + head, bore_m=_narrower(here.bore_m, element.bore_m))
        joint = Spent()
    return found


def _narrower(one_m: float, other_m: float) -> float:
    """The lesser of two bores; 0 is no bore."""
    return min((bore for bore in (one_m, other_m) if bore > 0.0), default=0.0)
