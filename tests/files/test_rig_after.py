"""A rig file as the rig will be: what was promised is what the file describes, to the last digit."""

import tomllib
from pathlib import Path

import pytest

from optimizer.answers.best import best
from optimizer.answers.diagnose import diagnose
from optimizer.answers.verify import verify
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_after import after_text
from optimizer.files.rig_toml import read_rig
from optimizer.model.catalog import Catalog
from optimizer.model.results import Result
from optimizer.model.rig import Rig

ROOT = Path(__file__).parents[2]
DEMO, SMALL = ROOT / "parts_demo", ROOT / "tests" / "data" / "small"

QUICK = {
    "barbs_96": 4,
    "community_180": 1,
    "nano_60": 0,
    "planted_300": 2,
    "rift_lake_450": 4,
    "shrimp_and_fry_240": 1,
}
"""Demo rigs, with the joints of the best bundle that hold adapters."""


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(DEMO / "catalog")


def fitted(source: Path, catalog: Catalog, folder: Path, budget: int | None = None, add: str = "") -> tuple[Rig, Result, Path]:
    """A rig, its best bundle, and the file with that fitted."""
    text = source.read_text(encoding="utf-8") + add
    (folder / "before.toml").write_text(text, encoding="utf-8")
    rig = read_rig(folder / "before.toml", catalog)
    found = best(rig, catalog, budget=budget, measured=False)
    assert found.bundle is not None
    new = after_text(tomllib.loads(text), rig, found.bundle, catalog, ["As it will be."])
    (folder / "after.toml").write_text(new, encoding="utf-8")
    return rig, found, folder / "after.toml"


def check(rig: Rig, found: Result, file: Path, catalog: Catalog) -> Rig:
    """What the file describes delivers what was promised, wide open and held; nothing new was assumed."""
    after = read_rig(file, catalog)
    again = best(after, catalog, budget=0, measured=False)
    assert found.best is not None
    assert again.now.flow_m3s == pytest.approx(found.best.own_m3s, rel=1e-6)
    assert again.spend_nothing is not None
    assert again.spend_nothing.flow_m3s >= found.best.flow_m3s * (1 - 1e-6)
    assert set(after.notes) <= set(rig.notes)
    assert (after.tank, after.target_m3s, after.load) == (rig.tank, rig.target_m3s, rig.load)
    assert after.limits.budget == rig.limits.budget
    assert after.fills == ()
    return after


@pytest.mark.parametrize("name", QUICK)
def test_the_file_delivers_what_the_answer_promised(name: str, shop: Catalog, tmp_path: Path) -> None:
    """Parts by their ids, dirt gone, trays, tees and adapters as they will be, for every sort of tank of the demo."""
    rig, found, file = fitted(DEMO / "rigs" / f"{name}.toml", shop, tmp_path)
    after = check(rig, found, file, shop)
    assert len(after.joints) == QUICK[name]
    assert sum(len(line.pieces) for line in found.joints) == sum(len(joint.adapters) for joint in after.joints)


def test_what_ailed_the_old_loop_stays_behind(tmp_path: Path) -> None:
    """What was heard of the rig before the work says nothing of it after."""
    add = '\n[symptoms]\nsigns = "rattle, bubbles"\n'
    catalog = read_catalog(SMALL / "catalog")
    rig, _, file = fitted(SMALL / "hall_tank.toml", catalog, tmp_path, 0, add)
    assert rig.signs == ("rattle", "bubbles")
    assert read_rig(file, catalog).signs == () and "symptoms" not in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("budget", [0, 2000])
@pytest.mark.parametrize("name", ["hall_tank", "two_intakes"])
def test_what_the_keeper_described_moves_along(name: str, budget: int, tmp_path: Path) -> None:
    """Parts with no id, an outlet of the catalog that is drilled (and is then described), two guards in branches."""
    catalog = read_catalog(SMALL / "catalog")
    rig, found, file = fitted(SMALL / f"{name}.toml", catalog, tmp_path, budget)
    after = check(rig, found, file, catalog)
    if (name, budget) == ("hall_tank", 2000):
        assert [change.change for change in found.changes if change.position == "spray_bar"] == ["adjust"]
        assert after.positions[-1].installed is not None
        assert after.positions[-1].installed.id == "installed:spray_bar"
        assert [each.name for each in after.positions[-1].adjusts] == ["sink the bar"]


def test_a_hose_that_is_pinched_keeps_its_clamp(shop: Catalog, tmp_path: Path) -> None:
    """A screw clamp that is bought as a throttle is at hand afterwards, so the limit can be kept for nothing."""
    rig, found, file = fitted(DEMO / "rigs" / "gouramis_54.toml", shop, tmp_path)
    assert found.bundle is not None
    assert len(found.bundle.clamps) == 1
    after = check(rig, found, file, shop)
    assert [spare.part.id for spare in after.spares] == list(found.bundle.clamps)
    assert best(after, shop, budget=0).best is not None


def test_what_is_used_of_the_drawer_is_gone_from_it(shop: Catalog, tmp_path: Path) -> None:
    """Clamps are counted down, and a described spare stands in the loop with its own keys."""
    own = (
        '\n[[spares]]\nkind = "outlet"\nform = "open"\ninlet = "tail 12 mm"\ninlet_bore = "10.4 mm"\nhole = "10.4 mm"\n'
        '\n[[spares]]\npart = "CLAMP-16-25"\ncount = 30\n'
    )
    source = DEMO / "rigs" / "reading_corner_130.toml"
    rig, found, file = fitted(source, shop, tmp_path, 0, own)
    after = check(rig, found, file, shop)
    used = {line.product_id: line.count for line in found.bill if line.owned}
    assert next(place for place in found.changes if place.position == "spray_bar").change == "swap"
    assert after.positions[-1].installed is not None
    assert after.positions[-1].installed.id == "installed:spray_bar"
    assert [(spare.part.id, spare.count) for spare in after.spares] == [("CLAMP-16-25", 30 - used["owned 2: CLAMP-16-25"])]


def test_verify_and_diagnose_take_the_file(shop: Catalog, tmp_path: Path) -> None:
    """With one fill of the new loop in place of the stub: was it the work, and does it deliver what it should?"""
    source = DEMO / "rigs" / "reading_corner_130.toml"
    rig, found, file = fitted(source, shop, tmp_path)
    assert found.best is not None
    seconds = 5e-3 / found.best.own_m3s
    fill = f'\n[[fill]]\nvolume = "5 l"\nmark = "0.05 l"\nseconds = [{seconds:.1f}]\n'
    file.write_text(file.read_text(encoding="utf-8") + fill, encoding="utf-8")
    after = read_rig(file, shop)
    told = verify(rig, after)
    assert told.parts
    assert [part for part in told.parts if part.startswith("joint")] == [f"joint {j.before} to {j.after}" for j in after.joints]
    assert diagnose(after, shop).status == "diagnosed"
