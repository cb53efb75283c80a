"""What a tank puts into its filter every day, as far as the keeper has said."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """Feed and dry drifting debris (leaves, roots, algae) in kg/day, protein as a share; None: not said. Raises ValueError.

    >>> Load(feed_kg_day=0.005).debris_kg_day is None
    True
    """

    feed_kg_day: float | None = None
    protein_share: float | None = None
    debris_kg_day: float | None = None

    def __post_init__(self) -> None:
        for given in (self.feed_kg_day, self.debris_kg_day):
            if given is not None and not 0.0 <= given < float("inf"):
                raise ValueError("feed and debris cannot be negative or without end")
        if self.protein_share is not None and not 0.0 < self.protein_share <= 1.0:
            raise ValueError("protein is a share above 0 and at most 1")
