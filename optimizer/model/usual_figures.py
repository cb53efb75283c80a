"""Figures of parts that nobody prints: what is taken for each kind, how far off it may be, and what of the loop it is felt in.

One table of rules. A reader that finds a figure missing takes the rule's and notes the key in ``assumed`` of the part; whatever
is written there replaces it. Bands draw what hangs on an assumed figure more widely (`unknown_of`), and answers name it.
All shares and sizes are common practice, no published source, where a rule does not name one.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any

import numpy as np

from optimizer.model import unknowns
from optimizer.model.ends import End, Standard
from optimizer.model.parts import Kind, Part, kind_of
from optimizer.model.said import Quantity, Said, length, millimetres
from optimizer.model.standard_ends import PRACTICE, hose_outside_m, usual_bore
from optimizer.physics.media import SURFACES, grain_surface_m2m3

__all__ = [
    "BORES",
    "RULES",
    "Rule",
    "assumed_figures",
    "bores_assumed",
    "foam_surface_m2m3",
    "pump_class",
    "rule_of",
    "rules_of",
    "unknown_of",
]

Known = Mapping[str, Any]
"""What is known of a part: its figures in SI by their keys in a rig file, its ends with their bores."""

GUARDS: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {
        "slots": (0.40, 3e-3, 12.0),
        "holes": (0.35, 4e-3, 12.0),
        "mesh": (0.40, 0.8e-3, 12.0),
        "sponge": (0.90, 1.2e-3, 40.0),
    }
)
"""By form of the guard: open share, gap in m, and face over the square of the hose's inside."""

SPONGE_PPI, SPONGE_WALL_M = 20.0, 0.020

PUMP_CLASSES: tuple[tuple[float, float, float, float, float], ...] = (
    (500.0, 1.0, 6.0, 9.0, 30.0),
    (800.0, 1.3, 9.0, 12.0, 33.0),
    (1500.0, 1.8, 17.0, 16.0, 35.0),
    (2700.0, 2.3, 30.0, 16.0, 38.0),
    (math.inf, 3.0, 45.0, 25.0, 44.0),
)
"""Classes of canisters: label flow in l/h below which they end, greatest head in m, power in W, inside of the hose in mm, sound
level in dB(A) at 1 m."""

TAIL_SHARE, NOZZLE_SHARE = 0.75, 0.6
"""Bore of a tail, and mouth of a nozzle, over the inside of the hose."""

BAR_HOLES, BAR_HOLE_M, BAR_PITCH_M = 16, 3e-3, 0.025
DEVICE_K = 2.5
CRACKS_M: Mapping[str, float] = MappingProxyType({"flap": 0.01, "poppet": 0.05})
RING_SURFACE_M2M3, RING_VOID = 370.0, 0.64
"""Ceramic rings of 15 mm: outer surface alone (handbook range, from memory)."""
BALL_M, GRAIN_VOID = 8e-3, 0.45
FIBRE_M, FLOSS_SOLID = 30e-6, 0.06
PACK_M3 = 1e-3
CLAMP_RATIO = 1.25
"""Largest over smallest diameter that a clamp is taken to close on. Worm-drive ones reach 1.6 (16 to 25, 20 to 32, 25 to 40 mm:
DIN 3017, from memory), spring clips less: the joint must hold, so it is taken narrow."""

BORES = ("inlet_bore", "outlet_bore", "side_bore")

