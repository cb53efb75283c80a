"""The money-flow front as a frozen object: what each sum of money buys at most, and the knee. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.results import Change, FromCatalog, Proof, Row
from optimizer.model.shown import Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class FrontPoint:
    """The cheapest bundle that delivers this much, what it does otherwise than the point before it (the first: than now), and all
    that is ``done`` for it (what stays as it is left out).

    ``price`` in minor units, ``gained_m3s`` over the point before (the first: over what is now), ``proved``: nothing
    between this price and that of the next point delivers more.
    """

    price: int
    flow_m3s: float
    turnover_per_hour: float
    noise_dba: float
    power_w: float
    gained_m3s: float
    proved: bool
    changes: tuple[Change, ...]
    done: tuple[Change, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Knee:
    """The point (its number from 0) furthest above the straight line from the first point to the last.

    ``before_m3s`` is what a minor unit of money buys on the way from the first point to it, ``after_m3s`` from it to the last.
    """

    point: int
    before_m3s: float
    after_m3s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Front(FromCatalog, Shown):
    """All points up to a budget, cheapest first; not ``complete``: cheaper ones are missing. ``knee`` is None where points are
    missing or there are fewer than three. ``proof`` is that of no single point, but says what all of them took."""

    form: ClassVar[str] = "front"
    now: Row
    points: tuple[FrontPoint, ...]
    knee: Knee | None
    complete: bool
    proof: Proof

    @property
    def status(self) -> str:
        """``proved``: every point is and none is missing; ``stopped``; or ``infeasible``: there are no points."""
        if not self.complete or not all(point.proved for point in self.points):
            return "stopped"
        return "proved" if self.points else "infeasible"
