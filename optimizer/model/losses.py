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
class TeeShape:
    """What the loss of a tee depends on besides its flows: bores of run and branch in m, and the angle between them."""

    run_bore_m: float
    branch_bore_m: float
    angle_deg: float = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """Head lost at flow Q: ``lift_m + crack_m + linear*Q + quadratic*Q*|Q|`` plus the friction of ``run``.

    ``lift_m`` is how far the water is raised, ``crack_m`` what it takes to open a part that stands shut without flow. Units:
    both m, ``linear`` s/m2, ``quadratic`` s2/m5. None may be negative, so that the loss rises with
    the flow: the proof of the search rests on it, hence the check here. Raises ValueError.

    >>> Loss(linear=2.0, quadratic=1e6).add(Loss(lift_m=0.03)).lift_m
    0.03
    """

    lift_m: float = 0.0
    linear: float = 0.0
    quadratic: float = 0.0
    run: Run | None = None
    crack_m: float = 0.0

    def __post_init__(self) -> None:
        terms = (self.lift_m, self.linear, self.quadratic, self.crack_m)
        for term in terms:
            if not 0.0 <= term < math.inf:  # a term that is no number fails both comparisons
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
            crack_m=self.crack_m + other.crack_m,
        )

    @property
    def still_m(self) -> float:
        """Head that must be there before any water flows."""
        return self.lift_m + self.crack_m


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchLoss:
    """The losses of one branch in series, the flows its parts need and allow (m3/s), and whether it can be throttled.

    ``inner`` are branches within the branch, in series with the rest. What they need and allow counts in the flows too.
    """

    losses: tuple[Loss, ...]
    flow_min_m3s: float = 0.0
    flow_max_m3s: float = math.inf
    throttles: bool = False
    inner: "tuple[Split, ...]" = ()

    @property
    def still_m(self) -> float:
        """Head that must be there before any water flows."""
        return sum(loss.still_m for loss in self.losses) + sum(split.still_m for split in self.inner)


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """One or two branches between the same two points of a loop.

    Where they part and where they meet stands a tee, the first branch on its straight run and the second on its side; None
    where that point is open water (guards draw from the tank, outlets give to it), or where there is one branch only. Raises
    ValueError.
    """

    branches: tuple[BranchLoss, ...]
    parting: TeeShape | None = None
    meeting: TeeShape | None = None

    def __post_init__(self) -> None:
        if not 1 <= len(self.branches) <= 2:
            raise ValueError("one or two branches run side by side")
        tees = (self.parting is not None) + (self.meeting is not None)
        if (len(self.branches) == 2) != (tees > 0):
            raise ValueError("two branches need a tee, one needs none")

    @property
    def still_m(self) -> float:
        """Head that must be there before any water flows through either branch."""
        return min(branch.still_m for branch in self.branches)
