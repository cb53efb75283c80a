"""A buying order as frozen objects: what to buy when, what flows after it, what is thrown away later. SI inside."""

from dataclasses import dataclass
from typing import ClassVar

from optimizer.model.results import BillLine, Broken, Change, FromCatalog, Row
from optimizer.model.shown import Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetStage:
    """The best bundle for the money spent so far, where it delivers more than this order does then and buys things that are not
    in the final bundle: ``thrown`` names them."""

    price: int
    flow_m3s: float
    thrown: tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStep:
    """One purchase. ``price`` is what is paid at it, ``paid`` what has been paid in all; ``extras`` are products for an
    in-between joint, thrown away later, and cost ``extras_price`` of it; ``waits`` lists the positions whose new part waits. The
    last of ``buys`` are lines for the postage of each supplier.

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
    breaks: tuple[Broken, ...]
    stage: BudgetStage | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyingOrder(FromCatalog, Shown):
    """The order for the best bundle (``best``; None: there is none). ``thrown`` is the price of all that is thrown away,
    ``parted`` what is charged more in steps than for all at once: postage, and pieces that bring an order to its sum.

    ``cleaned`` is the loop before anything is bought, after the ``cleaning`` and with the changes ``first``, which cost nothing;
    it delivers ``cleaned_m3s``, which all steps rely on. None: no order was made. ``search``, ``order`` and ``stages`` say how
    sure the bundle, the order and what smaller budgets would have bought are: proved or stopped, the order also interrupted (by
    Ctrl-C; stopped: too many purchases), the stages also none (not asked).

    All flows are of the clean day. Of an interval ``judged_m3s`` is the flow that the bundle was chosen by, that of the last day
    or the mean; ``by_clean_day``: with branches it was chosen by the clean day all the same.
    """

    form: ClassVar[str] = "order"
    best: Row | None
    first: tuple[Change, ...]
    cleaning: tuple[Change, ...]
    cleaned: Row | None
    cleaned_m3s: float
    steps: tuple[OrderStep, ...]
    thrown: int
    parted: int
    search: str
    order: str
    stages: str
    judged_m3s: float = 0.0
    by_clean_day: bool = False

    @property
    def status(self) -> str:
        """``proved``: the bundle is the best, so is the order, and every stage was looked at; ``stopped``; or ``infeasible``."""
        if self.best is None and self.search == "proved":
            return "infeasible"
        sure = self.search == self.order == "proved" and self.stages in ("proved", "none") and not self.by_clean_day
        return "proved" if sure else "stopped"
