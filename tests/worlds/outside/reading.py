"""Rig files and catalogs as plain numbers in SI units, read with tomllib and csv and a small reader of quantities."""

import csv
import re
import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

DEMO = Path(__file__).parents[3] / "parts_demo"
INCH = 0.0254
UNITS = {
    "mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": INCH, "ft": 12.0 * INCH, "um": 1e-6,
    "mm2": 1e-6, "cm2": 1e-4, "m2": 1.0, "sq in": INCH**2,
    "l/h": 1e-3 / 3600.0, "m3/h": 1.0 / 3600.0,
    "%": 1e-2, "Hz": 1.0, "ppi": 1.0 / INCH, "g/kg": 1e-3, "psi": 0.7032, "m2/m3": 1.0,
}  # fmt: skip
NUMBER = r"\d+ \d+/\d+|\d+/\d+|\d+(?:\.\d+)?"
COLUMN_UNITS = {
    "_mm": 1e-3, "_cm": 1e-2, "_cm2": 1e-4, "_m": 1.0, "_l_h": 1e-3 / 3600.0, "_m3_h": 1.0 / 3600.0, "_pct": 1e-2,
    "_ppi": 1.0 / INCH, "_um": 1e-6, "_m2_m3": 1.0,
}  # fmt: skip
PLAIN_COLUMNS = ("holes", "discharge", "curve_shape", "k")


def amount(text: str) -> float:
    """A number, whole, decimal, or with a fraction."""
    return float(sum(Fraction(word) for word in text.split()))


def quantity(text: str) -> float:
    """A quantity in SI units: "2 1/2 ft", "3 ft 8 in", "16 mm", "40 %"; temperatures in degrees Celsius.

    >>> round(quantity("3 ft 8 in"), 4), round(quantity("64 degF"), 2), quantity("40 %")
    (1.1176, 17.78, 0.4)
    """
    said = text.strip()
    warm = re.fullmatch(r"([\d.]+) ?(?:°|deg)([CF])", said)
    if warm:
        degrees = float(warm[1])
        return degrees if warm[2] == "C" else (degrees - 32.0) / 1.8
    parts = re.findall(rf"({NUMBER}) ?([a-zA-Z%][a-zA-Z0-9/ ]*?)(?= \d|$)", said)
    if not parts or "".join(number + unit for number, unit in parts).replace(" ", "") != said.replace(" ", ""):
        raise ValueError(f"no quantity: {text!r}")
    return sum(amount(number) * UNITS[unit.strip()] for number, unit in parts)


def catalog(folder: Path = DEMO / "catalog") -> dict[str, dict[str, Any]]:
    """Every part of a catalog by its id, its numbers in SI units and without the unit in their names."""
    parts: dict[str, dict[str, Any]] = {}
    for file in sorted(folder.glob("*.csv")):
        with file.open(encoding="utf-8", newline="") as lines:
            for row in csv.DictReader(lines):
                parts[row["id"]] = dict(_cell(name, text) for name, text in row.items() if text)
    return parts


def _cell(name: str, text: str) -> tuple[str, Any]:
    if name.startswith("point_"):
        return ("point_flow", float(text) * UNITS["l/h"]) if name == "point_l_h" else ("point_head", float(text))
    for ending in sorted(COLUMN_UNITS, key=len, reverse=True):
        if name.endswith(ending):
            return name.removesuffix(ending), float(text) * COLUMN_UNITS[ending]
    return name, float(text) if name in (*PLAIN_COLUMNS, "label_hz") else text


def rig(file: Path) -> dict[str, Any]:
    """The tables of a rig file."""
    return tomllib.loads(file.read_text(encoding="utf-8"))


MEASURED = (
    "inside", "outside", "length", "bend_radius", "coil", "film", "inlet_bore", "outlet_bore", "side_bore", "passage",
    "side_passage", "tray_area", "tray_height", "depth", "fouled", "worn", "blocked", "filled", "cake", "face_area", "open",
    "opening", "pores", "thickness", "grain", "void", "surface", "fibre", "solid", "max_head", "max_flow", "label_hz", "hole",
    "bar_bore", "pitch", "above_water", "below_water", "kv", "crack",
)  # fmt: skip
"""Keys of a place or a tray whose text is a quantity."""


def place(table: dict[str, Any], parts: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """A place or a tray in SI units: what the catalog says of its part, and over that what the file says."""
    held = dict(parts[table["part"]]) if "part" in table else dict(parts[table["medium"]]) if "medium" in table else {}
    held |= {key: quantity(value) if key in MEASURED else value for key, value in table.items()}
    if table.get("turned"):
        held |= {"inlet_bore": held["outlet_bore"], "outlet_bore": held["inlet_bore"]}
    if "size" in table:
        sizes = re.fullmatch(r"(\d+)/(\d+) mm", table["size"])
        assert sizes is not None
        held |= {"inside": float(sizes[1]) / 1e3, "outside": float(sizes[2]) / 1e3}
    if "loss" in table:
        flow, head = table["loss"].split(":")
        held |= {"point_flow": quantity(flow), "point_head": quantity(head)}
    if "trays" in table:
        held["trays"] = [place(tray, parts) for tray in table["trays"]]
    return held


def points(text: str) -> list[tuple[float, float]]:
    """Measured points of a catalog, flow in m3/s and head in m."""
    return [(float(flow) * UNITS["l/h"], float(head)) for flow, head in (pair.split(":") for pair in text.split(";"))]
