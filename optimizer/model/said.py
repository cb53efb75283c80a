"""Words with quantities in them: plain metric text to whoever takes them as text, other units to a report that asks.

What answers say is text: JSON and Python callers get it as it is. A `Said` is such a text that also remembers which pieces
of it are quantities, so that `report.measures` can say the same in the units asked for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

__all__ = [
    "Note",
    "Quantity",
    "Said",
    "bare_flow",
    "box",
    "degrees",
    "flowing",
    "length",
    "metres_per_second",
    "millimetres",
    "notes_on",
]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in SI (a temperature in degC), its kind (flow, speed, area, length, height, volume, temperature) and its metric
    words."""

    si: float
    kind: str
    metric: str


def flowing(m3s: float, decimals: int = 0) -> Quantity:
    """A flow as a quantity in a text.

    >>> flowing(1e-3 / 3.6).metric
    '1000 l/h'
    """
    return Quantity(m3s, "flow", "no bound" if math.isinf(m3s) else f"{m3s * 3.6e6:.{decimals}f} l/h")


def bare_flow(m3s: float, decimals: int = 0) -> Quantity:
    """A flow whose unit is said beside it; in other units than l/h it is said again."""
    return Quantity(m3s, "flow", f"{m3s * 3.6e6:.{decimals}f}")


def length(metres: float, metric: str) -> Quantity:
    """A length as a quantity in a text."""
    return Quantity(metres, "length", metric)


def degrees(celsius: float) -> Quantity:
    """A temperature as a quantity in a text.

    >>> degrees(24.5).metric
    '24.5 degC'
    """
    return Quantity(celsius, "temperature", f"{celsius:.3g} degC")


def box(sides_m: tuple[float, float, float]) -> tuple[str | Quantity, ...]:
    """Length, width and height as pieces of a text; a side that nobody stated is a question mark.

    >>> Said(*box((0.4, 0.0, 0.125)))
    '40 cm x ? x 12.5 cm'
    """
    sides = ("?" if side <= 0.0 else length(side, f"{side * 100:.4g} cm") for side in sides_m)
    first, second, third = sides
    return first, " x ", second, " x ", third


def millimetres(metres: float) -> Quantity:
    """A bore or a size as a quantity in a text.

    >>> millimetres(0.0125).metric
    '12.5 mm'
    """
    return length(metres, f"{metres * 1e3:.4g} mm")


def metres_per_second(speed_ms: float) -> Quantity:
    """The speed of a jet as a quantity in a text.

    >>> metres_per_second(0.5).metric
    '0.5 m/s'
    """
    return Quantity(speed_ms, "speed", f"{speed_ms:.3g} m/s")


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

    def __new__(cls, *pieces: str | Quantity) -> Self:
        """Put a text together; a piece that is such a text itself keeps its quantities."""
        flat: list[str | Quantity] = []
        for piece in pieces:
            flat += piece.pieces if isinstance(piece, Said) else (piece,)
        made = super().__new__(cls, "".join(piece if isinstance(piece, str) else piece.metric for piece in flat))
        made.pieces = tuple(flat)
        return made

    @classmethod
    def joined(cls, texts: Iterable[str], between: str) -> Self:
        """Texts one after the other with something between them; each keeps its quantities.

        >>> Said.joined(["a", Said(flowing(1e-3 / 3.6))], "; ")
        'a; 1000 l/h'
        """
        pieces = [piece for text in texts for piece in (between, text)]
        return cls(*pieces[1:])

    def __getnewargs__(self) -> tuple[str | Quantity, ...]:  # type: ignore[override]
        """What a copy is made of."""
        return self.pieces


class Note(Said):
    """What was assumed while reading, behind the key that it is ``about``.

    >>> note = Note("tank.net_volume", "taken as ", millimetres(0.001))
    >>> note, note.about, note.table
    ('tank.net_volume: taken as 1 mm', 'tank.net_volume', 'tank')
    """

    __slots__ = ("about",)
    about: str

    def __new__(cls, about: str, *pieces: str | Quantity) -> Self:
        """Put a note together."""
        made = super().__new__(cls, f"{about}: ", *pieces)
        made.about = about
        return made

    @property
    def table(self) -> str:
        """The table of the file that the key stands in; empty for a note on a whole table."""
        table, dot, _ = self.about.partition(".")
        return table if dot else ""

    def __getnewargs__(self) -> tuple[str | Quantity, ...]:  # type: ignore[override]
        """What a copy is made of."""
        return (self.about, *self.pieces[1:])


def notes_on(notes: Iterable[str], *tables: str) -> list[str]:
    """The notes about keys of these tables."""
    return [note for note in notes if isinstance(note, Note) and note.table in tables]
