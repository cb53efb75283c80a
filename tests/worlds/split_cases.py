"""Random pairs of branches between two points of a loop."""

import math
import random

from optimizer.model.losses import BranchLoss, Loss, Run, Split, TeeShape

KINEMATIC_M2S = 0.95e-6
WIDE = TeeShape(run_bore_m=20.0, branch_bore_m=20.0)
"""A tee so wide that it loses nothing."""


def random_losses(chance: random.Random) -> tuple[Loss, ...]:
    """None to two hoses (ribbed, coiled, rough) and a mouth that may be above the water."""
    hoses = [
        Loss(
            quadratic=chance.choice([0.0, chance.uniform(1e6, 2e7)]),
            run=Run(
                bore_m=chance.uniform(0.008, 0.025),
                length_m=chance.uniform(0.1, 3.0),
                roughness_m=chance.choice([0.0, 1.5e-6, 1e-5]),
                factor=chance.choice([1.0, 2.0]),
                coil_m=chance.choice([math.inf, math.inf, 0.3]),
            ),
        )
        for _ in range(chance.choice([0, 1, 1, 2]))
    ]
    lift = chance.choice([0.0, 0.0, chance.uniform(0.01, 0.3)])
    return (*hoses, Loss(lift_m=lift, linear=chance.choice([0.0, 300.0]), quadratic=chance.uniform(1e6, 5e7)))


def random_tee(chance: random.Random) -> TeeShape:
    """A tee or wye, its branch as wide as its run or narrower."""
    run = chance.uniform(0.012, 0.025)
    side = run * chance.choice([1.0, chance.uniform(0.6, 1.0)])
    return TeeShape(run_bore_m=run, branch_bore_m=side, angle_deg=chance.choice([45.0, 60.0, 90.0]))


def random_split(chance: random.Random, throttles: bool = True, wide: bool = False, points: str = "") -> Split:
    """One or two branches with what their parts need and allow; ``points`` says which points are tees."""
    count = 2 if points or wide or chance.random() < 0.9 else 1
    branches = []
    for _ in range(count):
        least = chance.choice([0.0, chance.uniform(1e-5, 1e-4)])
        most = chance.choice([math.inf, least + chance.uniform(2e-5, 3e-4)])
        may = throttles and chance.random() < 0.5
        branches.append(BranchLoss(losses=random_losses(chance), flow_min_m3s=least, flow_max_m3s=most, throttles=may))
    if count == 1:
        return Split(branches=tuple(branches))
    points = points or chance.choice(["meeting", "parting", "both"])
    tees = [WIDE if wide else random_tee(chance) for _ in range(2)]
    return Split(
        branches=tuple(branches),
        parting=tees[0] if points != "meeting" else None,
        meeting=tees[1] if points != "parting" else None,
    )
