"""Bands of delivered flow as frozen objects: quantiles, wins, what the spread is owed to, and what was assumed."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BandLine:
    """The band of one candidate. ``stated_m3s`` is the delivered flow at the tool's own figures.

    Shares of the draws: ``win_share`` in which it delivers most of all candidates, ``within_share`` in which it keeps to the
    limits on flow, ``held_share`` in which a throttle holds it. What is held ends the band at one flow; ``free_p10_m3s`` and
    ``free_p90_m3s`` are those of the same bundle with its throttle wide open (None: it is never held).
    """

    name: str
    stated_m3s: float
    p10_m3s: float
    p50_m3s: float
    p90_m3s: float
    win_share: float
    within_share: float
    held_share: float
    free_p10_m3s: float | None = None
    free_p90_m3s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownShare:
    """Share of the variance that one unknown alone accounts for, and the parts and joints it belongs to, by their names in the
    draws (`part_names.named` says what a keeper calls them).

    ``installed`` are those of the parts that are there today, and so can be measured before anything is bought.
    """

    unknown: str
    share: float
    parts: tuple[str, ...]
    installed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RobustChoice:
    """The candidate with the best chosen quantile: which, its value there, and what it gives up at P50 against the first.

    ``made`` says how the set of candidates came about: the choice is the best of that set, and no more is proved.
    """

    name: str
    quantile: str
    flow_m3s: float
    first_m3s: float
    gives_up_m3s: float
    made: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PriorLine:
    """One assumption: what is scaled, by which factor at most in all but a share of 1 - ``quantile``, down to which inverse
    factor in as many, and who says so."""

    unknown: str
    scales: str
    spread: float
    spread_down: float
    quantile: float
    common: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Bands of all candidates over the same ``draws`` of ``seed``.

    ``shares`` say what the spread of ``told`` (the chosen candidate, or the first) is owed to, ``lead_shares`` the spread of its
    lead over ``rival``, the other one that wins most often (empty: there is none).
    """

    seed: int
    draws: int
    lines: tuple[BandLine, ...]
    told: str
    shares: tuple[UnknownShare, ...]
    together_share: float
    rival: str
    lead_shares: tuple[UnknownShare, ...]
    robust: RobustChoice | None
    priors: tuple[PriorLine, ...]
