"""Answers as pandas tables, for whoever goes on with their numbers. The only module that uses pandas."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from optimizer.model.fronts import Front
from optimizer.model.kits import KitPlan
from optimizer.model.logbook import Logbook
from optimizer.model.results import BillLine, Result
from optimizer.model.shared import SharedResult
from optimizer.report.plan_lines import changed, quantity_text
from optimizer.report.sheet_csv import BILL, FRONT

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["bill_frame", "front_frame", "to_frame"]

LITRES_PER_HOUR = 3.6e6


def to_frame(answer: Front | Result | SharedResult | Logbook | KitPlan) -> pd.DataFrame:
    """An answer as a pandas table: a front, or the bill of an answer or of a household, with the columns of its CSV; of a log
    its entries, of the kits of a shop its tanks with what serves them best."""
    if isinstance(answer, Front):
        return front_frame(answer)
    if isinstance(answer, Logbook):
        return log_frame(answer)
    return tanks_frame(answer) if isinstance(answer, KitPlan) else bill_frame(answer.bill, answer.currency)


def log_frame(log: Logbook) -> pd.DataFrame:
    """Return one row for each entry, oldest first; flows in l/h (none: no fill), their standard uncertainty as a share."""
    rows = [
        (line.date, line.kind, line.words, line.flow_m3s * LITRES_PER_HOUR or None, line.relative or None, line.left_out)
        for line in log.lines
    ]
    return _frame(rows, ("date", "kind", "entry", "flow_l_per_h", "relative", "left_out"))


def tanks_frame(plan: KitPlan) -> pd.DataFrame:
    """Return one row for each tank and kit that serves it, and one for each tank that none does; flows in l/h."""
    rows: list[tuple[object, ...]] = [
        (each.tank, each.band, each.weight, kit.name, each.flow_m3s * LITRES_PER_HOUR) for kit in plan.kits for each in kit.fits
    ]
    rows += [(each.tank, each.band, each.weight, None, each.clean_m3s * LITRES_PER_HOUR) for each in plan.unserved]
    return _frame(rows, ("tank", "band", "weight", "kit", "flow_l_per_h"))


def front_frame(front: Front) -> pd.DataFrame:
    """Return one row for each point, cheapest first, with the columns of the CSV; flows in l/h, prices in money units."""
    rows = [
        (
            point.price / 100.0,
            front.currency,
            point.flow_m3s * LITRES_PER_HOUR,
            point.turnover_per_hour,
            point.noise_dba,
            point.power_w,
            front.knee is not None and front.knee.point == number,
            point.proved,
            changed(point.changes),
        )
        for number, point in enumerate(front.points)
    ]
    return _frame(rows, FRONT)


def bill_frame(bill: Iterable[BillLine], currency: str) -> pd.DataFrame:
    """Return one row for each thing to buy or to take from the drawer, with the columns of the CSV; prices in money units.

    >>> line = BillLine(product_id="C", name="clamp", count=2, price=120, owned=False, places=("a", "b"))
    >>> frame = bill_frame([line], "EUR")
    >>> frame["price"].sum(), frame.loc[0, "serves"]
    (np.float64(1.2), 'a; b')
    """
    rows = [
        (line.product_id, line.name, quantity_text(line), line.price / 100.0, currency, line.owned, "; ".join(line.places))
        for line in bill
    ]
    return _frame(rows, BILL)


def _frame(rows: Sequence[tuple[object, ...]], columns: tuple[str, ...]) -> pd.DataFrame:
    import pandas as pd  # takes longer to load than most answers

    return pd.DataFrame(rows, columns=list(columns))
