"""What one part does to the water: lift, linear and quadratic loss, and the hose run that adds friction."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A length of hose or pipe that water rubs along. ``factor`` multiplies the smooth-tube friction
    (ribs); ``coil_m`` is the diameter of the coil it lies in (inf: straight)."""

    bore_m: float
    length_m: float
    roughness_m: float
    factor: float = 1.0
    coil_m: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """Head lost at flow Q: ``lift_m + linear*Q + quadratic*Q*|Q|`` plus the friction of ``run``.

    Units: ``lift_m`` m, ``linear`` s/m2, ``quadratic`` s2/m5. None may be negative, so that the loss rises with
    the flow: the proof of the search rests on it, hence the check here. Raises ValueError.

    >>> Loss(linear=2.0, quadratic=1e6).add(Loss(lift_m=0.03)).lift_m
    0.03
    """

    lift_m: float = 0.0
    linear: float = 0.0
    quadratic: float = 0.0
    run: Run | None = None

    def __post_init__(self) -> None:
        terms = (self.lift_m, self.linear, self.quadratic)
        if not all(math.isfinite(term) and term >= 0.0 for term in terms):
            raise ValueError(f"a loss must rise with the flow, but its terms are {terms}")

    def add(self, other: "Loss") -> "Loss":
        """Both in series; at most one may have a hose run. Raises ValueError if both have one."""
        if self.run is not None and other.run is not None:
            raise ValueError("two hose runs cannot be one loss")
        return Loss(
            lift_m=self.lift_m + other.lift_m,
            linear=self.linear + other.linear,
            quadratic=self.quadratic + other.quadratic,
            run=self.run or other.run,
        )
