"""Axes of a figure: what is drawn in figures of its own kind, put on a sheet once it is known how far these go."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from optimizer.report.figures.sheet import INK, Area, Line, Point, Sheet, Words, ring, wide

__all__ = ["Axes"]

SIZE, NAME, PALEST = 10.0, 10.5, "#d9dcd6"
ACROSS, DOWN = 3.6, 2.4
"""Steps of an axis are at least so far apart, over the size of their numbers."""

STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
MARGIN = 0.05
EDGE = 3.0
"""Words stay so far within the sheet, in points."""

To = Callable[[float, float], Point]


@dataclass(slots=True)
class Axes:
    """Axes over a sheet. ``x_range`` and ``y_range`` are what they show (None: what is drawn, and a share of it as margin);
    ``rows`` are names in place of numbers, at 0, 1, 2 ..., from the top; ``over`` and ``beside`` are points left free above and
    to the right."""

    sheet: Sheet
    x_name: str = ""
    y_name: str = ""
    x_range: tuple[float, float] | None = None
    y_range: tuple[float, float] | None = None
    x_margin: float = MARGIN
    y_margin: float = MARGIN
    rows: Sequence[str] = ()
    whole_x: bool = False
    over: float = 8.0
    beside: float = 16.0
    _xs: list[float] = field(default_factory=list)
    _ys: list[float] = field(default_factory=list)
    _pieces: list[tuple[float, Callable[[To], None]]] = field(default_factory=list)

    # -- what is drawn ---------------------------------------------------------------------------------------------

    def line(self, xs: Sequence[float], ys: Sequence[float], colour: str, width: float, dashes: Sequence[float] = ()) -> None:
        """A line through places."""
        self._reach(xs, ys)

        def draw(to: To) -> None:
            points = [to(x, y) for x, y in zip(xs, ys, strict=True)]
            self.sheet.put(Line(points=points, colour=colour, width=width, dashes=dashes, clipped=True))

        self._pieces.append((2.0, draw))

    def level(self, y: float, colour: str, width: float, dashes: Sequence[float] = ()) -> None:
        """A line from one side to the other."""
        self._reach((), (y,))

        def draw(to: To) -> None:
            left, _, right, _ = self.sheet.window
            at = to(0.0, y)[1]
            self.sheet.put(Line(points=((left, at), (right, at)), colour=colour, width=width, dashes=dashes))

        self._pieces.append((2.0, draw))

    def upright(self, x: float, colour: str, width: float) -> None:
        """A line from bottom to top."""
        self._reach((x,), ())

        def draw(to: To) -> None:
            _, top, _, bottom = self.sheet.window
            at = to(x, 0.0)[0]
            self.sheet.put(Line(points=((at, top), (at, bottom)), colour=colour, width=width))

        self._pieces.append((2.0, draw))

    def mark(
        self, x: float, y: float, kind: str, size: float, fill: str, edge: str = "", width: float = 1.0, front: float = 3.0
    ) -> None:
        """A mark at a place; the further in ``front`` the later it is drawn."""
        self._reach((x,), (y,))
        self._pieces.append((front, lambda to: self.sheet.put(_mark(*to(x, y), kind, size, fill, edge, width))))

    def bar(self, y: float, long: float, high: float, fill: str, edge: str, hatch: str) -> None:
        """A bar from 0 to the right, its middle at a height."""
        self._reach((0.0, long), (y - high / 2.0, y + high / 2.0))

        def draw(to: To) -> None:
            (left, top), (right, bottom) = sorted((to(0.0, y - high / 2.0), to(max(long, 0.0), y + high / 2.0)))
            self.sheet.box(left, min(top, bottom), right - left, abs(bottom - top), fill=fill, edge=edge, width=0.9, hatch=hatch)

        self._pieces.append((2.0, draw))

    def words(
        self,
        text: str,
        x: float,
        y: float,
        *,
        right: float = 0.0,
        up: float = 0.0,
        size: float = NAME,
        colour: str = INK,
        anchor: str = "start",
        backed: bool = False,
    ) -> None:
        """Words so many points to the ``right`` of a place and ``up`` from it; ``backed``: on a ground of their own."""

        def draw(to: To) -> None:
            at, middle = to(x, y)
            long = wide(text, size)
            before = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * long
            first = min(max(at + right - before, EDGE), max(self.sheet.across - EDGE - long, EDGE))
            if backed:
                self.sheet.box(first - 0.5, middle - up - 0.6 * size, long + 1.0, 1.2 * size, fill="white")
            self.sheet.put(Words(x=first + before, y=middle - up, text=text, size=size, colour=colour, anchor=anchor))

        self._pieces.append((2.5 if backed else 4.0, draw))

    def lead(self, one: Point, other: Point, colour: str) -> None:
        """A thin line between two places, which may lie outside."""
        self._pieces.append((1.5, lambda to: self.sheet.put(Line(points=(to(*one), to(*other)), colour=colour, width=0.6))))

    def _reach(self, xs: Sequence[float], ys: Sequence[float]) -> None:
        self._xs += xs
        self._ys += ys

    # -- how far it goes -------------------------------------------------------------------------------------------

    @property
    def y_shown(self) -> tuple[float, float]:
        """The least and the most that the upright axis shows."""
        return self.y_range or _wider(self._ys, self.y_margin)

    def finished(self) -> Sheet:
        """The sheet with everything on it."""
        (low, high), (least, most) = self.x_range or _wider(self._xs, self.x_margin), self.y_shown
        down = self.sheet.down - (20.0 if self.x_name else 6.0) - SIZE - 6.0
        ups = [(float(n), name) for n, name in enumerate(self.rows)] or _ticks(least, most, (down - self.over) / (DOWN * SIZE))
        left = 8.0 + max((wide(name, SIZE) for _, name in ups), default=0.0) + (20.0 if self.y_name else 0.0)
        right = self.sheet.across - self.beside
        self.sheet.window = (left, self.over, right, down)
        bottom, top = (self.over, down) if self.rows else (down, self.over)

        def to(x: float, y: float) -> Point:
            return left + (x - low) / (high - low) * (right - left), bottom + (y - least) / (most - least) * (top - bottom)

        alongs = _ticks(low, high, (right - left) / (ACROSS * SIZE), self.whole_x)
        self._framed(to, alongs, ups)
        for _, draw in sorted(self._pieces, key=lambda piece: piece[0]):
            draw(to)
        return self.sheet

    def _framed(self, to: To, alongs: Sequence[tuple[float, str]], ups: Sequence[tuple[float, str]]) -> None:
        """Grid, numbers, names and edges of the axes."""
        put, (left, top, right, bottom) = self.sheet.put, self.sheet.window
        for x, number in alongs:
            at = to(x, 0.0)[0]
            put(Line(points=((at, top), (at, bottom)), colour=PALEST, width=0.6))
            put(Line(points=((at, bottom), (at, bottom + 3.5)), colour=INK, width=0.8))
            put(Words(x=at, y=bottom + 6.0 + SIZE / 2.0, text=number, size=SIZE, anchor="middle"))
        for y, number in ups:
            at = to(0.0, y)[1]
            if not self.rows:
                put(Line(points=((left, at), (right, at)), colour=PALEST, width=0.6))
            put(Line(points=((left - 3.5, at), (left, at)), colour=INK, width=0.8))
            put(Words(x=left - 6.0, y=at, text=number, size=SIZE, anchor="end"))
        put(Line(points=((left, top), (left, bottom), (right, bottom)), colour=INK, width=0.8))
        if self.x_name:
            put(Words(x=(left + right) / 2.0, y=self.sheet.down - 8.0, text=self.x_name, size=NAME, anchor="middle"))
        if self.y_name:
            put(Words(x=9.0, y=(top + bottom) / 2.0, text=self.y_name, size=NAME, anchor="middle", turned=True))


def _wider(values: Sequence[float], margin: float) -> tuple[float, float]:
    """From the least to the most of values, with a share of that more at both ends."""
    low, high = min(values, default=0.0), max(values, default=1.0)
    more = margin * (high - low) or 0.5
    return low - more, high + more


def _ticks(low: float, high: float, most: float, whole: bool = False) -> list[tuple[float, str]]:
    """Round numbers between two, no more than so many steps, with what stands beside them.

    >>> _ticks(0.0, 2.1, 5.0)
    [(0.0, '0.0'), (0.5, '0.5'), (1.0, '1.0'), (1.5, '1.5'), (2.0, '2.0')]
    >>> [words for _, words in _ticks(-3.0, 400.0, 5.2)]
    ['0', '100', '200', '300', '400']
    """
    least = (high - low) / min(max(most, 1.0), 9.0)
    unit = 10.0 ** math.floor(math.log10(least))
    step = next(each * unit for each in STEPS if each * unit >= least * (1 - 1e-9))
    if whole and not (step >= 1.0 and step.is_integer()):
        step = max(1.0, math.ceil(step))
    places = 0 if float(f"{step:.9g}").is_integer() else len(f"{step:.9f}".rstrip("0").partition(".")[2])
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [(n * step, f"{n * step:.{places}f}".replace("-", "\u2212")) for n in range(first, last + 1)]


def _mark(x: float, y: float, kind: str, size: float, fill: str, edge: str, width: float) -> Area | Line:
    """A mark, ``size`` points high."""
    half = size / 2.0
    if kind == "|":
        return Line(points=((x, y - half), (x, y + half)), colour=fill, width=width)
    shapes = {
        "o": ring(x, y, half),
        "s": [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)],
        "^": [(x, y - half), (x + half, y + half), (x - half, y + half)],
        "D": [(x, y - 1.2 * half), (x + 1.2 * half, y), (x, y + 1.2 * half), (x - 1.2 * half, y)],
    }
    return Area(points=shapes[kind], fill=fill, edge=edge, width=width)
