"""Options: one change at one position, with its loss, its ends and what it needs; and how branches are filled."""

import math
from dataclasses import dataclass, field

from optimizer.model.ends import End, Mating
from optimizer.model.items import Item, Needs
from optimizer.model.losses import Loss, Split
from optimizer.model.parts import Fitting, Medium, Part, TeePiece
from optimizer.model.state import State

KEEP, CLEAN, ADJUST, SWAP, REMOVE, ADD = "keep", "clean", "adjust", "swap", "remove", "add"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """What becomes of one tray: ``change`` is keep, clean, swap or remove (left empty). ``like`` is the id of the installed
    medium that a new one is the same as (empty: it is another)."""

    tray: int
    change: str
    medium: Medium | None
    state: State = State()
    like: str = ""


@dataclass(frozen=True, slots=True)
class OrientedAdapter:
    """An adapter as the water meets it: ``flipped`` means from its outlet to its inlet."""

    part: Fitting
    flipped: bool

    def __hash__(self) -> int:
        """Of the part's id, which tells parts apart."""
        return hash((self.part.id, self.flipped))

    @property
    def entry(self) -> End:
        """The end the water enters by."""
        return self.part.outlet if self.flipped else self.part.inlet

    @property
    def exit(self) -> End:
        """The end the water leaves by."""
        return self.part.inlet if self.flipped else self.part.outlet


