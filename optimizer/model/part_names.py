"""How parts, and the joints between them, are called where nothing but a text can tell them apart.

A part of the catalog has the id that a shop knows. One that only a file describes has none: it is called after its place, or its
number in the drawer. A joint is called after all that it joins.
"""

import re
from collections.abc import Collection, Iterable

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


_PLACE = re.compile(r"(?<![\w./=-])[^\W\d]\w*_\w+(?![\w=]|[.-]\w)")
"""A name of several words that stands for itself: no key, path or option, which are typed as they are."""


def place_names(text: str) -> list[str]:
    """Names of places in a text that names nothing else, as they are written in a rig file, where that is not how they are said.

    >>> place_names("joint suction_hose to in_coupling"), place_names("pump")
    (['suction_hose', 'in_coupling'], [])
    """
    return _PLACE.findall(text)


def in_words(text: str, names: Collection[str]) -> str:
    """The text with some places as they are said; where one stands in what is typed, it stays.

    >>> in_words("return_hose: wider; see loop.return_hose, or --why return_hose=HOSE-19", {"return_hose"})
    'return hose: wider; see loop.return_hose, or --why return_hose=HOSE-19'
    """
    return _PLACE.sub(lambda found: found[0].replace("_", " ") if found[0] in names else found[0], text)


def named(name: str) -> tuple[str, ...]:
    """What a keeper calls a part (its id, or its place where it is described there), or the parts that a joint joins.

    >>> named(described("pump")), named(joined([described("pump"), "HOSE-16"]))
    (('pump',), ('pump', 'HOSE-16'))
    """
    return tuple(part_id.removeprefix(HERE) for part_id in name.split(JOINS)) if name else ()
