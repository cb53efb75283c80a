"""The branches of a candidate in every draw: the total is solved by the batch solver, its shares inside by brackets."""

from collections.abc import Sequence

import numpy as np

from optimizer.bands.candidates import BranchPieces, Candidate, SplitPieces
from optimizer.bands.draws import Factors
from optimizer.bands.scaled import bore_scale, scaled_terms
from optimizer.loop.branches import Branches, Legs
from optimizer.loop.pieces import Piece
from optimizer.loop.runs import Reals, Runs
from optimizer.loop.split_variants import SplitVariants
from optimizer.loop.splits import Pairs
from optimizer.loop.tees import Side
from optimizer.physics.fittings import quadratic_coefficient


def scaled_splits(candidate: Candidate, factors: Factors) -> tuple[SplitVariants, ...]:
    """The candidate's branches in every draw: their terms, each scaled by its factors."""
    return tuple(_scaled_split(split, factors, candidate.kinematic_m2s) for split in candidate.splits)


def _scaled_split(split: SplitPieces, factors: Factors, kinematic_m2s: float) -> SplitVariants:
    inner = [[_scaled_split(each, factors, kinematic_m2s) for each in branch.inner] for branch in split.branches]
    first, second = (
        _scaled_branch(branch, within, factors, kinematic_m2s) for branch, within in zip(split.branches, inner, strict=True)
    )
    tees = ((True, split.meeting), (False, split.parting))
    legs = Legs(tuple((joins, *_scaled_tee(piece, factors)) for joins, piece in tees if piece is not None))
    windows = [_window(branch, within, factors.count) for branch, within in zip(split.branches, inner, strict=True)]
    return SplitVariants.of(
        Pairs(first, second, legs),
        np.stack([low for low, _ in windows], axis=1),
        np.stack([high for _, high in windows], axis=1),
        np.array([branch.throttles for branch in split.branches]),
    )


def _window(branch: BranchPieces, inner: Sequence[SplitVariants], count: int) -> tuple[Reals, Reals]:
    """What a branch needs and allows in every draw: how the flow divides within it differs from draw to draw."""
    low, high = np.full(count, branch.flow_min_m3s), np.full(count, branch.flow_max_m3s)
    for least, most in (split.window() for split in inner):
        low, high = np.maximum(low, least), np.minimum(high, most)
    return low, high


def _scaled_branch(branch: BranchPieces, inner: Sequence[SplitVariants], factors: Factors, kinematic_m2s: float) -> Branches:
    lift, linear, quadratic, columns = scaled_terms(branch.pieces, factors)
    every = np.arange(factors.count)
    hoses = []
    for column, coil in enumerate(columns["run_coil_m"]):
        bore, length, roughness, factor = (
            columns[name][:, column] for name in ("run_bore_m", "run_length_m", "run_roughness_m", "run_factor")
        )
        coils = np.full(factors.count, coil)
        hoses.append((every, Runs(bore, length, roughness, factor, coils, kinematic_m2s)))
    lift = lift + sum(split.lift_m for split in inner)
    return Branches(lift, linear, quadratic, tuple(hoses), tuple((every, split) for split in inner))


def _scaled_tee(piece: Piece, factors: Factors) -> tuple[Reals, Side]:
    """K hangs on the ratio of the bores, which stays; the head it stands for goes with their inverse fourth power."""
    shape = piece.tee
    if shape is None:
        raise ValueError(f"{piece.part} is no tee")
    scale = factors.of(piece.resistance, piece.part) / bore_scale(piece, factors) ** 4
    side = Side.of(shape.run_bore_m, shape.branch_bore_m, shape.angle_deg)
    return np.asarray(quadratic_coefficient(scale, shape.run_bore_m), dtype=float), side
