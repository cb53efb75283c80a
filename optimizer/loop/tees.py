"""Tees and wyes, whose losses depend on how the flow divides between their three legs."""

from collections.abc import Hashable
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.model.losses import TeeShape
from optimizer.physics.arrays import Floats, choose
from optimizer.physics.fittings import (
    converging_branch_k,
    converging_run_k,
    diverging_branch_k,
    diverging_run_k,
    quadratic_coefficient,
)

EdgeKey = tuple[str, str, Hashable]
"""An edge of the network: first node, second node, key."""

BLEND = 0.05
"""Share of flow in a joining branch below which its K is led to that of a leaving branch; 0.25 and up is untouched
Crane."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tee:
    """A tee or wye at a node: the edges on its two straight ends and on its branch.

    Bores in m, the straight ends of one bore. ``angle_deg`` (30 to 90) is that between branch and straight run; a wye
    leans so that water from the branch turns gently into ``run_to``. Raises ValueError.
    """

    run_from: EdgeKey
    run_to: EdgeKey
    branch: EdgeKey
    run_bore_m: float
    branch_bore_m: float
    angle_deg: float = 90.0

    def __post_init__(self) -> None:
        if len({self.run_from, self.run_to, self.branch}) != 3:
            raise ValueError("a tee needs three different edges")
        if not (0.0 < self.branch_bore_m <= self.run_bore_m < np.inf):
            raise ValueError("the branch of a tee must have a bore, and none above that of its run")
        if not 30.0 <= self.angle_deg <= 90.0:
            raise ValueError("the angle of a branch must be 30 to 90 degrees")


@dataclass(frozen=True, slots=True)
class Side:
    """K of a tee, or of one tee a row, against the branch's share of flow where one straight end carries the whole flow.

    Bores in m and angles in degrees, floats or arrays that broadcast with the shares. ``at_no_flow`` is what leads a
    joining branch without flow to -K of a leaving one (see `leg_heads`).
    """

    run_bore_m: Floats
    branch_bore_m: Floats
    angle_deg: Floats
    at_no_flow: Floats

    @classmethod
    def of(cls, run_bore_m: Floats, branch_bore_m: Floats, angle_deg: Floats, other_angle_deg: Floats = 90.0) -> "Side":
        """The end towards which the branch leans at ``angle_deg``, and at ``other_angle_deg`` towards the other.

        >>> tee = Side.of(0.016, 0.016, 90.0)
        >>> [round(float(k), 4) for k in (tee.joining_run(0.25), tee.joining_branch(0.25), tee.leaving_run(0.25))]
        [0.325, -0.0422, -0.0625]
        """
        leaving = diverging_branch_k(0.0, branch_bore_m, run_bore_m, other_angle_deg)
        at_no_flow = -leaving - converging_branch_k(0.0, branch_bore_m, run_bore_m, angle_deg)
        return cls(run_bore_m, branch_bore_m, angle_deg, at_no_flow)

    def rows(self, rows: NDArray[np.intp]) -> "Side":
        """Some of the tees, where there is one a row; a number that is that of all rows stays one."""
        values = (self.run_bore_m, self.branch_bore_m, self.angle_deg, self.at_no_flow)
        return Side(*(value[rows] if isinstance(value, np.ndarray) else value for value in values))

    def joining_branch(self, share: Any) -> Any:
        """K from the branch to the end that takes all."""
        led = np.maximum(1.0 - share / BLEND, 0.0)
        return converging_branch_k(share, self.branch_bore_m, self.run_bore_m, self.angle_deg) + self.at_no_flow * led

    def joining_run(self, share: Any) -> Any:
        """K straight through to the end that takes all."""
        return converging_run_k(share, self.branch_bore_m, self.run_bore_m, self.angle_deg)

    def leaving_branch(self, share: Any) -> Any:
        """K from the end that brings all to the branch."""
        return diverging_branch_k(share, self.branch_bore_m, self.run_bore_m, self.angle_deg)

    def leaving_run(self, share: Any) -> Any:
        """K straight through from the end that brings all."""
        return diverging_run_k(share, self.branch_bore_m, self.run_bore_m)


@lru_cache(maxsize=256)
def _sides(tee: Tee) -> tuple[Side, Side]:
    """Where ``run_to`` carries the whole flow, and where ``run_from`` does."""
    bores = (tee.run_bore_m, tee.branch_bore_m)
    return Side.of(*bores, tee.angle_deg, 90.0), Side.of(*bores, 90.0, tee.angle_deg)


def shaped_tee(shape: TeeShape, run_from: EdgeKey, run_to: EdgeKey, branch: EdgeKey) -> Tee:
    """A tee of a shape between three edges. Raises ValueError for a shape that is none.

    >>> shaped_tee(TeeShape(run_bore_m=0.016, branch_bore_m=0.012), ("a", "t", 0), ("t", "c", 0), ("b", "t", 0)).branch_bore_m
    0.012
    """
    return Tee(
        run_from=run_from,
        run_to=run_to,
        branch=branch,
        run_bore_m=shape.run_bore_m,
        branch_bore_m=shape.branch_bore_m,
        angle_deg=shape.angle_deg,
    )


def leg_heads(tee: Tee, run_from_m3s: Floats, branch_m3s: Floats) -> tuple[Any, Any]:
    """Heads at ``run_from`` and at the branch above the head at ``run_to``, in m: total heads of the water in the legs.

    ``run_from_m3s`` and ``branch_m3s`` are flows into the tee in m3/s, floats or arrays that broadcast; the third leg
    takes the difference. Both heads grow with the square of the flows and change without a jump. The head lost from one
    leg to another is K times the velocity head of the whole flow in the run's bore, K of Crane TP-410 (2009) chapter 2
    with errata, as long as a straight end carries the whole flow. No published source for the rest: where the branch
    carries it, K is linear between the two ends, where it is Crane's; a joining branch of a share below ``BLEND`` is
    led to -K of a leaving one, from which Crane's differs by about 0.1; a wye run against its lean counts as a tee of
    90 degrees.

    >>> tee = Tee(run_from=("a", "t", 0), run_to=("t", "c", 0), branch=("b", "t", 0), run_bore_m=0.016, branch_bore_m=0.016)
    >>> run, branch = leg_heads(tee, 3e-4, 1e-4)
    >>> whole = quadratic_coefficient(1.0, 0.016) * 4e-4**2
    >>> round(float(run / whole), 4), round(float(branch / whole), 4)
    (0.325, -0.0422)
    """
    to_m3s = -(run_from_m3s + branch_m3s)
    into_to, into_from = _sides(tee)
    sizes = np.abs(run_from_m3s), np.abs(to_m3s), np.abs(branch_m3s)
    whole = np.maximum(np.maximum(sizes[0], sizes[1]), sizes[2])
    scale = quadratic_coefficient(1.0, tee.run_bore_m) * whole * whole
    is_to, is_from = sizes[1] >= whole, sizes[0] >= whole
    cases = (
        partial(_whole_in_run_to, into_to, to_m3s, branch_m3s),
        partial(_whole_in_run_from, into_from, run_from_m3s, branch_m3s),
        partial(_whole_in_branch, into_to, into_from, branch_m3s, to_m3s),
    )
    if np.ndim(whole) == 0:  # one case alone counts, and bracketing asks for it millions of times
        run_k, branch_k = cases[0 if is_to else 1 if is_from else 2]()
        return scale * run_k, scale * branch_k
    by_to, by_from, by_branch = (case() for case in cases)
    run_k, branch_k = (choose(is_to, by_to[leg], choose(is_from, by_from[leg], by_branch[leg])) for leg in (0, 1))
    return scale * run_k, scale * branch_k


def _share(part_m3s: Floats, whole_m3s: Floats) -> Any:
    """Part over whole, at most 1, 0 of nothing. Where another leg carries the whole, the answer is not used."""
    part = np.abs(part_m3s)
    largest = np.maximum(part, np.abs(whole_m3s))
    return part / choose(largest > 0.0, largest, 1.0)


def _whole_in_run_to(side: Side, to_m3s: Floats, branch_m3s: Floats) -> tuple[Any, Any]:
    share = _share(branch_m3s, to_m3s)
    joins = np.asarray(to_m3s) <= 0.0
    run = choose(joins, side.joining_run(share), -side.leaving_run(share))
    return run, choose(joins, side.joining_branch(share), -side.leaving_branch(share))


def _whole_in_run_from(side: Side, from_m3s: Floats, branch_m3s: Floats) -> tuple[Any, Any]:
    share = _share(branch_m3s, from_m3s)
    joins = np.asarray(from_m3s) <= 0.0
    run = choose(joins, -side.joining_run(share), side.leaving_run(share))
    return run, run + choose(joins, side.joining_branch(share), -side.leaving_branch(share))


def _whole_in_branch(to_side: Side, from_side: Side, branch_m3s: Floats, to_m3s: Floats) -> tuple[Any, Any]:
    """From the branch to a straight end that takes all, K is Crane's; the end that takes nothing follows from its run's
    K."""
    share = _share(to_m3s, branch_m3s)
    rest = 1.0 - share
    out_of = np.asarray(branch_m3s) >= 0.0
    to_k = choose(out_of, to_side.joining_branch(1.0), to_side.leaving_branch(1.0))
    from_k = choose(out_of, from_side.joining_branch(1.0), from_side.leaving_branch(1.0))
    to_still = from_k - choose(out_of, from_side.joining_run(1.0), from_side.leaving_run(1.0))
    from_still = to_k - choose(out_of, to_side.joining_run(1.0), to_side.leaving_run(1.0))
    sign = choose(out_of, 1.0, -1.0)
    branch = sign * (share * to_k + rest * to_still)
    return branch - sign * (rest * from_k + share * from_still), branch
