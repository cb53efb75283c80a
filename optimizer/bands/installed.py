"""The loop that is installed as a candidate, straight from the rig: no search is needed for it, and nothing that is sold."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.bands.candidates import Candidate, candidate
from optimizer.loop.kinds import ends_of, part_loss, speed_of
from optimizer.loop.standing import standing_loop
from optimizer.loop.terms import chained_quadratic
from optimizer.model.ends import End
from optimizer.model.options import KEEP, Chain, Fill, FilledBranch, Option, tee_option
from optimizer.model.parts import Kind
from optimizer.model.rig import MEETING, PARTING, Position, Rig, tee_place
from optimizer.physics.water import Water
from optimizer.search.branch_pairs import as_filled, leg
from optimizer.search.held_joints import as_it_is


def installed(rig: Rig, name: str = "as it is", upto: int | None = None, without: str = "") -> Candidate:
    """What is installed, in series and in branches, in the state that the rig describes; throttles stand open.

    What devices and guards allow counts among the limits. ``upto`` leaves out every position after that one (a number in the
    order of the water), ``without`` every part of a kind. Raises ValueError where the pump is among them.
    """
    rig = rig.as_it_stands
    water = rig.tank.water
    last = len(rig.positions) if upto is None else upto + 1
    making = _Making(rig, water, without)
    options = [making.option(place, position) for place, position in enumerate(rig.positions[:last])]
    joints = [joint or _OPEN for joint in _joints(rig, options, None, None)[:-1]]
    loop = replace(standing_loop(rig, options, joints), throttled=False)
    return replace(candidate(loop, rig.limits, name), ceiling_m3s=math.inf)


_OPEN = Chain((), (), 0.0, 0, (), (), True)
"""Nothing is lost where there is no joint."""


@dataclass(frozen=True, slots=True)
class _Making:
    """Makes the options of what is installed in a rig, ``without`` parts of one kind."""

    rig: Rig
    water: Water
    without: str

    def option(self, place: int, position: Position) -> Option:
        """A position as it is."""
        if position.branches:
            return self._branches(place, position)
        part = position.installed
        kept = Option(position=place, place=position.name, change=KEEP, part=None)
        if part is None or position.kind == self.without:
            return kept
        inlet, outlet = ends_of(part)
        fills: tuple[Fill, ...] = ()
        if position.kind == Kind.CANISTER:
            trays = enumerate(self.rig.trays)
            fills = tuple(Fill(tray=n, change=KEEP, medium=tray.medium, state=tray.state) for n, tray in trays)
        return replace(
            kept,
            part=part,
            state=position.state,
            loss=part_loss(part, position.state, position, self.water),
            inlet=inlet,
            outlet=outlet,
            speed=speed_of(part, position.state, self.rig.mains_hz),
            fills=fills,
            height_m=position.height_m,
        )

    def _branches(self, place: int, position: Position) -> Option:
        parting, meeting = (
            None if tee is None else tee_option(tee_place(position, where), KEEP, tee)
            for where, tee in ((PARTING, position.parting), (MEETING, position.meeting))
        )
        kept = Option(
            position=place,
            place=position.name,
            change=KEEP,
            part=None,
            inlet=None if parting is None else parting.inlet,
            outlet=None if meeting is None else meeting.outlet,
        )
        ways = [self._way(position, number) for number in range(len(position.branches))]
        return as_filled(kept, ways, parting, meeting, throttled=False, laws=self.rig.laws)

    def _way(self, position: Position, number: int) -> FilledBranch:
        branch = position.branches[number]
        options = [self.option(place, each) for place, each in enumerate(branch.positions)]
        start = _placed(tee_place(position, PARTING), leg(position.parting, number, True))
        goal = _placed(tee_place(position, MEETING), leg(position.meeting, number, False))
        return FilledBranch(name=branch.name, options=tuple(options), joints=_joints(self.rig, options, start, goal))


_Placed = tuple[str, End]
"""The name of a place, and the end by which the water comes to it or leaves it."""


def _placed(place: str, end: End | None) -> _Placed | None:
    return None if end is None else (place, end)


def _joints(rig: Rig, options: Sequence[Option], start: _Placed | None, goal: _Placed | None) -> tuple[Chain | None, ...]:
    """Installed neighbours are joined as they are; one more joint leads to the goal. None at open water."""
    joints, before = [], start
    for option in options:
        after = _placed(option.entry_place, option.inlet) if option.is_there else None
        joints.append(_joint(rig, before, after))
        before = _placed(option.exit_place, option.outlet) if option.is_there and option.outlet is not None else before
    return (*joints, _joint(rig, before, goal))


def _joint(rig: Rig, before: _Placed | None, after: _Placed | None) -> Chain | None:
    if before is None or after is None:
        return None
    adapters = rig.adapters(before[0], after[0])
    return as_it_is(adapters, chained_quadratic(before[1].bore_m, adapters, after[1].bore_m, rig.laws))
