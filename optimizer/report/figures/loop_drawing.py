"""How the figure of the loop is drawn: a pipe from the tank down and back, place under place, two branches side by side.

One unit of the axes is a point. The pipe is as wide as the bore allows; what is changed is marked by a word in a frame, now and
then by hatched and full bars.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from textwrap import wrap
from types import MappingProxyType

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Polygon, Rectangle

from optimizer.model.results import Result, Spot
from optimizer.model.route import FORK, RoutePlace, Spent
from optimizer.report.figures import paper
from optimizer.report.figures.loop_facts import after_name, is_shown, narrowest, what_stands
from optimizer.report.figures.picture import label
from optimizer.report.layout import GLUE
from optimizer.report.measures import Measures

__all__ = ["drawn"]

WIDE, PIPE, TEXT, BARS, LONGEST_BAR = 345.0, 27.0, 47.0, 222.0, 82.0
"""Width of the sheet, middle of the pipe, where texts and bars start, and the longest bar, in points."""

HALF = 162.0
"""From the pipe of one branch to that of the other."""

NAME, NOTE = 10.8, 9.3
"""Sizes of letters."""

LINE, NAME_HIGH, GAP, BAR = 12.0, 16.0, 9.0, 7.0
WATER, PIPE_MM, PIPE_LEAST, PIPE_MOST, UNKNOWN_BORE = "#dcebf0", 0.62, 3.0, 15.0, 8.0
LEAST_HIGH, LONGEST_TAG = 38.0, 8
NOTE_LETTERS, TEE_LETTERS, BRANCH_LETTERS = 32, 48, 29
"""Letters in a line of a note, beside the bars, beside nothing and in a branch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Block:
    """A piece of the drawing: how high it is, and how it is drawn from its upper edge down."""

    high: float
    draw: Callable[[float], None]


def drawn(result: Result, route: Sequence[RoutePlace], measures: Measures) -> Figure:
    """The figure."""
    figure = Figure()
    figure.set_layout_engine("none")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    blocks = list(_Drawing(axes, result, route, measures).blocks())
    high = sum(block.high for block in blocks)
    figure.set_size_inches(WIDE / 72.0, high / 72.0)
    axes.set_xlim(0.0, WIDE)
    axes.set_ylim(high, 0.0)
    axes.set_axis_off()
    top = 0.0
    for block in blocks:
        block.draw(top)
        top += block.high
    return figure


def _in_lines(text: str, letters: int) -> list[str]:
    """A text in at most two lines of so many letters."""
    return wrap(label(text, 2 * letters - 6), letters)[:2]


def _inner_lines(place: RoutePlace) -> list[str]:
    """What stands at a place in a branch; the branches of one that holds some are drawn below."""
    if place.kind == FORK:
        return ["goes on below"]
    return _in_lines(place.then.part or f"out: {place.now.part}", BRANCH_LETTERS)


def _inner_high(place: RoutePlace) -> float:
    return NAME_HIGH + 10.5 * (len(_inner_lines(place)) + (place.kind != FORK)) + GAP


