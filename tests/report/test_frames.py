"""Answers as pandas tables: the same cells as in the CSV, with numbers as numbers."""

import csv
import io
from pathlib import Path

from demo import DEMO, rig, shop, small_shop

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


def test_a_log_has_its_entries(tmp_path: Path) -> None:
    log = tmp_path / "corner.log"
    log.write_bytes((DEMO / "logs" / "reading_corner_130.log").read_bytes())
    told = api.log(log)
    frame = api.to_frame(told)
    assert frame["date"].tolist() == [line.date for line in told.lines]
    assert frame["flow_l_per_h"].notna().sum() == sum(line.flow_m3s > 0.0 for line in told.lines) > 2


def test_kits_have_a_row_for_each_tank(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(small_shop(60, 1), encoding="utf-8")
    plan = api.kits(api.read_shop(path, shop()))
    frame = api.to_frame(plan)
    assert len(frame) == sum(len(kit.fits) for kit in plan.kits) + len(plan.unserved)
    assert frame["kit"].isna().sum() == len(plan.unserved)
    assert set(frame["kit"].dropna()) == {kit.name for kit in plan.kits if kit.fits}
