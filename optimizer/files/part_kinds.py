"""Every kind of part as one entry: its files in a catalog, its columns and keys, the keys of its place in a loop, and what is
made of them. Readers, reference and messages come from here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from optimizer.files import part_checks as checks
from optimizer.files import ranges
from optimizer.files.draft import Draft, Made
from optimizer.files.field import Field, Value
from optimizer.model import parts
from optimizer.model.parts import FITTING_ROLES, Kind, Part
from optimizer.model.usual_figures import rule_of
from optimizer.physics.hose import ROUGHNESS
from optimizer.unit_table import ANGLE, AREA, COUNT, FLOW, FREQUENCY, HEAD, LENGTH, NOISE, PORES, POWER, SHARE, VOLUME

__all__ = [
    "FILES", "FILE_OF_KIND", "HEIGHTS", "KITS", "NAME", "OFFERS", "OTHER_FILES", "PART", "PART_KINDS", "PLACE", "SUPPLIERS",
    "by_column",
]  # fmt: skip

KITS = "kits.csv"
SUPPLIERS, OFFERS = "suppliers.csv", "offers.csv"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartEntry:
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
    needed: tuple[str, ...] = ()
    """Fields that must have a value once the rules on what is usual (`optimizer.model.usual_figures`) have been asked."""

    @property
    def keys(self) -> tuple[Field, ...]:
        """Those of its fields that a rig file may have."""
        return tuple(each for each in self.fields if each.in_rig)


NAME = Field("name", Value.TEXT, "the part in words", "hose tail 16 mm")
PART = Field("part", Value.ID, "id of a part of the catalog, in place of the part's own keys", "TAIL-16-G34")  # fmt: skip

_STAYS: tuple[Field, ...] = (
    Field("stays", Value.YES_NO, "must not be swapped; of a canister: its media stay too, at most cleaned",
          "true", default=False),
    Field("may_go", Value.YES_NO, "may be left out of the loop", "true", default=False),
)  # fmt: skip
_HELD = (NAME, PART, *_STAYS)

_SEALED = ("G", "R", "Rc", "Rp", "NPT", "GHT", "slip mm", "slip in")

SOLD: tuple[Field, ...] = (
    Field("id", Value.ID, "name of the part in rig files, kits and bills; one word, no two alike in the whole catalog",
          "TAIL-16-G34", required=True, in_rig=False),
    Field("name", Value.TEXT, "the part in words", "hose tail 16 mm, G 3/4", required=True),
    Field("price", Value.MONEY, "price of one product; blank for a part that only a kit contains", "4.50", in_rig=False),
    Field("pack", COUNT, "pieces for one price", "2", default=1.0, low=1.0, high=ranges.MOST_PIECES, in_rig=False),
    Field("stock", COUNT,
          "products on the shelf; of hose sold by the metre the metres on the roll, of which each cut takes its whole "
          "steps; blank: as many as wanted",
          "5", low=0.0, high=1e6, in_rig=False),
    Field("supplier", Value.ID, "who sells it, an id of suppliers.csv; blank: the shop itself, at no postage",
          "north", in_rig=False),
    Field("cost", Value.MONEY,
          "what the shop pays for what price buys; blank: not known. Only the plan and the sheets of fullbore kits show it",
          "2.10", in_rig=False),
    Field("source", Value.TEXT, "sheet that the row was brought in from, with fullbore stock import; blank: written by hand",
          "price_list", in_rig=False),
)  # fmt: skip

SUPPLIER: tuple[Field, ...] = (
    Field("id", Value.ID, "name of the supplier in other files; one word", "north", required=True),
    Field("name", Value.TEXT, "the supplier in words", "North Aquatics", required=True),
    Field("postage", Value.MONEY, "due once if anything is ordered there", "5.90", default=0),
    Field("free_from", Value.MONEY, "sum of goods from which postage is not due; blank: always due", "50"),
    Field("least_order", Value.MONEY, "goods for less are not sent", "10", default=0),
)  # fmt: skip

OFFER: tuple[Field, ...] = (
    Field("product", Value.ID, "id of a product with a price in another file", "PUMP-1000", required=True),
    Field("supplier", Value.ID, "who else sells it, an id of suppliers.csv", "north", required=True),
    Field("price", Value.MONEY, "price there; of hose cut to length that of one metre", "57.50", required=True),
    Field("stock", COUNT, "as many are there; blank: as many as wanted", "3", low=0.0, high=1e6),
)  # fmt: skip


def _end(side: str, example: str) -> tuple[Field, Field]:
    return (
        Field(side, Value.END, f"the {side} end: standard, size and gender", example, required=True),
        Field(f"{side}_bore", LENGTH,
              f"open inside diameter of the {side}",
              "12 mm", within=ranges.BORE, csv_unit="mm"),
    )  # fmt: skip


INLET = _end("inlet", "tail 16 mm")
OUTLET_END = _end("outlet", "G 3/4 in male")

GUARD: tuple[Field, ...] = (
    Field("form", Value.CHOICE, "what the water goes through", "slots", choices=parts.GUARD_FORMS, required=True),
    Field("face_area", AREA, "whole face of the guard, bars included",
          "60 cm2", within=ranges.FACE, csv_unit="cm2", required=True),
    Field("open", SHARE, "share of the face that is open", "40 %", within=ranges.SHARE_OF_ALL, csv_unit="%", required=True),
    Field("opening", LENGTH, "widest gap an animal could enter; for a sponge its pore",
          "1.5 mm", within=ranges.GAP, csv_unit="mm", required=True),
    Field("pores", PORES, "pores per inch (sponge only)", "20 ppi", csv_unit="ppi", within=ranges.PORE_COUNT),
    Field("thickness", LENGTH, "wall of the sponge (sponge only)", "20 mm", within=ranges.BED_HEIGHT, csv_unit="mm"),
    *OUTLET_END,
)  # fmt: skip

HOSE: tuple[Field, ...] = (
    Field("size", Value.BORES, "inside and outside diameter together, in place of inside and outside",
          "16/22 mm", within=ranges.BORE, in_csv=False),
    Field("inside", LENGTH, "inside diameter", "16 mm", within=ranges.BORE, csv_unit="mm", required=True),
    Field("outside", LENGTH, "outside diameter, which clamps go round",
          "22 mm", within=ranges.BORE, csv_unit="mm"),
    Field("material", Value.CHOICE, "what the wall is made of; sets its roughness",
          "pvc hose", choices=tuple(ROUGHNESS), default="pvc hose"),
    Field("ribbed", Value.YES_NO, "ribbed (corrugated) inside", "no", default=False),
    Field("price_per_m", Value.MONEY, "price of one metre, for hose cut to length; in place of price and coil",
          "3.20", in_rig=False),
    Field("step", LENGTH, "cut lengths are charged in whole steps of this; blank: 10 cm",
          "10 cm", within=ranges.STEP, csv_unit="cm", in_rig=False),
    Field("coil", LENGTH, "length of the coil that price buys", "3 m", within=ranges.RUN, csv_unit="m", in_rig=False),
)  # fmt: skip

FITTING: tuple[Field, ...] = (
    Field("shape", Value.CHOICE, "how the water runs through it", "straight", choices=parts.FITTING_SHAPES, default="straight"),
    *INLET,
    *OUTLET_END,
    Field("passage", LENGTH, "narrowest bore inside; blank: the smaller of the two bores",
          "11 mm", within=ranges.BORE, csv_unit="mm"),
    Field("throttles", Value.YES_NO, "may be set part-way on purpose", "no", default=False),
)  # fmt: skip
_ROLES = ("coupling", "valve", "elbow")
ROLE = Field("role", Value.CHOICE, "what it does in the loop", "coupling", choices=_ROLES, required=True)

PUMP: tuple[Field, ...] = (
    Field("max_head", HEAD, "label: head at no flow", "2.2 m", within=ranges.HEAD_HEIGHT, csv_unit="m"),
    Field("max_flow", FLOW, "label: flow at no head", "2000 l/h", within=ranges.FLOW_RATE, csv_unit="l/h"),
    Field("curve_shape", Value.NUMBER, "n of the label curve H = H0 (1 - (Q/Qmax)^n), from 1 (straight) to 4; blank: 2",
          "2", low=1.0, high=4.0),
    Field("curve", Value.CURVE,
          "measured points (flow in l/h : head in m in a catalog), in place of the label's figures",
          "0:2.2; 500:2.05; 1000:1.5; 2000:0", csv_column="curve_points",
          rig_example='["0 l/h: 2.2 m", "1000 l/h: 1.5 m", "2000 l/h: 0 m"]'),
    Field("power", POWER, "power it draws", "20 W", within=ranges.WATTS, csv_unit="W", required=True),
    Field("noise", NOISE, "sound level at 1 m", "34 dB(A)", csv_unit="dB(A)", required=True, low=0.0, high=120.0),
    Field("length", LENGTH, "longer side that it stands on; with width and height for those with little room",
          "200 mm", within=ranges.BED_HEIGHT, csv_unit="mm"),
    Field("width", LENGTH, "shorter side that it stands on", "120 mm", within=ranges.BED_HEIGHT, csv_unit="mm"),
    Field("height", LENGTH, "height as it stands", "250 mm", within=ranges.BED_HEIGHT, csv_unit="mm"),
    Field("plug", Value.TEXT, "plug on its cord", "type F"),
    Field("label_hz", FREQUENCY, "mains frequency of these figures, 50 or 60; blank for a pump that does not follow the mains",
          "50 Hz", csv_unit="Hz", csv_column="label_hz"),
    *INLET,
    *OUTLET_END,
)  # fmt: skip

MEDIUM: tuple[Field, ...] = (
    Field("form", Value.CHOICE, "what the bed is made of", "foam", choices=parts.MEDIUM_FORMS, required=True),
    Field("volume", VOLUME, "litres of medium that price buys", "2 l", within=ranges.MEDIUM_VOLUME, csv_unit="l", in_rig=False),
    Field("pores", PORES, "pores per inch (foam)", "20 ppi", csv_unit="ppi", positive=True, low=5.0, high=200.0),
    Field("grain", LENGTH, "diameter of a ball or grain (granules)", "6 mm", within=ranges.GRAIN, csv_unit="mm"),
    Field("void", SHARE, "share of the bed that is not solid (granules, rings)",
          "45 %", csv_unit="%", within=ranges.SHARE_OF_ALL, under_one=True),
    Field("surface", Value.SPECIFIC_AREA, "outer surface of the rings per volume of bed, which the water rubs along (rings)",
          "400 m2/m3", csv_unit="m2/m3", within=ranges.RUBBED),
    Field("fibre", LENGTH, "diameter of a fibre (fibre)", "30 um", within=ranges.FIBRE, csv_unit="um"),
    Field("solid", SHARE, "share of the mat that is solid (fibre)",
          "2 %", csv_unit="%", within=ranges.SHARE_OF_ALL, under_one=True),
    Field("area", Value.SPECIFIC_AREA, "surface that bacteria can use, per volume of bed",
          "900 m2/m3", csv_unit="m2/m3", low=0.0, high=1e6),
    Field("mechanical", Value.YES_NO, "catches solids", "yes", default=False),
    Field("biological", Value.YES_NO, "houses bacteria", "no", default=False),
)  # fmt: skip

OUTLET: tuple[Field, ...] = (
    Field("form", Value.CHOICE, "how the water leaves", "bar", choices=parts.OUTLET_FORMS, required=True),
    *INLET,
    Field("holes", COUNT, "number of holes; 1 unless it is a bar", "16", low=1.0, high=ranges.MOST_PIECES),
    Field("hole", LENGTH, "diameter of the holes, the nozzle or the mouth",
          "3.5 mm", within=ranges.HOLE, csv_unit="mm", required=True),
    Field("discharge", Value.NUMBER, "discharge coefficient of a hole or nozzle; blank: 0.62, and 1 for an open end",
          "0.62", within=ranges.DISCHARGE),
    Field("bar_bore", LENGTH, "inside diameter of the bar (bar only)", "13 mm", within=ranges.BORE, csv_unit="mm"),
    Field("pitch", LENGTH, "distance from hole to hole (bar only)", "20 mm", within=ranges.PITCH, csv_unit="mm"),
)  # fmt: skip

DEVICE: tuple[Field, ...] = (
    Field("purpose", Value.CHOICE, "what it is there for; only a device with the same purpose may replace it, blank: none may",
          "heater", choices=parts.DEVICE_PURPOSES, default=""),
    *INLET,
    *OUTLET_END,
    Field("kv", FLOW, "loss as Kv: the flow that loses 1 bar", "6 m3/h", within=ranges.KV, csv_unit="m3/h"),
    Field("k", Value.NUMBER, "loss as a coefficient on the bore of the inlet", "2.5", low=0.0, high=1e4),
    Field("point_flow", FLOW, "loss as one measured point: its flow",
          "800 l/h", within=ranges.FLOW_RATE, csv_unit="l/h", csv_column="point_l_h", in_rig=False),
    Field("point_head", HEAD, "loss as one measured point: the head lost there",
          "0.2 m", csv_unit="m", csv_column="point_m", low=0.0, in_rig=False, high=ranges.HIGHEST_HEAD_M),
    Field("loss", Value.POINT, "loss as one measured point: flow and the head lost there", "800 l/h: 0.2 m", in_csv=False),
    Field("flow_min", FLOW, "least flow its maker allows; blank: none",
          "300 l/h", csv_unit="l/h", default=0.0, low=0.0, high=ranges.LARGEST_FLOW_M3S),
    Field("flow_max", FLOW, "greatest flow its maker allows; blank: none", "800 l/h", within=ranges.FLOW_RATE, csv_unit="l/h"),
    Field("window", Value.WINDOW, "least and greatest flow together", "300-800 l/h", in_csv=False),
)  # fmt: skip

VALVE: tuple[Field, ...] = (
    Field("form", Value.CHOICE, "what shuts it: a hinged flap, or a poppet on a spring", "flap",
          choices=parts.VALVE_FORMS, required=True),
    *INLET,
    *OUTLET_END,
    Field("passage", LENGTH, "bore of the seat; blank: the smaller of the two bores",
          "13 mm", within=ranges.BORE, csv_unit="mm"),
    Field("crack", HEAD, "cracking head: what it takes to open it", "2 cm", csv_unit="cm", low=0.0, high=ranges.HIGHEST_HEAD_M,
          required=True),
    Field("upright", Value.YES_NO, "closes by its weight: only where the water rises through it", "no", default=False),
)  # fmt: skip

CANISTER: tuple[Field, ...] = (
    *INLET,
    *OUTLET_END,
    Field("tray_area", AREA, "area of one tray that the water crosses",
          "300 cm2", within=ranges.TRAY_FACE, required=True, in_csv=False),
    Field("tray_height", LENGTH, "height of the medium in one tray",
          "5 cm", within=ranges.BED_HEIGHT, required=True, in_csv=False),
    Field("rating", HEAD, "greatest pressure the body is made for, as head; left out: not stated",
          "3 m", within=ranges.HEAD_HEIGHT, in_csv=False),
)  # fmt: skip

TEE: tuple[Field, ...] = (
    *INLET,
    *OUTLET_END,
    *_end("side", "tail 16 mm"),
    Field("passage", LENGTH, "narrowest bore inside, straight through; blank: the smaller bore of inlet and outlet",
          "12 mm", within=ranges.BORE, csv_unit="mm"),
    Field("side_passage", LENGTH, "narrowest bore inside, into the side; blank: that of the side, at most the passage",
          "11 mm", within=ranges.BORE, csv_unit="mm"),
    Field("angle", ANGLE, "between the side and the straight run; blank: 90 deg, a tee; less is a wye",
          "45 deg", csv_unit="deg", default=90.0, low=30.0, high=90.0),
)  # fmt: skip

CLAMP: tuple[Field, ...] = (
    Field("low", LENGTH, "smallest hose outside diameter it closes on",
          "20 mm", within=ranges.ACROSS, csv_unit="mm", required=True),
    Field("high", LENGTH, "largest hose outside diameter it closes on",
          "24 mm", within=ranges.ACROSS, csv_unit="mm", required=True),
    Field("throttles", Value.YES_NO, "yes for a screw clamp that pinches a hose to throttle it, instead of closing a joint",
          "no", default=False),
)  # fmt: skip

SEAL: tuple[Field, ...] = (
    Field("closure", Value.CHOICE, "what it is; pack is the number of joints it does",
          "washer", choices=("washer", "tape", "cement"), required=True),
    Field("standard", Value.CHOICE, "thread or pipe it is for, of either side (tape for R closes R in Rc or Rp); blank: any",
          "G", choices=_SEALED, default=""),
    Field("size", Value.INCH, "thread size it is for, in inches; blank: any", "3/4 in", csv_unit="in", positive=True, high=0.2),
)  # fmt: skip

TOOL: tuple[Field, ...] = (
    Field("makes_possible", Value.WORDS, "what can be done with it, whatever number of places (several words with semicolons): "
          "to clean a hose that has a film, to drill holes of an outlet anew",
          "clean_hose", choices=parts.JOBS, required=True),
)  # fmt: skip

KIT: tuple[Field, ...] = (
    Field("contents", Value.CONTENTS, "part ids with the number of pieces (x2), metres of hose in one piece or litres of medium",
          "TAIL-19 x2; HOSE-19-27 4 m; CLAMP-25 x8; FOAM-20 2 l", required=True, in_rig=False),
)  # fmt: skip

_FILM = Field("film", LENGTH, "thickness of the film on the wall", "0.5 mm", default=0.0, low=0.0, high=0.05)  # fmt: skip
_DEPTH = Field("depth", LENGTH, "how far it stands below the water line; left out: 0", "0.9 m", low=0.0, high=20.0)  # fmt: skip
HEIGHTS: tuple[Field, ...] = (
    Field("above_water", LENGTH, "mouth of the outlet above the water line", "3 cm", low=0.0, high=ranges.HIGHEST_HEAD_M),
    Field("below_water", LENGTH, "mouth of the outlet below the water line", "2 cm", low=0.0, high=20.0),
)  # fmt: skip

_PUMP_PLACE: tuple[Field, ...] = (
    *_HELD,
    _DEPTH,
    Field("fouled", SHARE, "speed lost to dirt, which a clean gives back", "5 %", default=0.0, under_one=True),
    Field("worn", SHARE, "speed lost to wear, which a clean does not give back", "10 %", default=0.0, under_one=True),
)  # fmt: skip
_GUARD_PLACE: tuple[Field, ...] = (
    *_HELD,
    Field("blocked", SHARE, "share of the openings that is shut, of a sponge's pores that is full of dirt", "40 %",
          default=0.0, under_one=True),
    Field("cake", LENGTH, "thickness of the cake of dirt on a sponge; left out: what usually comes with the share blocked",
          "2 mm", low=ranges.CAKE[0], high=ranges.CAKE[1]),
    Field("depth", LENGTH,
          "how far its lowest opening hangs below the water line; a loose joint drains the tank no further on this side",
          "20 cm", low=0.0, high=20.0),
)  # fmt: skip
_HOSE_PLACE: tuple[Field, ...] = (
    *_HELD,
    Field("length", LENGTH, "length of the run", "1.8 m", within=ranges.RUN, required=True),
    Field("bends", COUNT, "number of quarter turns", "2", default=0.0, low=0.0, high=100.0),
    Field("bend_radius", LENGTH, "radius of the turns; left out: 10 cm", "8 cm", within=ranges.BEND, default=0.1),
    Field("coil", LENGTH, "diameter of the coil the run is laid in; left out: not coiled", "30 cm", within=ranges.RUN),
    _FILM,
)  # fmt: skip
_FITTING_PLACE: tuple[Field, ...] = (
    *_HELD,
    Field("turned", Value.YES_NO, "the part of the catalog stands the other way round: the water enters at its outlet",
          "true", default=False),
    Field("installed", Value.YES_NO, "false: nothing is there yet, but such a part may be added", "false", default=True),
    _FILM,
)  # fmt: skip
_OUTLET_PLACE: tuple[Field, ...] = (
    *_HELD,
    *HEIGHTS,
    Field("air_break", LENGTH,
          "how far the air-break hole is below the water line: where it lets in air, a loose joint drains the tank no further; "
          "left out: there is none",
          "1 cm", low=0.0, high=20.0),
    Field("adjust", Value.LIST, "what may be done to it; left out above the water line: sink it, for nothing",
          'adjust = [ {name = "sink the bar", below_water = "2 cm"} ]'),
)  # fmt: skip
_CANISTER_PLACE: tuple[Field, ...] = (
    NAME,
    *_STAYS,
    Field("trays", Value.LIST, "what each tray holds, in the order of the water",
          'trays = [ {medium = "FOAM-20"}, {empty = true} ]', required=True),
    _DEPTH,
)  # fmt: skip

_STATED: tuple[PartEntry, ...] = (
    PartEntry(kind=Kind.PUMP, makes=parts.Pump, fields=PUMP, works_out=checks.pump, place=_PUMP_PLACE, along=5, files={
        "pumps.csv": ("", "The one file that must be there. Give max_head_m and max_flow_l_h, or curve_points.")}),
    PartEntry(kind=Kind.GUARD, makes=parts.Guard, fields=GUARD, works_out=checks.guard, place=_GUARD_PLACE, along=1, files={
        "guards.csv": ("", "")}),
    PartEntry(kind=Kind.HOSE, makes=parts.Hose, fields=HOSE, works_out=checks.hose, place=_HOSE_PLACE, along=2, files={
        "hoses.csv": ("", "Give price_per_m, or price and coil_m.")}),
    PartEntry(kind=Kind.FITTING, makes=parts.Fitting, fields=FITTING, works_out=checks.fitting, place=_FITTING_PLACE, along=3,
             files={
        "adapters.csv": ("adapter", ""),
        "couplings.csv": ("", ""),
        "tails.csv": ("tail", "Tails and sets of port and tail; a set of two is one row with pack 2.")}),
    PartEntry(kind=Kind.MEDIUM, makes=parts.Medium, fields=MEDIUM, works_out=checks.medium, files={"media.csv": ("", "")}),
    PartEntry(kind=Kind.OUTLET, makes=parts.Outlet, fields=OUTLET, works_out=checks.outlet, place=_OUTLET_PLACE, along=7, files={
        "outlets.csv": ("", "")}),
    PartEntry(kind=Kind.CLAMP, makes=parts.Clamp, fields=CLAMP, works_out=checks.clamp, files={"clamps.csv": ("", "")}),
    PartEntry(kind=Kind.SEAL, makes=parts.Seal, fields=SEAL, works_out=checks.seal, files={"seals.csv": ("", "")}),
    PartEntry(kind=Kind.DEVICE, makes=parts.Device, fields=DEVICE, works_out=checks.device, place=_HELD, along=6, files={
        "devices.csv": ("", "Give the loss once: kv_m3_h, or k, or point_l_h and point_m.")}),
    PartEntry(kind=Kind.VALVE, makes=parts.NonReturnValve, fields=VALVE, works_out=checks.fitting, place=_HELD, along=6, files={
        "valves.csv": ("", "Non-return valves: the water enters at the inlet and does not come back.")}),
    PartEntry(kind=Kind.TEE, makes=parts.TeePiece, fields=TEE, works_out=checks.tee, files={
        "tees.csv": ("", "Tees and wyes: inlet and outlet are the straight ends, side is the end of the branch.")}),
    PartEntry(kind=Kind.TOOL, makes=parts.Tool, fields=TOOL, files={
        "tools.csv": ("", "Tools. Where one is listed, what it makes possible needs it: owned ([owned] tools), or bought once. "
                      "Without this file nothing needs a tool.")}),
    PartEntry(kind=Kind.CANISTER, makes=parts.Canister, fields=CANISTER, place=_CANISTER_PLACE, along=4),
)  # fmt: skip


def _with_rules(entry: PartEntry) -> PartEntry:
    """The entry with what is taken for the fields that may be left out by a rule."""
    ruled = {each.name: rule for each in entry.fields if (rule := rule_of(entry.kind, each.name)) is not None}
    needed = tuple(name for name in ruled if next(each for each in entry.fields if each.name == name).required)
    fields = (replace(each, required=False, usual=ruled[each.name].says) if each.name in ruled else each for each in entry.fields)
    return replace(entry, fields=tuple(fields), needed=needed)


_KINDS = tuple(_with_rules(each) for each in _STATED)

PART_KINDS: Mapping[str, PartEntry] = MappingProxyType({each.kind: each for each in _KINDS})
"""Every kind of part by its name, in the order in which the files of a catalog are read."""

_SIDES = {each.kind: tuple(one.name for one in each.fields if one.holds is Value.END) for each in _KINDS}
"""The ends of each kind."""

FILES: Mapping[str, tuple[PartEntry, str, str]] = MappingProxyType(
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

OTHER_FILES: Mapping[str, str] = MappingProxyType(
    {
        KITS: "Several parts for one price.",
        SUPPLIERS: "Who sells what is in the other files, where postage or a least order counts. Currency is one for all.",
        OFFERS: "Products that more than one supplier sells: a row for each other offer. The row of the product is an offer too.",
    }
)
"""Catalog files of no kind of part, with a note on their columns."""

PLACE: Mapping[str, tuple[Field, ...]] = MappingProxyType(
    {each.kind: each.place for each in sorted(_KINDS, key=lambda each: each.along) if each.along}
)
"""Keys of a place in the loop by the kind of part it holds, beside those of the part itself."""


def build_part(kind: str, draft: Draft, part_id: str, name: str, role: str) -> Part | None:
    """Return the part of this kind (a name of `Kind`), or None once what is wrong is taken in by the draft.

    Required fields must be there or known to be bad (`draft.bad`); only a fitting has a role.

    >>> from optimizer.errors import Problems
    >>> draft = Draft(values={"low": 0.02, "high": 0.024}, fields={}, place=str, problems=Problems())
    >>> build_part("clamp", draft, "C", "clamp", "")
    Clamp(id='C', name='clamp', low_m=0.02, high_m=0.024, throttles=False)
    """
    entry = PART_KINDS[kind]
    sound = draft.read_ends(kind, _SIDES[kind])
    draft.assume(kind)
    for needed in entry.needed:
        draft.need(needed)
    worked_out = entry.works_out(draft)
    if draft.failed or not sound:
        return None
    more: Made = {"role": role} if kind == Kind.FITTING else {}
    if draft.assumed:
        more["assumed"] = tuple(draft.assumed)
    return draft.made(entry.makes, id=part_id, name=name, **more, **draft.ends, **worked_out)


def by_column(file: str) -> dict[str, Field]:
    """Return the fields of one catalog file by the name of their column, in the order of the reference.

    Raises KeyError for a file that is not a catalog file.

    >>> list(by_column("clamps.csv"))
    ['id', 'name', 'price', 'pack', 'stock', 'supplier', 'cost', 'source', 'low_mm', 'high_mm', 'throttles']
    """
    if file in (SUPPLIERS, OFFERS):
        sold, own = [], SUPPLIER if file == SUPPLIERS else OFFER
    elif file == KITS:
        sold, own = [each for each in SOLD if each.name != "pack"], KIT
    else:
        entry, role, _ = FILES[file]
        sold, own = list(SOLD), (ROLE, *entry.fields) if entry.kind == Kind.FITTING and not role else entry.fields
    return {each.column: each for each in (*sold, *own) if each.in_csv}
