"""What was done to a loop between two descriptions of it: what was cleaned, what was left out, and what parts came in.

Places go by their names, those inside branches too, media by their trays. What has another name or another tray afterwards is
looked for among the places of the same kind and the trays with the same medium, in the order of the water; what is not found was
left out.
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.loop.kinds import parts_of
from optimizer.measure.fill_loop import cleaned
from optimizer.model.parts import Canister, Kind, Part, TeePiece
from optimizer.model.rig import MEETING, PARTING, Position, Rig, Tray, nested_positions, tee_place
from optimizer.model.state import State

GROWS = ("blocked", "filled", "cake_m", "film_m", "fouled")
"""Figures of a state that dirt makes larger and a clean smaller."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """Places that were cleaned, were left out, and have other parts, hose runs, mouths or wear, in the order of the water."""

    cleaned: tuple[str, ...]
    left_out: tuple[str, ...]
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pairs:
    """Numbers of places and trays before, with those that took their places afterwards; what was left out has none."""

    places: dict[int, int]
    trays: dict[int, int]


def work_between(before: Rig, after: Rig, state: Sequence[str] = (), then: Sequence[str] = ()) -> Work:
    """What was done from one rig to another; ``state`` and ``then`` are the words of the fills' state that count besides."""
    pairs = _pairs(before, after)
    old, new = cleaned(before, state), cleaned(as_clean_as(before, after), then)
    places = zip(old.every_position, new.every_position, strict=True)
    washed = [p.name for p, q in places if p.installed and _cleaner(p.state, q.state)]
    washed += [f"tray {n}" for n, (t, u) in enumerate(zip(old.trays, new.trays, strict=True), 1) if _cleaner(t.state, u.state)]
    gone = [before.every_position[n].name for n in _left_out_places(before, pairs)]
    return Work(
        cleaned=tuple(washed),
        left_out=(*gone, *(f"tray {n + 1}" for n in _left_out_trays(before, pairs))),
        parts=tuple(dict.fromkeys(_parts(before, after, pairs))),
    )


def as_clean_as(old: Rig, new: Rig) -> Rig:
    """The old rig with the dirt of the new one, place by place; wear stays as it was. What was left out is as clean as it can be:
    that it was dirty is no reason to be without it."""
    pairs = _pairs(old, new)
    stands = {old.every_position[n].name: new.every_position[m].state for n, m in pairs.places.items()}
    trays = tuple(
        replace(tray, state=new.trays[pairs.trays[n]].state if n in pairs.trays else tray.state.cleaned())
        for n, tray in enumerate(old.trays)
    )

    def washed(place: Position) -> Position:
        state = stands.get(place.name)
        return replace(place, state=place.state.cleaned() if state is None else replace(state, worn=place.state.worn))

    return replace(old, trays=trays).with_each(washed)


def without_what_is_gone(old: Rig, new: Rig) -> Rig:
    """The old rig without what stands nowhere in the new one."""
    pairs = _pairs(old, new)
    gone = {old.every_position[n].name for n in _left_out_places(old, pairs)}
    emptied = set(_left_out_trays(old, pairs))
    return replace(
        old,
        positions=tuple(left for each in old.positions for left in _left_of(each, gone)),
        trays=tuple(Tray(medium=None) if n in emptied else tray for n, tray in enumerate(old.trays)),
    )


def _left_of(position: Position, gone: Collection[str]) -> tuple[Position, ...]:
    """What is left of a place without those that are ``gone``. A branch is gone with its guard or its outlet, or when nothing of
    it is left; what stands in the other is then in series with the rest."""
    if not position.branches:
        return () if position.name in gone else (position,)
    left = []
    for branch in position.branches:
        places = tuple(some for each in branch.positions for some in _left_of(each, gone))
        there = [each for each in places if each.holds_something]
        if there and _has_end(there) == _has_end(branch.positions):
            left.append(replace(branch, positions=places))
    if len(left) == len(position.branches):
        return (replace(position, branches=tuple(left)),)
    return left[0].positions if left else ()


def _has_end(positions: Iterable[Position]) -> bool:
    """Whether the water comes from the tank or goes to it in some of these places."""
    return any(each.kind in (Kind.GUARD, Kind.OUTLET) for each in nested_positions(positions))


def is_same(one: Part | None, other: Part | None) -> bool:
    """True for parts that are described alike. A canister with more or fewer trays is the same one, filled otherwise."""
    bodies = [*parts_of([one, other], Canister)]
    return one == other if len(bodies) < 2 else bodies[0] == replace(bodies[1], trays=bodies[0].trays)


def _pairs(old: Rig, new: Rig) -> _Pairs:
    return _Pairs(places=_places(old.every_position, new.every_position), trays=_trays(old.trays, new.trays))