class _Drawing:
    """What the blocks of one loop share."""

    def __init__(self, axes: Axes, result: Result, route: Sequence[RoutePlace], measures: Measures) -> None:
        self.axes, self.result, self.route, self.measures = axes, result, route, measures
        self.after = after_name(result)
        heads = [each.head_m for place in route if place.kind != "pump" and not place.fork for each in (place.now, place.then)]
        self.scale = LONGEST_BAR / max([*heads, 1e-9])
        spots = (("now", result.tightest_before, True), (self.after, result.tightest, False))
        self.spots = [(name, spot, narrowest(route, now)) for name, spot, now in spots if spot is not None]

    def blocks(self) -> Iterator[_Block]:
        yield _Block(high=42.0, draw=self._tank)
        for is_inside, places in groupby(self.route, key=lambda place: bool(place.fork)):
            forks: dict[str, list[RoutePlace]] = {}
            for place in places:
                if is_inside:
                    forks.setdefault(place.fork, []).append(place)
                else:
                    yield from self._place(place)
            for n, (fork, inside) in enumerate(forks.items()):
                if n:
                    yield self._within(fork)
                yield from self._branches(inside)
            if len(forks) > 1:
                yield _Block(high=8.0, draw=lambda top: self._across(top + 4.0))
        yield _Block(high=24.0, draw=self._back)

    # -- tank and column heads ---------------------------------------------------------------------------------------------

    def _tank(self, top: float) -> None:
        self._surface(top + 24.0)
        self._text(TEXT, top + 13.0, "tank", NAME, weight="bold")
        self._pipe(top + 24.0, top + 42.0, UNKNOWN_BORE)
        self._arrow(PIPE, top + 37.0)
        self._text(BARS, top + 5.0, f"head taken, {self.measures.head}", NOTE)
        self._bar(BARS, top + 16.0, 14.0, "now")
        self._text(BARS + 18.0, top + 16.0, "now", NOTE)
        self._bar(BARS + 48.0, top + 16.0, 14.0, self.after)
        self._text(BARS + 66.0, top + 16.0, self.after, NOTE)

    def _back(self, top: float) -> None:
        self._pipe(top, top + 12.0, UNKNOWN_BORE)
        self._arrow(PIPE, top + 8.0)
        self._surface(top + 12.0)
        self._text(TEXT, top + 6.0, "back in the tank", NOTE)

    def _surface(self, at: float) -> None:
        xs = [4.0 + 3.0 * n for n in range(113)]
        self.axes.plot(xs, [at + (0.9 if n % 2 else -0.9) for n in range(113)], color=paper.BEST.colour, linewidth=1.0)

    # -- one place ---------------------------------------------------------------------------------------------------------

    def _place(self, place: RoutePlace) -> Iterator[_Block]:
        if is_shown(place, self.route):
            yield _Block(high=13.0, draw=lambda top: self._joint(top, place))
        notes = _in_lines(what_stands(place, self.result.changes), NOTE_LETTERS)
        notes = notes or (["side by side:"] if place.kind == FORK and self._ways(place.place) > 1 else [])
        tight = [self._tight(name, spot, at[1]) for name, spot, at in self.spots if at and at[0] == place.place]
        high = max(NAME_HIGH + LINE * (len(notes) + len(tight)) + GAP, LEAST_HIGH)
        yield _Block(high=high, draw=lambda top: self._one(top, high, place, notes, tight))

    def _tight(self, name: str, spot: Spot, joint: bool) -> str:
        where = "tightest, in the joint," if joint else "tightest"
        sizes = f"{self.measures.bore_text(spot.bore_m)}, {self.measures.speed_text(spot.speed_ms)}"
        return f"\u25b6\u25c0 {where} {name}: {sizes}"

    def _one(self, top: float, high: float, place: RoutePlace, notes: Sequence[str], tight: Sequence[str]) -> None:
        self._pipe(top, top + high, self._width(place.then if place.then.part else place.now))
        self._glyph(place.kind, PIPE, top + 13.0)
        end = self._tags(place, 212.0, top + 7.5)
        self._text(TEXT, top + 8.0, label(place.place, int((end - TEXT) / 7.2)), NAME, weight="bold")
        for n, note in enumerate(notes):
            self._text(TEXT, top + NAME_HIGH + 5.5 + LINE * n, note, NOTE)
        for n, words in enumerate(tight, start=len(notes)):
            self._text(TEXT, top + NAME_HIGH + 5.5 + LINE * n, words, NOTE, weight="bold", color=paper.NOW.colour)
        self._heads(place, top + 7.0)

    def _heads(self, place: RoutePlace, top: float) -> None:
        if place.kind == "pump":
            gives = (self.measures.bare_head(each.head_m) for each in (place.now, place.then))
            self._text(BARS, top + 1.0, f"gives {next(gives)} now,", NOTE)
            self._text(BARS, top + 1.0 + LINE, f"{next(gives)} {self.after}", NOTE)
            return
        for name, each, down in (("now", place.now, 0.0), (self.after, place.then, BAR + 3.0)):
            if each.part or place.kind == FORK:
                long = max(each.head_m, 0.0) * self.scale
                self._bar(BARS, top + down, long, name)
                self._text(BARS + long + 4.0, top + down, self.measures.bare_head(each.head_m), NOTE)

    def _joint(self, top: float, place: RoutePlace) -> None:
        self._pipe(top, top + 13.0, self._width(Spent(bore_m=place.then.joint_bore_m)))
        self.axes.plot([PIPE - 9.0, PIPE + 9.0], [top + 6.0] * 2, color=paper.INK, linewidth=1.2)
        self._text(TEXT, top + 6.0, "joint", NOTE)
        for name, head_m, down in (("now", place.now.joint_m, 3.5), (self.after, place.then.joint_m, 8.5)):
            self._bar(BARS, top + down, head_m * self.scale, name, 3.5)
        values = (self.measures.bare_head(each.joint_m) for each in (place.now, place.then))
        long = max(place.now.joint_m, place.then.joint_m) * self.scale
        self._text(BARS + long + 4.0, top + 6.0, f"{next(values)}, {next(values)}", NOTE)

    def _within(self, fork: str) -> _Block:
        """What stands above the branches of a place that is itself in a branch: a line across, for this is no part of the pipe
        above it."""
        around = next((place.branch for place in self.route if place.place == fork), "")
        inside = list(dict.fromkeys(place.branch for place in self.route if place.fork == fork and place.branch))
        only = f"only {label(inside[0], 30)}" if inside else "only a tee"
        words = (f"within {label(around, 30)},", f"side by side: {label(fork, 30)}" if len(inside) > 1 else only)

        def draw(top: float) -> None:
            self._across(top + 3.0)
            for n, line in enumerate(words):
                self._text(TEXT, top + 13.0 + LINE * n, line, NOTE, weight="bold")

        return _Block(high=22.0 + LINE, draw=draw)

    def _across(self, at: float) -> None:
        self.axes.plot([6.0, WIDE - 6.0], [at, at], color=paper.INK, linewidth=0.6, linestyle=(0, (4, 3)))

    # -- branches ----------------------------------------------------------------------------------------------------------

    def _branches(self, inside: Sequence[RoutePlace]) -> Iterator[_Block]:
        """Both branches side by side, between the tees at which they part and meet."""
        tees = [place for place in inside if not place.branch]
        columns = [list(places) for branch, places in groupby(inside, key=lambda place: place.branch) if branch]
        before = [tee for tee in tees if inside.index(tee) == 0]
        for tee in before:
            yield from self._tee(tee)
        high = max((self._column_high(column) for column in columns), default=0.0) + 22.0
        joins = (bool(before), any(tee not in before for tee in tees))
        yield _Block(high=high, draw=lambda top: self._beside(top, high, columns, joins))
        for tee in tees:
            if tee not in before:
                yield from self._tee(tee)

    def _tee(self, tee: RoutePlace) -> Iterator[_Block]:
        notes = _in_lines(tee.then.part or tee.now.part, TEE_LETTERS)

        def draw(top: float) -> None:
            self._pipe(top, top + high, UNKNOWN_BORE)
            self._glyph("tee", PIPE, top + 9.0)
            self._tags(tee, WIDE - 6.0, top + 8.0)
            self._text(TEXT, top + 8.0, label(tee.place, 30), NOTE, weight="bold")
            for n, note in enumerate(notes):
                self._text(TEXT, top + 19.0 + LINE * n, note, NOTE)

        high = NAME_HIGH + LINE * len(notes) + 4.0
        yield _Block(high=high, draw=draw)

    @staticmethod
    def _column_high(column: Sequence[RoutePlace]) -> float:
        return sum(map(_inner_high, column)) + 16.0

    def _beside(self, top: float, high: float, columns: Sequence[Sequence[RoutePlace]], joins: tuple[bool, bool]) -> None:
        for joined, at in zip(joins, (top + 3.0, top + high - 3.0), strict=True):
            if joined and len(columns) > 1:
                self.axes.add_patch(Rectangle((PIPE, at - 3.0), HALF, 6.0, facecolor=WATER, edgecolor=paper.INK, linewidth=0.8))
        for n, column in enumerate(columns):
            self._column(top, high, PIPE + HALF * n, column)

    def _column(self, top: float, high: float, middle: float, column: Sequence[RoutePlace]) -> None:
        self._pipe(top, top + high, UNKNOWN_BORE, middle)
        now, then = (self.measures.flow_text(max(each.flow_m3s for each in side)) for side in self._sides(column))
        was = any(place.now.part or (place.kind == FORK and place.now.flow_m3s > 0.0) for place in column)
        words = f"{now} now, {then} {self.after}" if was else f"{then} {self.after}"
        self._text(middle + 14.0, top + 15.0, words, 8.2, weight="bold", color=paper.BEST.colour)
        at = top + 26.0
        for place in column:
            self._inner(at, middle, place)
            at += _inner_high(place)

    @staticmethod
    def _sides(column: Sequence[RoutePlace]) -> tuple[list[Spent], list[Spent]]:
        return [place.now for place in column], [place.then for place in column]

    def _inner(self, top: float, middle: float, place: RoutePlace) -> None:
        self._glyph(place.kind, middle, top + 7.0)
        end = self._tags(place, middle + HALF - 14.0, top + 5.0)
        self._text(middle + 14.0, top + 5.0, label(place.place, int((end - middle - 14.0) / 6.4)), 9.4, weight="bold")
        lines = _inner_lines(place)
        for n, line in enumerate(lines):
            self._text(middle + 14.0, top + 17.5 + 10.5 * n, line, 8.0)
        if place.kind == FORK:
            return
        old, new = (self.measures.bare_head(each.head_m) for each in (place.now, place.then))
        heads = f"{old} now, {new} {self.after}" if place.now.part else f"{new} {self.after}"
        self._text(middle + 14.0, top + 17.5 + 10.5 * len(lines), f"{heads}, {self.measures.head}", 8.0)

    def _ways(self, fork: str) -> int:
        """How many branches of a place have something in them."""
        return len({place.branch for place in self.route if place.fork == fork and place.branch})

    # -- pieces ------------------------------------------------------------------------------------------------------------

    def _text(self, x: float, y: float, text: str, size: float, **look: str) -> None:
        self.axes.text(x, y, text.replace(GLUE, " "), fontsize=size, va="center", **look)  # type: ignore[arg-type]

    def _bar(self, x: float, y: float, long: float, name: str, high: float = BAR) -> None:
        look = paper.look_of(name)
        fill = look.colour if not look.hatch else "white"
        bar = Rectangle((x, y - high / 2.0), max(long, 0.8), high, facecolor=fill, edgecolor=look.colour, linewidth=0.8)
        bar.set_hatch(look.hatch)
        self.axes.add_patch(bar)

    def _tags(self, place: RoutePlace, right: float, middle: float) -> float:
        """The words of what is done, in frames that end at ``right``; where the first of them starts."""
        for change in (label(each, LONGEST_TAG) for each in reversed(place.changes)):
            wide = 4.9 * len(change) + 7.0
            box = Rectangle((right - wide, middle - 6.0), wide, 12.0, facecolor="white", edgecolor=paper.INK, linewidth=1.3)
            self.axes.add_patch(box)
            self.axes.text(right - wide / 2.0, middle, change, fontsize=8.0, weight="bold", ha="center", va="center")
            right -= wide + 4.0
        return right

    @staticmethod
    def _width(each: Spent) -> float:
        return min(max(each.bore_m * 1e3 * PIPE_MM, PIPE_LEAST), PIPE_MOST) if each.bore_m else UNKNOWN_BORE

    def _pipe(self, top: float, bottom: float, wide: float, middle: float = PIPE) -> None:
        self.axes.add_patch(Rectangle((middle - wide / 2.0, top), wide, bottom - top, facecolor=WATER, edgecolor="none"))
        for side in (-0.5, 0.5):
            self.axes.plot([middle + side * wide] * 2, [top, bottom], color=paper.INK, linewidth=0.8, solid_capstyle="butt")

    def _arrow(self, x: float, y: float) -> None:
        self.axes.add_patch(Polygon([(x - 4.5, y - 4.0), (x + 4.5, y - 4.0), (x, y + 4.0)], color=paper.BEST.colour))

    def _glyph(self, kind: str, x: float, y: float) -> None:
        for shape in GLYPHS.get(kind, _nothing)(x, y):
            shape.set(facecolor="white", edgecolor=paper.INK, linewidth=1.1)
            self.axes.add_patch(shape)