@dataclass(frozen=True, slots=True)
class Chain:
    """What closes one joint: adapters in the order of the water, matings between them, its loss and its needs.

    ``as_is``: it is closed so now, and stays so; ``held``: those of its adapters that stand there now already. ``plain`` is the
    price of the items whose price depends on nothing else, ``special`` the other items: which is which hangs on the shop, so it
    is the same chain in all of them. ``between_like``: it joins what is installed side by side, or parts of the same kind and
    size.
    """

    adapters: tuple[OrientedAdapter, ...]
    matings: tuple[Mating, ...]
    quadratic: float
    plain: int = field(compare=False)
    special: tuple[Item, ...] = field(compare=False)
    items: tuple[Item, ...]
    as_is: bool = False
    between_like: bool = False
    held: tuple[OrientedAdapter, ...] = ()

    @property
    def throttles(self) -> bool:
        """True when one of its adapters can be set part-way."""
        return any(turned.part.throttles for turned in self.adapters)


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One change at one position. ``part`` None: nothing is there, the water passes through the neighbouring joint, unless
    ``ways`` says how the branches of the position are filled. ``place`` is the position's name.

    ``own_price`` (minor units) is paid besides the items. ``suction_quadratic`` is the velocity head at a pump's inlet as a
    coefficient, ``speed`` the pump's speed ratio against its label. Flow bounds in m3/s, noise at the listening place. ``like``
    is the id of the installed part that a new one is the same as in kind and size (empty: it is another): what fills say of the
    one holds for the other. ``stated`` is the part by its stated figures, where ``part`` has what fills make of them.
    """

    position: int
    change: str
    part: Part | None
    state: State = State()
    loss: Loss = Loss()
    inlet: End | None = None
    outlet: End | None = None
    own_price: int = 0
    items: tuple[Item, ...] = ()
    flow_min_m3s: float = 0.0
    flow_max_m3s: float = math.inf
    speed: float = 1.0
    suction_quadratic: float = 0.0
    noise_dba: float = -math.inf
    power_w: float = 0.0
    throttles: bool = False
    note: str = ""
    fills: tuple[Fill, ...] = ()
    bio_area_m2: float = 0.0
    height_m: float = 0.0
    place: str = ""
    ways: "FilledBranches | None" = None
    like: str = ""
    stated: Part | None = None

    @property
    def known_as(self) -> str:
        """The name that what is known of its part goes by: its id, or that of the installed one that it is like."""
        return self.like or ("" if self.part is None else self.part.id)

    @property
    def is_known(self) -> bool:
        """True when what fills say of the installed part at the position holds for its part."""
        return self.is_installed or bool(self.like)

    @property
    def inlet_known(self) -> bool:
        """True when the end that the water enters by is that of an installed part, or of one like it."""
        return self.is_known if self.ways is None else (self.ways.parting or self.ways.branches[0].there[0]).inlet_known

    @property
    def outlet_known(self) -> bool:
        """True when the end that the water leaves by is that of an installed part, or of one like it."""
        return self.is_known if self.ways is None else (self.ways.meeting or self.ways.branches[0].there[-1]).outlet_known

    @property
    def is_there(self) -> bool:
        """True when the water finds something at the position."""
        return self.part is not None or self.ways is not None

    @property
    def keeps_inlet(self) -> bool:
        """True when the end that the water enters by is one that is installed."""
        return self.is_installed if self.ways is None else self.ways.keeps_inlet

    @property
    def keeps_outlet(self) -> bool:
        """True when the end that the water leaves by is one that is installed."""
        return self.is_installed if self.ways is None else self.ways.keeps_outlet

    @property
    def entry_place(self) -> str:
        """The place by which the water comes to it: of branches that of their tee, or of the first part of the only one."""
        return self.place if self.ways is None else (self.ways.parting or self.ways.branches[0].there[0]).entry_place

    @property
    def exit_place(self) -> str:
        """The place by which the water leaves it."""
        return self.place if self.ways is None else (self.ways.meeting or self.ways.branches[0].there[-1]).exit_place

    @property
    def each(self) -> "tuple[Option, ...]":
        """Itself; of filled branches the options for their tees and parts."""
        return (self,) if self.ways is None else self.ways.options

    @property
    def is_installed(self) -> bool:
        """True when what is there now stays, as it is, cleaned or adjusted."""
        return self.change in (KEEP, CLEAN, ADJUST) or bool(self.fills)

    @property
    def label(self) -> str:
        """The change in a few words."""
        if self.note:
            return f"{self.change}: {self.note}"
        return self.change if self.part is None else f"{self.change} {self.part.name}"


def tee_option(place: str, change: str, tee: TeePiece) -> Option:
    """A tee at which the branches of a position part or meet; ``place`` is what `rig.tee_place` calls it. It is at no position
    of its own."""
    return Option(position=-1, place=place, change=change, part=tee, inlet=tee.inlet, outlet=tee.outlet)


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledBranch:
    """One branch as it is filled: options in the order of the water, the joint in front of each, and the one behind the last.

    A joint at open water, or where there is no tee, is None: for the latter the loop's own joint takes its place.
    """

    name: str
    options: tuple[Option, ...]
    joints: "tuple[Chain | None, ...]"

    @property
    def there(self) -> tuple[Option, ...]:
        """The options that put something into the branch."""
        return tuple(option for option in self.options if option.is_there)

    @property
    def in_series(self) -> tuple[Option, ...]:
        """The options for parts that all the water in the branch passes."""
        lone = [option.ways.branches[0] for option in self.options if option.ways is not None and len(option.ways.branches) == 1]
        return (*(option for option in self.there if option.ways is None), *(each for way in lone for each in way.in_series))

    @property
    def parts(self) -> tuple[Option, ...]:
        """The options for one part each, those of branches within the branch and their tees too."""
        return tuple(inner for option in self.options for inner in option.each)


@dataclass(frozen=True, slots=True, kw_only=True)
class FilledBranches:
    """How the branches of one position are filled, the tees they part and meet at (None: there is none), and the loss. ``needs``
    are the items of the option once more, told apart by how they are priced (in one shop; it is the same filling in all)."""

    branches: tuple[FilledBranch, ...]
    parting: Option | None
    meeting: Option | None
    split: Split
    needs: tuple[Needs, ...] = field(compare=False)

    @property
    def keeps_inlet(self) -> bool:
        """True when the water enters by an installed end."""
        return (self.parting or self.branches[0].there[0]).keeps_inlet

    @property
    def keeps_outlet(self) -> bool:
        """True when the water leaves by an installed end."""
        return (self.meeting or self.branches[0].there[-1]).keeps_outlet

    @property
    def options(self) -> tuple[Option, ...]:
        """Tees and parts of all branches, those of the first branch first, and of branches within them."""
        inner = (option for way in self.branches for option in way.parts)
        return tuple(option for option in (self.parting, *inner, self.meeting) if option is not None)

    @property
    def joints(self) -> "tuple[Chain, ...]":
        """All joints inside the branches, and in branches within them."""
        found = [joint for way in self.branches for joint in way.joints if joint is not None]
        within = (option.ways for way in self.branches for option in way.options if option.ways is not None)
        return (*found, *(joint for ways in within for joint in ways.joints))


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a part is not offered at a position, and the name of the limit that says so (empty: it is no matter of limits)."""

    position: str
    part_id: str
    reason: str
    limit: str = ""


def told_apart(value: float, bound: float, decimals: int = 0) -> tuple[str, str]:
    """Two numbers with as many decimals as it takes to see that they differ (at most six).

    >>> told_apart(20.0, 19.9)
    ('20.0', '19.9')
    """
    while decimals < 6 and f"{value:.{decimals}f}" == f"{bound:.{decimals}f}":
        decimals += 1
    return f"{value:.{decimals}f}", f"{bound:.{decimals}f}"
