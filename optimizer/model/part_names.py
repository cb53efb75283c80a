"""How parts, and the joints between them, are called where nothing but a text can tell them apart.

A part of the catalog has the id that a shop knows. One that only a file describes has none: it is called after its place, or its
number in the drawer. A joint is called after all that it joins.
"""

from collections.abc import Iterable

HERE, IN_DRAWER = "installed:", "spare:"
JOINS = " - "


def described(place: str) -> str:
    """Id of a part that a rig file describes at a place."""
    return f"{HERE}{place}"


def sold_id(part_id: str) -> str:
    """The id that a shop knows; empty for a part that is described at its place.

    >>> sold_id("PUMP-900"), sold_id(described("pump"))
    ('PUMP-900', '')
    """
    return "" if part_id.startswith(HERE) else part_id


def of_drawer(part_id: str) -> bool:
    """True for the id of a spare that a rig file describes: another file may have the same."""
    return part_id.startswith(IN_DRAWER)


def joined(names: Iterable[str]) -> str:
    """Name of a joint, after the ids of the parts in it, or the places on both sides, in the order of the water."""
    return JOINS.join(names)


def tray_place(body: str, number: int) -> str:
    """What the place of a tray is called, after that of the canister; trays are counted from 1 in the order of the water.

    >>> tray_place("canister", 3)
    'canister tray 3'
    """
    return f"{body} tray {number}"


def named(name: str) -> tuple[str, ...]:
    """What a keeper calls a part (its id, or its place where it is described there), or the parts that a joint joins.

    >>> named(described("pump")), named(joined([described("pump"), "HOSE-16"]))
    (('pump',), ('pump', 'HOSE-16'))
    """
    return tuple(part_id.removeprefix(HERE) for part_id in name.split(JOINS)) if name else ()
