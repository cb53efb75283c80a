"""The look of all figures, and how one becomes SVG or PNG: the only place beside the figures that knows matplotlib.

Lines are told apart by dashes, marks and names beside them, bars by hatches; colours only help. Everything is set within a
context that leaves matplotlib as it was, and no figure belongs to its global state.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

from optimizer.report.figures.picture import Picture
from optimizer.report.layout import GLUE

__all__ = ["BEST", "DIRTY", "FREE", "INK", "NOW", "PALE", "Look", "headed", "look_of", "png", "settled", "sheet", "svg"]

WIDTH_IN = 5.2
HEAD_IN = 0.52
INK, SOFT, PALE = "#1b2a33", "#4c5a62", "#8a949a"
PNG_DPI = 200

SETTINGS: dict[Any, Any] = {
    "svg.hashsalt": "fullbore",
    "svg.fonttype": "none",
    "text.parse_math": False,
    "font.family": ["DejaVu Sans"],
    "font.size": 10.5,
    "axes.labelsize": 10.5,
    "xtick.labelsize": 10,
    "ytick.labelsize": 10,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": "#d9dcd6",
    "grid.linewidth": 0.6,
    "axes.axisbelow": True,
    "hatch.linewidth": 0.8,
    "figure.constrained_layout.use": True,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How the line, the mark or the bar of one row looks."""

    colour: str
    dashes: str | tuple[int, tuple[float, ...]]
    width: float
    mark: str
    hatch: str

    @property
    def line(self) -> dict[str, Any]:
        """As matplotlib has it for lines."""
        return {"color": self.colour, "linestyle": self.dashes, "linewidth": self.width}


NOW = Look(colour="#9a4a1f", dashes=(0, (5, 2)), width=1.7, mark="o", hatch="////")
FREE = Look(colour="#5f6f78", dashes=(0, (1.2, 1.4)), width=1.9, mark="^", hatch="....")
BEST = Look(colour="#0d4f66", dashes="solid", width=2.4, mark="s", hatch="")
DIRTY = Look(colour="#0d4f66", dashes=(0, (7, 2, 1.2, 2)), width=1.4, mark="D", hatch="\\\\")
LOOKS = {"now": NOW, "as it is": NOW, "cleaned": FREE, "spend nothing": FREE, "best": BEST, "then": BEST}


def look_of(row: str) -> Look:
    """The look of a row of the verdict by its name."""
    return LOOKS.get(row, DIRTY)


@contextmanager
def settled() -> Iterator[None]:
    """matplotlib with our settings only, whatever the user's are; afterwards it is as it was."""
    with matplotlib.rc_context(), warnings.catch_warnings():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(SETTINGS)
        # letters that the font for measuring lacks are left to the reader's own fonts
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        yield


def sheet(height_in: float = 3.7) -> tuple[Figure, Axes]:
    """An empty figure of the usual width with one pair of axes."""
    figure = Figure(figsize=(WIDTH_IN, height_in))
    return figure, figure.add_subplot()


def headed(picture: Picture) -> Figure:
    """The figure with its title above it, and of which tank and day it is."""
    figure = picture.draw()
    wide, high = figure.get_size_inches()
    tall = high + HEAD_IN
    figure.set_size_inches(wide, tall)
    layout = figure.get_layout_engine()
    if isinstance(layout, ConstrainedLayoutEngine):
        layout.set(rect=(0.0, 0.0, 1.0, high / tall))
    else:
        for axes in figure.axes:
            box = axes.get_position()
            axes.set_position((box.x0, box.y0 * high / tall, box.width, box.height * high / tall))
    lines = ((picture.caption, 0.36 * HEAD_IN, 11.5, "bold", INK), (picture.of, 0.76 * HEAD_IN, 9.0, "normal", SOFT))
    for text, down, size, weight, colour in lines:
        figure.text(0.018, 1.0 - down / tall, text, fontsize=size, weight=weight, color=colour, va="center")
    return figure


def png(picture: Picture) -> bytes:
    """The figure as PNG, the same bytes for the same figure."""
    with settled():
        stream = io.BytesIO()
        headed(picture).savefig(stream, format="png", dpi=PNG_DPI, metadata={"Software": None})
    return stream.getvalue()


def svg(picture: Picture) -> str:
    """The figure as one ``svg`` element with title and description, fit for a page whose policy forbids style attributes."""
    with settled():
        stream = io.StringIO()
        # the canvas itself: savefig would draw twice, once to measure what is measured in the layout already
        plain = {"Date": None, "Creator": None, "Format": None, "Type": None}
        FigureCanvasSVG(headed(picture)).print_svg(stream, metadata=plain)  # type: ignore[no-untyped-call]
    root = ElementTree.fromstring(stream.getvalue())
    _bare(root, f"{picture.name}-")
    size = {"viewBox": root.get("viewBox", ""), "width": root.get("width", ""), "height": root.get("height", "")}
    root.attrib.clear()
    root.attrib.update({"xmlns": "http://www.w3.org/2000/svg", **size, "role": "img"})
    root.set("aria-labelledby", f"{picture.name}-title {picture.name}-desc")
    for place, (tag, text) in enumerate((("title", picture.caption), ("desc", picture.words))):
        told = ElementTree.Element(tag, {"id": f"{picture.name}-{tag}"})
        told.text, told.tail = text.replace(GLUE, "\u00a0"), "\n"
        root.insert(place, told)
    return ElementTree.tostring(root, encoding="unicode") + "\n"


def _bare(element: ElementTree.Element, prefix: str) -> None:
    """Take out name spaces, metadata and styles, and make every id the figure's own."""
    element.tag = element.tag.rpartition("}")[2]
    for child in list(element):
        if child.tag.rpartition("}")[2] in ("metadata", "style"):
            element.remove(child)
        else:
            _bare(child, prefix)
    old = dict(element.attrib)
    element.attrib.clear()
    for name, value in old.items():
        element.attrib.update(_attributes(name.rpartition("}")[2], value, prefix))


def _attributes(name: str, value: str, prefix: str) -> dict[str, str]:
    if name == "style":
        return dict(_presentation(value, prefix))
    if name == "id":
        return {"id": prefix + value}
    if name == "href":
        return {"href": f"#{prefix}{value.removeprefix('#')}"}
    return {name: value.replace("url(#", f"url(#{prefix}")}


def _presentation(style: str, prefix: str) -> Iterator[tuple[str, str]]:
    """A style as the attributes that say the same; the short form of a font is taken apart."""
    for each in filter(None, (part.strip() for part in style.split(";"))):
        name, _, value = each.partition(":")
        value = value.strip()
        if name.strip() == "font":
            size, _, family = value.rpartition("px ")
            yield "font-size", re.sub(r".*?([0-9.]+)$", r"\1", size)
            yield "font-family", f"{family}, Verdana, sans-serif"
        else:
            yield name.strip(), value.replace("url(#", f"url(#{prefix}")
