"""The branches of a candidate in every draw: the total is solved by the batch solver, its shares inside by brackets."""

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
    first, second = (_scaled_branch(branch, factors, kinematic_m2s) for branch in split.branches)
    tees = ((True, split.meeting), (False, split.parting))
    legs = Legs(tuple((joins, *_scaled_tee(piece, factors)) for joins, piece in tees if piece is not None))
    return SplitVariants.of(
        Pairs(first, second, legs),
        np.array([branch.flow_min_m3s for branch in split.branches]),
        np.array([branch.flow_max_m3s for branch in split.branches]),
        np.array([branch.throttles for branch in split.branches]),
    )


def _scaled_branch(branch: BranchPieces, factors: Factors, kinematic_m2s: float) -> Branches:
    lift, linear, quadratic, columns = scaled_terms(branch.pieces, factors)
    every = np.arange(factors.count)
    hoses = []
    for column, coil in enumerate(columns["run_coil_m"]):
        bore, length, roughness, factor = (
            columns[name][:, column] for name in ("run_bore_m", "run_length_m", "run_roughness_m", "run_factor")
        )
        coils = np.full(factors.count, coil)
        hoses.append((every, Runs(bore, length, roughness, factor, coils, kinematic_m2s)))
    return Branches(lift, linear, quadratic, tuple(hoses))


def _scaled_tee(piece: Piece, factors: Factors) -> tuple[Reals, Side]:
    """K hangs on the ratio of the bores, which stays; the head it stands for goes with their inverse fourth power."""
    shape = piece.tee
    if shape is None:
        raise ValueError(f"{piece.part} is no tee")
    scale = factors.of(piece.resistance, piece.part) / bore_scale(piece, factors) ** 4
    side = Side.of(shape.run_bore_m, shape.branch_bore_m, shape.angle_deg)
    return np.asarray(quadratic_coefficient(scale, shape.run_bore_m), dtype=float), side
