"""Operating points of many loops given as elements, of any pumps, hoses and branches, solved at once by `loop/batch.py`."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.batch import Loops, flows
from optimizer.loop.graph import Element
from optimizer.loop.pump_heads import Pumps
from optimizer.model.losses import Run, Split

if TYPE_CHECKING:
    from optimizer.loop.split_variants import SplitVariants

Reals = NDArray[np.float64]

RELATIVE = 1e-11
"""Accuracy of the flows."""

NO_RUN = Run(bore_m=1.0, length_m=0.0, roughness_m=0.0)
"""Fills up the rows of loops with fewer hose runs."""


def loops_of(loops: Sequence[Sequence[Element]], kinematic_m2s: float) -> Loops:
    """Arrays of loops. Raises ValueError for a loop without exactly one pump, or for loops that differ in the number of their
    branches."""
    pumps = [[element for element in loop if element.curve is not None] for loop in loops]
    if any(len(found) != 1 for found in pumps):
        raise ValueError("each loop needs exactly one pump")
    terms = [[(e.loss.still_m, e.loss.linear, e.loss.quadratic) for e in loop] for loop in loops]
    sums = np.array([np.sum(rows, axis=0) for rows in terms]).reshape(len(loops), 3)
    splits = variants_of(loops, kinematic_m2s)
    return Loops(
        lift_m=sums[:, 0] + sum(split.lift_m for split in splits),
        linear=sums[:, 1],
        quadratic=sums[:, 2],
        kinematic_m2s=kinematic_m2s,
        splits=splits,
        **_runs([[e.loss.run for e in loop if e.loss.run is not None] for loop in loops]),
        **Pumps.of(
            [found[0].curve for found in pumps if found[0].curve is not None],
            np.array([found[0].speed for found in pumps], dtype=float),
        ).columns,
    )


def _runs(loops: Sequence[Sequence[Run]]) -> dict[str, Any]:
    width = max((len(runs) for runs in loops), default=0) or 1
    filled = [[*runs, *[NO_RUN] * (width - len(runs))] for runs in loops]
    names = ("bore_m", "length_m", "roughness_m", "factor", "coil_m")
    return {f"run_{name}": np.array([[getattr(run, name) for run in runs] for runs in filled], dtype=float) for name in names}


def variants_of(loops: Sequence[Sequence[Element]], kinematic_m2s: float) -> "tuple[SplitVariants, ...]":
    """The first, second ... pair of branches of all loops. Raises ValueError for loops that differ in their number."""
    every = [[element.split for element in loop if element.split is not None] for loop in loops]
    if len({len(splits) for splits in every}) > 1:
        raise ValueError("loops side by side need equally many branches")
    return tuple(_variants([splits[n] for splits in every], kinematic_m2s) for n in range(len(every[0]) if every else 0))


def _variants(splits: Sequence[Split], kinematic_m2s: float) -> "SplitVariants":
    # a loop without branches does not need these
    from optimizer.loop.split_variants import SplitVariants
    from optimizer.loop.splits import Splits

    return SplitVariants.among(Splits.of(splits, kinematic_m2s), np.arange(len(splits)))


def flows_of(loops: Sequence[Sequence[Element]], kinematic_m2s: float) -> Reals:
    """Flow of each loop in m3/s with no throttle but those in branches, 0 where the pump cannot lift the water.

    Raises ArithmeticError when one could not be solved.

    >>> from optimizer.model.losses import BranchLoss, Loss, TeeShape
    >>> from optimizer.model.parts import PumpCurve
    >>> curve = PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(2.0, 0.0), shape=2.0)
    >>> pump = Element(place="pump", label="pump", loss=Loss(quadratic=12.5e6), curve=curve)
    >>> half = BranchLoss(losses=(Loss(quadratic=5e7),))
    >>> both = Split(branches=(half, half), parting=TeeShape(run_bore_m=20.0, branch_bore_m=20.0))
    >>> branched = [Element(place="pump", label="pump", loss=Loss(), curve=curve)]
    >>> branched.append(Element(place="b", label="b", loss=Loss(), split=both))
    >>> (flows_of([[pump], branched], 1e-6) * 3.6e6).round(3).tolist()
    [1018.234, 1018.234]
    """
    found = np.zeros(len(loops))
    counts = np.array([sum(element.split is not None for element in loop) for loop in loops])
    for count in sorted(set(counts.tolist())):
        rows = np.flatnonzero(counts == count)
        found[rows] = flows(loops_of([loops[n] for n in rows.tolist()], kinematic_m2s), RELATIVE)
    return found


def flows_with(elements: Sequence[Element], quadratics: Reals, kinematic_m2s: float) -> Reals:
    """Delivered flow in m3/s of one series loop closed by each of many outlets, shape (n,).

    ``elements`` is the loop without what differs; ``quadratics`` (n,) in s2/m5, not negative, are the outlets' coefficients.
    A loop whose pump cannot lift the water gets 0. Raises ValueError for a loop without a pump.

    >>> from optimizer.model.losses import Loss
    >>> from optimizer.model.parts import PumpCurve
    >>> curve = PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(2.0, 0.0), shape=2.0)
    >>> pump = Element(place="pump", label="pump", loss=Loss(), curve=curve)
    >>> (flows_with([pump], np.array([12.5e6, 37.5e6]), 1e-6) * 3.6e6).round(3).tolist()
    [1018.234, 720.0]
    """
    loop = loops_of([elements], kinematic_m2s).rows(np.zeros(len(quadratics), dtype=np.intp))
    return flows(replace(loop, quadratic=loop.quadratic + quadratics), RELATIVE)
