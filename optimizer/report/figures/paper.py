"""The look of all figures, and how one becomes SVG or PNG; for the latter alone matplotlib is loaded.

Lines are told apart by dashes, marks and names beside them, bars by hatches; colours only help.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import Any

from optimizer.report.figures.axes import Axes
from optimizer.report.figures.picture import Picture
from optimizer.report.figures.sheet import INK, PALE, Line, Sheet, Words

__all__ = ["BEST", "DIRTY", "FREE", "INK", "NOW", "PALE", "Look", "axes", "look_of", "png", "svg"]

WIDTH_IN, POINTS = 5.2, 72.0
HEAD = 37.0
SOFT = "#4c5a62"
PNG_DPI = 200

SETTINGS: dict[Any, Any] = {"text.parse_math": False, "font.family": ["DejaVu Sans"], "hatch.linewidth": 0.8}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How the line, the mark or the bar of one row looks; ``dashes`` over the width of the line."""

    colour: str
    dashes: tuple[float, ...]
    width: float
    mark: str
    hatch: str

    @property
    def line(self) -> tuple[str, float, tuple[float, ...]]:
        """Colour, width and dashes, as axes take them for lines."""
        return self.colour, self.width, self.dashes


NOW = Look(colour="#9a4a1f", dashes=(5.0, 2.0), width=1.7, mark="o", hatch="////")
FREE = Look(colour="#5f6f78", dashes=(1.2, 1.4), width=1.9, mark="^", hatch="....")
BEST = Look(colour="#0d4f66", dashes=(), width=2.4, mark="s", hatch="")
DIRTY = Look(colour="#0d4f66", dashes=(7.0, 2.0, 1.2, 2.0), width=1.4, mark="D", hatch="\\\\")
LOOKS = {"now": NOW, "as it is": NOW, "cleaned": FREE, "spend nothing": FREE, "best": BEST, "then": BEST}


def look_of(row: str) -> Look:
    """The look of a row of the verdict by its name."""
    return LOOKS.get(row, DIRTY)


def axes(height_in: float = 3.7) -> Axes:
    """Empty axes on a sheet of the usual width."""
    return Axes(Sheet(WIDTH_IN * POINTS, height_in * POINTS))


def _headed(picture: Picture) -> Sheet:
    """The figure with its title above it, and of which tank and day it is."""
    sheet = picture.draw()
    sheet.put(Words(x=0.018 * sheet.across, y=-0.64 * HEAD, text=picture.caption, size=11.5, bold=True))
    sheet.put(Words(x=0.018 * sheet.across, y=-0.24 * HEAD, text=picture.of, size=9.0, colour=SOFT))
    return sheet


def svg(picture: Picture) -> str:
    """The figure as one ``svg`` element with title and description, fit for a page whose policy forbids style attributes."""
    return _headed(picture).svg(picture.name, HEAD, picture.caption, picture.words)


def png(picture: Picture) -> bytes:
    """The figure as PNG, the same bytes for the same figure, whatever the user's settings are, which stay as they were."""
    import matplotlib
    from matplotlib.figure import Figure

    sheet = _headed(picture)
    with matplotlib.rc_context(), warnings.catch_warnings():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(SETTINGS)
        # letters that the font lacks are boxes
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        figure = Figure(figsize=(sheet.across / POINTS, (sheet.down + HEAD) / POINTS))
        ground = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        ground.set_axis_off()
        ground.set_xlim(0.0, sheet.across)
        ground.set_ylim(sheet.down, -HEAD)
        _paint(ground, sheet)
        stream = io.BytesIO()
        figure.savefig(stream, format="png", dpi=PNG_DPI, metadata={"Software": None})
    return stream.getvalue()


def _paint(ground: Any, sheet: Sheet) -> None:
    """Every shape of a sheet on axes of matplotlib of the same size."""
    from matplotlib.patches import Polygon, Rectangle

    left, top, right, bottom = sheet.window
    window = Rectangle((left, top), right - left, bottom - top, transform=ground.transData)
    for n, shape in enumerate(sheet.shapes):
        if isinstance(shape, Words):
            where = {"start": "left", "middle": "center", "end": "right"}[shape.anchor]
            turned = 90 if shape.turned else 0
            weight = "bold" if shape.bold else "normal"
            look = {"fontsize": shape.size, "color": shape.colour, "weight": weight, "rotation": turned, "zorder": n}
            ground.text(shape.x, shape.y, shape.text, ha=where, va="center", **look)
        elif isinstance(shape, Line):
            dashes = (0, tuple(shape.dashes)) if shape.dashes else "solid"
            xs, ys = zip(*shape.points, strict=True)
            (line,) = ground.plot(xs, ys, color=shape.colour, linewidth=shape.width, linestyle=dashes, zorder=n)
            if shape.clipped:
                line.set_clip_path(window)
        else:
            look = {"facecolor": shape.fill or "none", "edgecolor": shape.edge or "none", "linewidth": shape.width}
            ground.add_patch(Polygon(list(shape.points), closed=True, hatch=shape.hatch, zorder=n, **look))
