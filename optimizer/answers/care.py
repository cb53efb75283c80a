"""Air and media of an answer as facts: which joints would draw air, and which trays bacteria live in."""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from optimizer.answers.bundle_walk import each_option
from optimizer.answers.media_plan import surface_after
from optimizer.answers.profile import shut_off_m
from optimizer.answers.rows import Standing
from optimizer.model.care import AirCheck, AirJoint, Care, MediaTray
from optimizer.model.options import KEEP
from optimizer.model.parts import Kind
from optimizer.model.results import PressureProfile
from optimizer.model.rig import Rig
from optimizer.physics.pumps import head_full_of_air_m

DRAWS_M = -0.005
"""Heads are told to a centimetre: what is nearer to 0 draws no air that anybody sees."""


def care(rig: Rig, stands: Standing, profiles: Sequence[PressureProfile]) -> Care:
    """Of a bundle as it ``stands``, and of the rows whose pressure is known, the bundle's own last."""
    return Care(
        air=_air(rig, stands, profiles),
        trays=_trays(rig, stands),
        tray_m3=rig.canister.tray_volume_m3,
        surface=surface_after(rig, stands),
    )


def _air(rig: Rig, stands: Standing, profiles: Sequence[PressureProfile]) -> AirCheck:
    each = {profile.name: sorted(air_joints(profile), key=lambda joint: joint.head_m) for profile in profiles}
    last = each[profiles[-1].name] if profiles else []
    guards = [place for place in rig.every_position if place.kind == Kind.GUARD and place.installed is not None]
    pump = rig.positions[rig.index(Kind.PUMP)]
    deepest = [place.breaks_m for place in guards if place.breaks_m is not None]
    return AirCheck(
        joints=tuple(joint for joints in each.values() for joint in joints if joint.head_m < DRAWS_M),
        nearest=last[0] if last else None,
        fill_m3=rig.canister.trays * rig.canister.tray_volume_m3 + sum(_hoses_m3(rig, stands)),
        guard_m=min(deepest) if len(deepest) == len(guards) else None,
        rim_m=rig.rim_m,
        dry_head_m=float(head_full_of_air_m(shut_off_m(stands), rig.tank.water.density_kgm3)),
        below_m=pump.depth_m if pump.depth_known else None,
        missing=tuple(_missing(rig)),
    )


def air_joints(profile: PressureProfile) -> Iterator[AirJoint]:
    """Every joint that hangs in air, adapters in it apart: the lower pressure of its two sides, in the order of the water."""
    for before, after in pairwise(profile.points):
        if before.place != after.place and before.in_air and after.in_air:
            yield AirJoint(row=profile.name, between=(before.place, after.place), head_m=min(before.head_m, after.head_m))


def _missing(rig: Rig) -> Iterator[str]:
    pump = rig.positions[rig.index(Kind.PUMP)]
    if not pump.depth_known:
        yield f"loop.{pump.name}.depth"
    if rig.rim_m is None:
        yield "site.rim"


def _hoses_m3(rig: Rig, stands: Standing) -> Iterator[float]:
    lengths = {place.name: place.length_m for place in rig.every_position if place.kind == Kind.HOSE}
    for option in each_option(stands.options):
        if option.loss.run is not None and option.place in lengths:
            yield math.pi / 4.0 * option.loss.run.bore_m**2 * lengths[option.place]


def _trays(rig: Rig, stands: Standing) -> tuple[MediaTray, ...]:
    changes = {fill.tray: fill.change for fill in stands.media.fills}
    return tuple(
        MediaTray(
            tray=n + 1,
            medium="" if tray.medium is None else tray.medium.name,
            biological=tray.medium is not None and tray.medium.biological,
            mechanical=tray.medium is not None and tray.medium.mechanical,
            change=changes.get(n, KEEP),
        )
        for n, tray in enumerate(rig.trays)
    )
