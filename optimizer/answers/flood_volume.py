"""The most water that can run out when a joint lets go: down to where air gets into both legs of the siphon, and the canister."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.answers.bundle_walk import each_option
from optimizer.model.options import Option
from optimizer.model.parts import Kind
from optimizer.model.rig import Position, Rig
from optimizer.model.said import Quantity, Said, length
from optimizer.model.spill import Spill


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """Where air gets into one leg of the siphon: ``what`` of which ``place``, how far below the water line (None: nobody said),
    and the ``key`` of the rig file that would say it."""

    place: str
    what: str
    depth_m: float | None
    key: str


def spill(rig: Rig, options: Sequence[Option] = ()) -> Spill:
    """An upper bound in m3 for a bundle of ``options`` (none: as the rig stands); without the figures all the water counts.

    An open joint below the water line drains both legs of the loop: the suction side until the guard's lowest opening is bare,
    the return side until its mouth or its air-break hole is. The lower of the two decides. What the canister holds is taken as
    its trays full of water.
    """
    filter_m3 = rig.canister.trays * rig.canister.tray_volume_m3
    openings = tuple(_openings(rig, options))
    depths = [opening.depth_m for opening in openings if opening.depth_m is not None]
    missing = [opening.key for opening in openings if opening.depth_m is None]
    area = rig.tank.footprint_m2
    if area is None:
        missing += ["tank.length", "tank.width"]
    if missing or area is None:
        tank_m3 = rig.tank.net_m3
        words = _unknown_words(rig, tank_m3, filter_m3, missing)
        return Spill(worst_m3=tank_m3 + filter_m3, tank_m3=tank_m3, filter_m3=filter_m3, words=words, missing=tuple(missing))
    fall = max(depths)
    last = next(opening for opening in openings if opening.depth_m == fall)
    tank_m3 = min(area * fall, rig.tank.net_m3)
    return Spill(
        worst_m3=tank_m3 + filter_m3,
        tank_m3=tank_m3,
        filter_m3=filter_m3,
        words=tuple(_known_words(openings, last, area, tank_m3, filter_m3)),
        fall_m=fall,
        decided_by=last.place,
    )


def opening_words(found: Spill, rig: Rig, options: Sequence[Option] = ()) -> str:
    """The opening that decides, in words; empty where it is not known."""
    return next((f"{each.what} of {each.place}" for each in _openings(rig, options) if each.place == found.decided_by), "")


def volume(volume_m3: float) -> Quantity:
    """A volume as a quantity in a text."""
    return Quantity(volume_m3, "volume", f"{volume_m3 * 1e3:.0f} l" if volume_m3 >= 0.01 else f"{volume_m3 * 1e3:.1f} l")


def _openings(rig: Rig, options: Sequence[Option]) -> Iterator[Opening]:
    """Where air gets in: at every guard and every outlet that stands, the guards first."""
    chosen = {option.place: option for option in each_option(options)}
    for position in rig.every_position:
        option = chosen.get(position.name)
        there = position.installed is not None if option is None else option.part is not None
        if there and position.kind == Kind.GUARD:
            key = f"loop.{position.name}.depth"
            yield Opening(place=position.name, what="the lowest opening", depth_m=position.breaks_m, key=key)
        elif there and position.kind == Kind.OUTLET:
            yield _outlet(position, option)


def _outlet(position: Position, option: Option | None) -> Opening:
    """The mouth of an outlet, or the air-break hole above it: that moves with the outlet, and a new outlet has none yet."""
    height = position.height_m if option is None else option.height_m
    mouth = max(-height, 0.0)
    known = position.height_known or height != position.height_m
    hole = position.breaks_m
    if hole is not None and (option is None or option.is_installed):
        bare = max(hole + position.height_m - height, 0.0)
        return Opening(place=position.name, what="the air-break hole", depth_m=min(mouth, bare), key="")
    key = f"loop.{position.name}.below_water"
    return Opening(place=position.name, what="the mouth", depth_m=mouth if known else None, key=key)


def _known_words(openings: Sequence[Opening], last: Opening, area_m2: float, tank_m3: float, filter_m3: float) -> Iterator[str]:
    yield (
        "The canister stands below the water line, so an open hose drains the tank like a siphon, pump on or off, through both "
        "legs of the loop, until air gets into each of them."
    )
    for opening in openings:
        depth = opening.depth_m or 0.0
        yield Said(f"{opening.place}: {opening.what} lets in air ", _depth(depth), " below the water line.")
    fall = last.depth_m or 0.0
    yield Said(
        f"The lowest of them decides ({last.place}): ",
        _depth(fall),
        " of water over ",
        Quantity(area_m2, "area", f"{area_m2:.2f} m2"),
        " are ",
        volume(tank_m3),
        "; on top comes what the canister holds, taken as its trays full of water, ",
        volume(filter_m3),
        ".",
    )


def _depth(depth_m: float) -> Quantity:
    return length(depth_m, f"{depth_m * 100:.3g} cm")


def _unknown_words(rig: Rig, tank_m3: float, filter_m3: float, missing: Sequence[str]) -> tuple[str, ...]:
    return (
        "The canister stands below the water line, so an open hose drains the tank like a siphon, pump on or off, down to "
        "the lowest opening in the tank that still lets in water: the guard, or an outlet that hangs below the water line.",
        Said(
            f"The rig file does not say all of it ({', '.join(missing)}), so the worst case counts the whole net volume of ",
            volume(tank_m3),
            f"; on top comes what the canister holds, taken as {rig.canister.trays} trays full of water, ",
            volume(filter_m3),
            ".",
        ),
        Said(
            "For your own figure multiply length and width of the tank, inside, by the depth of water above the lower of the "
            "two openings: ",
            *_example(),
            ".",
        ),
    )


def _example() -> tuple[str | Quantity, ...]:
    """A tank of 60 cm by 30 cm with 10 cm of water above the guard."""
    sides = [length(metres, f"{metres * 100:.0f} cm") for metres in (0.6, 0.3, 0.1)]
    return sides[0], " by ", sides[1], " by ", sides[2], ", for example, are ", volume(0.018)
