"""Every kind of part as one entry: its files in a catalog, its columns and keys, the keys of its place in a loop, and what is
made of them. Readers, reference and messages come from here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from optimizer.files import part_checks as checks
from optimizer.files import ranges
from optimizer.files.draft import Draft, Label, Made
from optimizer.files.field import Field, Value
from optimizer.model import parts
from optimizer.model.parts import FITTING_ROLES, Kind, Part
from optimizer.physics.hose import ROUGHNESS
from optimizer.units import ANGLE, AREA, COUNT, FLOW, FREQUENCY, HEAD, LENGTH, NOISE, PORES, POWER, SHARE, VOLUME

__all__ = ["FILES", "FILE_OF_KIND", "HEIGHTS", "KITS", "NAME", "PART", "PART_KINDS", "PLACE", "by_column"]

KITS = "kits.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartKind:
    """A kind of part. Attributes of the class it ``makes`` are called as its fields, with their unit behind; those that are
    called otherwise or hang on several fields are what ``works_out`` returns; it also tells the draft what is wrong with them.

    ``files`` are those of a catalog, each with the role of its fittings (empty: a column says it) and a note; ``place`` has the
    keys of a place in a loop beside the part's own, and ``along`` is where in the reference it comes (0: it stands in no loop).
    """

    kind: str
    makes: Callable[..., Part]
    fields: tuple[Field, ...]
    works_out: Callable[[Draft], Made] = field(default=lambda _: {})
    files: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    place: tuple[Field, ...] = ()
    along: int = 0

    @property
    def keys(self) -> tuple[Field, ...]:
        """Those of its fields that a rig file may have."""
        return tuple(each for each in self.fields if each.in_rig)


NAME = Field(name="name", holds=Value.TEXT, example="hose tail 16 mm", meaning="the part in words")
PART = Field(name="part", holds=Value.ID, example="TAIL-16-G34",
             meaning="id of a part of the catalog, in place of the part's own keys")  # fmt: skip

_STAYS: tuple[Field, ...] = (
    Field(name="stays", holds=Value.YES_NO, default=False, example="true",
          meaning="must not be swapped; of a canister: its media stay too, at most cleaned"),
    Field(name="may_go", holds=Value.YES_NO, default=False, example="true", meaning="may be left out of the loop"),
)  # fmt: skip
_HELD = (NAME, PART, *_STAYS)

_SEALED = ("G", "R", "Rc", "Rp", "NPT", "GHT", "slip mm", "slip in")

SOLD: tuple[Field, ...] = (
    Field(name="id", holds=Value.ID, required=True, example="TAIL-16-G34", in_rig=False,
          meaning="name of the part in rig files, kits and bills; one word, no two alike in the whole catalog"),
    Field(name="name", holds=Value.TEXT, required=True, example="hose tail 16 mm, G 3/4", meaning="the part in words"),
    Field(name="price", holds=Value.MONEY, example="4.50", in_rig=False,
          meaning="price of one product; blank for a part that only a kit contains"),
    Field(name="pack", holds=COUNT, default=1.0, low=1.0, high=ranges.MOST_PIECES, example="2", in_rig=False,
          meaning="pieces for one price"),
    Field(name="stock", holds=COUNT, low=0.0, high=1e6, example="5", in_rig=False,
          meaning="products on the shelf; of hose sold by the metre the metres on the roll, of which each cut takes its whole "
          "steps; blank: as many as wanted"),
)  # fmt: skip


def _end(side: str, example: str) -> tuple[Field, Field]:
    return (
        Field(name=side, holds=Value.END, required=True, example=example,
              meaning=f"the {side} end: standard, size and gender"),
        Field(name=f"{side}_bore", holds=LENGTH, within=ranges.BORE, csv_unit="mm", example="12 mm",
              meaning=f"open inside diameter of the {side}; blank only for a hose end, which is as wide as its size"),
    )  # fmt: skip


INLET = _end("inlet", "tail 16 mm")
OUTLET_END = _end("outlet", "G 3/4 in male")

GUARD: tuple[Field, ...] = (
    Field(name="form", holds=Value.CHOICE, choices=parts.GUARD_FORMS, required=True, example="slots",
          meaning="what the water goes through"),
    Field(name="face_area", holds=AREA, within=ranges.FACE, csv_unit="cm2", required=True, example="60 cm2",
          meaning="whole face of the guard, bars included"),
    Field(name="open", holds=SHARE, within=ranges.SHARE_OF_ALL, csv_unit="%", required=True, example="40 %",
          meaning="share of the face that is open"),
    Field(name="opening", holds=LENGTH, within=ranges.GAP, csv_unit="mm", required=True, example="1.5 mm",
          meaning="widest gap an animal could enter; for a sponge its pore"),
    Field(name="pores", holds=PORES, csv_unit="ppi", within=ranges.PORE_COUNT, example="20 ppi",
          meaning="pores per inch (sponge only)"),
    Field(name="thickness", holds=LENGTH, within=ranges.BED_HEIGHT, csv_unit="mm", example="20 mm",
          meaning="wall of the sponge (sponge only)"),
    *OUTLET_END,
)  # fmt: skip

HOSE: tuple[Field, ...] = (
    Field(name="size", holds=Value.BORES, within=ranges.BORE, in_csv=False, example="16/22 mm",
          meaning="inside and outside diameter together, in place of inside and outside"),
    Field(name="inside", holds=LENGTH, within=ranges.BORE, csv_unit="mm", required=True,
          example="16 mm", meaning="inside diameter"),
    Field(name="outside", holds=LENGTH, within=ranges.BORE, csv_unit="mm", required=True,
          example="22 mm", meaning="outside diameter, which clamps go round"),
    Field(name="material", holds=Value.CHOICE, choices=tuple(ROUGHNESS), default="pvc hose", example="pvc hose",
          meaning="what the wall is made of; sets its roughness"),
    Field(name="ribbed", holds=Value.YES_NO, default=False, example="no", meaning="ribbed (corrugated) inside"),
    Field(name="price_per_m", holds=Value.MONEY, example="3.20", in_rig=False,
          meaning="price of one metre, for hose cut to length; in place of price and coil"),
    Field(name="step", holds=LENGTH, within=ranges.STEP, csv_unit="cm", example="10 cm", in_rig=False,
          meaning="cut lengths are charged in whole steps of this; blank: 10 cm"),
    Field(name="coil", holds=LENGTH, within=ranges.RUN, csv_unit="m", example="3 m", in_rig=False,
          meaning="length of the coil that price buys"),
)  # fmt: skip

FITTING: tuple[Field, ...] = (
    Field(name="shape", holds=Value.CHOICE, choices=parts.FITTING_SHAPES, default="straight", example="straight",
          meaning="how the water runs through it"),
    *INLET,
    *OUTLET_END,
    Field(name="passage", holds=LENGTH, within=ranges.BORE, csv_unit="mm", example="11 mm",
          meaning="narrowest bore inside; blank: the smaller of the two bores"),
    Field(name="throttles", holds=Value.YES_NO, default=False, example="no",
          meaning="may be set part-way on purpose"),
)  # fmt: skip
ROLE = Field(name="role", holds=Value.CHOICE, choices=("coupling", "valve", "elbow"), required=True,
             example="coupling", meaning="what it does in the loop")  # fmt: skip

PUMP: tuple[Field, ...] = (
    Field(name="max_head", holds=HEAD, within=ranges.HEAD_HEIGHT, csv_unit="m", example="2.2 m",
          meaning="label: head at no flow"),
    Field(name="max_flow", holds=FLOW, within=ranges.FLOW_RATE, csv_unit="l/h", example="2000 l/h",
          meaning="label: flow at no head"),
    Field(name="curve_shape", holds=Value.NUMBER, low=1.0, high=4.0, example="2",
          meaning="n of the label curve H = H0 (1 - (Q/Qmax)^n), from 1 (straight) to 4; blank: 2"),
    Field(name="curve", holds=Value.CURVE, csv_column="curve_points", example="0:2.2; 500:2.05; 1000:1.5; 2000:0",
          rig_example='["0 l/h: 2.2 m", "1000 l/h: 1.5 m", "2000 l/h: 0 m"]',
          meaning="measured points (flow in l/h : head in m in a catalog), in place of the label's figures"),
    Field(name="power", holds=POWER, within=ranges.WATTS, csv_unit="W", required=True, example="20 W",
          meaning="power it draws"),
    Field(name="noise", holds=NOISE, csv_unit="dB(A)", required=True, low=0.0, high=120.0, example="34 dB(A)",
          meaning="sound level at 1 m"),
    Field(name="label_hz", holds=FREQUENCY, csv_unit="Hz", csv_column="label_hz", example="50 Hz",
          meaning="mains frequency of these figures, 50 or 60; blank for a pump that does not follow the mains"),
    *INLET,
    *OUTLET_END,
)  # fmt: skip

MEDIUM: tuple[Field, ...] = (
    Field(name="form", holds=Value.CHOICE, choices=parts.MEDIUM_FORMS, required=True, example="foam",
          meaning="what the bed is made of"),
    Field(name="volume", holds=VOLUME, within=ranges.MEDIUM_VOLUME, csv_unit="l", example="2 l", in_rig=False,
          meaning="litres of medium that price buys"),
    Field(name="pores", holds=PORES, csv_unit="ppi", positive=True, low=5.0, high=200.0, example="20 ppi",
          meaning="pores per inch (foam)"),
    Field(name="grain", holds=LENGTH, within=ranges.GRAIN, csv_unit="mm", example="6 mm",
          meaning="diameter of a ball or grain (granules)"),
    Field(name="void", holds=SHARE, csv_unit="%", within=ranges.SHARE_OF_ALL, under_one=True, example="45 %",
          meaning="share of the bed that is not solid (granules, rings)"),
    Field(name="surface", holds=Value.SPECIFIC_AREA, csv_unit="m2/m3", within=ranges.RUBBED, example="400 m2/m3",
          meaning="outer surface of the rings per volume of bed, which the water rubs along (rings)"),
    Field(name="fibre", holds=LENGTH, within=ranges.FIBRE, csv_unit="um", example="30 um",
          meaning="diameter of a fibre (fibre)"),
    Field(name="solid", holds=SHARE, csv_unit="%", within=ranges.SHARE_OF_ALL, under_one=True, example="2 %",
          meaning="share of the mat that is solid (fibre)"),
    Field(name="area", holds=Value.SPECIFIC_AREA, csv_unit="m2/m3", default=0.0, low=0.0, high=1e6,
          example="900 m2/m3", meaning="surface that bacteria can use, per volume of bed"),
    Field(name="mechanical", holds=Value.YES_NO, default=False, example="yes", meaning="catches solids"),
    Field(name="biological", holds=Value.YES_NO, default=False, example="no", meaning="houses bacteria"),
)  # fmt: skip

OUTLET: tuple[Field, ...] = (
    Field(name="form", holds=Value.CHOICE, choices=parts.OUTLET_FORMS, required=True, example="bar",
          meaning="how the water leaves"),
    *INLET,
    Field(name="holes", holds=COUNT, default=1.0, low=1.0, high=ranges.MOST_PIECES, example="16",
          meaning="number of holes; 1 unless it is a bar"),
    Field(name="hole", holds=LENGTH, within=ranges.HOLE, csv_unit="mm", required=True,
          example="3.5 mm", meaning="diameter of the holes, the nozzle or the mouth"),
    Field(name="discharge", holds=Value.NUMBER, within=ranges.DISCHARGE, example="0.62",
          meaning="discharge coefficient of a hole or nozzle; blank: 0.62, and 1 for an open end"),
    Field(name="bar_bore", holds=LENGTH, within=ranges.BORE, csv_unit="mm", example="13 mm",
          meaning="inside diameter of the bar (bar only)"),
    Field(name="pitch", holds=LENGTH, within=ranges.PITCH, csv_unit="mm", example="20 mm",
          meaning="distance from hole to hole (bar only)"),
)  # fmt: skip

DEVICE: tuple[Field, ...] = (
    Field(name="purpose", holds=Value.CHOICE, choices=parts.DEVICE_PURPOSES, default="", example="heater",
          meaning="what it is there for; only a device with the same purpose may replace it, blank: none may"),
    *INLET,
    *OUTLET_END,
    Field(name="kv", holds=FLOW, within=ranges.KV, csv_unit="m3/h", example="6 m3/h",
          meaning="loss as Kv: the flow that loses 1 bar"),
    Field(name="k", holds=Value.NUMBER, low=0.0, high=1e4, example="2.5",
          meaning="loss as a coefficient on the bore of the inlet"),
    Field(name="point_flow", holds=FLOW, within=ranges.FLOW_RATE, csv_unit="l/h", csv_column="point_l_h", in_rig=False,
          example="800 l/h", meaning="loss as one measured point: its flow"),
    Field(name="point_head", holds=HEAD, csv_unit="m", csv_column="point_m", low=0.0, in_rig=False,
          high=ranges.HIGHEST_HEAD_M, example="0.2 m", meaning="loss as one measured point: the head lost there"),
    Field(name="loss", holds=Value.POINT, in_csv=False, example="800 l/h: 0.2 m",
          meaning="loss as one measured point: flow and the head lost there"),
    Field(name="flow_min", holds=FLOW, csv_unit="l/h", default=0.0, low=0.0, high=ranges.LARGEST_FLOW_M3S,
          example="300 l/h", meaning="least flow its maker allows; blank: none"),
    Field(name="flow_max", holds=FLOW, within=ranges.FLOW_RATE, csv_unit="l/h", example="800 l/h",
          meaning="greatest flow its maker allows; blank: none"),
    Field(name="window", holds=Value.WINDOW, in_csv=False, example="300-800 l/h",
          meaning="least and greatest flow together"),
)  # fmt: skip

CANISTER: tuple[Field, ...] = (
    *INLET,
    *OUTLET_END,
    Field(name="tray_area", holds=AREA, within=ranges.TRAY_FACE, required=True, example="300 cm2", in_csv=False,
          meaning="area of one tray that the water crosses"),
    Field(name="tray_height", holds=LENGTH, within=ranges.BED_HEIGHT, required=True, example="5 cm", in_csv=False,
          meaning="height of the medium in one tray"),
    Field(name="rating", holds=HEAD, within=ranges.HEAD_HEIGHT, example="3 m", in_csv=False,
          meaning="greatest pressure the body is made for, as head; left out: not stated"),
)  # fmt: skip

TEE: tuple[Field, ...] = (
    *INLET,
    *OUTLET_END,
    *_end("side", "tail 16 mm"),
    Field(name="passage", holds=LENGTH, within=ranges.BORE, csv_unit="mm", example="12 mm",
          meaning="narrowest bore inside, straight through; blank: the smaller bore of inlet and outlet"),
    Field(name="side_passage", holds=LENGTH, within=ranges.BORE, csv_unit="mm", example="11 mm",
          meaning="narrowest bore inside, into the side; blank: that of the side, at most the passage"),
    Field(name="angle", holds=ANGLE, csv_unit="deg", default=90.0, low=30.0, high=90.0, example="45 deg",
          meaning="between the side and the straight run; blank: 90 deg, a tee; less is a wye"),
)  # fmt: skip

CLAMP: tuple[Field, ...] = (
    Field(name="low", holds=LENGTH, within=ranges.ACROSS, csv_unit="mm", required=True, example="20 mm",
          meaning="smallest hose outside diameter it closes on"),
    Field(name="high", holds=LENGTH, within=ranges.ACROSS, csv_unit="mm", required=True,
          example="24 mm", meaning="largest hose outside diameter it closes on"),
    Field(name="throttles", holds=Value.YES_NO, default=False, example="no",
          meaning="yes for a screw clamp that pinches a hose to throttle it, instead of closing a joint"),
)  # fmt: skip

SEAL: tuple[Field, ...] = (
    Field(name="closure", holds=Value.CHOICE, choices=("washer", "tape", "cement"), required=True, example="washer",
          meaning="what it is; pack is the number of joints it does"),
    Field(name="standard", holds=Value.CHOICE, choices=_SEALED, default="", example="G",
          meaning="thread or pipe it is for, of either side (tape for R closes R in Rc or Rp); blank: any"),
    Field(name="size", holds=Value.INCH, csv_unit="in", example="3/4 in", positive=True, high=0.2,
          meaning="thread size it is for, in inches; blank: any"),
)  # fmt: skip

KIT: tuple[Field, ...] = (
    Field(name="contents", holds=Value.CONTENTS, required=True, in_rig=False,
          example="TAIL-19 x2; HOSE-19-27 4 m; CLAMP-25 x8; FOAM-20 2 l",
          meaning="part ids with the number of pieces (x2), metres of hose in one piece or litres of medium"),
)  # fmt: skip

_FILM = Field(name="film", holds=LENGTH, default=0.0, low=0.0, high=0.05, example="0.5 mm",
              meaning="thickness of the film on the wall")  # fmt: skip
_DEPTH = Field(name="depth", holds=LENGTH, low=0.0, high=20.0, example="0.9 m",
               meaning="how far it stands below the water line; left out: 0")  # fmt: skip
HEIGHTS: tuple[Field, ...] = (
    Field(name="above_water", holds=LENGTH, low=0.0, high=ranges.HIGHEST_HEAD_M, example="3 cm",
          meaning="mouth of the outlet above the water line"),
    Field(name="below_water", holds=LENGTH, low=0.0, high=20.0, example="2 cm",
          meaning="mouth of the outlet below the water line"),
)  # fmt: skip

_PUMP_PLACE: tuple[Field, ...] = (
    *_HELD,
    _DEPTH,
    Field(name="fouled", holds=SHARE, default=0.0, under_one=True, example="5 %",
          meaning="speed lost to dirt, which a clean gives back"),
    Field(name="worn", holds=SHARE, default=0.0, under_one=True, example="10 %",
          meaning="speed lost to wear, which a clean does not give back"),
)  # fmt: skip
_GUARD_PLACE: tuple[Field, ...] = (
    *_HELD,
    Field(name="blocked", holds=SHARE, default=0.0, under_one=True, example="40 %",
          meaning="share of the openings that is shut"),
)  # fmt: skip
_HOSE_PLACE: tuple[Field, ...] = (
    *_HELD,
    Field(name="length", holds=LENGTH, within=ranges.RUN, required=True, example="1.8 m", meaning="length of the run"),
    Field(name="bends", holds=COUNT, default=0.0, low=0.0, high=100.0, example="2", meaning="number of quarter turns"),
    Field(name="bend_radius", holds=LENGTH, within=ranges.BEND, default=0.1, example="8 cm",
          meaning="radius of the turns; left out: 10 cm"),
    Field(name="coil", holds=LENGTH, within=ranges.RUN, example="30 cm",
          meaning="diameter of the coil the run is laid in; left out: not coiled"),
    _FILM,
)  # fmt: skip
_FITTING_PLACE: tuple[Field, ...] = (
    *_HELD,
    Field(name="turned", holds=Value.YES_NO, default=False, example="true",
          meaning="the part of the catalog stands the other way round: the water enters at its outlet"),
    Field(name="installed", holds=Value.YES_NO, default=True, example="false",
          meaning="false: nothing is there yet, but such a part may be added"),
    _FILM,
)  # fmt: skip
_OUTLET_PLACE: tuple[Field, ...] = (
    *_HELD,
    *HEIGHTS,
    Field(name="adjust", holds=Value.LIST, example='adjust = [ {name = "sink the bar", below_water = "2 cm"} ]',
          meaning="what may be done to it; left out above the water line: sink it, for nothing"),
)  # fmt: skip
_CANISTER_PLACE: tuple[Field, ...] = (
    NAME,
    *_STAYS,
    Field(name="trays", holds=Value.LIST, required=True, example='trays = [ {medium = "FOAM-20"}, {empty = true} ]',
          meaning="what each tray holds, in the order of the water"),
    _DEPTH,
)  # fmt: skip

_KINDS: tuple[PartKind, ...] = (
    PartKind(kind=Kind.PUMP, makes=parts.Pump, fields=PUMP, works_out=checks.pump, place=_PUMP_PLACE, along=5, files={
        "pumps.csv": ("", "The one file that must be there. Give max_head_m and max_flow_l_h, or curve_points.")}),
    PartKind(kind=Kind.GUARD, makes=parts.Guard, fields=GUARD, works_out=checks.guard, place=_GUARD_PLACE, along=1, files={
        "guards.csv": ("", "")}),
    PartKind(kind=Kind.HOSE, makes=parts.Hose, fields=HOSE, works_out=checks.hose, place=_HOSE_PLACE, along=2, files={
        "hoses.csv": ("", "Give price_per_m, or price and coil_m.")}),
    PartKind(kind=Kind.FITTING, makes=parts.Fitting, fields=FITTING, works_out=checks.fitting, place=_FITTING_PLACE, along=3,
             files={
        "adapters.csv": ("adapter", ""),
        "couplings.csv": ("", ""),
        "tails.csv": ("tail", "Tails and sets of port and tail; a set of two is one row with pack 2.")}),
    PartKind(kind=Kind.MEDIUM, makes=parts.Medium, fields=MEDIUM, works_out=checks.medium, files={"media.csv": ("", "")}),
    PartKind(kind=Kind.OUTLET, makes=parts.Outlet, fields=OUTLET, works_out=checks.outlet, place=_OUTLET_PLACE, along=7, files={
        "outlets.csv": ("", "")}),
    PartKind(kind=Kind.CLAMP, makes=parts.Clamp, fields=CLAMP, works_out=checks.clamp, files={"clamps.csv": ("", "")}),
    PartKind(kind=Kind.SEAL, makes=parts.Seal, fields=SEAL, works_out=checks.seal, files={"seals.csv": ("", "")}),
    PartKind(kind=Kind.DEVICE, makes=parts.Device, fields=DEVICE, works_out=checks.device, place=_HELD, along=6, files={
        "devices.csv": ("", "Give the loss once: kv_m3_h, or k, or point_l_h and point_m.")}),
    PartKind(kind=Kind.TEE, makes=parts.TeePiece, fields=TEE, works_out=checks.tee, files={
        "tees.csv": ("", "Tees and wyes: inlet and outlet are the straight ends, side is the end of the branch.")}),
    PartKind(kind=Kind.CANISTER, makes=parts.Canister, fields=CANISTER, place=_CANISTER_PLACE, along=4),
)  # fmt: skip

PART_KINDS: Mapping[str, PartKind] = MappingProxyType({each.kind: each for each in _KINDS})
"""Every kind of part by its name, in the order in which the files of a catalog are read."""

FILES: Mapping[str, tuple[PartKind, str, str]] = MappingProxyType(
    {file: (each, role, note) for each in _KINDS for file, (role, note) in each.files.items()}
)
"""Catalog file: the kind of its parts, the role of fittings (empty: a column of the file) and a note on its columns."""

FILE_OF_KIND: Mapping[str, str] = MappingProxyType(
    {
        **{each.kind: next(iter(each.files)) for each in _KINDS if each.files and each.kind != Kind.FITTING},
        **dict.fromkeys(FITTING_ROLES, "couplings.csv"),
        **{role: file for file, (_, role, _) in FILES.items() if role},
    }
)
"""The catalog file to look into for a kind of part, or for the role of a fitting."""

PLACE: Mapping[str, tuple[Field, ...]] = MappingProxyType(
    {each.kind: each.place for each in sorted(_KINDS, key=lambda each: each.along) if each.along}
)
"""Keys of a place in the loop by the kind of part it holds, beside those of the part itself."""


def build_part(kind: str, label: Label, draft: Draft) -> Part | None:
    """Return the part of this kind (a name of `Kind`), or None once what is wrong is taken in by the draft.

    Required fields must be there or known to be bad (`draft.bad`).

    >>> from optimizer.errors import Problems
    >>> draft = Draft(values={"low": 0.02, "high": 0.024}, fields={}, place=str, problems=Problems())
    >>> build_part("clamp", Label(id="C", name="clamp"), draft)
    Clamp(id='C', name='clamp', low_m=0.02, high_m=0.024, throttles=False)
    """
    entry = PART_KINDS[kind]
    sound = draft.read_ends(*(each.name for each in entry.fields if each.holds is Value.END))
    worked_out = entry.works_out(draft)
    if draft.failed or not sound:
        return None
    role = {"role": label.role} if kind == Kind.FITTING else {}
    return draft.made(entry.makes, id=label.id, name=label.name, **role, **draft.ends, **worked_out)


def by_column(file: str) -> dict[str, Field]:
    """Return the fields of one catalog file by the name of their column, in the order of the reference.

    Raises KeyError for a file that is not a catalog file.

    >>> list(by_column("clamps.csv"))
    ['id', 'name', 'price', 'pack', 'stock', 'low_mm', 'high_mm', 'throttles']
    """
    if file == KITS:
        sold, own = [each for each in SOLD if each.name != "pack"], KIT
    else:
        entry, role, _ = FILES[file]
        sold, own = list(SOLD), (ROLE, *entry.fields) if entry.kind == Kind.FITTING and not role else entry.fields
    return {each.column: each for each in (*sold, *own) if each.in_csv}
