"""Every column of the catalog and every key of a rig's parts and places, once, as data."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from optimizer.files.field import Field, Value
from optimizer.files.ranges import (
    ACROSS,
    BED_HEIGHT,
    BORE,
    DISCHARGE,
    FACE,
    FIBRE,
    FLOW_RATE,
    GAP,
    GRAIN,
    HEAD_HEIGHT,
    HOLE,
    KV,
    MEDIUM_VOLUME,
    PITCH,
    PORE_COUNT,
    RUBBED,
    RUN,
    SHARE_OF_ALL,
    STEP,
    TRAY_FACE,
    WATTS,
)
from optimizer.model.parts import DEVICE_PURPOSES, FITTING_ROLES, FITTING_SHAPES, GUARD_FORMS, MEDIUM_FORMS, OUTLET_FORMS, Kind
from optimizer.physics.hose import ROUGHNESS
from optimizer.units import ANGLE, AREA, COUNT, FLOW, FREQUENCY, HEAD, LENGTH, NOISE, PORES, POWER, SHARE, VOLUME

__all__ = [
    "CANISTER",
    "FILE_KINDS",
    "FILE_OF_KIND",
    "KIT",
    "PART_FIELDS",
    "SEALED_STANDARDS",
    "SOLD",
    "by_column",
]

LARGEST_FLOW_M3S = 100.0 / 3600.0
HIGHEST_HEAD_M = 100.0
LONGEST_RUN_M = 1000.0
MOST_PIECES = 1000
DEFAULT_STEP_M = 0.1
DEFAULT_CURVE_SHAPE = 2.0

SEALED_STANDARDS = ("G", "R", "Rc", "Rp", "NPT", "GHT", "slip mm", "slip in")

SOLD: tuple[Field, ...] = (
    Field(name="id", holds=Value.ID, required=True, example="TAIL-16-G34", in_rig=False,
          meaning="name of the part in rig files, kits and bills; one word, no two alike in the whole catalog"),
    Field(name="name", holds=Value.TEXT, required=True, example="hose tail 16 mm, G 3/4", meaning="the part in words"),
    Field(name="price", holds=Value.MONEY, example="4.50", in_rig=False,
          meaning="price of one product; blank for a part that only a kit contains"),
    Field(name="pack", holds=COUNT, default=1.0, low=1.0, high=MOST_PIECES, example="2", in_rig=False,
          meaning="pieces for one price"),
    Field(name="stock", holds=COUNT, low=0.0, high=1e6, example="5", in_rig=False,
          meaning="products on the shelf; of hose sold by the metre the metres on the roll, of which each cut takes its whole "
          "steps; blank: as many as wanted"),
)  # fmt: skip


def _end(side: str, example: str) -> tuple[Field, Field]:
    return (
        Field(name=side, holds=Value.END, required=True, example=example,
              meaning=f"the {side} end: standard, size and gender"),
        Field(name=f"{side}_bore", holds=LENGTH, within=BORE, csv_unit="mm", example="12 mm",
              meaning=f"open inside diameter of the {side}; blank only for a hose end, which is as wide as its size"),
    )  # fmt: skip


INLET = _end("inlet", "tail 16 mm")
OUTLET_END = _end("outlet", "G 3/4 in male")

GUARD: tuple[Field, ...] = (
    Field(name="form", holds=Value.CHOICE, choices=GUARD_FORMS, required=True, example="slots",
          meaning="what the water goes through"),
    Field(name="face_area", holds=AREA, within=FACE, csv_unit="cm2", required=True, example="60 cm2",
          meaning="whole face of the guard, bars included"),
    Field(name="open", holds=SHARE, within=SHARE_OF_ALL, csv_unit="%", required=True, example="40 %",
          meaning="share of the face that is open"),
    Field(name="opening", holds=LENGTH, within=GAP, csv_unit="mm", required=True, example="1.5 mm",
          meaning="widest gap an animal could enter; for a sponge its pore"),
    Field(name="pores", holds=PORES, csv_unit="ppi", within=PORE_COUNT, example="20 ppi",
          meaning="pores per inch (sponge only)"),
    Field(name="thickness", holds=LENGTH, within=BED_HEIGHT, csv_unit="mm", example="20 mm",
          meaning="wall of the sponge (sponge only)"),
    *OUTLET_END,
)  # fmt: skip

HOSE: tuple[Field, ...] = (
    Field(name="size", holds=Value.BORES, within=BORE, in_csv=False, example="16/22 mm",
          meaning="inside and outside diameter together, in place of inside and outside"),
    Field(name="inside", holds=LENGTH, within=BORE, csv_unit="mm", required=True,
          example="16 mm", meaning="inside diameter"),
    Field(name="outside", holds=LENGTH, within=BORE, csv_unit="mm", required=True,
          example="22 mm", meaning="outside diameter, which clamps go round"),
    Field(name="material", holds=Value.CHOICE, choices=tuple(ROUGHNESS), default="pvc hose", example="pvc hose",
          meaning="what the wall is made of; sets its roughness"),
    Field(name="ribbed", holds=Value.YES_NO, default=False, example="no", meaning="ribbed (corrugated) inside"),
    Field(name="price_per_m", holds=Value.MONEY, example="3.20", in_rig=False,
          meaning="price of one metre, for hose cut to length; in place of price and coil"),
    Field(name="step", holds=LENGTH, within=STEP, csv_unit="cm", example="10 cm", in_rig=False,
          meaning="cut lengths are charged in whole steps of this; blank: 10 cm"),
    Field(name="coil", holds=LENGTH, within=RUN, csv_unit="m", example="3 m", in_rig=False,
          meaning="length of the coil that price buys"),
)  # fmt: skip

FITTING: tuple[Field, ...] = (
    Field(name="shape", holds=Value.CHOICE, choices=FITTING_SHAPES, default="straight", example="straight",
          meaning="how the water runs through it"),
    *INLET,
    *OUTLET_END,
    Field(name="passage", holds=LENGTH, within=BORE, csv_unit="mm", example="11 mm",
          meaning="narrowest bore inside; blank: the smaller of the two bores"),
    Field(name="throttles", holds=Value.YES_NO, default=False, example="no",
          meaning="may be set part-way on purpose"),
)  # fmt: skip
ROLE = Field(name="role", holds=Value.CHOICE, choices=("coupling", "valve", "elbow"), required=True,
             example="coupling", meaning="what it does in the loop")  # fmt: skip

PUMP: tuple[Field, ...] = (
    Field(name="max_head", holds=HEAD, within=HEAD_HEIGHT, csv_unit="m", example="2.2 m",
          meaning="label: head at no flow"),
    Field(name="max_flow", holds=FLOW, within=FLOW_RATE, csv_unit="l/h", example="2000 l/h",
          meaning="label: flow at no head"),
    Field(name="curve_shape", holds=Value.NUMBER, low=1.0, high=4.0, example="2",
          meaning="n of the label curve H = H0 (1 - (Q/Qmax)^n), from 1 (straight) to 4; blank: 2"),
    Field(name="curve", holds=Value.CURVE, csv_column="curve_points", example="0:2.2; 500:2.05; 1000:1.5; 2000:0",
          rig_example='["0 l/h: 2.2 m", "1000 l/h: 1.5 m", "2000 l/h: 0 m"]',
          meaning="measured points (flow in l/h : head in m in a catalog), in place of the label's figures"),
    Field(name="power", holds=POWER, within=WATTS, csv_unit="W", required=True, example="20 W",
          meaning="power it draws"),
    Field(name="noise", holds=NOISE, csv_unit="dB(A)", required=True, low=0.0, high=120.0, example="34 dB(A)",
          meaning="sound level at 1 m"),
    Field(name="label_hz", holds=FREQUENCY, csv_unit="Hz", csv_column="label_hz", example="50 Hz",
          meaning="mains frequency of these figures, 50 or 60; blank for a pump that does not follow the mains"),
    *INLET,
    *OUTLET_END,
)  # fmt: skip

MEDIUM: tuple[Field, ...] = (
    Field(name="form", holds=Value.CHOICE, choices=MEDIUM_FORMS, required=True, example="foam",
          meaning="what the bed is made of"),
    Field(name="volume", holds=VOLUME, within=MEDIUM_VOLUME, csv_unit="l", example="2 l", in_rig=False,
          meaning="litres of medium that price buys"),
    Field(name="pores", holds=PORES, csv_unit="ppi", positive=True, low=5.0, high=200.0, example="20 ppi",
          meaning="pores per inch (foam)"),
    Field(name="grain", holds=LENGTH, within=GRAIN, csv_unit="mm", example="6 mm",
          meaning="diameter of a ball or grain (granules)"),
    Field(name="void", holds=SHARE, csv_unit="%", within=SHARE_OF_ALL, under_one=True, example="45 %",
          meaning="share of the bed that is not solid (granules, rings)"),
    Field(name="surface", holds=Value.SPECIFIC_AREA, csv_unit="m2/m3", within=RUBBED, example="400 m2/m3",
          meaning="outer surface of the rings per volume of bed, which the water rubs along (rings)"),
    Field(name="fibre", holds=LENGTH, within=FIBRE, csv_unit="um", example="30 um",
          meaning="diameter of a fibre (fibre)"),
    Field(name="solid", holds=SHARE, csv_unit="%", within=SHARE_OF_ALL, under_one=True, example="2 %",
          meaning="share of the mat that is solid (fibre)"),
    Field(name="area", holds=Value.SPECIFIC_AREA, csv_unit="m2/m3", default=0.0, low=0.0, high=1e6,
          example="900 m2/m3", meaning="surface that bacteria can use, per volume of bed"),
    Field(name="mechanical", holds=Value.YES_NO, default=False, example="yes", meaning="catches solids"),
    Field(name="biological", holds=Value.YES_NO, default=False, example="no", meaning="houses bacteria"),
)  # fmt: skip

OUTLET: tuple[Field, ...] = (
    Field(name="form", holds=Value.CHOICE, choices=OUTLET_FORMS, required=True, example="bar",
          meaning="how the water leaves"),
    *INLET,
    Field(name="holes", holds=COUNT, default=1.0, low=1.0, high=MOST_PIECES, example="16",
          meaning="number of holes; 1 unless it is a bar"),
    Field(name="hole", holds=LENGTH, within=HOLE, csv_unit="mm", required=True,
          example="3.5 mm", meaning="diameter of the holes, the nozzle or the mouth"),
    Field(name="discharge", holds=Value.NUMBER, within=DISCHARGE, example="0.62",
          meaning="discharge coefficient of a hole or nozzle; blank: 0.62, and 1 for an open end"),
    Field(name="bar_bore", holds=LENGTH, within=BORE, csv_unit="mm", example="13 mm",
          meaning="inside diameter of the bar (bar only)"),
    Field(name="pitch", holds=LENGTH, within=PITCH, csv_unit="mm", example="20 mm",
          meaning="distance from hole to hole (bar only)"),
)  # fmt: skip

DEVICE: tuple[Field, ...] = (
    Field(name="purpose", holds=Value.CHOICE, choices=DEVICE_PURPOSES, default="", example="heater",
          meaning="what it is there for; only a device with the same purpose may replace it, blank: none may"),
    *INLET,
    *OUTLET_END,
    Field(name="kv", holds=FLOW, within=KV, csv_unit="m3/h", example="6 m3/h",
          meaning="loss as Kv: the flow that loses 1 bar"),
    Field(name="k", holds=Value.NUMBER, low=0.0, high=1e4, example="2.5",
          meaning="loss as a coefficient on the bore of the inlet"),
    Field(name="point_flow", holds=FLOW, within=FLOW_RATE, csv_unit="l/h", csv_column="point_l_h", in_rig=False,
          example="800 l/h", meaning="loss as one measured point: its flow"),
    Field(name="point_head", holds=HEAD, csv_unit="m", csv_column="point_m", low=0.0, in_rig=False,
          high=HIGHEST_HEAD_M, example="0.2 m", meaning="loss as one measured point: the head lost there"),
    Field(name="loss", holds=Value.POINT, in_csv=False, example="800 l/h: 0.2 m",
          meaning="loss as one measured point: flow and the head lost there"),
    Field(name="flow_min", holds=FLOW, csv_unit="l/h", default=0.0, low=0.0, high=LARGEST_FLOW_M3S,
          example="300 l/h", meaning="least flow its maker allows; blank: none"),
    Field(name="flow_max", holds=FLOW, within=FLOW_RATE, csv_unit="l/h", example="800 l/h",
          meaning="greatest flow its maker allows; blank: none"),
    Field(name="window", holds=Value.WINDOW, in_csv=False, example="300-800 l/h",
          meaning="least and greatest flow together"),
)  # fmt: skip

CANISTER: tuple[Field, ...] = (
    *INLET,
    *OUTLET_END,
    Field(name="tray_area", holds=AREA, within=TRAY_FACE, required=True, example="300 cm2", in_csv=False,
          meaning="area of one tray that the water crosses"),
    Field(name="tray_height", holds=LENGTH, within=BED_HEIGHT, required=True, example="5 cm", in_csv=False,
          meaning="height of the medium in one tray"),
    Field(name="rating", holds=HEAD, within=HEAD_HEIGHT, example="3 m", in_csv=False,
          meaning="greatest pressure the body is made for, as head; left out: not stated"),
)  # fmt: skip

TEE: tuple[Field, ...] = (
    *INLET,
    *OUTLET_END,
    *_end("side", "tail 16 mm"),
    Field(name="passage", holds=LENGTH, within=BORE, csv_unit="mm", example="12 mm",
          meaning="narrowest bore inside, straight through; blank: the smaller bore of inlet and outlet"),
    Field(name="side_passage", holds=LENGTH, within=BORE, csv_unit="mm", example="11 mm",
          meaning="narrowest bore inside, into the side; blank: that of the side, at most the passage"),
    Field(name="angle", holds=ANGLE, csv_unit="deg", default=90.0, low=30.0, high=90.0, example="45 deg",
          meaning="between the side and the straight run; blank: 90 deg, a tee; less is a wye"),
)  # fmt: skip

CLAMP: tuple[Field, ...] = (
    Field(name="low", holds=LENGTH, within=ACROSS, csv_unit="mm", required=True, example="20 mm",
          meaning="smallest hose outside diameter it closes on"),
    Field(name="high", holds=LENGTH, within=ACROSS, csv_unit="mm", required=True,
          example="24 mm", meaning="largest hose outside diameter it closes on"),
    Field(name="throttles", holds=Value.YES_NO, default=False, example="no",
          meaning="yes for a screw clamp that pinches a hose to throttle it, instead of closing a joint"),
)  # fmt: skip

SEAL: tuple[Field, ...] = (
    Field(name="closure", holds=Value.CHOICE, choices=("washer", "tape", "cement"), required=True, example="washer",
          meaning="what it is; pack is the number of joints it does"),
    Field(name="standard", holds=Value.CHOICE, choices=SEALED_STANDARDS, default="", example="G",
          meaning="thread or pipe it is for, of either side (tape for R closes R in Rc or Rp); blank: any"),
    Field(name="size", holds=Value.INCH, csv_unit="in", example="3/4 in", positive=True, high=0.2,
          meaning="thread size it is for, in inches; blank: any"),
)  # fmt: skip

KIT: tuple[Field, ...] = (
    Field(name="contents", holds=Value.CONTENTS, required=True, in_rig=False,
          example="TAIL-19 x2; HOSE-19-27 4 m; CLAMP-25 x8; FOAM-20 2 l",
          meaning="part ids with the number of pieces (x2), metres of hose in one piece or litres of medium"),
)  # fmt: skip

PART_FIELDS: Mapping[str, tuple[Field, ...]] = MappingProxyType(
    {
        Kind.GUARD: GUARD,
        Kind.HOSE: HOSE,
        Kind.FITTING: FITTING,
        Kind.PUMP: PUMP,
        Kind.MEDIUM: MEDIUM,
        Kind.OUTLET: OUTLET,
        Kind.DEVICE: DEVICE,
        Kind.CANISTER: CANISTER,
        Kind.CLAMP: CLAMP,
        Kind.SEAL: SEAL,
        Kind.TEE: TEE,
    }
)
"""The fields of a part of each kind, without those by which it is sold."""

FILE_KINDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "pumps.csv": (Kind.PUMP, ""),
        "guards.csv": (Kind.GUARD, ""),
        "hoses.csv": (Kind.HOSE, ""),
        "adapters.csv": (Kind.FITTING, "adapter"),
        "couplings.csv": (Kind.FITTING, ""),
        "tails.csv": (Kind.FITTING, "tail"),
        "media.csv": (Kind.MEDIUM, ""),
        "outlets.csv": (Kind.OUTLET, ""),
        "clamps.csv": (Kind.CLAMP, ""),
        "seals.csv": (Kind.SEAL, ""),
        "devices.csv": (Kind.DEVICE, ""),
        "tees.csv": (Kind.TEE, ""),
    }
)
"""Catalog file: the kind of its parts and, for fittings, their role (empty: a column of the file)."""

FILE_OF_KIND: Mapping[str, str] = MappingProxyType(
    {
        **{kind: file for file, (kind, _) in FILE_KINDS.items() if kind != Kind.FITTING},
        **dict.fromkeys(FITTING_ROLES, "couplings.csv"),
        "adapter": "adapters.csv",
        "tail": "tails.csv",
    }
)
"""The catalog file to look into for a kind of part, or for the role of a fitting."""


def by_column(file: str) -> dict[str, Field]:
    """Return the fields of one catalog file by the name of their column, in the order of the reference.

    Raises KeyError for a file that is not a catalog file.

    >>> list(by_column("clamps.csv"))
    ['id', 'name', 'price', 'pack', 'stock', 'low_mm', 'high_mm', 'throttles']
    """
    if file == "kits.csv":
        own: tuple[Field, ...] = KIT
    else:
        kind, role = FILE_KINDS[file]
        own = PART_FIELDS[kind]
        own = (ROLE, *own) if kind == Kind.FITTING and not role else own
    fields = {field.column: field for field in (*SOLD, *own) if field.in_csv}
    if file == "kits.csv":
        del fields["pack"]
    return fields
