"""Words with quantities in them: plain metric text to whoever takes them as text, other units to a report that asks.

What answers say is text: JSON and Python callers get it as it is. A `Said` is such a text that also remembers which pieces
of it are quantities, so that `report.measures` can say the same in the units asked for.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Quantity", "Said"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in SI, its kind (flow, speed, area, length, volume) and its metric words."""

    si: float
    kind: str
    metric: str


class Said(str):
    """A text put together from pieces of text and quantities.

    >>> text = Said("at most ", Quantity(0.08, "speed", "8 cm/s"), " in front of the guard")
    >>> text
    'at most 8 cm/s in front of the guard'
    >>> [piece.kind for piece in text.pieces if isinstance(piece, Quantity)]
    ['speed']
    """

    __slots__ = ("pieces",)
    pieces: tuple[str | Quantity, ...]

    def __new__(cls, *pieces: str | Quantity) -> Said:
        """Put a text together; a piece that is such a text itself keeps its quantities."""
        flat: list[str | Quantity] = []
        for piece in pieces:
            flat += piece.pieces if isinstance(piece, Said) else (piece,)
        made = super().__new__(cls, "".join(piece if isinstance(piece, str) else piece.metric for piece in flat))
        made.pieces = tuple(flat)
        return made

    def __getnewargs__(self) -> tuple[str | Quantity, ...]:  # type: ignore[override]
        """What a copy is made of."""
        return self.pieces
