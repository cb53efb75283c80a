"""Parts: what a shop sells or a keeper owns. Each checks itself when it is built and raises ValueError if it cannot be."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from optimizer.model.ends import End, sealed_by


class Kind:
    """Names of the kinds of part, as used in rig files, catalogs and messages."""

    GUARD = "guard"
    HOSE = "hose"
    FITTING = "fitting"
    CANISTER = "canister"
    PUMP = "pump"
    DEVICE = "device"
    OUTLET = "outlet"
    MEDIUM = "medium"
    CLAMP = "clamp"
    SEAL = "seal"
    TOOL = "tool"
    TEE = "tee"
    VALVE = "non-return valve"
    BRANCHES = "branches"
    """No part: a place that holds parallel branches."""


GUARD_FORMS = ("slots", "holes", "mesh", "sponge")
FITTING_ROLES = ("coupling", "valve", "elbow", "tail", "adapter")
FITTING_SHAPES = ("straight", "elbow 90", "elbow 45", "swept 90", "threaded elbow 90", "ball valve", "gate valve")
MEDIUM_FORMS = ("foam", "granules", "rings", "fibre")
DEVICE_PURPOSES = ("heater", "chiller", "ultraviolet", "gas reactor", "media reactor", "pre-filter", "flow meter")
VALVE_FORMS = ("flap", "poppet")
OUTLET_FORMS = ("open", "nozzle", "bar")
REDRILL, CLEAN_HOSE = "redrill", "clean_hose"
JOBS = (REDRILL, CLEAN_HOSE)
"""Changes that a tool may be needed for: to re-drill an outlet, to clean a hose."""


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not 0.0 < value < math.inf:
            raise ValueError(f"{name} must be above zero, but is {value:g}")


def _share(**values: float) -> None:
    for name, value in values.items():
        if not 0.0 < value <= 1.0:
            raise ValueError(f"{name} must be above 0 and at most 1, but is {value:g}")


def _one_of(name: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise ValueError(f"{name} must be one of {', '.join(allowed)}, but is {value!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Figures:
    """What all parts have. ``assumed`` names the figures that nobody stated and a rule of `model/usual_figures.py` gave, by their
    keys in a rig file; it says nothing of what the part is, so equal parts may differ in it."""

    assumed: tuple[str, ...] = field(default=(), compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guard(_Figures):
    """An intake strainer or sponge. ``opening_m`` is the widest gap an animal could enter; for a sponge, its pore."""

    id: str
    name: str
    form: str
    face_area_m2: float
    open_fraction: float
    opening_m: float
    outlet: End
    pores_ppi: float = 0.0
    thickness_m: float = 0.0

    def __post_init__(self) -> None:
        _one_of("form", self.form, GUARD_FORMS)
        _positive(face_area_m2=self.face_area_m2, opening_m=self.opening_m)
        _share(open_fraction=self.open_fraction)
        if self.form == "sponge":
            _positive(pores_ppi=self.pores_ppi, thickness_m=self.thickness_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hose(_Figures):
    """Hose by its inside and outside diameter; its length belongs to the position it runs in."""

    id: str
    name: str
    inside_m: float
    outside_m: float
    roughness_m: float = 1.5e-6
    ribbed: bool = False

    def __post_init__(self) -> None:
        _positive(inside_m=self.inside_m)
        if not self.outside_m > self.inside_m:
            raise ValueError("the outside of a hose must be wider than its inside")
        if not self.roughness_m >= 0.0:
            raise ValueError("roughness cannot be negative")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting(_Figures):
    """Coupling, valve, elbow, tail or adapter. ``passage_m`` is the narrowest bore inside, ``throttles`` whether it
    can be set part-way on purpose."""

    id: str
    name: str
    role: str
    shape: str
    inlet: End
    outlet: End
    passage_m: float
    throttles: bool = False

    def __post_init__(self) -> None:
        _one_of("role", self.role, FITTING_ROLES)
        _one_of("shape", self.shape, FITTING_SHAPES)
        _positive(passage_m=self.passage_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class PumpCurve:
    """Head against flow: measured ``points`` from no flow to no head, or the label's two ends and a shape.

    ``shape`` is the exponent n of ``H0 (1 - (Q/Qmax)**n)`` and is 0 when points are given.
    """

    flows_m3s: tuple[float, ...]
    heads_m: tuple[float, ...]
    shape: float = 0.0

    def __post_init__(self) -> None:
        flows, heads = self.flows_m3s, self.heads_m
        if len(flows) != len(heads) or len(flows) < 2:
            raise ValueError("a pump curve needs at least two points, a head for every flow")
        if abs(flows[0]) > 1e-12:
            raise ValueError("the first point of a pump curve must be the head at no flow")
        if any(b <= a for a, b in pairwise(flows)):
            raise ValueError("the flows of a pump curve must rise from point to point")
        if any(b >= a for a, b in pairwise(heads)):
            raise ValueError("the head of a pump must fall as the flow rises")
        if self.shape and (len(flows) != 2 or heads[1] != 0.0 or not 1.0 <= self.shape <= 4.0):
            raise ValueError("a curve with a shape has two ends and an exponent from 1 to 4")

    @property
    def max_head_m(self) -> float:
        """Head at no flow (the label's maximum head)."""
        return self.heads_m[0]

    @property
    def max_flow_m3s(self) -> float:
        """The last flow of the curve; for a label curve the flow at no head."""
        return self.flows_m3s[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump(_Figures):
    """A pump. ``label_hz`` is the mains frequency of its figures, 0 for a pump that does not follow the mains. ``length_m``,
    ``width_m`` and ``height_m`` are its size as it stands (0: not stated), ``plug`` is that on its cord (empty: not stated)."""

    id: str
    name: str
    curve: PumpCurve
    power_w: float
    noise_dba: float
    inlet: End
    outlet: End
    label_hz: float = 0.0
    length_m: float = 0.0
    width_m: float = 0.0
    height_m: float = 0.0
    plug: str = ""

    def __post_init__(self) -> None:
        _positive(power_w=self.power_w)
        if not 0.0 <= self.noise_dba <= 120.0:
            raise ValueError(f"noise of {self.noise_dba:g} dB(A) at 1 m is outside 0 to 120")
        if self.label_hz not in (0.0, 50.0, 60.0):
            raise ValueError("mains frequency must be 50 or 60 Hz, or none")
        if not min(self.length_m, self.width_m, self.height_m) >= 0.0:
            raise ValueError("the size of a pump cannot be negative")

    def stands_in(self, room_m: tuple[float, float, float]) -> bool:
        """True unless a stated side says that it does not go upright into a room (length, width, height), either way round.

        >>> from optimizer.model.ends import End, Gender, Standard
        >>> end = End(standard=Standard.HOSE, size_m=0.016, gender=Gender.MALE, bore_m=0.013)
        >>> curve = PumpCurve(flows_m3s=(0.0, 1e-3), heads_m=(2.0, 0.0), shape=2.0)
        >>> small = {"curve": curve, "power_w": 20.0, "noise_dba": 34.0, "inlet": end, "outlet": end}
        >>> pump = Pump(id="P", name="pump", length_m=0.3, width_m=0.1, height_m=0.2, **small)
        >>> pump.stands_in((0.12, 0.32, 0.25)), pump.stands_in((0.12, 0.32, 0.15)), pump.stands_in((0.2, 0.2, 0.25))
        (True, False, False)
        """
        length, width, height = room_m
        longer, shorter = max(self.length_m, self.width_m), min(self.length_m, self.width_m)
        fits = longer <= max(length, width) + 1e-9 and shorter <= min(length, width) + 1e-9
        return fits and self.height_m <= height + 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Medium(_Figures):
    """A filter medium. ``permeability_m2`` and ``inertial_1m`` are those of the clean bed; ``area_m2m3`` is the surface
    that biofilm can use per volume of bed. ``void`` is the share of the bed that is not solid and ``pores_ppi`` the pores per
    inch of foam, by which they were worked out (0: not by these, or not stated)."""

    id: str
    name: str
    form: str
    permeability_m2: float
    inertial_1m: float
    area_m2m3: float
    mechanical: bool
    biological: bool
    void: float = 0.0
    pores_ppi: float = 0.0

    def __post_init__(self) -> None:
        _one_of("form", self.form, MEDIUM_FORMS)
        _positive(permeability_m2=self.permeability_m2)
        if not (self.inertial_1m >= 0.0 and self.area_m2m3 >= 0.0):
            raise ValueError("the inertial term and the area of a medium cannot be negative")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlet(_Figures):
    """Open end, nozzle or spray bar. ``hole_m`` is the diameter of the mouth, nozzle or holes; ``bar_bore_m`` and
    ``pitch_m`` describe a bar."""

    id: str
    name: str
    form: str
    inlet: End
    holes: int
    hole_m: float
    discharge: float = 0.62
    bar_bore_m: float = 0.0
    pitch_m: float = 0.0

    def __post_init__(self) -> None:
        _one_of("form", self.form, OUTLET_FORMS)
        _positive(hole_m=self.hole_m, holes=self.holes)
        _share(discharge=self.discharge)
        if self.form == "bar":
            _positive(bar_bore_m=self.bar_bore_m, pitch_m=self.pitch_m)
        elif self.holes != 1:
            raise ValueError("only a spray bar has more than one hole")


@dataclass(frozen=True, slots=True, kw_only=True)
class Device(_Figures):
    """An inline heater, ultraviolet unit or reactor: its loss and the flow window its maker allows (0: no bound).

    ``purpose`` is what it is there for; only a device with the same purpose may take its place (empty: none may).
    """

    id: str
    name: str
    inlet: End
    outlet: End
    quadratic: float
    flow_min_m3s: float = 0.0
    flow_max_m3s: float = math.inf
    purpose: str = ""

    def __post_init__(self) -> None:
        if self.purpose:
            _one_of("purpose", self.purpose, DEVICE_PURPOSES)
        if not self.quadratic >= 0.0:
            raise ValueError("the loss of a device cannot be negative")
        if not 0.0 <= self.flow_min_m3s < self.flow_max_m3s:
            raise ValueError("a flow window needs a lower bound below its upper bound")

    @property
    def has_window(self) -> bool:
        """True when its maker asks for anything of the flow."""
        return self.flow_min_m3s > 0.0 or math.isfinite(self.flow_max_m3s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Canister(_Figures):
    """The body: its ports, its trays, and the pressure head it is rated for (inf: not stated)."""

    id: str
    name: str
    inlet: End
    outlet: End
    trays: int
    tray_area_m2: float
    tray_height_m: float
    rating_m: float = math.inf

    def __post_init__(self) -> None:
        if not 1 <= self.trays <= 12:
            raise ValueError(f"a canister has 1 to 12 trays, not {self.trays}")
        _positive(tray_area_m2=self.tray_area_m2, tray_height_m=self.tray_height_m)
        if not self.rating_m > 0.0:
            raise ValueError("the pressure rating of a canister must be above zero")

    @property
    def tray_volume_m3(self) -> float:
        """Volume of one tray."""
        return self.tray_area_m2 * self.tray_height_m


@dataclass(frozen=True, slots=True, kw_only=True)
class TeePiece(_Figures):
    """A tee or wye: ``inlet`` and ``outlet`` are its straight ends, ``side`` is the end of its branch.

    ``passage_m`` and ``side_passage_m`` are the narrowest bores inside, straight through and into the branch; ``angle_deg`` is
    that between branch and straight run (90: tee; less: wye, fitted so that it leans with the water).
    """

    id: str
    name: str
    inlet: End
    outlet: End
    side: End
    passage_m: float
    side_passage_m: float
    angle_deg: float = 90.0

    def __post_init__(self) -> None:
        _positive(passage_m=self.passage_m, side_passage_m=self.side_passage_m)
        if self.side_passage_m > self.passage_m:
            raise ValueError("the branch of a tee cannot be wider than its straight run")
        if not 30.0 <= self.angle_deg <= 90.0:
            raise ValueError("the branch of a tee stands at 30 to 90 degrees")


@dataclass(frozen=True, slots=True, kw_only=True)
class NonReturnValve(_Figures):
    """A valve that water passes from ``inlet`` to ``outlet`` and not back. It stands shut until the head across it reaches
    ``crack_m``; ``passage_m`` is the bore of its seat. ``upright``: it closes by its weight, and only where the water rises
    through it."""

    id: str
    name: str
    form: str
    inlet: End
    outlet: End
    passage_m: float
    crack_m: float
    upright: bool = False

    def __post_init__(self) -> None:
        _one_of("form", self.form, VALVE_FORMS)
        _positive(passage_m=self.passage_m)
        if not (math.isfinite(self.crack_m) and self.crack_m >= 0.0):
            raise ValueError("the cracking head of a valve cannot be negative")


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamp(_Figures):
    """A hose clamp and the range of hose outside diameters it closes on. One that ``throttles`` pinches the hose between
    its ends and closes no joint."""

    id: str
    name: str
    low_m: float
    high_m: float
    throttles: bool = False

    def __post_init__(self) -> None:
        _positive(low_m=self.low_m)
        if not self.high_m >= self.low_m:
            raise ValueError("the range of a clamp must run from small to large")

    def fits(self, outside_m: float) -> bool:
        """True when it closes on a hose of this outside diameter."""
        return self.low_m - 1e-9 <= outside_m <= self.high_m + 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal(_Figures):
    """Washer, tape or cement. ``standard`` (of either side of a joint) and ``size_m`` say what it is for; empty and 0: any."""

    id: str
    name: str
    closure: str
    standard: str = ""
    size_m: float = 0.0

    def __post_init__(self) -> None:
        _one_of("closure", self.closure, ("washer", "tape", "cement"))

    def fits(self, closure: str, standard: str, size_m: float) -> bool:
        """True when it closes this kind of joint, named by the standard of its female side."""
        if closure != self.closure:
            return False
        right_size = self.size_m == 0.0 or abs(self.size_m - size_m) < 0.05e-3
        return right_size and (not self.standard or standard in sealed_by(closure, self.standard))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool(_Figures):
    """A thing that makes changes possible (some of `JOBS`), as often as wanted: a brush for hoses, a drill. It stands nowhere."""

    id: str
    name: str
    makes_possible: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.makes_possible:
            raise ValueError("a tool makes at least one change possible")
        for job in self.makes_possible:
            _one_of("what a tool makes possible", job, JOBS)


Part = Guard | Hose | Fitting | Pump | Medium | Outlet | Device | Canister | Clamp | Seal | TeePiece | NonReturnValve | Tool

_KINDS: dict[type[Part], str] = {
    Guard: Kind.GUARD,
    Hose: Kind.HOSE,
    Fitting: Kind.FITTING,
    Pump: Kind.PUMP,
    Medium: Kind.MEDIUM,
    Outlet: Kind.OUTLET,
    Device: Kind.DEVICE,
    Canister: Kind.CANISTER,
    Clamp: Kind.CLAMP,
    Seal: Kind.SEAL,
    TeePiece: Kind.TEE,
    NonReturnValve: Kind.VALVE,
    Tool: Kind.TOOL,
}


def stated_ends(part: Part) -> Iterator[tuple[str, End]]:
    """The ends that a part is stated with, by their sides; a hose, whose ends are as wide as it is, has none of these.

    >>> list(stated_ends(Clamp(id="C", name="clamp", low_m=0.01, high_m=0.02)))
    []
    """
    for side in ("inlet", "outlet", "side"):
        end = getattr(part, side, None)
        if isinstance(end, End):
            yield side, end


def kind_of(part: Part) -> str:
    """The kind of a part, one of the names in `Kind`. Raises TypeError for what is no part of a known kind.

    >>> kind_of(Clamp(id="C", name="clamp", low_m=0.01, high_m=0.02))
    'clamp'
    """
    if type(part) not in _KINDS:
        raise TypeError(f"a {type(part).__name__} is no known kind of part")
    return _KINDS[type(part)]
