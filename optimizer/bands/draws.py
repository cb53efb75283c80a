"""Common random numbers: every unknown has its own stream, so that it is drawn alike in whatever set of bundles it stands.

A column is a Latin hypercube sample of its own: one number from each of as many equally likely steps as there are draws, in
random order (McKay, Beckman and Conover, Technometrics 21 (1979) 239-245). What the flow owes to single unknowns is then hit
nearly exactly, and only what they do together is left to chance.
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache, reduce

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Unknown
from optimizer.bands.normal import quantiles
from optimizer.bands.priors import Prior

Reals = NDArray[np.float64]

EDGE = 1e-15
"""Probabilities are kept this far from 0 and 1."""


DRAWS, SEED = 2000, 1
"""So many draws, by streams of this seed, are made where nobody asks for others: every answer then has the same band for the same
loop. They are enough for P10 and P90 to be good to a third of a percent of a usual flow."""

FEW_DRAWS = 10_000
"""Streams of up to so many draws are kept (the last `STREAMS` of them) for whoever asks for the same again, as every loop of an
answer does."""

STREAMS = 512

MOST_DRAWS = 200_000
"""Beyond that memory runs out before the quantiles get any better."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draws:
    """Standard normal numbers of shape (draws, unknowns), one column for each of ``unknowns``, whose streams have a ``seed``."""

    unknowns: tuple[Unknown, ...]
    normals: Reals
    seed: int = 0

    def with_some_of(self, other: "Draws", columns: Iterable[int]) -> "Draws":
        """The same draws with some columns taken from another sample of the same unknowns."""
        mixed, taken = self.normals.copy(), list(columns)
        mixed[:, taken] = other.normals[:, taken]
        return replace(self, normals=mixed)


def draw(unknowns: Iterable[Unknown], count: int, seed: int, sample: int = 0) -> Draws:
    """``count`` draws of each different unknown. ``sample`` numbers independent samples of one seed.

    Raises ValueError for fewer than two draws, more than `MOST_DRAWS`, or a negative seed.

    >>> one = draw([Unknown(prior="fittings", part="A")], 4, seed=1)
    >>> both = draw([Unknown(prior="fittings", part="B"), Unknown(prior="fittings", part="A")], 4, seed=1)
    >>> one.normals[:, 0].tolist() == both.normals[:, 0].tolist()
    True
    """
    if not 2 <= count <= MOST_DRAWS:
        raise ValueError(f"the number of draws must be from 2 to {MOST_DRAWS}, but is {count}")
    if seed < 0:
        raise ValueError(f"a seed must not be negative, but is {seed}")
    different = sorted(set(unknowns), key=lambda unknown: (unknown.prior, unknown.part))
    normals = np.empty((count, len(different)), order="F")
    for column, unknown in enumerate(different):
        stream = _known_stream if count <= FEW_DRAWS else _stratified
        normals[:, column] = stream(unknown, count, seed, sample)
    return Draws(unknowns=tuple(different), normals=normals, seed=seed)


def _stratified(unknown: Unknown, count: int, seed: int, sample: int) -> Reals:
    name = hashlib.blake2b(f"{unknown.prior}\0{unknown.part}".encode(), digest_size=16).digest()
    rng = np.random.default_rng([seed, sample, int.from_bytes(name, "big")])
    share = (rng.permutation(count) + rng.random(count)) / count
    return quantiles(share.clip(EDGE, 1.0 - EDGE))


_known_stream = lru_cache(maxsize=STREAMS)(_stratified)


@dataclass(frozen=True, slots=True)
class Factors:
    """The factors that draws amount to, worked out when asked for and kept.

    ln factor = sigma z with z = sqrt(common) z_common + sqrt(1 - common) z_part, which has standard deviation sigma; where the
    sides of a prior differ, what `Prior.log_factor` makes of z.
    """

    draws: Draws
    priors: Mapping[str, Prior]
    _columns: dict[Unknown, int] = field(init=False, repr=False)
    _made: dict[Unknown, Reals] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        columns = {unknown: column for column, unknown in enumerate(self.draws.unknowns)}
        object.__setattr__(self, "_columns", columns)

    def beside(self, other: "Factors") -> "Factors":
        """These factors with what was made of ``other`` draws of the same unknowns, where the numbers are the same."""
        alike = (self.draws.normals == other.draws.normals).all(axis=0)
        for key, made in other._made.items():
            if not key.prior or (alike[self._columns[key]] and alike[self._columns[Unknown(prior=key.prior)]]):
                self._made[key] = made
        return self

    @property
    def count(self) -> int:
        """How many draws there are."""
        return len(self.draws.normals)

    def of(self, prior: str, part: str) -> Reals:
        """Factor of one part, of shape (draws,); ones for no prior (empty name). Raises KeyError for what was not drawn."""
        key = Unknown(prior=prior, part=part)
        if key not in self._made:
            self._made[key] = self._make(prior, part) if prior else np.ones(self.count)
        return self._made[key]

    def _make(self, prior: str, part: str) -> Reals:
        given = self.priors[prior]
        together = self.draws.normals[:, self._columns[Unknown(prior=prior)]]
        own = self.draws.normals[:, self._columns[Unknown(prior=prior, part=part)]]
        mixed = np.sqrt(given.common) * together + np.sqrt(1.0 - given.common) * own
        return np.asarray(np.exp(given.log_factor(mixed)), dtype=float)


def unknowns_of(each: Iterable[tuple[Unknown, ...]]) -> tuple[Unknown, ...]:
    """The different unknowns of several candidates, in a fixed order.

    >>> a, b = Unknown(prior="fittings", part="A"), Unknown(prior="fittings")
    >>> [unknown.part for unknown in unknowns_of([(a,), (b, a)])]
    ['', 'A']
    """
    everything: set[Unknown] = reduce(lambda seen, more: seen | set(more), each, set())
    return tuple(sorted(everything, key=lambda unknown: (unknown.prior, unknown.part)))
