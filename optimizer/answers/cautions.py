"""Cautions that apply to this rig and this bundle. They defer to local codes and licensed practice."""

from collections.abc import Iterator
from enum import IntEnum

from optimizer.answers.branches import dry_lines
from optimizer.answers.bundle_walk import each_option
from optimizer.answers.flood_volume import opening_words, spill
from optimizer.answers.flood_volume import volume as litres
from optimizer.answers.media_plan import surface_after
from optimizer.answers.rows import Standing, row
from optimizer.answers.words import limit_words, missing_figure
from optimizer.loop.kinds import each_of
from optimizer.model.limits import Limits
from optimizer.model.options import ADD, KEEP, SWAP
from optimizer.model.parts import Guard, NonReturnValve
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said, flowing, length
from optimizer.model.spill import Spill


class Weight(IntEnum):
    """What a caution is about, the gravest first: it decides what stands on the first screen, which has room for three."""

    MAINS = 0
    FLOOD = 1
    GUARD = 2
    """A guard that is changed is an open intake for a while."""
    DRY = 3
    CEILING = 4
    """The next clean breaks a limit that is there for animals or devices."""
    BACTERIA = 5
    CURRENT = 6
    RINSE = 7
    THROTTLE = 8
    VALVE = 9
    CLAMPS = 10
    APPROVAL = 11


def caution_lines(rig: Rig, stands: Standing, limits: Limits | None = None, volume: bool = True) -> tuple[str, ...]:
    """Cautions in the order in which they matter for what is done here (common practice, no published source, unless a text is
    named); the first sentence of each says what to do. ``limits`` are those that the bundle is held to, None: those of the rig;
    without the ``volume`` of its tank they are said of more than one.

    Where nothing is touched, what is not about hands in the water comes first.
    """
    told = sorted(_all(rig, stands, limits or rig.limits, volume), key=lambda each: each[0])
    if _is_touched(stands):
        return tuple(text for _, text in told)
    late = (Weight.MAINS, Weight.FLOOD)
    return tuple(text for weighs_less in (False, True) for weight, text in told if (weight in late) is weighs_less)


def _is_touched(stands: Standing) -> bool:
    """True where anything is cleaned, adjusted, changed or opened."""
    done = any(option.change != KEEP for option in each_option(stands.options))
    filled = any(fill.change != KEEP for option in stands.options for fill in option.fills)
    return done or filled or any(not joint.as_is for joint in stands.joints)


def _all(rig: Rig, stands: Standing, limits: Limits, volume: bool) -> Iterator[tuple[Weight, str]]:
    yield Weight.MAINS, MAINS
    yield Weight.FLOOD, _flood(rig, stands, volume)
    if stands.pump.change == SWAP:
        yield Weight.APPROVAL, APPROVAL
    yield from _fitting(stands)
    yield from ((Weight.DRY, text) for text in dry_lines(stands))
    yield from ((Weight.DRY, text) for text in _noticed(rig))
    held = (*_held_by_guess(rig, stands), *_kept_by_guess(rig, stands, limits), *_held_by_dirt(rig, stands, limits))
    yield from ((Weight.CEILING, text) for text in held)
    yield from _animals(stands)
    yield from _media(rig, stands)


MAINS = (
    "Mains and water: unplug everything in and on the tank before you reach in; RCD (GFCI), drip loops; local codes and licensed "
    "electricians decide. Sockets stay away from the joints; opening a pump or shortening its cord voids its approval."
)
APPROVAL = "The new pump must be approved for aquarium use where you live (for example IEC 60335-2-41, UL 1018)."


def _noticed(rig: Rig) -> Iterator[str]:
    """What the keeper hears and sees may be air, which no part that is bought takes out."""
    if rig.signs:
        words = ", ".join(rig.signs)
        yield f'Ask "fullbore diagnose" before you buy. You noticed: {words}; what air or a weak pump takes no hose gives back.'


def _flood(rig: Rig, stands: Standing, volume: bool) -> str:
    """How far the tank drains: litres and the opening that decides, or what to measure to know them."""
    worst = spill(rig, stands.options) if volume else None
    so = ("at most about ", litres(worst.worst_m3), " run out: ") if worst is not None and worst.fall_m is not None else ()
    return Said(
        "Flood: ",
        *so,
        "put the canister in a tray, keep an air-break hole of about ",
        length(3e-3, "3 mm"),
        " just under the surface clean, and watch every new joint for a day. If a joint lets go, ",
        *_drained(rig, stands, worst),
    )


def _drained(rig: Rig, stands: Standing, worst: Spill | None) -> Iterator[str | Quantity]:
    """What runs out when a joint lets go, and until when; of more tanks than one without litres."""
    lowest = "the tank drains down to the lower of guard, outlet mouth or air-break hole"
    if worst is None:
        yield f"{lowest}."
    elif worst.fall_m is None:
        whole = rig.tank.nominal_m3
        yield from (f"{lowest}, of ", Quantity(whole, "volume", f"{whole * 1e3:.0f} l"), " in all: ")
        yield f"measure and write {', '.join(worst.missing)} to know how much."
    else:
        fall = length(worst.fall_m, f"{worst.fall_m * 100:.3g} cm")
        yield from (litres(worst.tank_m3), " run out until the water stands ", fall, " lower, ")
        yield f"at {opening_words(worst, rig, stands.options)}, which decides, and "
        yield from (litres(worst.filter_m3), " from the canister.")


