"""Items: what a bundle needs from a shop, each a key and an amount, and which product lines can serve it."""

from dataclasses import dataclass

from optimizer.model.catalog import Line
from optimizer.model.ends import Closure, Mating
from optimizer.model.parts import Clamp, Part, Seal, Tool

Key = tuple[str, str, float]
"""What is needed: ``(sort, name, size)``. Sorts: ``part``, ``hose``, ``medium`` (name: the part id), and ``clamp``,
``pinch``, ``washer``, ``tape``, ``cement`` (name: the standard, size in m), ``tool`` (name: what it makes possible)."""

PINCH = "pinch"
"""The sort of item that throttles a hose: a screw clamp round it."""

TOOL = "tool"
"""The sort of item that a tool serves."""

EVER = 1000.0
"""So many places one tool serves: more than a loop has. A tool is a pack that never runs empty, so whatever is exact for packs
(shares, covers, sets of shared items, the programs that check them) is for tools, and a bundle pays once for all its places. No
larger, since in a program it stands beside whole numbers that are whole to within a millionth."""

DIVISIBLE = "medium"
"""The one sort of item that several products can serve in shares."""


@dataclass(frozen=True, slots=True, order=True)
class Item:
    """One need: a key and how much of it (pieces: 1; hose: m; medium: m3)."""

    key: Key
    weight: float = 1.0

    @property
    def label(self) -> str:
        """In a keeper's words.

        >>> Item(("clamp", "hose", 0.022)).label
        'clamp for 22 mm hose'
        """
        sort, name, size = self.key
        if sort in ("clamp", PINCH):
            return f"{'screw ' if sort == PINCH else ''}clamp for {size * 1000:.4g} mm hose"
        if sort in ("washer", "tape", "cement"):
            return f"{sort} for {name}"
        return f"tool to {name.replace('_', ' ')}" if sort == TOOL else name


@dataclass(frozen=True, slots=True, eq=False)
class Needs:
    """What some pieces of a bundle cost: ``plain`` in minor units whatever else it holds, and items whose price hangs on that.

    Compared by identity, so that what many options share is looked at once.
    """

    plain: int
    special: tuple[Item, ...]


def part_item(part_id: str) -> Item:
    """One piece of a part."""
    return Item(("part", part_id, 0.0))


def pinch_item(outside_m: float) -> Item:
    """A screw clamp round a hose of this outside diameter."""
    return Item((PINCH, "hose", round(outside_m, 6)))


def tool_item(job: str) -> Item:
    """A tool that makes a change possible.

    >>> tool_item("clean_hose").label
    'tool to clean hose'
    """
    return Item((TOOL, job, 0.0))


def hose_item(part_id: str, length_m: float) -> Item:
    """One run of a hose."""
    return Item(("hose", part_id, 0.0), round(length_m, 9))


def medium_item(part_id: str, volume_m3: float) -> Item:
    """A volume of a medium."""
    return Item(("medium", part_id, 0.0), round(volume_m3, 12))


def closure_item(mating: Mating) -> Item | None:
    """What closes a mated pair of ends, or None when nothing must be bought for it."""
    if mating.closure is Closure.NONE:
        return None
    return Item((mating.closure.value, mating.standard.value, round(mating.size_m, 6)))


def line_serves(line: Line, part: Part, key: Key) -> bool:
    """True when a line of a product (of the given part) can serve an item of this key.

    >>> clamp = Clamp(id="C", name="clamp", low_m=0.020, high_m=0.024)
    >>> line_serves(Line(part_id="C"), clamp, ("clamp", "hose", 0.022))
    True
    """
    sort, name, size = key
    if sort in ("clamp", PINCH):
        return isinstance(part, Clamp) and part.throttles == (sort == PINCH) and part.fits(size)
    if sort in ("washer", "tape", "cement"):
        return isinstance(part, Seal) and part.fits(sort, name, size)
    if sort == TOOL:
        return isinstance(part, Tool) and name in part.makes_possible
    return line.part_id == name


def capacity(line: Line) -> float:
    """How much of an item one line can serve: pieces, m of hose, or m3 of medium; of a tool `EVER`."""
    return line.amount_m or line.amount_m3 or (EVER if line.lasting else float(line.count))
