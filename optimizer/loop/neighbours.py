"""Neighbours in a loop as it stands: every joint with the ends on both sides, those inside branches too."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from optimizer.loop.kinds import ends_of
from optimizer.model.ends import End
from optimizer.model.rig import MEETING, PARTING, Branch, Position, standing_places, tee_place

__all__ = ["Neighbours", "neighbours"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbours:
    """Two places between which there is a joint, and the ends of it: the water ``leaves`` the one and ``enters`` the other."""

    before: str
    after: str
    leaves: End
    enters: End


_Side = tuple[str, End | None]
"""A place, and the end by which the water comes to it or leaves it (None: open water)."""

_Stop = tuple[_Side, _Side]


def neighbours(positions: Iterable[Position]) -> Iterator[Neighbours]:
    """Yield the joints of a loop in the order of the water, those in branches behind the one that leads to them."""
    yield from _series(positions, None, None)


def _series(positions: Iterable[Position], before: _Side | None, goal: _Side | None) -> Iterator[Neighbours]:
    """The joints of a series of places that stand between two others (None: the tank)."""
    for position in standing_places(positions):
        if position.branches:
            start, behind = _tees(position)
            yield from _joint(before, start)
            for number, branch in enumerate(position.branches):
                yield from _inside(position, number, branch)
            before = behind
        elif position.installed is not None:
            inlet, outlet = ends_of(position.installed)
            yield from _joint(before, (position.name, inlet))
            before = position.name, outlet
    if goal is not None:
        yield from _joint(before, goal)


def _tees(position: Position) -> _Stop:
    """Where all the water comes to two branches and leaves them."""
    parting, meeting = position.parting, position.meeting
    start = tee_place(position, PARTING), None if parting is None else parting.inlet
    return start, (tee_place(position, MEETING), None if meeting is None else meeting.outlet)


def _inside(position: Position, number: int, branch: Branch) -> Iterator[Neighbours]:
    """The joints of one of two branches: its tees' straight ends are those of the first, their sides those of the second."""
    parting, meeting = position.parting, position.meeting
    start = None if parting is None else (parting.outlet, parting.side)[number]
    goal = None if meeting is None else (meeting.inlet, meeting.side)[number]
    yield from _series(branch.positions, (tee_place(position, PARTING), start), (tee_place(position, MEETING), goal))


def _joint(before: _Side | None, after: _Side) -> Iterator[Neighbours]:
    if before is not None and before[1] is not None and after[1] is not None:
        yield Neighbours(before=before[0], after=after[0], leaves=before[1], enters=after[1])
