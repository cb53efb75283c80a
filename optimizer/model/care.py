"""What a keeper needs to know to keep air out of the loop and bacteria in it, for one rig and one answer. SI inside."""

from dataclasses import dataclass

from optimizer.model.media_plan import BioSurface


@dataclass(frozen=True, slots=True, kw_only=True)
class AirJoint:
    """A joint that hangs in air, ``between`` two places, in one ``row``: the gauge pressure there as head of the tank's water.

    Below 0 a leak draws air in, above 0 it lets water out.
    """

    row: str
    between: tuple[str, str]
    head_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AirCheck:
    """Where air gets in. ``joints`` are those of a row below 0, lowest first; ``nearest`` is the lowest of the last row told,
    whatever it is (None: nothing flows, or none hangs in air).

    ``fill_m3`` is the water that canister and hoses take before the pump may run, ``guard_m`` how deep the guard's lowest opening
    hangs (None: not said), ``rim_m`` how far the hose climbs over the water (None: not said), ``dry_head_m`` the
    head that the pump gives while it is full of air, ``below_m`` how far it stands below the water (None: not said), ``missing``
    the keys of the rig
    file without which this may say too little.
    """

    joints: tuple[AirJoint, ...]
    nearest: AirJoint | None
    fill_m3: float
    guard_m: float | None
    rim_m: float | None
    dry_head_m: float
    below_m: float | None
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MediaTray:
    """What one ``tray`` (from 1) holds today (empty: nothing), whether bacteria are housed there, whether it catches solids, and
    what the answer does with it: keep, clean, swap or remove."""

    tray: int
    medium: str
    biological: bool
    mechanical: bool
    change: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """Air and media of one rig, as its answer leaves them. A tray holds ``tray_m3``; ``surface`` is what bacteria have then."""

    air: AirCheck
    trays: tuple[MediaTray, ...]
    tray_m3: float
    surface: BioSurface
