"""Hard bounds, each of which can be taken out by name to see what becomes possible."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Bounds on a bundle. The defaults bind nothing except a mechanical stage, no negative pressure at the pump's inlet,
    and at least half of the mature biological media staying in place.

    ``noise_dba`` at the listening place, ``power_w`` drawn by the pump, ``flow_min_m3s`` and ``flow_max_m3s`` of delivered
    flow, ``opening_m`` widest gap of the guard, ``guard_speed_ms`` in front of the guard's face, ``jet_speed_ms`` where the
    water leaves an outlet (its fastest hole), ``bio_area_m2`` of surface for bacteria, ``inlet_head_m`` least gauge pressure at
    the pump inlet (as head), ``budget`` in minor units of money,
    ``room_m`` length, width and height that a new pump may have (None: no bound), ``plugs`` those it may have (none: any).

    >>> Limits(noise_dba=34.0).without("noise_dba").noise_dba
    inf
    """

    budget: int | None = None
    noise_dba: float = math.inf
    power_w: float = math.inf
    flow_min_m3s: float = 0.0
    flow_max_m3s: float = math.inf
    opening_m: float = math.inf
    guard_speed_ms: float = math.inf
    jet_speed_ms: float = math.inf
    bio_area_m2: float = 0.0
    mechanical_stage: bool = True
    mature_media: bool = True
    inlet_head_m: float = 0.0
    canister_rating: bool = True
    device_windows: bool = True
    room_m: tuple[float, float, float] | None = None
    plugs: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not 0.0 <= self.flow_min_m3s <= self.flow_max_m3s:
            raise ValueError("the least flow must not be above the greatest flow")
        if self.budget is not None and self.budget < 0:
            raise ValueError("a budget cannot be negative")
        for name in ("noise_dba", "power_w", "opening_m", "guard_speed_ms", "jet_speed_ms", "bio_area_m2", "inlet_head_m"):
            if math.isnan(getattr(self, name)):
                raise ValueError(f"{name} must be a number")

    def without(self, *names: str) -> "Limits":
        """The same limits with the named ones taken out. Raises KeyError for an unknown name."""
        return self.with_values({name: FREE[name] for name in names})

    def with_values(self, values: Mapping[str, object]) -> "Limits":
        """The same limits with some values replaced by name. Raises TypeError for an unknown name."""
        return replace(self, **values)  # type: ignore[arg-type]

    @property
    def binding(self) -> tuple[str, ...]:
        """Names of the limits that are set, in order of the fields."""
        return tuple(f.name for f in fields(self) if getattr(self, f.name) != FREE[f.name])


FREE: dict[str, float | bool | tuple[str, ...] | None] = {
    "budget": None,
    "noise_dba": math.inf,
    "power_w": math.inf,
    "flow_min_m3s": 0.0,
    "flow_max_m3s": math.inf,
    "opening_m": math.inf,
    "guard_speed_ms": math.inf,
    "jet_speed_ms": math.inf,
    "bio_area_m2": 0.0,
    "mechanical_stage": False,
    "mature_media": False,
    "inlet_head_m": -math.inf,
    "canister_rating": False,
    "device_windows": False,
    "room_m": None,
    "plugs": (),
}
"""The value of each limit that bounds nothing."""
