"""Answers as pandas tables: the same cells as in the CSV, with numbers as numbers."""

import csv
import io

from demo import rig, shop

from optimizer import api
from optimizer.report.sheet_csv import bill_csv, front_csv

RIG, CATALOG = rig("nano_60"), shop()


def written(text: str) -> list[dict[str, str]]:
    """The rows of a CSV text."""
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_a_bill_has_the_cells_of_its_csv_and_adds_up() -> None:
    result = api.best(RIG, CATALOG, budget=2000)
    frame, rows = api.to_frame(result), written(bill_csv(result.bill, result.currency))
    assert list(frame.columns) == list(rows[0])
    assert frame["price"].map("{:.2f}".format).tolist() == [row["price"] for row in rows]
    assert frame["serves"].tolist() == [row["serves"] for row in rows]
    assert result.best is not None
    assert round(100 * frame["price"].sum()) == result.best.price


def test_a_front_has_the_cells_of_its_csv() -> None:
    front = api.front(RIG, CATALOG, budget=2000)
    frame, rows = api.to_frame(front), written(front_csv(front))
    assert list(frame.columns) == list(rows[0])
    assert frame["flow_l_per_h"].map("{:.1f}".format).tolist() == [row["flow_l_per_h"] for row in rows]
    assert frame["proved"].map({True: "yes", False: "no"}).tolist() == [row["proved"] for row in rows]
    assert frame["flow_l_per_h"].is_monotonic_increasing
