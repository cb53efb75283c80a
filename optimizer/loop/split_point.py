"""How the flow divides between two branches, by bracketing in plain scalars: the independent path."""

from optimizer.loop.bracket import bracketed
from optimizer.loop.loss_head import loss_head_m
from optimizer.loop.tees import EdgeKey, leg_heads, shaped_tee
from optimizer.model.losses import Split

FREE = -1
"""No branch is throttled."""

_LEGS: tuple[EdgeKey, EdgeKey, EdgeKey] = (("", "", "run from"), ("", "", "run to"), ("", "", "branch"))


def split_flows(split: Split, flow_m3s: float, kinematic_m2s: float) -> tuple[tuple[float, ...], float, int]:
    """Flow of each branch in m3/s, head lost between the two points in m, and the branch that a throttle holds (or `FREE`).

    ``flow_m3s`` is the total, not negative; ``kinematic_m2s`` the water's viscosity in m2/s. See `splits` for what
    throttles do. Raises ValueError for a flow below nothing.

    >>> from optimizer.model.losses import BranchLoss, Loss, TeeShape
    >>> mouths = [BranchLoss(losses=(Loss(lift_m=lift, quadratic=1e8),)) for lift in (0.0, 0.2)]
    >>> tee = TeeShape(run_bore_m=0.05, branch_bore_m=0.05)
    >>> flows, head, held = split_flows(Split(branches=tuple(mouths), parting=tee), 4e-5, 1e-6)
    >>> flows, round(head, 3), held
    ((4e-05, 0.0), 0.16, -1)
    """
    if not flow_m3s >= 0.0:
        raise ValueError("the flow through branches cannot be below nothing")
    if len(split.branches) == 1:
        return (flow_m3s,), branch_heads_m(split, (flow_m3s,), kinematic_m2s)[0], FREE
    free, fullest = _natural(split, flow_m3s, kinematic_m2s)
    held = _held(split, free, kinematic_m2s)
    if held == FREE:
        return free, branch_heads_m(split, free, kinematic_m2s)[fullest], FREE
    limited = _limit(split, held, flow_m3s)
    flows = (limited, flow_m3s - limited) if held == 0 else (flow_m3s - limited, limited)
    return flows, branch_heads_m(split, flows, kinematic_m2s)[1 - held], held


def branch_heads_m(split: Split, flows_m3s: tuple[float, ...], kinematic_m2s: float) -> tuple[float, ...]:
    """Head lost by each branch with its legs of the tees at given flows, in m, without any throttle but those in branches
    within it."""
    heads = [
        sum(loss_head_m(loss, flow, kinematic_m2s) for loss in branch.losses)
        + sum(split_flows(inner, flow, kinematic_m2s)[1] for inner in branch.inner)
        for branch, flow in zip(split.branches, flows_m3s, strict=True)
    ]
    for shape, inward in ((split.meeting, 1.0), (split.parting, -1.0)):
        if shape is not None:
            legs = leg_heads(shaped_tee(shape, *_LEGS), inward * flows_m3s[0], inward * flows_m3s[1])
            heads = [head + inward * float(leg) for head, leg in zip(heads, legs, strict=True)]
    return tuple(heads)


def _natural(split: Split, flow_m3s: float, kinematic_m2s: float) -> tuple[tuple[float, float], int]:
    """Flows without throttles, and a branch that is not still."""

    def gap(share: float) -> float:
        first, second = branch_heads_m(split, (flow_m3s * (1.0 - share), flow_m3s * share), kinematic_m2s)
        return first - second

    if gap(0.0) <= 0.0:
        return (flow_m3s, 0.0), 0
    if gap(1.0) >= 0.0:
        return (0.0, flow_m3s), 1
    share = bracketed(gap, 0.0, 1.0, xtol=1e-16, rtol=1e-15)
    return (flow_m3s * (1.0 - share), flow_m3s * share), int(share > 0.5)


def _limit(split: Split, branch: int, flow_m3s: float) -> float:
    """Most that a throttle lets through a branch: what its parts allow, and what the other's parts leave of the total."""
    own, other = split.branches[branch], split.branches[1 - branch]
    return max(min(own.flow_max_m3s, flow_m3s - other.flow_min_m3s), 0.0)


def _held(split: Split, free: tuple[float, float], kinematic_m2s: float) -> int:
    """The branch that is throttled. Where both would have to be, the total is outside the window: as at its border."""
    asks = [
        branch.throttles and flow > _limit(split, which, sum(free))
        for which, (branch, flow) in enumerate(zip(split.branches, free, strict=True))
    ]
    if not all(asks):
        return asks.index(True) if any(asks) else FREE
    most = tuple(branch.flow_max_m3s for branch in split.branches)
    least = tuple(branch.flow_min_m3s for branch in split.branches)
    border = most if free[0] > most[0] and free[1] > most[1] else least
    heads = branch_heads_m(split, border, kinematic_m2s)
    return 0 if heads[0] <= heads[1] else 1
