"""Points of a pump curve, the flow window of a device and one measured loss, as text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from optimizer.errors import BadValue, quoted
from optimizer.files.ranges import FLOW_RATE, HEAD_HEIGHT
from optimizer.quantity_text import UnitError, clean, read
from optimizer.unit_table import FLOW, HEAD
from optimizer.units import parse

__all__ = ["Points", "parse_curve_cell", "parse_curve_list", "parse_point", "parse_window"]

Points = tuple[tuple[float, float], ...]
"""Pairs of flow in m3/s and head in m, in the order written."""

CELL_EXAMPLE = "0:2.2; 500:2.05; 1000:1.5; 2000:0"
LIST_CURE = 'Write for example ["0 l/h: 2.2 m", "1000 l/h: 1.5 m", "2000 l/h: 0 m"].'
POINT_CURE = 'Write for example "800 l/h: 0.2 m".'
WINDOW_CURE = 'Write for example "300-800 l/h".'
MOST_POINTS = 200

_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_CELL_POINT = re.compile(rf"\s*(?P<flow>{_NUMBER})\s*:\s*(?P<head>{_NUMBER})\s*")
_WINDOW = re.compile(rf"(?P<low>{_NUMBER}) ?- ?(?P<high>{_NUMBER})(?P<unit> ?[^0-9 ].*)")


def parse_curve_cell(text: str) -> Points:
    """Return the points of a pump curve from a catalog cell, flow in l/h and head in m.

    Raises `BadValue` for a point that cannot be read, or fewer than two of them.

    >>> parse_curve_cell("0:2.2; 1800:0")
    ((0.0, 2.2), (0.0005, 0.0))
    """
    points = []
    for piece in _pieces(text):
        found = _CELL_POINT.fullmatch(piece)
        if found is None:
            cure = f"Write flow in l/h, a colon and head in m, for example {quoted(CELL_EXAMPLE)}."
            raise BadValue(f"{quoted(piece.strip())} is not a point of a pump curve.", cure)
        points.append((_plain(found["flow"]) / 3.6e6, _plain(found["head"])))
    return checked_curve(tuple(points), f"Write for example {quoted(CELL_EXAMPLE)}.")


def parse_curve_list(value: object) -> Points:
    """Return the points of a pump curve from a rig's list of texts, each with its units.

    Raises `BadValue` for anything that is not a list of at least two points.

    >>> parse_curve_list(["0 l/h: 2.2 m", "1800 l/h: 0 m"])
    ((0.0, 2.2), (0.0005, 0.0))
    """
    if not isinstance(value, list):
        raise BadValue("a curve is a list of points.", LIST_CURE)
    if len(value) > MOST_POINTS:
        raise BadValue(f"a curve has at most {MOST_POINTS} points.", LIST_CURE)
    return checked_curve(tuple(parse_point(point) for point in value), LIST_CURE)


def parse_point(value: object) -> tuple[float, float]:
    """Return one pair of flow in m3/s and head in m, neither negative. Raises `BadValue`.

    >>> parse_point("1800 l/h: 0.2 m")
    (0.0005, 0.2)
    """
    if not isinstance(value, str):
        raise BadValue("this is not one flow and the head at it.", POINT_CURE)
    flow, colon, head = value.partition(":")
    if not colon:
        raise BadValue(f"{quoted(value)} is not one flow and the head at it.", POINT_CURE)
    return parse(flow, FLOW, minimum=0.0), parse(head, HEAD, minimum=0.0)


def parse_window(value: object) -> tuple[float, float]:
    """Return the least and the greatest flow in m3/s of "300-800 l/h". Raises `BadValue`.

    >>> parse_window("1800-3600 l/h")
    (0.0005, 0.001)
    """
    found = _WINDOW.fullmatch(clean(value)) if isinstance(value, str) and len(value) <= 64 else None
    if found is None:
        shown = f"{quoted(value)} does" if isinstance(value, str) else "this does"
        raise BadValue(f"{shown} not give two flows.", WINDOW_CURE)
    try:
        low, high = (parse(found[bound] + found["unit"], FLOW) for bound in ("low", "high"))
    except UnitError as error:
        raise BadValue(f"in {quoted(value)}: {error.what}", WINDOW_CURE) from None
    if not low < high:
        raise BadValue(f"{quoted(value)} does not run from less to more.", WINDOW_CURE)
    return low, high


def checked_curve(points: Points, cure: str) -> Points:
    """Return the points of a pump curve, once flow rises and head falls from point to point. Raises `BadValue`.

    >>> checked_curve(((0.0, 2.0), (0.001, 1.0)), "")
    ((0.0, 2.0), (0.001, 1.0))
    """
    if len(points) < 2:
        raise BadValue("a pump curve needs at least two points.", cure)
    if points[0][0] != 0.0:
        raise BadValue("the first point of a pump curve is the head at no flow.", cure)
    most_flow, most_head = FLOW_RATE[1], HEAD_HEIGHT[1]
    for flow, head in points:
        if flow > most_flow or head > most_head:
            what = f"{flow * 3.6e6:.6g} l/h at {head:.4g} m is no point of an aquarium pump"
            raise BadValue(f"{what}: at most {most_flow * 3.6e6:.6g} l/h and {most_head:.4g} m.", cure)
    if points[0][1] < HEAD_HEIGHT[0] or points[-1][0] < FLOW_RATE[0]:
        least = f"{HEAD_HEIGHT[0] * 100:.4g} cm and {FLOW_RATE[0] * 3.6e6:.4g} l/h"
        raise BadValue(f"a pump has a greatest head and a greatest flow of at least {least}.", cure)
    for (flow, head), (next_flow, next_head) in pairwise(points):
        place = f"from {flow * 3.6e6:.6g} l/h at {head:.4g} m to {next_flow * 3.6e6:.6g} l/h at {next_head:.4g} m"
        if next_flow <= flow:
            raise BadValue(f"the flow does not rise {place}.", cure)
        if next_head >= head:
            raise BadValue(f"the head of a pump falls as the flow rises, but not {place}.", cure)
    return points


def _plain(text: str) -> float:
    """Return a number that a point or a comma parts. Raises `BadValue` for one that may be thousands."""
    try:
        return float(read(text, "1000")[0].number)
    except UnitError as error:
        raise BadValue(error.what, error.cure) from None


def _pieces(text: str) -> Sequence[str]:
    pieces = [piece for piece in text.split(";") if piece.strip()]
    if len(pieces) > MOST_POINTS:
        raise BadValue(f"a curve has at most {MOST_POINTS} points.", f"Write for example {quoted(CELL_EXAMPLE)}.")
    return pieces
