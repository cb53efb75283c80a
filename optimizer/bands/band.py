"""Bands of delivered flow over several bundles, drawn with common random numbers.

The tool's own figures are the median of every factor, so P50 lies near the flow that the search states: a little below, since
losses are skewed, and up to a seventh below in loops of which nothing is measured and whose dirt takes most of the flow.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Candidate
from optimizer.bands.draws import DRAWS, SEED, Draws, Factors, draw, unknowns_of
from optimizer.bands.priors import PRIORS, Prior
from optimizer.bands.robust import chosen
from optimizer.bands.series import branches_keep, delivered_m3s, own_m3s
from optimizer.bands.shares import first_order_shares
from optimizer.model.bands import Band, BandLine, PriorLine, UnknownShare
from optimizer.search.best import RESOLUTION_M3S

Reals = NDArray[np.float64]
Bools = NDArray[np.bool_]

QUANTILES = (0.1, 0.5, 0.9)


Known = Callable[[Factors], Factors]
"""What is made of the factors of draws by what is known besides, say by fills."""


def nothing_more(factors: Factors) -> Factors:
    """Nothing is known besides."""
    return factors


def of(
    candidates: Sequence[Candidate],
    *,
    seed: int = SEED,
    draws: int = DRAWS,
    percent: int | None = None,
    made: str = "",
    priors: Mapping[str, Prior] = PRIORS,
    known: Known = nothing_more,
) -> Band:
    """Bands of the candidates, which come best first.

    With ``percent`` (10 for P10) the candidate with the best quantile is chosen, ``made`` saying how the set came about.
    ``known`` says what is made of the draws by what was measured. Raises ValueError for no candidates, for two of one name,
    and as `draw` and `chosen` do.
    """
    names = [candidate.name for candidate in candidates]
    if not names or len(set(names)) < len(names):
        raise ValueError("bands need at least one candidate, each with a name of its own")
    one = draw(unknowns_of(candidate.unknowns for candidate in candidates), draws, seed)
    factors = known(Factors(one, priors))
    delivered = delivered_flows(candidates, factors)
    wins = win_shares(delivered)
    robust = None if percent is None else chosen(names, delivered, percent, made)
    told = 0 if robust is None else names.index(robust.name)
    rival = _rival(wins, told)
    own = _told_shares([candidates[told]], seed, draws, priors, known)
    lead = () if rival is None else _told_shares([candidates[told], candidates[rival]], seed, draws, priors, known)
    return Band(
        seed=seed,
        draws=draws,
        lines=_lines(candidates, factors, delivered, wins, known),
        told=names[told],
        shares=own,
        together_share=max(1.0 - sum(share.share for share in own), 0.0) if any(s.share for s in own) else 0.0,
        rival="" if rival is None else names[rival],
        lead_shares=lead,
        robust=robust,
        priors=_prior_lines(candidates, priors),
    )


def line_of(
    candidate: Candidate,
    *,
    seed: int = SEED,
    draws: int = DRAWS,
    priors: Mapping[str, Prior] = PRIORS,
    known: Known = nothing_more,
) -> BandLine:
    """The line of a single candidate as `of` has it, without what its spread is owed to, which takes most of the time. Raises
    ValueError as `draw` does."""
    factors = known(Factors(draw(candidate.unknowns, draws, seed), priors))
    return _lines([candidate], factors, delivered_flows([candidate], factors), np.ones(1), known)[0]


def delivered_flows(candidates: Sequence[Candidate], factors: Factors) -> Reals:
    """Delivered flow of every candidate in every draw, (candidates, draws) in m3/s."""
    return np.stack([delivered_m3s(candidate, factors) for candidate in candidates])


def win_shares(flows_m3s: Reals) -> Reals:
    """Share of the draws in which each row of (candidates, draws) delivers most; they add up to 1.

    Flows within the search's resolution of the most are alike: the first of them, the better ranked, wins.

    >>> win_shares(np.array([[1.0, 1.0, 3.0, 0.0], [1.0, 2.0, 2.0, 1.0]])).tolist()
    [0.5, 0.5]
    """
    winner = np.argmax(flows_m3s >= flows_m3s.max(axis=0) - RESOLUTION_M3S, axis=0)
    return np.asarray(np.bincount(winner, minlength=len(flows_m3s)) / flows_m3s.shape[1], dtype=float)


def _rival(wins: Reals, told: int) -> int | None:
    """Who else wins most often, the better ranked of equals; None for a set of one."""
    others = [row for row in range(len(wins)) if row != told]
    return max(others, key=lambda row: (wins[row], -row), default=None)


def _lines(
    candidates: Sequence[Candidate], factors: Factors, delivered: Reals, wins: Reals, known: Known
) -> tuple[BandLine, ...]:
    lines = []
    for candidate, row, win in zip(candidates, delivered, wins, strict=True):
        p10, p50, p90 = (float(value) for value in np.quantile(row, QUANTILES))
        within, held = _kept(candidate, factors, row)
        free = _free(candidate, factors) if held.any() else (None, None)
        lines.append(
            BandLine(
                name=candidate.name,
                stated_m3s=_stated(candidate, factors.priors, known),
                p10_m3s=p10,
                p50_m3s=p50,
                p90_m3s=p90,
                win_share=float(win),
                within_share=float(within.mean()),
                held_share=float(held.mean()),
                free_p10_m3s=free[0],
                free_p90_m3s=free[1],
            )
        )
    return tuple(lines)


def _free(candidate: Candidate, factors: Factors) -> tuple[float | None, float | None]:
    """P10 and P90 with the throttle wide open; in branches each device keeps its own ceiling, so that is not told."""
    if candidate.splits:
        return None, None
    row = delivered_m3s(replace(candidate, ceiling_m3s=math.inf), factors)
    return float(np.quantile(row, QUANTILES[0])), float(np.quantile(row, QUANTILES[-1]))


def _kept(candidate: Candidate, factors: Factors, row: Reals) -> tuple[Bools, Bools]:
    """Draws that keep to all limits on flow, those of parts in branches too; and draws that a throttle on the outlet side
    holds."""
    within = (row >= candidate.least_m3s * (1 - 1e-9)) & (row <= candidate.most_m3s * (1 + 1e-9))
    held = row >= candidate.ceiling_m3s
    if candidate.throttled and candidate.splits:
        held |= own_m3s(candidate, factors) > row * (1 + 1e-9)
    return within & branches_keep(candidate, factors, row), held


def _stated(candidate: Candidate, priors: Mapping[str, Prior], known: Known) -> float:
    """Delivered flow with every factor at its median of 1."""
    still = Draws(unknowns=candidate.unknowns, normals=np.zeros((1, len(candidate.unknowns))))
    return float(delivered_m3s(candidate, known(Factors(still, priors)))[0])


def _told_shares(
    pair: Sequence[Candidate], seed: int, draws: int, priors: Mapping[str, Prior], known: Known
) -> tuple[UnknownShare, ...]:
    """What the spread of a flow, or of the lead of the first of two over the second, is owed to; largest share first."""
    unknowns = unknowns_of(candidate.unknowns for candidate in pair)
    one, other = (draw(unknowns, draws, seed, sample) for sample in (0, 1))

    base: list[Factors] = []

    def outcome(some: Draws) -> Reals:
        factors = known(Factors(some, priors))
        if not base:
            base.append(factors)
        factors = factors.beside(base[0])
        first, *second = (delivered_m3s(candidate, factors) for candidate in pair)
        return first - second[0] if second else first

    groups: dict[str, list[int]] = {}
    for column, unknown in enumerate(one.unknowns):
        groups.setdefault(priors[unknown.prior].group, []).append(column)
    found = first_order_shares(outcome, one, other, groups)
    parts = {group: _parts(pair, group, priors) for group in groups}
    made = [
        UnknownShare(unknown=group, share=min(max(share, 0.0), 1.0), parts=parts[group][0], installed=parts[group][1])
        for group, share in found.items()
    ]
    return tuple(sorted(made, key=lambda share: (-share.share, share.unknown)))


def _parts(pair: Iterable[Candidate], group: str, priors: Mapping[str, Prior]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Parts that a group of unknowns belongs to, and those of them that are installed."""
    pieces = [piece for one in pair for piece in one.all_pieces if any(priors[name].group == group for name in piece.priors)]
    installed = {piece.part for piece in pieces if piece.installed}
    return tuple(sorted({piece.part for piece in pieces})), tuple(sorted(installed))


def _prior_lines(candidates: Sequence[Candidate], priors: Mapping[str, Prior]) -> tuple[PriorLine, ...]:
    used = {name for candidate in candidates for piece in candidate.all_pieces for name in piece.priors}
    return tuple(
        PriorLine(
            unknown=prior.name,
            scales=prior.scales,
            spread=prior.spread,
            spread_down=prior.spread_down or prior.spread,
            quantile=prior.quantile,
            common=prior.common,
            source=prior.source,
        )
        for name, prior in priors.items()
        if name in used
    )
