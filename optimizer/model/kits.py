"""Kits for a shop as frozen objects: what is in each, whom it serves, what it does not fit and why. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.answer import Answer
from optimizer.model.results import Change, JointLine
from optimizer.model.shown import Shown

COVERAGE, GAIN = "coverage", "gain"
BY = (COVERAGE, GAIN)
"""What a choice of kits is best by: the weight of the tanks that some kit fits, or the weighted gain in delivered flow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Substitute:
    """A product in stock that can stand in for a piece of a kit on the tank the kit was made for: the kit still closes there.

    ``flow_m3s`` is what it then delivers, ``less_m3s`` how much less that is, ``dearer`` what the kit then costs more.
    """

    product_id: str
    name: str
    flow_m3s: float
    less_m3s: float
    dearer: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """What lies in a kit: ``quantity`` pieces or packs of a product, or metres of a hose (``metres``) in one length.

    ``in_stock`` is how much of it the shop has (None: never runs out), ``cost`` what the shop pays for it (None: not known).
    """

    product_id: str
    name: str
    quantity: float
    metres: bool
    price: int
    in_stock: int | None
    substitutes: tuple[Substitute, ...] = ()
    cost: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """A tank that a kit fits: delivered flow when clean and with the kit, its band, what is done, and which pieces are left over.

    ``p10_m3s`` to ``p90_m3s`` are quantiles of the delivered flow; ``gain_m3s`` is over the clean loop. ``best_m3s`` is what the
    best bundle from stock for the highest shelf price would deliver there, ``used_share`` how much of the kit's price is put
    to use.
    """

    tank: str
    band: str
    weight: float
    clean_m3s: float
    flow_m3s: float
    gain_m3s: float
    turnover_per_hour: float
    p10_m3s: float
    p50_m3s: float
    p90_m3s: float
    best_m3s: float
    used_share: float
    changes: tuple[Change, ...]
    joints: tuple[JointLine, ...]
    left_over: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NotServed:
    """A tank that a kit does not fit, why, and what would fit at the ports that refuse it."""

    tank: str
    band: str
    weight: float
    why: tuple[str, ...]
    would_fit: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """One kit: its pieces, what they cost, the shelf price it goes under, how many of it the stock makes (None: no bound).

    ``cost`` is what its pieces cost the shop (None: not known of all). ``made_for`` is the tank whose best bundle it is.
    ``weight`` and ``gain_m3s`` (weighted) count all tanks that it fits,
    ``own_weight`` and ``own_gain_m3s`` those that no other chosen kit serves better.
    """

    name: str
    made_for: str
    price: int
    shelf_price: int
    makes: int | None
    pieces: tuple[Piece, ...]
    weight: float
    gain_m3s: float
    own_weight: float
    own_gain_m3s: float
    fits: tuple[Served, ...]
    does_not_fit: tuple[NotServed, ...]
    cost: int | None = None

    @property
    def margin(self) -> int | None:
        """What is left of the shelf price (minor units; None: not known)."""
        return None if self.cost is None else self.shelf_price - self.cost


@dataclass(frozen=True, slots=True, kw_only=True)
class PartValue:
    """What a product earns over the whole population: how much weighted gain is lost when it is out of stock, and how much is won
    when it costs a tenth less, each tank solved again at the highest shelf price. ``tanks`` counts those whose best has it.

    ``in_kits`` counts the chosen kits that hold it.
    """

    product_id: str
    name: str
    price: int
    loss_m3s: float
    cheaper_m3s: float
    tanks: int
    in_kits: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Dead:
    """A product in stock that no bundle of any tank uses at any budget of the grid; ``why`` in words."""

    product_id: str
    name: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unserved:
    """A tank that no chosen kit fits, and the best that stock and money could do for it (0: nothing more than cleaning).

    ``order`` is what to order beyond stock (``in_stock`` is what is there of it) so that ``order_m3s`` can be had there for
    ``order_price`` in all; empty: nothing on the wholesaler's list would help, or nothing is missing.
    """

    tank: str
    band: str
    weight: float
    clean_m3s: float
    best_m3s: float
    best_price: int
    words: str
    order: tuple[Piece, ...] = ()
    order_m3s: float = 0.0
    order_price: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class KitPlan(Answer, Shown):
    """At most ``most`` kits that serve a population best, and what the stock is worth to it.

    ``candidates`` kits were compared, ``solves`` questions solved; ``weight`` and ``gain_m3s`` are those of all chosen kits
    together, ``total_weight`` of all tanks. ``unproved`` questions were too hard to decide: the best that was found for them
    counts. Not ``complete``: the work was stopped, and the choice is among what was known. ``unmeasured`` names templates whose
    fills are left out: they are of one tank, and a template stands for many.
    """

    form: ClassVar[str] = "kits"
    shop: str
    catalog: str
    currency: str
    by: str
    most: int
    shelf_prices: tuple[int, ...]
    budgets: tuple[int, ...]
    least_gain: float
    least_used: float
    tanks: int
    total_weight: float
    kits: tuple[Kit, ...]
    weight: float
    gain_m3s: float
    unserved: tuple[Unserved, ...]
    parts: tuple[PartValue, ...]
    dead: tuple[Dead, ...]
    candidates: int
    solves: int
    complete: bool
    made: str
    unproved: int = 0
    unmeasured: tuple[str, ...] = ()

    @property
    def status(self) -> str:
        """``proved`` (best of the candidate kits); ``infeasible``: no kit fits any tank; or ``stopped``: not all is proved."""
        if not self.complete or self.unproved:
            return "stopped"
        return "proved" if self.kits else "infeasible"
