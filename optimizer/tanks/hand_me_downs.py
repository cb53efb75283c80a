"""Parts that one tank frees for another, as spares that there are only when the tank they stand in does without them.

Every tank is opened once: all its changes are made in one go, and then its old parts are free. Handed on are whole parts, inside
branches too: guards, hoses (as the one piece they are), fittings, pump heads, devices and outlets. They are cleaned; the speed
that a worn impeller has lost stays lost. Old clamps, seals, adapters, tees and media are not handed on. Where fills say what a
part loses, or what its pump does, that goes with it.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from optimizer.loop.kinds import parts_of
from optimizer.model.fitted import Fitted
from optimizer.model.household import HouseTank
from optimizer.model.losses import Loss
from optimizer.model.part_names import of_drawer
from optimizer.model.parts import CLEAN_HOSE, Kind, Part, Pump
from optimizer.model.rig import Position, Rig, Spare, inner_positions
from optimizer.model.state import State
from optimizer.physics.water import Water

DRAWER = "drawer "
"""Before the id of what the household's drawer holds; no tank's spares begin so, however it is called: theirs have a colon."""

HANDED_KINDS = (Kind.GUARD, Kind.HOSE, Kind.FITTING, Kind.PUMP, Kind.DEVICE, Kind.OUTLET)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandMeDown:
    """A part that stands in tank number ``owner`` at a ``position`` (its name; ``place``: the number of the loop's position that
    this is, or is inside of) and could be freed: under an id of its own, so that it is not taken for one from the shop; ``was``
    is the part in its place. ``length_m`` of a hose, else 0. ``fitted`` is what fills say of its tank."""

    owner: int
    place: int
    position: str
    part: Part
    was: Part
    length_m: float = 0.0
    worn: float = 0.0
    fitted: Fitted | None = None

    @property
    def id(self) -> str:
        """The id under which other tanks may use it."""
        return self.part.id

    @property
    def spare(self) -> Spare:
        """The part as others see it."""
        return Spare(part=self.part, amount_m=self.length_m)

    @property
    def state(self) -> State:
        """How it is once cleaned."""
        return State(worn=self.worn)

    def part_as(self, part: Part) -> Part:
        """A part either way round with this one's stated figures, whatever the fills of another tank made of them."""
        pumps = zip(parts_of([part], Pump), parts_of([self.part], Pump), strict=True)
        return next((replace(pump, curve=own.curve) for pump, own in pumps), part)

    def by_fills(self, part: Part, loss: Loss, position: Position, water: Water) -> tuple[Part, Loss]:
        """The part (either way round) and its loss at a place of another tank, by the fills of its own."""
        if self.fitted is None:
            return part, loss
        # factors belong to a part by its id
        known, lost = self.fitted.part(replace(part, id=self.was.id), self.state, position, water)
        return replace(known, id=part.id), lost


def handed_parts(tanks: Sequence[HouseTank], idle: Iterable[int], jobs: Collection[str] = ()) -> list[HandMeDown]:
    """All parts that could be freed; tanks numbered in ``idle`` get nothing and so free nothing, nor does a filter that is not
    there yet: it is got as it is described. For ``jobs`` a tool is needed: a hose with a film is not handed on by who has none
    to clean it."""
    resting = set(idle)
    found = []
    for owner, tank in enumerate(tanks):
        loop = enumerate(tank.rig.positions)
        for place, position in ((n, inner) for n, each in loop for inner in (inner_positions(each) or (each,))):
            part = position.installed
            if owner in resting or not tank.is_there or part is None or position.stays or position.kind not in HANDED_KINDS:
                continue
            if position.state.film_m and position.kind == Kind.HOSE and CLEAN_HOSE in set(jobs) - set(tank.rig.tools):
                continue
            own = replace(part, id=f"handed on:{tank.name}:{position.name}", name=f"{part.name} (from {tank.name})")
            length = position.length_m if position.kind == Kind.HOSE else 0.0
            found.append(
                HandMeDown(
                    owner=owner,
                    place=place,
                    position=position.name,
                    part=own,
                    was=part,
                    length_m=length,
                    worn=position.state.worn,
                    fitted=tank.rig.fitted,
                )
            )
    return found


def common_spares(tanks: Sequence[HouseTank], drawer: Sequence[Spare] = ()) -> tuple[Spare, ...]:
    """The spares of all tanks and of the household's own ``drawer``: they lie together. Those that a file describes get an id of
    their own."""
    spares = []
    for prefix, listed in ((DRAWER, drawer), *((f"{tank.name}:", tank.rig.spares) for tank in tanks)):
        for spare in listed:
            part = spare.part
            if of_drawer(part.id):
                part = replace(part, id=f"{prefix}{part.id}")
            spares.append(replace(spare, part=part))
    return tuple(spares)


def with_spares(rig: Rig, spares: Sequence[Spare], handed: Iterable[HandMeDown]) -> Rig:
    """A rig that may take from the drawer and from other tanks."""
    return replace(rig, spares=(*spares, *(each.spare for each in handed)))
