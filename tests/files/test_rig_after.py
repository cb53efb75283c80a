"""A rig file as the rig will be: what was promised is what the file describes, to the last digit."""

import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer.answers.best import best, operating_point
from optimizer.answers.diagnose import diagnose
from optimizer.answers.verify import verify
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_after import after_text
from optimizer.files.rig_toml import read_rig
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.parts import kind_of
from optimizer.model.results import Result
from optimizer.model.rig import Rig
from optimizer.model.state import State
from optimizer.search.choices import choices

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
    assert [spare.part.id for spare in after.spares][: len(found.bundle.clamps)] == list(found.bundle.clamps)
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
    left = ("CLAMP-16-25", 30 - used["owned 2: CLAMP-16-25"])
    assert [(spare.part.id, spare.count) for spare in after.spares] == [left, ("BAR-12-14X3", 1)]


HANDY = 'spares = ["2 x CLAMP-16-25", "ball valve 16 mm tails", "3 m hose 16/22"]\n'


@pytest.mark.parametrize("name", ["reading_corner_130", "planted_300"])
def test_what_came_out_lies_in_the_drawer_and_can_go_back(name: str, shop: Catalog, tmp_path: Path) -> None:
    """Every part that was swapped out or left out is a spare of the new file, as long and as dirty as it was, and is on offer
    there for the place that it came from."""
    rig, found, file = fitted(DEMO / "rigs" / f"{name}.toml", shop, tmp_path)
    assert found.bundle is not None
    after = check(rig, found, file, shop)
    pairs = zip(rig.positions, found.bundle.options, strict=True)
    out = [place for place, option in pairs if option.change in ("swap", "remove") and not option.fills]
    spares = after.spares[len(after.spares) - len(out) :]
    assert out and all(place.installed for place in out)
    for place, spare in zip(out, spares, strict=True):
        assert place.installed is not None and kind_of(spare.part) == kind_of(place.installed)
        assert spare.amount_m == (place.length_m if place.kind == "hose" else 0.0)
        assert spare.dirty == (place.state != place.state.cleaned())
    menu = choices(after, shop, Limits())
    on_offer = {place.name: {o.part.id for o in menu.options[n] if o.part} for n, place in enumerate(after.positions)}
    back = [spare.part.id in on_offer.get(place.name, set()) for place, spare in zip(out, spares, strict=True)]
    assert any(back)
    owned = {line.part_id for product in menu.shop.products if product.owned for line in product.lines}
    assert owned >= {spare.part.id for spare in spares}


def test_a_worn_pump_goes_into_the_drawer_as_it_is(shop: Catalog, tmp_path: Path) -> None:
    """A pump that lost speed to wear gives as much less from the drawer as it does in its place."""
    source = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
    rig = read_rig(DEMO / "rigs" / "nano_60.toml", shop)
    number = rig.index("pump")
    pump = rig.positions[number]
    assert pump.installed is not None
    spare = f'\n[[spares]]\npart = "{pump.installed.id}"\nworn = "20 %"\n'
    (tmp_path / "owned.toml").write_text(source + spare, encoding="utf-8")
    owned = read_rig(tmp_path / "owned.toml", shop).spares[-1].part
    assert owned.name.endswith(", worn by 20%") and owned.id != pump.installed.id
    places = [replace(pump, state=State(worn=0.2)), replace(pump, installed=owned, state=State())]
    loops = [replace(rig, positions=(*rig.positions[:number], at, *rig.positions[number + 1 :])) for at in places]
    worn, from_drawer = (operating_point(loop).flow_m3s for loop in loops)
    assert worn == pytest.approx(from_drawer, rel=1e-6)
    assert worn < 0.95 * operating_point(replace(rig, positions=loops[0].positions, mains_hz=rig.mains_hz * 1.2)).flow_m3s


def test_spares_in_words_are_used_up_and_stay_words_where_nothing_is(shop: Catalog, tmp_path: Path) -> None:
    """Spares in words are at hand for nothing; what a bundle takes of them is gone from the file afterwards, and where it takes
    and frees nothing they stand as they were written."""
    source = DEMO / "rigs" / "reading_corner_130.toml"
    (tmp_path / "said.toml").write_text(HANDY + source.read_text(encoding="utf-8"), encoding="utf-8")
    rig, found, file = fitted(tmp_path / "said.toml", shop, tmp_path)
    after = check(rig, found, file, shop)
    used = {line.name: line.count for line in found.bill if line.owned}
    assert used
    clamps = next((spare.count for spare in after.spares if spare.part.id == "CLAMP-16-25"), 0)
    assert clamps == 2 - used.get("steel band clamp 16 to 25 mm (owned)", 0)
    assert found.bundle is not None
    kept = replace(found.bundle, options=tuple(replace(o, change="keep") for o in found.bundle.options), spares=(), clamps=())
    text = after_text(tomllib.loads((tmp_path / "said.toml").read_text(encoding="utf-8")), rig, kept, shop)
    assert HANDY in text and "[[spares]]" not in text


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
