"""The flow that the keeper wishes for: reached, not for this money, or out of reach, and what stands in the way."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.answers.shut_ends import shut_ends, shut_words
from optimizer.answers.words import limit_words
from optimizer.loop.kinds import window_m3s
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.options import Option
from optimizer.model.results import Wish
from optimizer.model.rig import Rig
from optimizer.model.said import Said, flowing
from optimizer.search.best import Seeker
from optimizer.search.choices import broken_by_itself, choices
from optimizer.search.layers import build

SUSPECTS = ("device_windows", "flow_max_m3s", "guard_speed_ms", "noise_dba", "power_w", "opening_m")
"""Limits that can keep a loop from a flow, whatever is spent."""

NOTICED = 0.01
"""A limit is in the way when without it at least so much more (as a share) could be reached."""


def wish(rig: Rig, catalog: Catalog, limits: Limits, best_m3s: float) -> Wish | None:
    """What becomes of the wish in the rig file; None when it has none, or when the limits already ask for as much."""
    wanted = rig.target_m3s
    if not wanted > limits.flow_min_m3s:
        return None
    reached = best_m3s >= wanted * (1 - 1e-9)
    reach, in_the_way = (best_m3s, ()) if reached else _out_of(rig, catalog, limits, wanted)
    return Wish(
        flow_m3s=wanted,
        turnover_per_hour=rig.turnover_per_hour(wanted),
        reached=reached,
        reach_m3s=reach,
        in_the_way=tuple(in_the_way),
    )


def _out_of(rig: Rig, catalog: Catalog, limits: Limits, wanted: float) -> tuple[float, list[str]]:
    """A flow that nothing exceeds at any price, and what is in the way where that is less than wanted."""
    priceless = replace(limits, budget=None, flow_min_m3s=0.0)
    if any(position.branches for position in rig.positions):
        return Seeker(build(choices(rig, catalog, priceless, priceless=True))).bound(), []
    binding = [name for name in SUSPECTS if name in limits.binding]
    reach = _Reach.of(rig, catalog, priceless, binding)
    within = reach.under(binding)
    if within >= wanted:
        return within, []
    words = [limit_words(name, limits, rig) for name in _tight(reach, binding, within, wanted)]
    free = reach.under(())
    if free < wanted:
        without = "which without such limits still ends at " if words else "which ends at "
        words.append(Said("the loop itself with the pumps on offer, ", without, flowing(free)))
        words += filter(None, [shut_words(shut_ends(reach.seeker.problem))])
    return within, words


def _tight(reach: "_Reach", binding: Sequence[str], within: float, wanted: float) -> list[str]:
    """The limits without which, one at a time, noticeably more could be reached; where it takes several at once, such a set none
    of which is needless; none where the limits are not in the way."""

    def helps(without: Collection[str]) -> bool:
        most = reach.under(set(binding) - set(without))
        return most >= min(wanted, within * (1.0 + NOTICED))

    single = [name for name in binding if helps({name})]
    if single or not helps(binding):
        return single
    needed = list(binding)
    for name in binding:
        fewer = [other for other in needed if other != name]
        needed = fewer if helps(fewer) else needed
    return needed


@dataclass(frozen=True, slots=True)
class _Reach:
    """Bounds on the flow at any price under some of the limits, all from one problem. ``most[name]`` is the greatest flow that
    a limit leaves each option, in m3/s."""

    seeker: Seeker
    most: dict[str, NDArray[np.float64]]

    @classmethod
    def of(cls, rig: Rig, catalog: Catalog, limits: Limits, names: Collection[str]) -> "_Reach":
        """The problem without the named limits, and what each of them does to it."""
        seeker = Seeker(build(choices(rig, catalog, limits.without(*names))))
        options = [option for layer in seeker.problem.layers for option in layer.options]
        most = {name: np.array([_most(rig, limits, name, option) for option in options]) for name in names}
        return cls(seeker, most)

    def under(self, names: Collection[str]) -> float:
        """A flow in m3/s that no bundle exceeds under these limits."""
        high = np.full(len(self.seeker.all), np.inf)
        for name in names:
            high = np.minimum(high, self.most[name])
        return self.seeker.bound(high_m3s=high)


def _most(rig: Rig, limits: Limits, name: str, option: Option) -> float:
    """The greatest flow that one limit leaves an option."""
    if name == "flow_max_m3s":
        return limits.flow_max_m3s
    if name in ("device_windows", "guard_speed_ms"):
        alone = Limits().without(*Limits().binding).with_values({name: getattr(limits, name)})
        return window_m3s(option.part, option.state, alone)[1]
    return 0.0 if name in dict(broken_by_itself(rig, limits, option)) else np.inf
