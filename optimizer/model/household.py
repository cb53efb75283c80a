"""A household: several tanks with one budget, and the rooms in which their pumps are heard."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.model.rig import Rig, Spare


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room with a place where one listens. ``noise_dba`` bounds what all pumps in it make there together.

    >>> Room(name="hall").noise_dba
    inf
    """

    name: str
    noise_dba: float = math.inf

    def __post_init__(self) -> None:
        if not self.name or math.isnan(self.noise_dba):
            raise ValueError("a room needs a name and its noise must be a number")


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseTank:
    """One filter of a household and the tank it stands at: its rig, whose listening distance is that to the listening place of
    the ``room`` (empty: a room of its own), and the delivered flow that is enough for the tank.

    Filters that turn over the same ``water`` (the name of their tank; empty: the filter has a tank of its own) count as one: the
    target is that of the sum of their flows. With a ``price`` (minor units; None: it is there) a filter is not there yet and
    could be had for that, as its rig describes it.
    """

    name: str
    rig: Rig
    target_m3s: float
    room: str = ""
    water: str = ""
    price: int | None = None

    def __post_init__(self) -> None:
        if not (0.0 < self.target_m3s < math.inf):
            raise ValueError(f"tank {self.name} needs a target above zero")
        if not self.water and self.target_m3s > self.rig.limits.flow_max_m3s * (1 + 1e-9):
            raise ValueError(f"the target of tank {self.name} is above the most flow it may have")
        if self.price is not None and (self.price < 0 or not self.water):
            raise ValueError(
                f"filter {self.name} cannot be an option: it needs a price of at least 0 and the tank it would serve"
            )

    @property
    def is_there(self) -> bool:
        """False for a filter that is only an option."""
        return self.price is None

    @property
    def whose(self) -> str:
        """The name of the tank."""
        return self.water or self.name


def waters(tanks: Sequence[HouseTank]) -> tuple[tuple[int, ...], ...]:
    """The filters of each tank by number, tanks in the order of their first filters."""
    found: dict[str, list[int]] = {}
    for number, tank in enumerate(tanks):
        found.setdefault(tank.whose, []).append(number)
    return tuple(map(tuple, found.values()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Household:
    """Tanks, filter by filter, that share money, spares (those of the rigs, and ``spares`` of a drawer of the household) and what
    one of them frees for another.

    ``budget`` in minor units (None: none is set), ``power_w`` bounds what all pumps draw together. Raises ValueError when there
    is no tank, when two share a name, when a tank stands in a room that is not listed, or when filters of one tank differ in its
    water, its target or its room.
    """

    name: str
    tanks: tuple[HouseTank, ...]
    rooms: tuple[Room, ...] = ()
    budget: int | None = None
    power_w: float = math.inf
    spares: tuple[Spare, ...] = ()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.tanks:
            raise ValueError("a household has at least one tank")
        if math.isnan(self.power_w) or (self.budget is not None and self.budget < 0):
            raise ValueError("power must be a number and a budget cannot be negative")
        for names in ([tank.name for tank in self.tanks], [room.name for room in self.rooms]):
            if len(set(names)) != len(names):
                raise ValueError("every tank and every room needs a name of its own")
        missing = {tank.room for tank in self.tanks} - {room.name for room in self.rooms} - {""}
        if missing:
            raise ValueError(f"no room is called {', '.join(sorted(missing))}")
        for members in waters(self.tanks):
            first, *others = (self.tanks[number] for number in members)
            most = sum(self.tanks[number].rig.limits.flow_max_m3s for number in members)
            if any((o.rig.tank, o.target_m3s, o.room) != (first.rig.tank, first.target_m3s, first.room) for o in others):
                raise ValueError(f"the filters of {first.whose} tell of different tanks")
            if first.target_m3s > most * (1 + 1e-9):
                raise ValueError(f"the target of tank {first.whose} is above the most flow that its filters may have")
