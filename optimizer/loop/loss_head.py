"""Head that one loss takes out of the water, in plain scalars."""

import math

from optimizer.model.losses import Loss, Run
from optimizer.physics.hose import curvature_factor, friction_factor
from optimizer.physics.water import GRAVITY_MS2


def run_head_m(run: Run, flow_m3s: float, kinematic_m2s: float) -> float:
    """Friction head of a hose run (Darcy and Weisbach with Churchill's factor), in m; 0 at no flow.

    >>> round(run_head_m(Run(bore_m=0.016, length_m=1.0, roughness_m=0.0), 800e-3 / 3600, 0.913148e-6), 5)
    0.10139
    """
    if flow_m3s == 0.0:
        return 0.0
    speed = flow_m3s / (math.pi * run.bore_m**2 / 4.0)
    reynolds = abs(speed) * run.bore_m / kinematic_m2s
    factor = run.factor * float(friction_factor(reynolds, run.roughness_m / run.bore_m))
    if math.isfinite(run.coil_m):
        factor *= float(curvature_factor(reynolds, run.bore_m, run.coil_m))
    return factor * run.length_m / run.bore_m * speed * abs(speed) / (2.0 * GRAVITY_MS2)


def loss_head_m(loss: Loss, flow_m3s: float, kinematic_m2s: float) -> float:
    """Head lost at a flow of either sign, in m; the lift counts at any flow.

    >>> loss_head_m(Loss(lift_m=0.1, linear=100.0, quadratic=1e6), 1e-3, 1e-6)
    1.2
    """
    head = loss.still_m + loss.linear * flow_m3s + loss.quadratic * flow_m3s * abs(flow_m3s)
    return head if loss.run is None else head + run_head_m(loss.run, flow_m3s, kinematic_m2s)
