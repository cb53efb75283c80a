"""A sheet that a figure is drawn on: lines, areas and words, in points from its upper left corner, and how it becomes SVG.

Written out directly, since a page has seven figures and a library for all sorts of them takes longer than all else on the page.
How wide words are is taken from their letters: whoever reads the page has other fonts anyway.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

from optimizer.report.layout import GLUE

__all__ = ["INK", "PALE", "Area", "Line", "Point", "Sheet", "Words", "ring", "wide"]

INK, PALE = "#1b2a33", "#8a949a"
Point = tuple[float, float]

LETTER = 0.62
"""The usual width of a letter over the size of its type; digits of a plain face are 0.64 wide, small letters 0.59."""

BASELINE = 0.36
"""So far below their middle words stand, over the size of their type."""

HATCHES = {
    "////": '<path d="M0 8L8 0M-2 2L2 -2M6 10L10 6" stroke="{}" stroke-width="0.8" fill="none" />',
    "\\\\": '<path d="M0 0L8 8M-2 6L2 10M6 -2L10 2" stroke="{}" stroke-width="0.8" fill="none" />',
    "....": '<path d="M1 1h1.2v1.2h-1.2zM5 5h1.2v1.2h-1.2z" fill="{}" stroke="none" />',
}
"""What a bar is filled with, as a tile of eight points."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line through points; ``clipped``: it ends at the edge of the axes."""

    points: Sequence[Point]
    colour: str
    width: float
    dashes: Sequence[float] = ()
    clipped: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """What lies within points; no ``fill`` and no ``edge`` where they are empty."""

    points: Sequence[Point]
    fill: str = "white"
    edge: str = ""
    width: float = 0.8
    hatch: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """Words in a row whose middle is at a height; ``anchor``: where along them x is. ``turned``: they run upwards."""

    x: float
    y: float
    text: str
    size: float
    colour: str = INK
    anchor: str = "start"
    bold: bool = False
    turned: bool = False


@dataclass(slots=True)
class Sheet:
    """So many points ``across`` and ``down``, and what is drawn so far; ``window`` are the left, upper, right and lower edge of
    the axes."""

    across: float
    down: float
    shapes: list[Line | Area | Words] = field(default_factory=list)
    window: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)

    def put(self, *shapes: Line | Area | Words) -> None:
        """Draw over what is there."""
        self.shapes += shapes

    def box(self, x: float, y: float, long: float, high: float, **look: object) -> None:
        """An upright rectangle by its upper left corner."""
        corners = ((x, y), (x + long, y), (x + long, y + high), (x, y + high))
        self.put(Area(points=corners, **look))  # type: ignore[arg-type]

    def svg(self, name: str, above: float, title: str, words: str) -> str:
        """The sheet as one ``svg`` element with title and description, and no style attribute; every id begins with ``name``.
        What is drawn ``above`` its upper edge is shown up to so many points."""
        across, down = _number(self.across), _number(self.down + above)
        size = f'viewBox="0 {_number(-above)} {across} {down}" width="{across}pt" height="{down}pt"'
        head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" aria-labelledby="{name}-title {name}-desc">'
        told = (f'<{tag} id="{name}-{tag}">{_text(said)}</{tag}>' for tag, said in (("title", title), ("desc", words)))
        return "\n".join((head, *told, *self._defined(name), *(_drawn(shape, name) for shape in self.shapes), "</svg>\n"))

    def _defined(self, name: str) -> list[str]:
        """The window to clip by, and the tiles of hatches."""
        left, top, right, bottom = self.window
        made = []
        if any(isinstance(shape, Line) and shape.clipped for shape in self.shapes):
            place = f'x="{_number(left)}" y="{_number(top)}" width="{_number(right - left)}" height="{_number(bottom - top)}"'
            made.append(f'<clipPath id="{name}-window"><rect {place} /></clipPath>')
        for hatch, colour in dict.fromkeys((s.hatch, s.edge) for s in self.shapes if isinstance(s, Area) and s.hatch):
            tile = f'id="{_tile(name, hatch, colour)}" width="8" height="8" patternUnits="userSpaceOnUse"'
            made.append(f"<pattern {tile}>{HATCHES[hatch].format(colour)}</pattern>")
        return [f"<defs>{''.join(made)}</defs>"] if made else []


def wide(text: str, size: float) -> float:
    """About how wide words are."""
    return LETTER * size * len(text)


def ring(x: float, y: float, radius: float) -> list[Point]:
    """A circle as points."""
    turns = (math.tau * n / 36 for n in range(36))
    return [(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]


def _drawn(shape: Line | Area | Words, name: str) -> str:
    if isinstance(shape, Words):
        place = f'x="{_number(shape.x)}" y="{_number(shape.y + BASELINE * shape.size)}"'
        if shape.turned:
            place = f'transform="translate({_number(shape.x + BASELINE * shape.size)} {_number(shape.y)}) rotate(-90)"'
        look = f'font-size="{_number(shape.size)}" fill="{shape.colour}" text-anchor="{shape.anchor}"'
        bold = ' font-weight="bold"' if shape.bold else ""
        return f'<text {place} {look}{bold} font-family="DejaVu Sans, Verdana, sans-serif">{_text(shape.text)}</text>'
    way = "M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in shape.points)
    if isinstance(shape, Line):
        dashes = f' stroke-dasharray="{" ".join(_number(each * shape.width) for each in shape.dashes)}"' if shape.dashes else ""
        clip = f' clip-path="url(#{name}-window)"' if shape.clipped else ""
        look = f'fill="none" stroke="{shape.colour}" stroke-width="{_number(shape.width)}" stroke-linejoin="round"'
        return f'<path d="{way}" {look}{dashes}{clip} />'
    edge = f'stroke="{shape.edge}" stroke-width="{_number(shape.width)}"' if shape.edge else 'stroke="none"'
    made = f'<path d="{way}Z" fill="{shape.fill or "none"}" {edge} />'
    if shape.hatch:
        made += f'\n<path d="{way}Z" fill="url(#{_tile(name, shape.hatch, shape.edge)})" stroke="none" />'
    return made


def _tile(name: str, hatch: str, colour: str) -> str:
    return f"{name}-hatch-{list(HATCHES).index(hatch)}-{colour.removeprefix('#')}"


def _number(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _text(text: str) -> str:
    return escape(text.replace(GLUE, "\u00a0"))
