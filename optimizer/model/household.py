"""A household: several tanks with one budget, and the rooms in which their pumps are heard."""

import math
from dataclasses import dataclass

from optimizer.model.rig import Rig


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
    """One tank of a household: its rig, whose listening distance is that to the listening place of the ``room`` (empty: a room of
    its own), and the delivered flow that is enough for it."""

    name: str
    rig: Rig
    target_m3s: float
    room: str = ""

    def __post_init__(self) -> None:
        if not (0.0 < self.target_m3s < math.inf):
            raise ValueError(f"tank {self.name} needs a target above zero")
        if self.target_m3s > self.rig.limits.flow_max_m3s * (1 + 1e-9):
            raise ValueError(f"the target of tank {self.name} is above the most flow it may have")


@dataclass(frozen=True, slots=True, kw_only=True)
class Household:
    """Tanks that share money, spares and what one of them frees for another.

    ``budget`` in minor units (None: none is set), ``power_w`` bounds what all pumps draw together. Raises ValueError when there
    is no tank, when two share a name, or when a tank stands in a room that is not listed.
    """

    name: str
    tanks: tuple[HouseTank, ...]
    rooms: tuple[Room, ...] = ()
    budget: int | None = None
    power_w: float = math.inf
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