def _fitting(stands: Standing) -> Iterator[tuple[Weight, str]]:
    if any(not joint.as_is for joint in stands.joints):
        yield (
            Weight.CLAMPS,
            "Every hose is pushed fully on its tail and clamped; use aquarium or drinking-water grade parts only.",
        )
    if stands.held_by or any(held >= 0 for _, _, held in stands.branch_flows):
        yield Weight.THROTTLE, "Throttle on the outlet side only, never on the suction side."
    for option, valve in each_of(each_option(stands.options), NonReturnValve):
        upright = ", upright, where the water rises through it" if valve.upright else ""
        yield (
            Weight.VALVE,
            f"The non-return valve at {option.place}: fit it with its arrow along the water{upright}, rinse it with every clean, "
            "and do not rely on it against a flood. Dirt holds it open, and then the tank drains as if it were not there.",
        )


CEILINGS = ("flow_max_m3s", "guard_speed_ms", "jet_speed_ms", "device_windows", "inlet_head_m")
"""Limits that more flow breaks."""


def _held_by_guess(rig: Rig, stands: Standing) -> Iterator[str]:
    """That the flow is held for a figure that nobody gave."""
    missing = missing_figure(stands.held_by, rig)
    if missing:
        free = flowing(stands.own_m3s)
        yield Said(
            f"The flow is held for the pressure at the pump's inlet: {missing}. Write it there; held less it is up to ", free, "."
        )


KEPT_BY = {"noise": "noise_dba", "power": "power_w", "opening": "opening_m", "face_area": "guard_speed_ms"}
"""Limits that hang on one figure of one part, by the key of the figure."""


def _kept_by_guess(rig: Rig, stands: Standing, limits: Limits) -> Iterator[str]:
    """That a new part keeps to a limit by a figure that nobody states."""
    for option in each_option(stands.options):
        part = option.part
        if part is not None and option.change in (SWAP, ADD):
            for key in KEPT_BY:
                if key in part.assumed and KEPT_BY[key] in limits.binding:
                    asked = limit_words(KEPT_BY[key], limits, rig)
                    told = key.replace("_", " ")
                    yield Said(f"Ask for the {told} of {part.name} before you buy it. It is assumed, and you want ", asked, ".")


def _held_by_dirt(rig: Rig, stands: Standing, limits: Limits) -> Iterator[str]:
    """That the next clean breaks a ceiling, where what is left dirty takes the place of a throttle."""
    dirty = [option.place for option in each_option(stands.options) if option.change == KEEP and not option.state.is_clean]
    dirty += [
        f"tray {fill.tray + 1}" for o in stands.options for fill in o.fills if fill.change == KEEP and not fill.state.is_clean
    ]
    if not dirty or any(option.throttles for option in stands.options[stands.pump.position + 1 :]):
        return
    from optimizer.dirt.course import course  # most bundles leave nothing dirty, and a plain answer starts quicker without
    from optimizer.dirt.course_readings import misses
    from optimizer.dirt.daily import daily_of

    clean = course(stands.loop.cleaned(), daily_of(rig), 1.0)
    broken = [miss.name for miss in misses(clean, limits) if miss.day <= 0.0 and miss.name in CEILINGS]
    already = {each.limit for each in row("", rig, limits, stands).breaks}
    kept = [name for name in broken if name not in already]
    if kept:
        said = f"Only the dirt in {', '.join(dirty)} keeps to this: "
        ceiling = limit_words(kept[0], limits, rig)
        then = flowing(float(clean.flow_m3s[0]))
        yield Said(
            said, ceiling, ". Cleaned, the loop runs at ", then, " and nothing can throttle it: fit a throttle before that."
        )


def _animals(stands: Standing) -> Iterator[tuple[Weight, str]]:
    if any(option.change in (SWAP, ADD) for option, _ in each_of(each_option(stands.options), Guard)):
        yield Weight.GUARD, "Have the new guard on before the pump starts: an open intake kills small animals."
    yield Weight.CURRENT, "Watch weak swimmers after the change; spread the jet before you throttle."


SHORT = {"not sure": "may have too little surface", "too little": "have too little surface"}


def _surface(rig: Rig, stands: Standing) -> Iterator[tuple[Weight, str]]:
    """Where the keeper has said what is fed."""
    known = rig.load.feed_kg_day and rig.load.protein_share
    after = surface_after(rig, stands) if known else None
    if after is not None and after.verdict != "enough":
        have, sure = (Quantity(area, "area", f"{area:.2f} m2") for area in (after.have_m2, after.sure_m2))
        told = Said(
            f"Feed less or add biological media: bacteria {SHORT[after.verdict]} for this food (",
            have,
            "; ",
            sure,
            " do in nine of ten cases). Test ammonia and nitrite.",
        )
        yield Weight.BACTERIA, told


def _media(rig: Rig, stands: Standing) -> Iterator[tuple[Weight, str]]:
    yield from _surface(rig, stands)
    changed = any(fill.change in ("swap", "remove") for fill in stands.media.fills)
    cleaned = any(fill.change == "clean" for fill in stands.media.fills)
    if changed:
        yield (
            Weight.BACTERIA,
            "Change media one tray at a time, weeks apart; at least half of the mature biological media stays. Keep the filter "
            "off no longer than about an hour.",
        )
    if cleaned:
        yield (
            Weight.RINSE,
            "Swish biological media in tank water only, never under the tap, and not on the same day as everything else.",
        )