_FOAMS = {float(name.split()[1]): (prior.low_m2m3 + prior.high_m2m3) / 2.0 for name, prior in SURFACES.items() if "foam" in name}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What is taken for one figure of a ``kind`` of part, by its key in a rig file, where nothing is written.

    ``value`` makes it (SI) of what else is known, None where that is not enough; ``says`` is the same in words. Four in five
    such parts have between ``low`` and ``high`` times as much. ``forms``: only these need it (empty: all). ``felt_in`` are the
    names of unknowns that an assumed figure makes wider. ``attribute`` and ``unit`` tell where the part keeps it.
    """

    kind: str
    name: str
    says: str
    value: Callable[[Known], float | None]
    low: float
    high: float
    word: str
    attribute: str = ""
    unit: str = "mm"
    forms: tuple[str, ...] = ()
    felt_in: tuple[str, ...] = ()
    source: str = PRACTICE


def pump_class(flow_m3s: float) -> tuple[float, float, float, float, float]:
    """The class of a canister by the flow of its label in m3/s: a line of `PUMP_CLASSES`.

    >>> pump_class(1000e-3 / 3600)[1:3]
    (1.8, 17.0)
    """
    return next((line for line in PUMP_CLASSES if flow_m3s * 3.6e6 < line[0]), PUMP_CLASSES[-1])


def foam_surface_m2m3(pores_ppi: float) -> float:
    """Surface for bacteria of foam: the middle of `optimizer.physics.media.SURFACES`, in a straight line between its pores."""
    return float(np.interp(pores_ppi, list(_FOAMS), list(_FOAMS.values())))


def _hose_m(known: Known) -> float | None:
    """Inside of the hose that a part is made for: that of its first tail, else what its widest bore is the usual share of."""
    ends = [end for side in ("inlet", "outlet", "side") if isinstance(end := known.get(side), End)]
    tails = [end.size_m for end in ends if end.standard is Standard.HOSE]
    if tails:
        return tails[0]
    return max((end.bore_m for end in ends), default=0.0) / TAIL_SHARE or None


def _of_guard(column: int, wide: float = 1.0) -> Callable[[Known], float | None]:
    return lambda known: GUARDS[known["form"]][column] * wide if known.get("form") in GUARDS else None


def _face_m2(known: Known) -> float | None:
    hose, form = _hose_m(known), str(known.get("form"))
    return None if hose is None or form not in GUARDS else GUARDS[form][2] * hose**2


def _opening_m(known: Known) -> float | None:
    pores = known.get("pores")
    return 0.0254 / pores if known.get("form") == "sponge" and pores else _of_guard(1, WIDE_GAP)(known)


WIDE_GAP = 1.5
"""An opening is taken as wide as they come: the limit that keeps animals out must not be met by a guess."""


def _flow_m3s(known: Known) -> float | None:
    curve = known.get("curve")
    return curve[-1][0] if isinstance(curve, tuple) else known.get("max_flow")


def _of_pump(column: int) -> Callable[[Known], float | None]:
    def value(known: Known) -> float | None:
        flow = _flow_m3s(known)
        return None if flow is None else pump_class(flow)[column]

    return value


def _head_m(known: Known) -> float | None:
    """Measured points have their own."""
    return None if known.get("curve") is not None or known.get("max_flow") is None else pump_class(known["max_flow"])[1]


def _union_bore_m(known: Known) -> float | None:
    """Of a pump the tail of the hose that canisters of its class have; of any other kind nothing is known by its unions."""
    flow = _flow_m3s(known)
    return None if flow is None else round(TAIL_SHARE * pump_class(flow)[3] * 1e-3, 5)


def _surface_m2m3(known: Known) -> float | None:
    """Only a medium that houses bacteria is said to have any."""
    if not known.get("biological"):
        return None
    if known.get("form") == "foam":
        return foam_surface_m2m3(known.get("pores") or SPONGE_PPI)
    if known.get("form") == "granules":
        return float(grain_surface_m2m3(known.get("grain") or BALL_M, known.get("void") or GRAIN_VOID))
    return RING_SURFACE_M2M3


def _hole_m(known: Known) -> float | None:
    shares = {"nozzle": NOZZLE_SHARE, "open": TAIL_SHARE}
    form, hose = known.get("form"), _hose_m(known)
    if form == "bar":
        return BAR_HOLE_M
    return None if hose is None or form not in shares else round(shares[form] * hose, 5)


def _pack_m3(known: Known) -> float | None:
    """Only what is sold by itself comes in a pack."""
    return None if known.get("price") is None else PACK_M3


def _void(known: Known) -> float:
    return RING_VOID if known.get("form") == "rings" else GRAIN_VOID


def _crack_m(known: Known) -> float | None:
    return CRACKS_M.get(known.get("form", ""))


def _outside_m(known: Known) -> float | None:
    """A rig file may say both diameters together."""
    return None if known.get("size") or known.get("inside") is None else round(hose_outside_m(known["inside"]), 5)


def _loss_k(known: Known) -> float | None:
    return None if any(known.get(name) is not None for name in ("kv", "loss", "point_flow", "point_head")) else DEVICE_K


def _times(name: str, factor: float) -> Callable[[Known], float | None]:
    return lambda known: None if known.get(name) is None else round(known[name] * factor, 4)


def _constant(value: float) -> Callable[[Known], float | None]:
    return lambda _: value


_PACKED = (Kind.GUARD, Kind.FITTING, Kind.CANISTER, Kind.PUMP, Kind.DEVICE, Kind.VALVE, Kind.OUTLET, Kind.TEE)
_SIDES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        Kind.GUARD: ("outlet",),
        Kind.OUTLET: ("inlet",),
        Kind.TEE: ("inlet", "outlet", "side"),
        **dict.fromkeys((Kind.FITTING, Kind.CANISTER, Kind.PUMP, Kind.DEVICE, Kind.VALVE), ("inlet", "outlet")),
    }
)
"""The ends of each kind that has any."""

_BORE_SAYS = (
    "of a hose end its size, of a tail 0.75 of the hose, inside a male thread 0.75 and behind a female one 0.83 of its root, "
    "of a glued end the inside of its pipe, of a maker's union as the other end, of a pump 0.75 of the hose of its class"
)
_BODY: Mapping[str, tuple[str, ...]] = MappingProxyType({Kind.VALVE: (unknowns.VALVE,)})
"""What else is felt of the bores of a kind than its steps."""


def _bore_rules() -> tuple[Rule, ...]:
    return tuple(
        Rule(
            kind=kind,
            name=f"{side}_bore",
            says=_BORE_SAYS,
            value=_union_bore_m,
            low=0.7 / 0.75,
            high=0.85 / 0.75,
            word="bores",
            attribute=side,
            felt_in=(unknowns.FITTING_BORES, *_BODY.get(kind, ())),
        )
        for kind, sides in _SIDES.items()
        for side in sides
    )


_GUARDED, _PACKED_BED = (unknowns.GUARD, unknowns.BLOCKED_GUARD), (unknowns.MEDIA, unknowns.FILLED_MEDIA)
_HOLES = (unknowns.OUTLET_BORES,)
_BED: dict[str, Any] = {"kind": Kind.MEDIUM, "felt_in": _PACKED_BED}
_BY_FLOW = "by the greatest flow, below 500, 800, 1500, 2700 l/h and above"

_ALL: tuple[Rule, ...] = (
    *_bore_rules(),
    Rule(kind=Kind.GUARD, name="pores", says="20 ppi", value=_constant(SPONGE_PPI), low=0.5, high=1.5,
         word="pores", attribute="pores_ppi", unit="ppi", forms=("sponge",), felt_in=_GUARDED),
    Rule(kind=Kind.GUARD, name="thickness", says="20 mm", value=_constant(SPONGE_WALL_M), low=0.7, high=1.7,
         word="wall", attribute="thickness_m", forms=("sponge",), felt_in=_GUARDED),
    Rule(kind=Kind.GUARD, name="face_area", says="12 times the square of the hose's inside, of a sponge 40 times",
         value=_face_m2, low=0.6, high=1.7, word="face", attribute="face_area_m2", unit="cm2", felt_in=_GUARDED),
    Rule(kind=Kind.GUARD, name="open", says="of slots and mesh 40 %, of holes 35, of a sponge 90",
         value=_of_guard(0), low=0.6, high=1.4, word="open share", attribute="open_fraction", unit="%", felt_in=_GUARDED),
    Rule(kind=Kind.GUARD, name="opening", says="as wide as they come, so that no animal is let in by a guess: slots 4.5 mm, "
         "holes 6 mm, mesh 1.2 mm; of a sponge an inch over its pores",
         value=_opening_m, low=0.4, high=1.0, word="opening", attribute="opening_m"),
    Rule(kind=Kind.HOSE, name="outside", says="12, 16, 22, 27, 34 mm for 9, 12, 16, 19, 25 mm; of inches 1/8 in of wall; "
         "else 1.38 of the inside",
         value=_outside_m, low=0.93, high=1.05, word="outside", attribute="outside_m"),
    Rule(kind=Kind.PUMP, name="max_head", says=f"{_BY_FLOW}: 1, 1.3, 1.8, 2.3 and 3 m",
         value=_head_m, low=0.75, high=1.35, word="head", attribute="curve", unit="m", felt_in=(unknowns.LABEL_HEAD,)),
    Rule(kind=Kind.PUMP, name="power", says=f"{_BY_FLOW}: 6, 9, 17, 30 and 45 W",
         value=_of_pump(2), low=0.6, high=1.6, word="power", attribute="power_w", unit="W"),
    Rule(kind=Kind.PUMP, name="noise", says=f"{_BY_FLOW}: 30, 33, 35, 38 and 44 dB(A)",
         value=_of_pump(4), low=0.88, high=1.12, word="noise", attribute="noise_dba", unit="dB(A)"),
    Rule(name="pores", says="20 ppi", value=_constant(SPONGE_PPI), low=0.5, high=1.5,
         word="pores", attribute="pores_ppi", unit="ppi", forms=("foam",), **_BED),
    Rule(name="grain", says="8 mm", value=_constant(BALL_M), low=0.4, high=1.6,
         word="grain", forms=("granules",), **_BED),
    Rule(name="void", says="of granules 45 %, of rings 64 %", value=_void, low=0.9, high=1.15,
         word="voids", attribute="void", unit="%", forms=("granules", "rings"), **_BED),
    Rule(name="surface", says="370 m2/m3", value=_constant(RING_SURFACE_M2M3), low=0.7, high=1.4,
         word="outside of the rings", unit="m2/m3", forms=("rings",), **_BED),
    Rule(name="fibre", says="30 um", value=_constant(FIBRE_M), low=0.7, high=1.4,
         word="fibre", unit="um", forms=("fibre",), **_BED),
    Rule(name="solid", says="6 %", value=_constant(FLOSS_SOLID), low=0.4, high=1.6,
         word="solid share", unit="%", forms=("fibre",), **_BED),
    Rule(kind=Kind.MEDIUM, name="area", says="of foam that houses bacteria by its pores (650 m2/m3 at 10 ppi, 1100 at 20), of "
         "granules their outside, of other such media 370 m2/m3",
         value=_surface_m2m3, low=0.7, high=1.4, word="surface", attribute="area_m2m3", unit="m2/m3"),
    Rule(kind=Kind.MEDIUM, name="volume", says="1 l", value=_pack_m3, low=0.5, high=2.0, word="litres", unit="l"),
    Rule(kind=Kind.OUTLET, name="holes", says="of a bar 16", value=_constant(float(BAR_HOLES)), low=0.7, high=1.4,
         word="holes", attribute="holes", unit="", forms=("bar",), felt_in=_HOLES),
    Rule(kind=Kind.OUTLET, name="hole", says="of a bar 3 mm, of a nozzle 0.6 and of an open end 0.75 of the hose",
         value=_hole_m, low=0.85, high=1.2, word="holes", attribute="hole_m", felt_in=_HOLES),
    Rule(kind=Kind.OUTLET, name="bar_bore", says="as wide as the hose", value=_hose_m, low=0.8, high=1.1,
         word="bore of the bar", attribute="bar_bore_m", forms=("bar",), felt_in=(unknowns.FITTING_BORES,)),
    Rule(kind=Kind.OUTLET, name="pitch", says="25 mm", value=_constant(BAR_PITCH_M), low=0.6, high=1.4,
         word="pitch", attribute="pitch_m", forms=("bar",)),
    Rule(kind=Kind.DEVICE, name="k", says="2.5 on the bore of the inlet, where no loss is said in any way",
         value=_loss_k, low=0.4, high=2.4, word="loss", unit="", felt_in=(unknowns.DEVICE,)),
    Rule(kind=Kind.VALVE, name="crack", says="1 cm for a flap, 5 cm for a poppet", value=_crack_m, low=0.4, high=2.5,
         word="cracking head", attribute="crack_m", unit="cm", felt_in=(unknowns.VALVE_CRACK,)),
    Rule(kind=Kind.CLAMP, name="low", says="0.8 of high: narrow, so that what is bought holds",
         value=_times("high", 1.0 / CLAMP_RATIO), low=0.75, high=1.2, word="range", attribute="low_m"),
    Rule(kind=Kind.CLAMP, name="high", says="1.25 times low: narrow, so that what is bought holds",
         value=_times("low", CLAMP_RATIO), low=0.85, high=1.3, word="range", attribute="high_m"),
)  # fmt: skip

RULES: Mapping[tuple[str, str], Rule] = MappingProxyType({(each.kind, each.name): each for each in _ALL})
"""All rules by kind of part and key."""

_OF_KIND = {kind: tuple(each for each in _ALL if each.kind == kind and each.name not in BORES) for kind in {r.kind for r in _ALL}}


def rules_of(kind: str) -> tuple[Rule, ...]:
    """The rules of a kind in the order in which they are to be used, but those on bores, which `usual_bore` has."""
    return _OF_KIND.get(kind, ())


def rule_of(kind: str, name: str) -> Rule | None:
    """The rule on one figure; None where there is none, so that it must be written.

    >>> rule_of("pump", "max_head").unit, rule_of("pump", "max_flow")
    ('m', None)
    """
    return RULES.get((kind, name))


@lru_cache(maxsize=512)
def _felt_in(kind: str, names: tuple[str, ...]) -> frozenset[str]:
    return frozenset(each for name in names for each in RULES[kind, name].felt_in)


def unknown_of(name: str, *parts: Part) -> str:
    """The name that an unknown goes by where it is that of these parts: another one, with a wider prior, where a figure that it
    hangs on is assumed for any of them.

    >>> from optimizer.model.ends import Gender
    >>> from optimizer.model.parts import Device
    >>> end = End(standard=Standard.HOSE, size_m=0.016, gender=Gender.MALE, bore_m=0.012)
    >>> device = Device(id="D", name="reactor", inlet=end, outlet=end, quadratic=1e6, assumed=("k",))
    >>> unknown_of("inline device", device), unknown_of("fitting bores", device)
    ('inline device, assumed', 'fitting bores')
    """
    if any(part.assumed and name in _felt_in(kind_of(part), part.assumed) for part in parts):
        return unknowns.assumed(name)
    return name


def bores_assumed(*parts: Part) -> bool:
    """Whether a bore of any of the parts is assumed."""
    return any(each in BORES for part in parts for each in part.assumed)


def assumed_figures(part: Part, besides: tuple[str, ...] = ()) -> Said:
    """What is assumed of a part, as figures with what they may be, in one line; empty where nothing is but what is told
    ``besides``.

    >>> from optimizer.model.parts import Clamp
    >>> assumed_figures(Clamp(id="C", name="clamp", low_m=0.020, high_m=0.025, assumed=("low",)))
    'low 20 mm (15 to 24 mm)'
    """
    told = (name for name in part.assumed if name not in besides)
    return Said.joined((_figure(part, RULES[kind_of(part), name]) for name in told), ", ")


def _figure(part: Part, rule: Rule) -> Said:
    called = f"{rule.name.replace('_', ' ')} "
    if rule.name not in BORES:
        value = _kept(part, rule)
        return Said(called, *_between(value, value * rule.low, value * rule.high, rule.unit))
    end: End = getattr(part, rule.attribute)
    usual = usual_bore(end.standard, end.gender, end.size_m)
    if usual is None or usual.bore_m != end.bore_m:
        return Said(called, millimetres(end.bore_m), " (as wide as its other end, or usual for such a pump)")
    return Said(called, *_between(end.bore_m, usual.low_m, usual.high_m, "mm"))


def _kept(part: Part, rule: Rule) -> float:
    if rule.attribute == "curve":
        return float(part.curve.max_head_m)  # type: ignore[union-attr]
    if rule.attribute:
        return float(getattr(part, rule.attribute))
    return rule.value({"form": getattr(part, "form", ""), "price": 0}) or 0.0


_SCALES = {"mm": 1e3, "cm": 1e2, "cm2": 1e4, "%": 1e2, "l": 1e3, "um": 1e6}


def _between(value: float, low: float, high: float, unit: str) -> tuple[str | Quantity, ...]:
    """A figure and what it may be; lengths as quantities, so that other units can say them."""
    scale = _SCALES.get(unit, 1.0)
    shown = [f"{each:.0f}" if each >= 1000.0 else f"{each:.3g}" for each in (value * scale, low * scale, high * scale)]
    if unit in ("mm", "cm"):
        first, most = (length(each, f"{words} {unit}") for each, words in ((value, shown[0]), (high, shown[2])))
        return first, " (", Quantity(low, "length", shown[1]), " to ", most, ")"
    behind = f" {unit}" if unit else ""
    return (f"{shown[0]}{behind} ({shown[1]} to {shown[2]}{behind})",)
