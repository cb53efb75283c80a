"""A buying order as frozen objects: what to buy when, what flows after it, what is thrown away later. SI inside."""

from dataclasses import dataclass

from optimizer.model.results import BillLine, Change, Row, plain

SCHEMA = "fullbore-order/1"
"""Name and version of the JSON form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """The best bundle for the money spent so far, where it delivers more than this order does then and buys things that are not
    in the final bundle: ``thrown`` names them."""

    price: int
    flow_m3s: float
    thrown: tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStep:
    """One purchase. ``price`` is what is paid at it, ``paid`` what has been paid in all; ``extras`` are pieces for an in-between
    joint, thrown away later, and cost ``extras_price`` of it; ``waits`` lists the positions whose new part waits.

    ``breaks`` names the limits that the loop does not meet between this purchase and the next.
    """

    changes: tuple[Change, ...]
    buys: tuple[BillLine, ...]
    extras: tuple[str, ...]
    extras_price: int
    price: int
    paid: int
    flow_m3s: float
    turnover_per_hour: float
    waits: tuple[str, ...]
    breaks: tuple[str, ...]
    stage: Stage | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyingOrder:
    """The order for the best bundle (``best``; None: there is none). ``cleaned_m3s`` flows before anything is bought,
    ``thrown`` is the price of all pieces that are thrown away."""

    rig: str
    catalog: str
    currency: str
    question: str
    budget: int | None
    now: Row
    best: Row | None
    cleaned_m3s: float
    steps: tuple[OrderStep, ...]
    thrown: int
    search: str
    order: str

    @property
    def status(self) -> str:
        """``proved``: the bundle is the best and so is the order; ``stopped``; or ``infeasible``."""
        if self.best is None and self.search == "proved":
            return "infeasible"
        return "proved" if self.search == self.order == "proved" else "stopped"

    def to_dict(self) -> dict[str, object]:
        """The order for JSON: SI units in the names, prices in minor units, with schema and status."""
        body = plain(self)
        if not isinstance(body, dict):
            raise TypeError("an order is not a mapping")
        return {"schema": SCHEMA, "status": self.status, **body}
