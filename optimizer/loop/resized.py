"""A rig with another size of hose: hoses and the tails they are pushed on change together, whatever else there is stays."""

from dataclasses import replace

from optimizer.loop.kinds import kind, parts_of
from optimizer.model.ends import HOSE_STRETCH_M, End, Gender, Standard
from optimizer.model.options import OrientedAdapter
from optimizer.model.part_names import described
from optimizer.model.parts import Hose, Part
from optimizer.model.rig import Adjust, Position, Rig


def hose_of(rig: Rig) -> Hose | None:
    """The hose that most of the loop's length is made of; None where there is no hose."""
    lengths: dict[tuple[float, float], float] = {}
    first: dict[tuple[float, float], Hose] = {}
    for position in rig.every_position:
        for hose in parts_of([position.installed], Hose):
            size = (hose.inside_m, hose.outside_m)
            lengths[size] = lengths.get(size, 0.0) + position.length_m
            first.setdefault(size, hose)
    return None if not lengths else first[max(lengths, key=lambda size: lengths[size])]


def rehosed(rig: Rig, inside_m: float, outside_m: float) -> Rig:
    """The rig with hoses of this size in place of its main hose, and tails to match, whose bores keep their ratio to the hose.

    Raises ValueError for a rig without hoses or with branches.
    """
    old = hose_of(rig)
    if old is None or any(position.branches for position in rig.positions):
        raise ValueError(f"{rig.name} has no hose that could be changed for another size, or has branches")
    if (old.inside_m, old.outside_m) == (inside_m, outside_m):
        return rig
    positions = tuple(_resized(position, old, inside_m, outside_m) for position in rig.positions)
    joints = tuple(replace(each, adapters=tuple(_adapter(t, old, inside_m) for t in each.adapters)) for each in rig.joints)
    return replace(rig, positions=positions, joints=joints)


def _adapter(turned: OrientedAdapter, old: Hose, inside_m: float) -> OrientedAdapter:
    part = turned.part
    made = kind(part).with_ends(part, lambda end: _end(end, old, inside_m), inside_m / old.inside_m)
    return turned if made == part else replace(turned, part=replace(made, id=described(part.id)))


def _resized(position: Position, old: Hose, inside_m: float, outside_m: float) -> Position:
    part = position.installed
    if part is None:
        return position
    if isinstance(part, Hose):
        made: Part = replace(part, inside_m=inside_m, outside_m=outside_m) if part.inside_m == old.inside_m else part
    else:
        made = kind(part).with_ends(part, lambda end: _end(end, old, inside_m), inside_m / old.inside_m)
    if made == part:
        return position
    # no longer the product of the catalog that it may have been
    adjusts = tuple(_adjust(adjust, old, inside_m) for adjust in position.adjusts)
    return replace(position, installed=replace(made, id=described(position.name)), adjusts=adjusts)


def _adjust(adjust: Adjust, old: Hose, inside_m: float) -> Adjust:
    if adjust.outlet is None:
        return adjust
    return replace(adjust, outlet=replace(adjust.outlet, inlet=_end(adjust.outlet.inlet, old, inside_m)))


def _end(end: End, old: Hose, inside_m: float) -> End:
    tail = end.standard is Standard.HOSE and end.gender is Gender.MALE
    if not tail or abs(end.size_m - old.inside_m) > HOSE_STRETCH_M:
        return end
    return replace(end, size_m=inside_m, bore_m=end.bore_m * inside_m / old.inside_m)
