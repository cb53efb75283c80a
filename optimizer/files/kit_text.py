"""What a kit contains, as one cell: "TAIL-19 x2; HOSE-19-27 4 m; CLAMP-25 x8; FOAM-20 2 l"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from optimizer.errors import BadValue, quoted

__all__ = ["Content", "parse_contents"]

EXAMPLE = "TAIL-19 x2; HOSE-19-27 4 m; CLAMP-25 x8; FOAM-20 2 l"
CURE = f"Write for example {quoted(EXAMPLE)}."
MOST_LINES = 100
MOST_PIECES = 1000

_LINE = re.compile(r"(?P<id>\S+)(?:\s+[xX×]\s*(?P<count>[0-9]{1,4})|\s+(?P<amount>[0-9].*))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """One entry of a kit: the part, and either a number of pieces or an amount as written ("4 m", "2 l")."""

    part_id: str
    count: int = 1
    amount: str = ""


def parse_contents(text: str) -> tuple[Content, ...]:
    """Return the entries of a kit in the order written. Raises `BadValue` for an entry that cannot be read.

    >>> parse_contents("TAIL-19 x2; HOSE-19-27 4 m")[1]
    Content(part_id='HOSE-19-27', count=1, amount='4 m')
    """
    pieces = [piece.strip() for piece in text.split(";") if piece.strip()]
    if not pieces:
        raise BadValue("the kit contains nothing.", CURE)
    if len(pieces) > MOST_LINES:
        raise BadValue(f"a kit has at most {MOST_LINES} entries.", CURE)
    return tuple(_content(piece) for piece in pieces)


def _content(piece: str) -> Content:
    found = _LINE.fullmatch(piece)
    if found is None:
        raise BadValue(f"{quoted(piece)} is not a part with a number or an amount.", CURE)
    count = int(found["count"] or 1)
    if not 1 <= count <= MOST_PIECES:
        raise BadValue(f"{quoted(piece)} is not 1 to {MOST_PIECES} pieces.", CURE)
    return Content(part_id=found["id"], count=count, amount=(found["amount"] or "").strip())
