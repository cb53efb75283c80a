"""What tanks may take of each other: nothing that could be of use is shut."""

import numpy as np
import pytest
from small_households import household

from optimizer.tanks.claims import Claims, Handed
from optimizer.tanks.share import sought
from optimizer.tanks.signatures import Side


def claims_of(seed: int) -> tuple[list[Side], Claims]:
    """A random household of which everything is open."""
    house, catalog = household(seed)
    sides = list(sought(house, catalog).sides)
    return sides, Claims.of(sides, {side.number: Handed.of(side) for side in sides})


def takes(side: Side, name: str) -> np.ndarray:
    """The options of a tank that take or keep a part."""
    return ~side.without([name])


@pytest.mark.parametrize("seed", [0, 4, 8, 11, 16])
def test_every_set_of_givers_has_a_way(seed: int) -> None:
    """Whatever a tank takes of some others, one of its ways allows all of it and leaves idle only what these alone could take."""
    sides, claims = claims_of(seed)
    for side in sides:
        takers = {name: {other.number for other in sides if other is not side and takes(other, name).any()} for name in side.own}
        for mine in claims.ways(side.number):
            givers = {claims.owners[name] for name in side.others if takes(side, name)[mine.allowed].any()}
            assert all(takers[name] <= givers for name in mine.idle)
        every = np.logical_or.reduce([way.allowed for way in claims.ways(side.number)])
        assert every.all()


@pytest.mark.parametrize("seed", [0, 4, 8, 11, 16])
def test_what_its_owner_keeps_is_not_taken(seed: int) -> None:
    """Where all open options keep a part, no way of another tank takes it; where none takes it, it is idle in every way."""
    sides, claims = claims_of(seed)
    named = [
        (side, name)
        for side in sides
        for name in side.own
        if any(takes(other, name).any() for other in sides if other is not side)
    ]
    for owner, name in named:
        fresh = Claims.of(sides, claims.handed)
        layer = fresh.handed[owner.number].layer[name]
        shut = np.ones_like(owner.seeker.all)
        shut[layer] = takes(owner, name)[layer]
        fresh.narrow(owner.number, shut)
        for side in sides:
            if side is not owner:
                assert not any(takes(side, name)[way.allowed].any() for way in fresh.ways(side.number))
        assert all(name in way.idle for way in fresh.ways(owner.number))
