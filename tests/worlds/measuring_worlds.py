"""Random rigs with hidden factors, and fills of them as a keeper with a bucket and a watch would time them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from small_worlds import large_world

from optimizer.bands.candidates import Unknown
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.priors import PRIORS
from optimizer.measure.fill_loop import FillLoop, cleaned, fill_loop_flows, loop_during_fill
from optimizer.measure.fills import ANEW_LIMIT_SHARE, LEVEL_LIMIT_M, REACTION_LIMIT_S
from optimizer.model.fill import TAKEN_OFF, VOLUME_SHARE, TimedFill
from optimizer.model.parts import Guard
from optimizer.model.rig import Position, Rig
from optimizer.model.state import State

SCATTER_S = 0.3
ARRANGEMENTS: tuple[tuple[tuple[str, ...], float], ...] = (
    ((), 0.0), ((), -0.4), ((), 0.25), (("guard off",), 0.0), (("media out",), 0.0), (("outlet off",), 0.0),
    (("hose off",), -0.5), (("clean",), 0.0), (("guard clean",), -0.1),
)  # fmt: skip
"""States and heights of the mouth that fills are taken in."""


@lru_cache(maxsize=1000)
def rig_of(seed: int) -> Rig:
    """A random rig, dirty or clean, without its limits."""
    return large_world(seed)[0]


def caked(seed: int) -> Rig:
    """The same, in every third with a sponge over the intake, and a cake on the first medium and the sponge, some mm each."""
    rig, rng = rig_of(seed), np.random.default_rng(10_000 + seed)
    cake_m, on_guard_m = rng.choice([0.0, 1e-3, 3e-3, 6e-3]), rng.choice([0.0, 0.5e-3, 1.5e-3])
    first = rig.trays[0]
    trays = (replace(first, state=replace(first.state, cake_m=float(cake_m))), *rig.trays[1:])

    def guarded(place: Position) -> Position:
        if seed % 3 or not isinstance(place.installed, Guard):
            return place
        own = replace(place.installed, form="sponge", pores_ppi=30.0, thickness_m=0.02, opening_m=0.8e-3, face_area_m2=8e-3)
        return replace(place, installed=own, state=State(blocked=0.3, cake_m=float(on_guard_m)))

    return replace(rig, trays=trays).with_each(guarded)


def with_next_cakes(rig: Rig) -> Rig:
    """The same rig when all has been cleaned and a new cake of 3 mm lies on the first medium, and of 1 mm on a sponge."""
    after = cleaned(rig, ("clean",))
    trays = (replace(after.trays[0], state=State(cake_m=3e-3)), *after.trays[1:])

    def caked_again(place: Position) -> Position:
        sponge = isinstance(place.installed, Guard) and place.installed.form == "sponge"
        return replace(place, state=State(cake_m=1e-3)) if sponge else place

    return replace(after, trays=trays).with_each(caked_again)


@dataclass(frozen=True)
class Truth:
    """A rig whose factors are known to the test alone: drawn from their priors."""

    rig: Rig
    unknowns: tuple[Unknown, ...]
    normals: np.ndarray

    @classmethod
    def drawn(cls, rig: Rig, rng: np.random.Generator, more: Sequence[Rig] = ()) -> "Truth":
        """Factors for all that any arrangement of the rigs depends on."""
        loops = [
            loop_during_fill(one, state) for one in (rig, *more) for state in ((), ("clean",), ("hose off",), ("outlet off",))
        ]
        unknowns = sorted({u for loop in loops for u in loop.candidate.unknowns}, key=lambda u: (u.prior, u.part))
        return cls(rig, tuple(unknowns), rng.standard_normal((1, len(unknowns))))

    @property
    def factors(self) -> Factors:
        """The true factors."""
        return Factors(Draws(unknowns=self.unknowns, normals=self.normals), PRIORS)

    def flow_m3s(self, loop: FillLoop) -> float:
        """What a loop truly delivers."""
        return float(fill_loop_flows(loop, self.factors)[0])

    def log_factor(self, prior: str, part: str) -> float:
        """Logarithm of the true factor of a part."""
        return float(np.log(self.factors.of(prior, part)[0]))

    def timed(
        self,
        rng: np.random.Generator,
        arrangements: Sequence[tuple[tuple[str, ...], float]],
        repeats: int = 3,
        bucket: "Bucket | None" = None,
        rig: Rig | None = None,
    ) -> list[TimedFill]:
        """Fills into one bucket by a keeper whose hand, eye and reaction are as good as is assumed of them."""
        into = bucket or Bucket.drawn(rng)
        return [self._timed(rng, into, loop_during_fill(rig or self.rig, *each), each, repeats) for each in arrangements]

    def _timed(
        self, rng: np.random.Generator, into: "Bucket", loop: FillLoop, each: tuple[tuple[str, ...], float], repeats: int
    ) -> TimedFill:
        held = loop.lift_m + rng.uniform(-LEVEL_LIMIT_M, LEVEL_LIMIT_M)
        flow = self.flow_m3s(replace(loop, lift_m=held))
        if set(each[0]) & set(TAKEN_OFF):
            flow *= 1.0 + rng.uniform(-ANEW_LIMIT_SHARE, ANEW_LIMIT_SHARE)
        late = rng.uniform(-REACTION_LIMIT_S, REACTION_LIMIT_S)
        took = into.volume_m3 * (1.0 + into.off) / max(flow, 1e-6) + late + rng.normal(0.0, SCATTER_S, repeats)
        seconds = tuple(np.maximum(took, 0.2).tolist())
        limit = into.share * into.volume_m3
        return TimedFill(volume_m3=into.volume_m3, seconds=seconds, height_m=each[1], state=each[0], volume_limit_m3=limit)


@dataclass(frozen=True)
class Bucket:
    """A container whose mark is off by a share, somewhere within its limits."""

    volume_m3: float = 0.01
    share: float = VOLUME_SHARE
    off: float = 0.0

    @classmethod
    def drawn(cls, rng: np.random.Generator, volume_m3: float = 0.01, share: float = VOLUME_SHARE) -> "Bucket":
        """One of many buckets of a kind."""
        return cls(volume_m3, share, rng.uniform(-share, share))
