"""Friction of many hose runs, at one flow or each at its own."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.model.losses import Run
from optimizer.physics.hose import friction_head_m

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Runs:
    """Different hose runs as arrays; ``coil`` is the diameter they are coiled to (inf: straight)."""

    bore: Reals
    length: Reals
    roughness: Reals
    factor: Reals
    coil: Reals
    kinematic_m2s: float

    @classmethod
    def of(cls, runs: Sequence[object], kinematic_m2s: float) -> "Runs":
        """Arrays of hose runs. Raises TypeError for anything else."""
        checked = [run for run in runs if isinstance(run, Run)]
        if len(checked) != len(runs):
            raise TypeError("only hose runs have friction")
        return cls(
            bore=np.array([run.bore_m for run in checked], dtype=float),
            length=np.array([run.length_m for run in checked], dtype=float),
            roughness=np.array([run.roughness_m for run in checked], dtype=float),
            factor=np.array([run.factor for run in checked], dtype=float),
            coil=np.array([run.coil_m for run in checked], dtype=float),
            kinematic_m2s=kinematic_m2s,
        )

    def rows(self, rows: Ints) -> "Runs":
        """Some of the runs."""
        return Runs(
            bore=self.bore[rows],
            length=self.length[rows],
            roughness=self.roughness[rows],
            factor=self.factor[rows],
            coil=self.coil[rows],
            kinematic_m2s=self.kinematic_m2s,
        )

    def at(self, flow_m3s: float | Reals) -> Reals:
        """Friction head of each run in m, at one flow or each at its own (n,)."""
        head = friction_head_m(flow_m3s, self.bore, self.length, self.roughness, self.kinematic_m2s, self.factor, self.coil)
        return np.asarray(head, dtype=float)