Shapes = Iterator[Rectangle | Circle | Polygon]


def _nothing(_x: float, _y: float) -> Shapes:
    yield from ()


def _guard(x: float, y: float) -> Shapes:
    yield Rectangle((x - 9.0, y - 9.0), 18.0, 18.0)
    for n in range(3):
        yield Rectangle((x - 6.0, y - 6.5 + 5.0 * n), 12.0, 2.0)


def _canister(x: float, y: float) -> Shapes:
    yield Rectangle((x - 13.0, y - 11.0), 26.0, 30.0)
    for n in range(3):
        yield Rectangle((x - 10.0, y - 7.5 + 8.5 * n), 20.0, 6.0)


def _pump(x: float, y: float) -> Shapes:
    yield Circle((x, y), 11.0)
    yield Polygon([(x - 6.0, y - 4.5), (x + 6.0, y - 4.5), (x, y + 7.0)])


def _fitting(x: float, y: float) -> Shapes:
    yield Rectangle((x - 9.0, y - 5.0), 18.0, 4.0)
    yield Rectangle((x - 9.0, y + 1.0), 18.0, 4.0)


def _valve(x: float, y: float) -> Shapes:
    yield Polygon([(x - 8.0, y - 8.0), (x + 8.0, y - 8.0), (x - 8.0, y + 8.0), (x + 8.0, y + 8.0)])


def _device(x: float, y: float) -> Shapes:
    yield Polygon([(x, y - 11.0), (x + 11.0, y), (x, y + 11.0), (x - 11.0, y)])


def _outlet(x: float, y: float) -> Shapes:
    yield Polygon([(x - 6.0, y - 9.0), (x + 6.0, y - 9.0), (x + 11.0, y + 9.0), (x - 11.0, y + 9.0)])


def _tee(x: float, y: float) -> Shapes:
    yield Polygon([(x, y - 8.0), (x + 9.0, y + 7.0), (x - 9.0, y + 7.0)])


GLYPHS: MappingProxyType[str, Callable[[float, float], Shapes]] = MappingProxyType(
    {
        "guard": _guard,
        "canister": _canister,
        "pump": _pump,
        "fitting": _fitting,
        "valve": _valve,
        "nonreturn": _valve,
        "device": _device,
        "outlet": _outlet,
        "tee": _tee,
        FORK: _tee,
    }
)
"""What stands on the pipe; a hose is the pipe itself."""
