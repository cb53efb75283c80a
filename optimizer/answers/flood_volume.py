"""The most water that can run out when a joint lets go."""

from optimizer.model.dossiers import Spill
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said


def spill(rig: Rig) -> Spill:
    """An upper bound: a rig file does not say how deep the guard hangs or where an air-break hole is, so all the water counts.

    Volumes in m3: the net volume of the tank, and what the trays of the canister hold, taken as water alone.
    """
    body = rig.canister
    filter_m3 = body.trays * body.tray_volume_m3
    tank_m3 = rig.tank.net_m3
    return Spill(
        worst_m3=tank_m3 + filter_m3,
        tank_m3=tank_m3,
        filter_m3=filter_m3,
        words=(
            "The canister stands below the water line, so an open hose drains the tank like a siphon, pump on or off, down to "
            "the lowest opening in the tank that still lets in water: the guard, or an outlet that hangs below the water line.",
            Said(
                "The rig file does not say how deep they hang, so the worst case counts the whole net volume of ",
                _volume(tank_m3),
                f"; on top comes what the canister holds, taken as {body.trays} trays full of water, ",
                _volume(filter_m3),
                ".",
            ),
            Said(
                "For your own figure multiply length and width of the tank, inside, by the depth of water above the lower of the "
                "two openings: ",
                *_example(),
                ".",
            ),
        ),
    )


def _volume(volume_m3: float) -> Quantity:
    return Quantity(volume_m3, "volume", f"{volume_m3 * 1e3:.0f} l" if volume_m3 >= 0.01 else f"{volume_m3 * 1e3:.1f} l")


def _example() -> tuple[str | Quantity, ...]:
    """A tank of 60 cm by 30 cm with 10 cm of water above the guard."""
    sides = [Quantity(metres, "length", f"{metres * 100:.0f} cm") for metres in (0.6, 0.3, 0.1)]
    return sides[0], " by ", sides[1], " by ", sides[2], ", for example, are ", _volume(0.018)