def _places(old: Sequence[Position], new: Sequence[Position]) -> dict[int, int]:
    """By name first; then those of one kind and purpose that have another name, in the order of the water."""
    named = {each.name: n for n, each in enumerate(new) if each.installed is not None}
    there = [n for n, each in enumerate(old) if each.installed is not None]
    found = {n: named[old[n].name] for n in there if old[n].name in named and new[named[old[n].name]].kind == old[n].kind}
    free = [n for n in named.values() if n not in found.values()]
    for n in there:
        like = next((m for m in free if n not in found and _serves_alike(old[n], new[m])), None)
        if like is not None:
            found[n] = like
            free.remove(like)
    return found


def _serves_alike(one: Position, other: Position) -> bool:
    return (one.kind, one.role) == (other.kind, other.role)


def _trays(old: Sequence[Tray], new: Sequence[Tray]) -> dict[int, int]:
    """The same medium in the same tray, then in another one, then another medium in the same tray."""
    there = [n for n, tray in enumerate(old) if tray.medium is not None]
    free = [n for n, tray in enumerate(new) if tray.medium is not None]
    found: dict[int, int] = {}
    for same_medium, same_tray in ((True, True), (True, False), (False, True)):
        for n in [each for each in there if each not in found]:
            like = next((m for m in free if _fits(old, new, n, m, same_medium, same_tray)), None)
            if like is not None:
                found[n] = like
                free.remove(like)
    return found


def _fits(old: Sequence[Tray], new: Sequence[Tray], n: int, m: int, same_medium: bool, same_tray: bool) -> bool:
    return (n == m or not same_tray) and (old[n].medium == new[m].medium or not same_medium)


def _left_out_places(old: Rig, pairs: _Pairs) -> list[int]:
    return [n for n, each in enumerate(old.every_position) if each.installed is not None and n not in pairs.places]


def _left_out_trays(old: Rig, pairs: _Pairs) -> list[int]:
    return [n for n, tray in enumerate(old.trays) if tray.medium is not None and n not in pairs.trays]


def _cleaner(old: State, new: State) -> bool:
    return any(getattr(new, name) < getattr(old, name) for name in GROWS)


def _parts(before: Rig, after: Rig, pairs: _Pairs) -> Iterator[str]:
    """Where something else stands, or the water runs otherwise; how dirty it is does not count."""
    stayed = {there: here for here, there in pairs.places.items()}
    names = {*(each.name for each in after.every_position), *_tees_by_place(after)}
    for n, new in enumerate(after.every_position):
        if n in stayed and not _is_as_before(before.every_position[stayed[n]], new):
            yield new.name
        elif n not in stayed and new.installed is not None:
            yield f"{new.name} (new)"
    yield from _tees(before, after)
    for joint in after.joints:
        if before.adapters(joint.before, joint.after) != joint.adapters:
            yield f"joint {joint.before} to {joint.after}"
    for joint in before.joints:
        if joint.before in names and joint.after in names and not after.adapters(joint.before, joint.after):
            yield f"joint {joint.before} to {joint.after}"
    if sorted(stayed) != [pairs.places[n] for n in sorted(pairs.places)]:
        yield "the order of the places"
    came = {there: here for here, there in pairs.trays.items()}
    for n, tray in enumerate(after.trays):
        if tray.medium is not None and (n not in came or before.trays[came[n]].medium != tray.medium):
            yield f"tray {n + 1}"
    if (before.tank.temperature_c, before.tank.salinity_gkg, before.mains_hz) != (
        after.tank.temperature_c,
        after.tank.salinity_gkg,
        after.mains_hz,
    ):
        yield "the water or the mains"


def _tees(before: Rig, after: Rig) -> Iterator[str]:
    """Tees that are others than before, or were not there."""
    old = _tees_by_place(before)
    for place, tee in _tees_by_place(after).items():
        if place not in old:
            yield f"{place} (new)"
        elif old[place] != tee:
            yield place


def _tees_by_place(rig: Rig) -> dict[str, TeePiece]:
    found = ((p, where, getattr(p, where)) for p in nested_positions(rig.positions) for where in (PARTING, MEETING))
    return {tee_place(position, where): tee for position, where, tee in found if tee is not None}


def _is_as_before(old: Position, new: Position) -> bool:
    """True when nothing but dirt, and what the search may do there, tells two places apart."""
    like = replace(new, name=old.name, installed=old.installed, adjusts=old.adjusts, stays=old.stays, may_go=old.may_go)
    worn = old.state.worn == new.state.worn
    return worn and is_same(old.installed, new.installed) and replace(like, state=old.state) == old
