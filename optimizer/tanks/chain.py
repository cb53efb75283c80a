"""The order of work: parts that one tank frees for another are free only when that tank runs again with its new ones.

Each tank is opened once and only one is off at a time, so the tanks must stand in an order in which every giver comes before its
takers. Two tanks that would swap parts have no such order; the program leaves such choices out.
"""

from collections.abc import Iterable, Sequence

from optimizer.model.shared import HandedOn, WorkStep

HOUR = (
    "One tank at a time, and each filter off no longer than about an hour: bacteria on media that stand dry or without flow die "
    "(common practice, no published source)."
)
GERMS = (
    "A part that moves from tank to tank carries what lives in the one into the other: rinse it, disinfect it, let it dry, and "
    "hand on nothing from a tank with sick or quarantined animals (common practice, no published source)."
)
MAINS = (
    "Mains and water: unplug everything in and on a tank before you reach in; RCD (GFCI), drip loops; local codes and licensed "
    "electricians decide."
)
FLOOR = (
    "Water on the floor: close or lift the hoses before a joint is opened, work over a tray, and watch every new joint for a day."
)


def in_order(names: Sequence[str], befores: Iterable[tuple[int, int]]) -> list[int]:
    """Tanks by number so that of each pair the first comes before the second; else in their own order. Raises ValueError for a
    circle.

    >>> in_order(["a", "b", "c"], [(2, 0)])
    [1, 2, 0]
    """
    pairs = set(befores)
    left, done = list(range(len(names))), []
    while left:
        ready = [n for n in left if not any(after == n and before in left for before, after in pairs)]
        if not ready:
            raise ValueError("parts go round in a circle")
        done.append(ready[0])
        left.remove(ready[0])
    return done


def steps(
    names: Sequence[str], busy: Iterable[int], befores: Iterable[tuple[int, int]], handed: Sequence[HandedOn]
) -> list[WorkStep]:
    """One step for each tank that something is done at, in an order that works."""
    worked = set(busy)
    found = []
    for number in in_order(names, befores):
        if number not in worked:
            continue
        name = names[number]
        found.append(
            WorkStep(
                tank=name,
                waits_for=tuple(f"{h.part} from {h.from_tank}" for h in handed if h.to_tank == name),
                frees=tuple(f"{h.part} for {h.to_tank}" for h in handed if h.from_tank == name),
            )
        )
    return found


def cautions(handed: Sequence[HandedOn]) -> tuple[str, ...]:
    """What to mind while the tanks are worked on, one after the other."""
    return (MAINS, FLOOR, HOUR, *((GERMS,) if handed else ()))
