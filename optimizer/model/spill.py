"""The most water that can run out when a joint lets go, as a frozen object. SI inside."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Spill:
    """The most water that can run out when a joint lets go, in m3, and how that was computed.

    ``fall_m`` is how far the water line falls then (None: not known, all water of the tank counts), ``decided_by`` the place of
    the opening that ends it, ``missing`` what to measure where it is not known, as keys of the rig file.
    """

    worst_m3: float
    tank_m3: float
    filter_m3: float
    words: tuple[str, ...]
    fall_m: float | None = None
    decided_by: str = ""
    missing: tuple[str, ...] = ()
