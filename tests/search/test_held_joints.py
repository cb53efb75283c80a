"""Adapters that stand in a joint now: kept as they are for nothing, used again where a neighbour changes."""

from pathlib import Path

import pytest

from optimizer.answers.best import best
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.model.catalog import Catalog
from optimizer.model.results import Result

DEMO = Path(__file__).parents[2] / "parts_demo"
TAILED = (DEMO / "rigs" / "shrimp_and_fry_240.toml").read_text(encoding="utf-8")
TAIL = TAILED[TAILED.index("[loop.bar_tail]") : TAILED.index("[loop.spray_bar]")]
THROTTLE = TAILED[TAILED.index("[loop.throttle]") : TAILED.index("[loop.bar_tail]")]
LIMITS = TAILED[TAILED.index("[limits]") : TAILED.index("[loop.intake]")]
LOOP = TAILED.replace(TAIL, "").replace(THROTTLE, "").replace(LIMITS, "")
JOINT = '\n[[joint]]\nbetween = ["return_hose", "spray_bar"]\nadapters = ["ADPT-16-G12"]\n'
SPARE = '\n[[spares]]\npart = "ADPT-16-G12"\n'


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(DEMO / "catalog")


def found(folder: Path, shop: Catalog, add: str, only: str = "spray_bar", budget: int = 4000) -> Result:
    """The best where one place may change and all others stay."""
    text = LOOP
    for table in ("intake_tail", "suction_hose", "in_coupling", "canister", "pump", "out_coupling", "return_hose", "spray_bar"):
        if table != only:
            text = text.replace(f"[loop.{table}]\n", f"[loop.{table}]\nstays = true\n")
    text = text.replace("[loop.intake]\n", "[loop.intake]\nstays = true\n").replace('blocked = "92 %" ', "#")
    (folder / "rig.toml").write_text(text + add, encoding="utf-8")
    return best(read_rig(folder / "rig.toml", shop), shop, budget=budget)


def test_an_adapter_that_stays_costs_nothing_and_is_named(shop: Catalog, tmp_path: Path) -> None:
    """It stays on the hose with its clamp, so the new outlet needs two bushings and their washers; the same adapter from the
    drawer has to be clamped on as well (a clip for 0.60), and without it another one is bought (by hand from the catalog)."""
    held, drawer, none = (found(tmp_path, shop, add) for add in (JOINT, SPARE, ""))
    assert held.best is not None
    assert drawer.best is not None
    assert none.best is not None
    assert held.best.price == 750 + 220 + 280 + 40 + 50 + 60
    assert (drawer.best.price, none.best.price) == (held.best.price + 60, 290 + 280 + 750 + 60 + 50 + 60)
    assert held.best.flow_m3s == pytest.approx(drawer.best.flow_m3s, rel=1e-9)
    joint = next(line for line in held.joints if line.between == ("return_hose", "spray_bar"))
    assert joint.pieces[0] == "adapter, 16 mm hose to G 1/2 male (there now)"
    assert joint.tight_by == ("washer", "washer", "washer")


def test_a_joint_whose_neighbours_stay_is_left_alone(shop: Catalog, tmp_path: Path) -> None:
    """Nothing is bought to close it, and it loses what it loses now."""
    kept = found(tmp_path, shop, JOINT, only="canister", budget=0)
    joint = next(line for line in kept.joints if line.between == ("return_hose", "spray_bar"))
    assert (joint.as_is, joint.pieces, joint.tight_by) == (True, ("adapter, 16 mm hose to G 1/2 male",), ())
    assert kept.bill == ()
