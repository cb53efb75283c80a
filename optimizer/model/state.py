"""How clean or worn an installed part is."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Shares from 0 to below 1, lengths in m.

    ``blocked``: share of a guard's openings that is shut, of a sponge's pores that is full. ``filled``: share of a medium's
    pore space that is full of dirt. ``cake_m``: thickness of the cake of dirt on the face of a medium or a sponge guard.
    ``film_m``: thickness of biofilm on the wall of a hose, tail or coupling. ``fouled``: speed that a dirty impeller loses; a
    clean gives it back. ``worn``: speed that a worn impeller loses; a clean does not. Raises ValueError.

    >>> State(blocked=0.5, worn=0.1).cleaned()
    State(blocked=0.0, filled=0.0, cake_m=0.0, film_m=0.0, fouled=0.0, worn=0.1)
    """

    blocked: float = 0.0
    filled: float = 0.0
    cake_m: float = 0.0
    film_m: float = 0.0
    fouled: float = 0.0
    worn: float = 0.0

    def __post_init__(self) -> None:
        for name in ("blocked", "filled", "fouled", "worn"):
            if not 0.0 <= getattr(self, name) < 1.0:
                raise ValueError(f"{name} must be at least 0 % and below 100 %")
        for name in ("film", "cake"):
            if not getattr(self, f"{name}_m") >= 0.0:
                raise ValueError(f"a {name} cannot be thinner than nothing")

    def cleaned(self) -> "State":
        """The state after a thorough clean: only wear stays."""
        return State(worn=self.worn)

    @property
    def is_clean(self) -> bool:
        """True when a clean would change nothing."""
        return self == self.cleaned()
